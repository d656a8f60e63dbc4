"""The sides of a pass page: heat, cool, release; what to expect; boxes to fill and what to do with them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from xml.etree.ElementTree import Element

from straighten.errors import in_shell
from straighten.sheet import card_words as say
from straighten.sheet import markup
from straighten.sheet.card import Box, BoxRow, Card, PassSheet, RungIf, RungLine, SoakLine
from straighten.sheet.layout import percent, show_pause
from straighten.sheet.markup import Part, node, nodes, table
from straighten.sheet.sketch import spot_view
from straighten.units import System, show, show_duration

NONE_GOES = "none of them"  # of the blades of a rung


def step(number: int, title: str, *aside: Part, class_: str = "aside", after: Part = None) -> Element:
    """Return a step heading: its number on a blade, its title, words `aside` in small, and what stands after them."""
    words = node("span", *aside, class_=class_) if aside else None
    return node("h2", node("span", str(number), class_="tag"), " ", title, words, after)


def pencil(class_: str = "pencil") -> Element:
    """Return an empty box to write in."""
    return node("span", class_=class_, aria_hidden="true")


def section(name: str, *parts: Part) -> Element:
    """Return a part of the page with its name for those who hear it."""
    return node("section", *parts, class_=f"side side-{name}", aria_label=name.capitalize())


def warned(card: Card, at: int) -> Part:
    """Return the cautions that count in a step; all at the heat on a card that does not tell their steps."""
    lines = say.cautions_at(card, at)
    return node("ul", *nodes("li", lines), class_="caution", aria_label="Caution") if lines else None


def heat_side(sheet: PassSheet) -> tuple[Part, ...]:
    """Return where and how hot to heat."""
    card = sheet.card
    if card.soak is not None:
        return _soak(card, card.soak)
    if not card.spots:
        return step(3, "Heat"), node("p", "No heat in this pass.")
    rows = markup.size(sheet.sketch.rows, card.system, big=True)
    unit = "mm" if card.system == "mm" else "inches"
    return (
        step(3, "Heat", f" {len(card.spots)} spots, one at a time; cautions read ", pencil("tick")),
        warned(card, 3),
        spot_view(card, sheet.sketch),
        _temperatures(card, "low crayon melts", card.spots[0].peak, f"at {say.dwell_words(card)}: flame off", say.late_words(card)),
        node("p", card.lowered.reason, class_="where") if card.lowered else None,
        node("p", card.flame, class_="where") if card.flame else None,
        None if card.spot_pause is None else node(
            "p", "From spot to spot: flame off for ", node("b", show_pause(card.spot_pause)), ", still air.", class_="where pause"
        ),
        node("p", f"Places in {unit} from the front end, rows ", rows, " off the middle. ", *_legend(sheet), class_="where"),
    )  # fmt: skip


def ladder_side(card: Card) -> tuple[Element, ...]:
    """Return the stages of the heat, with what follows from the gap read after each."""
    wait = f"wait {show_pause(card.stage_wait)}" if card.stage_wait else "cool"
    how = f"After each stage: flame off, {wait}, slacken the middle nuts, try the blades from the thickest down. The first that goes tells:"
    titles = ("stage", "heat", "this blade goes: do this", "read")
    rows = (_rung(rung, card.system) for rung in card.ladder)
    return (
        node("h3", "In stages"),
        node("p", how),
        table(titles, rows, class_="rounds ladder"),
        node("p", node("b", "STOP"), ": release cold and measure. ", node("b", "REREAD"), ": read again, and stop if it is as odd. Else tighten as in 2 and go on."),
    )  # fmt: skip


def _rung(rung: RungLine, system: System) -> tuple[Part, ...]:
    places = ", ".join(map(str, rung.places)) or "none"
    ifs = (node("div", *_rung_if(line, system)) for line in rung.lines)
    return str(rung.number), places, node("td", *ifs), pencil()


def _rung_if(line: RungIf, system: System) -> tuple[Element | str, ...]:
    word = say.do_word(line.do)
    if line.goes is None:
        return f"{NONE_GOES} ", node("b", word)
    own, other = markup.split(show(line.goes, system))
    return own, " ", node("small", other), " ", node("b", word)


def _legend(sheet: PassSheet) -> list[Element | str]:
    marks = [("ring", "is heated, in this order")]
    if sheet.card.reserve:
        own = {round(s.dwell) for s in sheet.card.spots}
        told = any(
            round(s.dwell) not in own for s in sheet.card.reserve
        )  # seconds other than those of the plan
        dwell = f": {say.reserve_words(sheet.card)}" if told else ""
        marks.append(("broken ring", f"is heated only where a stage calls for it{dwell}"))
    if sheet.sketch.used:
        marks.append(("crossed square", "was heated before, leave it alone"))
    if sheet.sketch.keep_off:
        marks.append(("struck circle", "is never heated, keep off" + _zones(sheet)))
    return [part for mark, words in marks for part in (node("b", mark), f" {words}. ")]


def _zones(sheet: PassSheet) -> str:
    """Return the distances to keep from places never to heat, and why."""
    told = say.keep_off_words(sheet.card)
    # older cards have no zones
    reasons = dict.fromkeys(zone.reason for zone in sheet.sketch.keep_off if zone.reason)
    listed = "; ".join(told) if told else ", ".join(reasons)
    return f": {listed}" if listed else ""


def _soak(card: Card, soak: SoakLine) -> tuple[Part, ...]:
    return (
        step(3, "Soak in the oven, clamped", "; cautions read ", pencil("tick")),
        warned(card, 3),
        _temperatures(card, "metal at", soak.temperature, f"for {show_duration(soak.hold)}"),
        node("p", say.METAL_THERE),
        node("p", "there at ", pencil("pencil time"), " until ", pencil("pencil time"), class_="clock"),
        node("p", say.hardness_words(soak.hardness)),
    )


def _temperatures(card: Card, word: str, target: float, how_long: str, late: str = "") -> Element:
    after = node("span", late, class_="word") if late else None
    return node(
        "div",
        node("p", node("span", word, class_="word"), markup.temperature(target, card.system), node("span", how_long, class_="word"), class_="target"),
        node("p", node("span", "NEVER ABOVE", class_="word"), markup.temperature(card.ceiling, card.system), after, class_="ceiling"),
        class_="temperatures",
    )  # fmt: skip


def cool_side(card: Card) -> tuple[Part, ...]:
    """Return how long to wait and how to release."""
    made = datetime.fromisoformat(card.made_at)
    wait = show_duration(card.wait)
    off = "heat" if card.soak is None else "oven"
    free, honest = (_clock_time(at, made) if at else "" for at in (card.unclamp_at, card.ready_at))
    first = f"{free} free, " if free not in ("", honest) else ""
    order = " · ".join(str(b.order) for b in reversed(card.bolts))
    return (
        step(4, "Cool", " still air; no water, no fan"),
        node("p", "Clamped: ", *(node("b", part, class_="now") if n % 2 else part for n, part in enumerate(say.cool_words(card))), "."),
        node("p", f"{off} off at ", pencil("pencil time"), f" + {wait} = ", pencil("pencil time"),
             node("span", f" (if at {made:%H:%M}: {first}", node("b", honest, class_="now"), ")", class_="where"), class_="clock"),
        warned(card, 4),
        step(5, "Release", " cold, quarter turns: ", node("b", order), class_="aside order"),
    )  # fmt: skip


def _clock_time(iso: str, today: datetime) -> str:
    at = datetime.fromisoformat(iso)
    return f"{at:%H:%M}" if at.date() == today.date() else f"{at:%H:%M on %d %b}"


FEW = 5  # boxes side by side that take the bench's size of print on A5


def measure_side(sheet: PassSheet) -> tuple[Element, ...]:
    """Return the boxes with what to expect in each."""
    hardness = node("span", "HB exhaust ", pencil(), " inlet ", pencil(), class_="hardness")
    told = " cold, free, edge as warm as the head; what goes (expected)"
    alike: dict[tuple[object, ...], list[BoxRow]] = {}  # read alike and at the same stations
    for row in sheet.rows:
        alike.setdefault((row.part, row.how, *(box.station for box in row.boxes)), []).append(row)
    tables = (_box_table(rows, sheet) for rows in alike.values())
    return (step(6, "Measure", told, after=hardness), *tables)


def _box_table(rows: Sequence[BoxRow], sheet: PassSheet) -> Element:
    system, first = sheet.card.system, rows[0]
    stations = [markup.ruler(box.station, system) for box in first.boxes]
    return table(
        (f"at {'mm' if system == 'mm' else 'in'}", *stations),
        ((row.title, *(_box(box, system) for box in row.boxes)) for row in rows),
        caption=node("caption", node("b", first.part), f", {first.how}"),
        class_="boxes" if len(stations) <= FEW else "boxes many",
    )


def _box(box: Box, system: System) -> Element:
    own, other = markup.bare_range(box.expected, system)
    return node("td", pencil(), node("b", own), " ", node("small", other))


def expect_side(card: Card) -> tuple[Element, ...]:
    """Return the main result: bow of deck and cam line after release against their limits, with the chances."""
    system = card.system
    rows = []
    for name, after, limit, chance in say.expected_rows(card):
        sizes = markup.size(after.middle, system), markup.size(limit, system)
        rows.append((name, markup.span(after, system), *sizes, node("b", percent(chance))))
    past = f"Past straight by more than the limit: {percent(card.chance_overshoot)}."
    chances = f"Both inside: {percent(card.chance_inside)}. {past}"
    titles = ("bow after release", "8 times in 10", "about", "overall limit", "inside")
    made = table(titles, rows, class_="expect")
    return (node("div", node("h2", "Expect"), made, node("p", chances), class_="together"),)


def then_side(card: Card) -> tuple[Element, ...]:
    """Return what to do with the readings, and where the paper's reader finds why."""
    why = f" why this pass, and what was assumed: straighten plan {in_shell(card.name)} --all"
    lines = node("ul", *(_if(text) for text in card.if_then), class_="then")
    return (node("div", step(7, "Then", why, class_="aside paper"), lines, class_="together"),)


def _if(text: str) -> Element:
    """Return one line of what to do, the part after its colon in bold."""
    condition, colon, deed = text.partition(": ")
    return node("li", condition + colon, node("b", deed)) if colon else node("li", text)
