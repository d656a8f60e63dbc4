"""A paper of the roof in its own size: places to heat and to keep off, rows, holes, to be cut out and laid on the head.

One unit of the drawing is one millimetre. The front end lies at the top, as seen from above the cam side the inlet side
lies at the right. A head longer or wider than a sheet takes several, with a strip that both of two neighbours show.
"""

from __future__ import annotations

import math
from itertools import product
from xml.etree.ElementTree import Element

from straighten.sheet.card import PassSheet, SpotLine
from straighten.sheet.markup import node, page
from straighten.units import show

ACROSS, ALONG = (
    180.0,
    225.0,
)  # mm of the head on one sheet: fits A4 (ISO 216) and Letter (ANSI/ASME Y14.1) alike
WIDE, HIGH = 190.0, 255.0  # mm of a sheet's drawing
OVERLAP = 10.0  # mm that neighbours share
PROOF = 100.0  # mm of the line that tells whether the print is in its own size
_LEFT, _TOP = 5.0, 22.0  # of the head's part on the sheet
_FLAME = 12.0  # mm: radius drawn where a card of before tells none


def template_page(sheet: PassSheet) -> str:
    """Return the template as one HTML file, a page for each sheet."""
    name, number = sheet.card.name, sheet.card.pass_number
    tiles = _tiles(1e3 * sheet.sketch.length, 1e3 * sheet.sketch.width)
    sheets = [_sheet(sheet, tile, (n, len(tiles))) for n, tile in enumerate(tiles, start=1)]
    title = node("h1", f"Template of the roof, head {name}, pass {number}", class_="unseen")
    return page(f"Template of {name}", node("body", node("main", title, *sheets, class_="template")))


def _tiles(length: float, width: float) -> list[tuple[float, float]]:
    """Return where each sheet begins on the head [mm]: along from the front end, across from its exhaust edge."""
    return list(product(_starts(length, ALONG), _starts(width, ACROSS)))


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
    moved = node(
        "g", *_head(sheet), transform=f"translate({_LEFT - across:g} {_TOP - along:g})",
    )  # fmt: skip
    part = node("g", moved, clip_path=f"url(#{clip})")
    says = f"Sheet {number} of {count}: the roof from {along:.0f} to {along + shown[0]:.0f} mm from the front end, in its own size."
    return node(
        "section",
        node(
            "svg", node("title", says), node("clipPath", node("rect", **window), id=clip),
            *_heading(sheet, which), part, *_marks(shown, goes_on=along + shown[0] < length - 1e-9),
            viewBox=f"0 0 {WIDE:g} {HIGH:g}", width=f"{WIDE:g}mm", height=f"{HIGH:g}mm", role="img", aria_label=says,
        ),
        class_="tile",
    )  # fmt: skip


def _words(x: float, y: float, text: str, class_: str = "word", anchor: str = "start") -> Element:
    return node("text", text, x=x, y=y, class_=class_, text_anchor=anchor)


def _heading(sheet: PassSheet, which: tuple[int, int]) -> list[Element]:
    """Return what the sheet is, and the line that proves its size."""
    card = sheet.card
    told = (
        f"{card.name}, pass {card.pass_number}, sheet {which[0]} of {which[1]}; cam side up, FRONT at the top"
    )
    proof = show(PROOF / 1e3, card.system, big=True)
    return [
        _words(_LEFT, 5, told),
        node("rect", x=_LEFT, y=8, width=PROOF, height=1, class_="proof"),
        _words(_LEFT + PROOF + 3, 10, f"{proof} on a rule?"),
        _words(
            _LEFT, 15, "If not, print again at 100 %, not fitted to the page. Cut along the dashed lines."
        ),
        _words(_LEFT, 20, "EXHAUST side"),
        _words(WIDE - 5, 20, "INLET side", anchor="end"),
    ]


def _marks(shown: tuple[float, float], *, goes_on: bool) -> list[Element]:
    """Return the cut line around the part, and where the top edge of the next sheet is laid."""
    right, bottom = _LEFT + shown[1], _TOP + shown[0]
    parts = [node("rect", x=_LEFT, y=_TOP, width=shown[1], height=shown[0], class_="cut")]
    if goes_on:
        y = bottom - OVERLAP
        parts.append(node("line", x1=_LEFT, x2=right, y1=y, y2=y, class_="join"))
        parts.append(_words(_LEFT, bottom + 5, "Lay the top edge of the next sheet on the dotted line."))
    return parts


def _head(sheet: PassSheet) -> list[Element]:
    """Return the whole roof in millimetres: along from the front end, across from its exhaust edge."""
    sketch, card = sheet.sketch, sheet.card
    length, width, rows = 1e3 * sketch.length, 1e3 * sketch.width, 1e3 * sketch.rows
    parts = [node("rect", x=0, y=0, width=width, height=length, class_="outline")]
    lines = sorted({width / 2 - rows, width / 2, width / 2 + rows})
    parts += [node("line", x1=x, x2=x, y1=0, y2=length, class_="row") for x in lines]
    parts += [node("line", x1=0, x2=width, y1=1e3 * web, y2=1e3 * web, class_="row") for web in sketch.webs]
    parts += [_tick(h.side, 1e3 * h.station, width) for h in sketch.holes]
    for zone in sketch.keep_off:
        for side in ("exhaust", "inlet") if zone.side == "both" else (zone.side,):
            parts += _struck(_across(side, rows, width), 1e3 * zone.station, 1e3 * zone.radius)
    parts += [_used(_across(u.side, rows, width), 1e3 * u.station) for u in sketch.used]
    for spot in card.spots:
        parts += _ring(spot, (_across(spot.side, rows, width), 1e3 * spot.station), "heat")
    for spot in card.reserve:
        parts += _ring(spot, (_across(spot.side, rows, width), 1e3 * spot.station), "maybe")
    return parts


def _across(side: str, off: float, width: float) -> float:
    return width / 2 + (off if side == "inlet" else -off)


def _ring(spot: SpotLine, at: tuple[float, float], kind: str) -> list[Element]:
    x, y = at
    radius = _FLAME if spot.flux_radius is None else 1e3 * spot.flux_radius
    return [
        node("circle", cx=x, cy=y, r=radius, class_=kind),
        _cross(x, y),
        _words(x + 2, y - 2, str(spot.order), "number"),
    ]


def _tick(side: str, y: float, width: float) -> Element:
    """Return the station of a bolt hole as a tick at its edge: how far in it lies is not known."""
    return node("path", d=f"M0 {y:g}h6" if side == "exhaust" else f"M{width:g} {y:g}h-6", class_="cross")


def _cross(x: float, y: float) -> Element:
    return node("path", d=f"M{x - 2:g} {y:g}h4M{x:g} {y - 2:g}v4", class_="cross")


def _struck(x: float, y: float, radius: float) -> list[Element]:
    reach = 0.707 * radius
    return [
        node("circle", cx=x, cy=y, r=radius, class_="never"),
        node("line", x1=x - reach, y1=y - reach, x2=x + reach, y2=y + reach, class_="never"),
    ]


def _used(x: float, y: float) -> Element:
    return node("path", d=f"M{x - 4:g} {y - 4:g}h8v8h-8zl8 8m0 -8l-8 8", class_="never")
