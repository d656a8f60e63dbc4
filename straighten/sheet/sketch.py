"""Drawings of a pass in SVG: the head from the side with its arrows, from above with bolts or spots, and a template to cut out.

Sketches are 1000 units wide with the front end on the left. From above, as one stands over the cam side, the inlet side
lies at the top. Heights are overdrawn, since a bow of a few tenths cannot be seen.
"""

from __future__ import annotations

import math
from itertools import product
from xml.etree.ElementTree import Element

from straighten.sheet.card import Card, PassSheet, SketchData, SpotLine
from straighten.sheet.markup import node, page, ruler
from straighten.units import show

WIDE = 1000
LEFT, RIGHT = 62.0, 960.0
MIDDLE = (LEFT + RIGHT) / 2
TOP, BOTTOM = 6.0, 302.0  # of the head seen from above
BULGE = 34.0  # how far the overdrawn bow stands out
# Of spots: radius of a ring, half side of a used place, least air between them.
RING, SQUARE, AIR = 37.0, 22.0, 4.0
NUMBER, LABEL = 50.0, 90.0  # width of a spot's number, of a station
CROWDED = 150.0  # stations nearer than this are marked in two lines


def _picture(height: float, says: str, *parts: Element) -> Element:
    return node(
        "svg", node("title", says), *parts,
        viewBox=f"0 0 {WIDE} {height:g}", role="img", aria_label=says, class_="sketch",
    )  # fmt: skip


def label(x: float, y: float, text: str, class_: str = "label", anchor: str = "middle") -> Element:
    """Return a word at its place."""
    return node("text", text, x=x, y=y, class_=class_, text_anchor=anchor)


def _at(station: float, length: float) -> float:
    return LEFT + (RIGHT - LEFT) * station / length


def _inside(stations: tuple[float, ...], length: float, margin: float) -> list[float]:
    """Return places of stations that keep off the ends of the drawing."""
    return [min(max(_at(x, length), LEFT + margin), RIGHT - margin) for x in stations]


def _shims(card: Card, sketch: SketchData, margin: float) -> list[float]:
    """Return the places of the shims, none where the head lies bare."""
    stations = (sketch.length / 2,) if card.reverse else card.shim_stations
    return _inside(stations, sketch.length, margin) if card.shimmed else []


# --- from the side -----------------------------------------------------------------------------------------------


def side_view(card: Card, sketch: SketchData) -> Element:
    """Return the head from the side: which way it is bowed, where the shims go, where to pull."""
    bulge = -BULGE if card.reverse else BULGE
    deck, cam, base = 228.0, 134.0, 256.0
    outline = (
        f"M{LEFT} {deck} Q{MIDDLE} {deck - 2 * bulge} {RIGHT} {deck} "
        f"L{RIGHT} {cam} Q{MIDDLE} {cam - 2 * bulge} {LEFT} {cam} Z"
    )
    parts = [
        node("rect", x=LEFT - 40, y=base, width=RIGHT - LEFT + 70, height=24, class_="base"),
        *(
            node("rect", x=x - 30, y=deck - 4, width=60, height=base - deck + 4, class_="shim")
            for x in _shims(card, sketch, 25)
        ),
        *(_tower(_at(x, sketch.length), x / sketch.length, cam, bulge) for x in sketch.towers),
        node("path", d=outline, class_="body"),
        *_pulls(card, sketch),
        *_foot_words(card),
    ]
    return _picture(330, f"Head from the side, bow overdrawn. {card.direction}.", *parts)


def _foot_words(card: Card) -> list[Element]:
    under_ends = card.shimmed and not card.reverse
    front, rear = ("SHIMS FRONT", "SHIMS REAR") if under_ends else ("FRONT", "REAR")
    ends = "label act" if under_ends else "label"
    middle = ("SHIMS", "label act") if card.shimmed and card.reverse else ("flat base", "label quiet")
    return [
        label(LEFT - 40, 320, front, ends, "start"),
        label(RIGHT + 30, 320, rear, ends, "end"),
        label(MIDDLE, 320, *middle),
    ]


def _tower(x: float, share: float, cam: float, bulge: float) -> Element:
    y = cam - 4 * bulge * share * (1 - share) + 8
    return node("path", d=f"M{x - 17:.1f} {y:.1f} v-24 a17 17 0 0 1 34 0 v24", class_="tower")


def _pulls(card: Card, sketch: SketchData) -> list[Element]:
    if card.reverse:
        return [
            *(_arrow_down(x, 4, 118) for x in _inside(card.shim_stations, sketch.length, 40)),
            label(MIDDLE, 60, "PULL BOTH ENDS DOWN", "label act"),
        ]
    return [
        _arrow_down(MIDDLE, 2, 92),
        label(MIDDLE - 56, 46, "PULL THE MIDDLE", "label act", "end"),
        label(MIDDLE + 56, 46, "DOWN", "label act", "start"),
    ]


def _arrow_down(x: float, top: float, tip: float) -> Element:
    neck = tip - 44
    points = [(-13, top), (13, top), (13, neck), (38, neck), (0, tip), (-38, neck), (-13, neck)]
    return node("polygon", points=" ".join(f"{x + a:g},{b:g}" for a, b in points), class_="arrow")


# --- from above --------------------------------------------------------------------------------------------------


def _across(share: float, side: str) -> float:
    """Return the height on the paper at a share of the width from the middle line, inlet side up."""
    return (TOP + BOTTOM) / 2 - (share if side == "inlet" else -share) * (BOTTOM - TOP)


def _edge(side: str) -> float:
    return _across(0.36, side)


def _row(side: str, sketch: SketchData) -> float:
    return _across(sketch.rows / sketch.width, side)


def _plan() -> list[Element]:
    middle = (TOP + BOTTOM) / 2
    return [
        node("rect", x=LEFT, y=TOP, width=RIGHT - LEFT, height=BOTTOM - TOP, class_="body"),
        node("line", x1=LEFT, x2=RIGHT, y1=middle, y2=middle, class_="axis"),
        _upright(_across(0.25, "inlet"), "INLET"),
        _upright(_across(0.25, "exhaust"), "EXH."),
        label(LEFT, 344, "FRONT", "label", "start"),
        label(RIGHT, 344, "REAR", "label", "end"),
    ]


def _upright(y: float, text: str) -> Element:
    place = f"translate({LEFT - 18:g} {y:g}) rotate(-90)"
    return node("text", text, transform=place, class_="label quiet", text_anchor="middle")


def clamp_view(card: Card, sketch: SketchData) -> Element:
    """Return the head from above: shims at their corners, bolts with their order."""
    parts = _plan()
    pulling = {(round(b.station, 6), b.side) for b in card.bolts}
    parts += [
        node("circle", cx=_at(hole.station, sketch.length), cy=_edge(hole.side), r=15, class_="hole")
        for hole in sketch.holes
        if (round(hole.station, 6), hole.side) not in pulling
    ]
    for x in _shims(card, sketch, 15):
        parts.append(node("rect", x=x - 12, y=TOP + 8, width=24, height=BOTTOM - TOP - 16, class_="shim"))
    for bolt in card.bolts:
        parts += _numbered(_at(bolt.station, sketch.length), _edge(bolt.side), bolt.order, "bolt")
    order = ", ".join(f"{b.order} {b.side} at {show(b.station, card.system, big=True)}" for b in card.bolts)
    if not card.reverse:
        arrow = f"M{MIDDLE:g} {BOTTOM:g} l-20 16 h12 v18 h16 v-18 h12 z"
        parts.append(node("path", d=arrow, class_="arrow"))
    parts.append(label(MIDDLE, 374, "BLADES AT THE CORNERS" if card.reverse else "BLADE", "label act"))
    bars = "shims as bars, " if card.shimmed else ""
    says = f"Head from above: {bars}blades at both edges, bolts in the order of turning: {order}."
    return _picture(384, says, *parts)


def _numbered(x: float, y: float, number: int, class_: str) -> list[Element]:
    return [node("circle", cx=x, cy=y, r=RING, class_=class_), label(x, y + 17, str(number), "number")]


def spot_view(card: Card, sketch: SketchData) -> Element:
    """Return the head from above, cam side up: rings to heat in their order, crossed squares heated before."""
    parts = _plan()
    for web in sketch.webs:
        x = _at(web, sketch.length)
        parts.append(node("line", x1=x, x2=x, y1=TOP, y2=BOTTOM, class_="web"))
    for station, side, radius in sketch.zones:
        reach = radius / sketch.length * (RIGHT - LEFT)
        parts += struck(_at(station, sketch.length), _row(side, sketch), reach, "keepoff")
    ring, half = _mark_sizes(card, sketch)
    for place in sketch.used:
        parts += crossed(_at(place.station, sketch.length), _row(place.side, sketch), half, "used")
    lines, marks = _station_marks(card, sketch)
    parts += marks
    places = (*card.spots, *card.reserve)
    stations = sorted({round(spot.station, 6) for spot in places})
    crowded = _nearest(places) * (RIGHT - LEFT) / sketch.length < NUMBER
    for spot in places:
        at = _at(spot.station, sketch.length), _row(spot.side, sketch)
        kind = "spot" if spot in card.spots else "reserve"
        inward = crowded and (stations.index(round(spot.station, 6)) + (spot.side == "inlet")) % 2 == 1
        parts += (
            _numbered(*at, spot.order, kind)
            if ring == RING
            else _ringed(at, (spot.order, inward), ring, kind)
        )
    says = ", ".join(f"{s.order} {s.side} at {show(s.station, card.system, big=True)}" for s in card.spots)
    before = f" {len(sketch.used)} places heated before." if sketch.used else ""
    text = f"Head from above, cam side up: heat spots in their order: {says or 'none'}.{before}"
    return _picture(312 + 42 * lines, text, *parts)


def _mark_sizes(card: Card, sketch: SketchData) -> tuple[float, float]:
    """Return radius of the rings and half side of the crossed squares, smaller where the two would meet."""
    scale, places = (RIGHT - LEFT) / sketch.length, (*card.spots, *card.reserve)
    most = (scale * _nearest(places) - AIR) / 2 - 4
    near = scale * sketch.apart(places)
    if near >= RING + 4 + SQUARE + 2 + AIR:
        return (RING if most >= RING else max(most, 8.0)), SQUARE
    room = near - AIR - 6  # the strokes stand out by 4 and 2
    return min(max(0.55 * room, 4.0), 24.0, max(most, 8.0)), min(max(0.45 * room, 3.0), SQUARE)


def _nearest(spots: tuple[SpotLine, ...]) -> float:
    """Return the least distance of two spots of one row [m]; infinite where no row has two."""
    pairs = ((a, b) for n, a in enumerate(spots) for b in spots[:n] if a.side == b.side)
    return min((abs(a.station - b.station) for a, b in pairs), default=math.inf)


def _ringed(at: tuple[float, float], number: tuple[int, bool], radius: float, kind: str) -> list[Element]:
    """Return a small ring with its number beside it, towards the edge of the head, or to the middle: where there is no room, or it is asked for."""
    (x, y), (order, to_middle) = at, number
    above, below = y - radius - 12, y + radius + 46
    outward, inward = (above, below) if y < (TOP + BOTTOM) / 2 else (below, above)
    text = outward if TOP + 40 <= outward <= BOTTOM - 4 and not to_middle else inward
    return [
        node("circle", cx=x, cy=y, r=radius, class_=kind),
        label(x, text, str(order), "number over tight"),
    ]


def struck(x: float, y: float, radius: float, class_: str) -> list[Element]:
    """Return a circle struck through: a place never to heat."""
    arm = 0.707 * radius
    return [
        node("circle", cx=x, cy=y, r=radius, class_=class_),
        node("line", x1=x - arm, y1=y - arm, x2=x + arm, y2=y + arm, class_=class_),
    ]


def crossed(x: float, y: float, half: float, class_: str) -> list[Element]:
    """Return a crossed square: a place heated before."""
    side = 2 * half
    cross = f"M{x - half:.6g} {y - half:.6g} l{side:.6g} {side:.6g} m0 {-side:.6g} l{-side:.6g} {side:.6g}"
    return [
        node("rect", x=x - half, y=y - half, width=side, height=side, class_=class_),
        node("path", d=cross, class_=class_),
    ]


def _station_marks(card: Card, sketch: SketchData) -> tuple[int, list[Element]]:
    """Return the stations to mark with the rule, each under its spots, and how many lines they take."""
    parts: list[Element] = []
    # the first line begins beside the word FRONT and ends before REAR
    last = [LEFT + 10, *[float(-WIDE)] * 2]
    for station in sorted({round(s.station, 6) for s in (*card.spots, *card.reserve)}):
        x = _at(station, sketch.length)
        free = [n for n in (0, 1) if x - last[n] >= CROWDED and (n or x < RIGHT - CROWDED)]
        line = free[0] if free else 2 if x - last[1] < LABEL else 1
        last[line] = x
        y = 344.0 + 42 * line
        parts.append(node("line", x1=x, x2=x, y1=_row("inlet", sketch), y2=y - 34, class_="mark"))
        parts.append(label(x, y, ruler(station, card.system), "label station"))
    return max(n for n in range(3) if last[n] > 0) + 1, parts


# --- a template of the roof in its own size: one unit is one millimetre, the front end at the top, the inlet side right ---
# A head longer or wider than a sheet takes several, with a strip that both of two neighbours show.

# mm of the head on one sheet: fits A4 (ISO 216) and Letter (ANSI/ASME Y14.1) alike
ACROSS, ALONG = 180.0, 225.0
PAPER_WIDE, PAPER_HIGH = 190.0, 255.0  # mm of a sheet's drawing
OVERLAP = 10.0  # mm that neighbours share
PROOF = 100.0  # mm of the line that tells whether the print is in its own size
_LEFT, _TOP = 5.0, 22.0  # of the head's part on the sheet
_FLAME = 12.0  # mm: radius drawn for an older card, which has none


def template_page(sheet: PassSheet) -> str:
    """Return the template as one HTML file, a page for each sheet."""
    name, number = sheet.card.name, sheet.card.pass_number
    # Where each sheet begins on the head [mm]: along from the front end, across from its exhaust edge.
    starts = _starts(1e3 * sheet.sketch.length, ALONG), _starts(1e3 * sheet.sketch.width, ACROSS)
    tiles = list(product(*starts))
    sheets = [_sheet(sheet, tile, (n, len(tiles))) for n, tile in enumerate(tiles, start=1)]
    title = node("h1", f"Template of the roof, head {name}, pass {number}", class_="unseen")
    return page(f"Template of {name}", node("body", node("main", title, *sheets, class_="template")))


def _starts(whole: float, room: float) -> list[float]:
    count = max(math.ceil((whole - OVERLAP) / (room - OVERLAP)), 1)
    return [n * (room - OVERLAP) for n in range(count)]


def _sheet(sheet: PassSheet, begins: tuple[float, float], which: tuple[int, int]) -> Element:
    along, across = begins
    length, width = 1e3 * sheet.sketch.length, 1e3 * sheet.sketch.width
    shown = min(ALONG, length - along), min(ACROSS, width - across)
    number, count = which
    clip = f"part{number}"
    window = {"x": _LEFT, "y": _TOP, "width": shown[1], "height": shown[0]}
    moved = node("g", *_head(sheet), transform=f"translate({_LEFT - across:g} {_TOP - along:g})")
    part = node("g", moved, clip_path=f"url(#{clip})")
    says = f"Sheet {number} of {count}: the roof from {along:.0f} to {along + shown[0]:.0f} mm from the front end, in its own size."
    return node(
        "section",
        node(
            "svg", node("title", says), node("clipPath", node("rect", **window), id=clip),
            *_heading(sheet, which), part, *_marks(shown, goes_on=along + shown[0] < length - 1e-9),
            viewBox=f"0 0 {PAPER_WIDE:g} {PAPER_HIGH:g}", width=f"{PAPER_WIDE:g}mm", height=f"{PAPER_HIGH:g}mm", role="img", aria_label=says,
        ),
        class_="tile",
    )  # fmt: skip


def _word(x: float, y: float, text: str) -> Element:
    return label(x, y, text, "word", "start")


def _heading(sheet: PassSheet, which: tuple[int, int]) -> list[Element]:
    """Return what the sheet is, and the line that proves its size."""
    card = sheet.card
    told = (
        f"{card.name}, pass {card.pass_number}, sheet {which[0]} of {which[1]}; cam side up, FRONT at the top"
    )
    proof = show(PROOF / 1e3, card.system, big=True)
    return [
        _word(_LEFT, 5, told),
        node("rect", x=_LEFT, y=8, width=PROOF, height=1, class_="proof"),
        _word(_LEFT + PROOF + 3, 10, f"{proof} on a rule?"),
        _word(_LEFT, 15, "If not, print again at 100 %, not fitted to the page. Cut along the dashed lines."),
        _word(_LEFT, 20, "EXHAUST side"),
        label(min(_LEFT + 1e3 * sheet.sketch.width, PAPER_WIDE - 5), 20, "INLET side", "word", "end"),
    ]


def _marks(shown: tuple[float, float], *, goes_on: bool) -> list[Element]:
    """Return the cut line around the part, and where the top edge of the next sheet is laid."""
    right, bottom = _LEFT + shown[1], _TOP + shown[0]
    parts = [node("rect", x=_LEFT, y=_TOP, width=shown[1], height=shown[0], class_="cut")]
    if goes_on:
        y = bottom - OVERLAP
        parts.append(node("line", x1=_LEFT, x2=right, y1=y, y2=y, class_="join"))
        parts.append(_word(_LEFT, bottom + 5, "Lay the top edge of the next sheet on the dotted line."))
    return parts


def _head(sheet: PassSheet) -> list[Element]:
    """Return the whole roof in millimetres: along from the front end, across from its exhaust edge."""
    sketch, card = sheet.sketch, sheet.card
    length, width, rows = 1e3 * sketch.length, 1e3 * sketch.width, 1e3 * sketch.rows
    parts = [node("rect", x=0, y=0, width=width, height=length, class_="outline")]
    lines = sorted({width / 2 - rows, width / 2, width / 2 + rows})
    parts += [node("line", x1=x, x2=x, y1=0, y2=length, class_="row") for x in lines]
    parts += [node("line", x1=0, x2=width, y1=1e3 * web, y2=1e3 * web, class_="row") for web in sketch.webs]
    for hole in sketch.holes:  # a tick at its edge: how far in it lies is not known
        y = 1e3 * hole.station
        tick = f"M0 {y:g}h6" if hole.side == "exhaust" else f"M{width:g} {y:g}h-6"
        parts.append(node("path", d=tick, class_="cross"))
    for station, side, radius in sketch.zones:
        parts += struck(_off(side, rows, width), 1e3 * station, 1e3 * radius, "never")
    for place in sketch.used:
        parts += crossed(_off(place.side, rows, width), 1e3 * place.station, 4.0, "never")
    for spot in (*card.spots, *card.reserve):
        kind = "heat" if spot in card.spots else "maybe"
        parts += _ring(spot, _off(spot.side, rows, width), kind)
    return parts


def _off(side: str, off: float, width: float) -> float:
    return width / 2 + (off if side == "inlet" else -off)


def _ring(spot: SpotLine, x: float, kind: str) -> list[Element]:
    y = 1e3 * spot.station
    radius = _FLAME if spot.flux_radius is None else 1e3 * spot.flux_radius
    return [
        node("circle", cx=x, cy=y, r=radius, class_=kind),
        node("path", d=f"M{x - 2:g} {y:g}h4M{x:g} {y - 2:g}v4", class_="cross"),
        label(x + 2, y - 2, str(spot.order), "number", "start"),
    ]
