"""The pass as a page for the bench: five sides in the order of the work."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from straighten.sheet import sizes
from straighten.sheet.card import Range
from straighten.sheet.layout import percent
from straighten.sheet.markup import node, nodes, page
from straighten.sheet.sketch import clamp_view, side_view, spot_view
from straighten.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from xml.etree.ElementTree import Element

    from straighten.sheet.bench import BoxRow, PassSheet
    from straighten.sheet.card import Card, Refusal, Round, Stack
    from straighten.units import System

CORNERS = (
    "front inlet",
    "rear inlet",
    "front exhaust",
    "rear exhaust",
)  # as they lie on the sketch from above


def pass_page(sheet: PassSheet) -> str:
    """Return the pass page as one HTML file."""
    card = sheet.card
    title = f"Pass {card.pass_number}, head {card.name}"
    body = node(
        "body",
        node("main", *_leaves(sheet), class_="pass"),
    )
    return page(title, body)


def refusal_page(refusal: Refusal) -> str:
    """Return a page that says why no pass is planned, reason first."""
    side = node(
        "section",
        node("header", node("h1", "No pass"), node("p", refusal.name, class_="head"), class_="top"),
        node("p", f"Verdict: {refusal.verdict}", class_="direction"),
        node("p", refusal.reason),
        node("p", f"Decided by {refusal.decided_by}", class_="fine"),
        node("h2", "Looked at"),
        node("ul", *nodes("li", refusal.findings)),
        class_="side",
    )
    return page(f"No pass, head {refusal.name}", node("body", node("main", side, class_="pass")))


def _leaves(sheet: PassSheet) -> list[Element]:
    """Return the sides in the order of the work, in two leaves: a leaf is one A4 page, a side one A5 page."""
    card = sheet.card
    shims = (_verdict(card), _direction(card), side_view(card, sheet.sketch), *_shims(card), _why(card))
    doubts = _keep_in_mind(card)
    early, late = ([], doubts) if card.soak is not None else (doubts, [])  # where there is room
    heat = (*_heat(sheet), *_cool(card), *_release(card), *late)
    leaves = (
        (("shims", shims), ("caution", (_caution(card), *early)), ("tighten", _tighten(sheet))),
        (("heat" if card.spots else "soak", heat), ("measure", (*_measure(sheet), *_then(card)))),
    )
    return [
        node("div", *(_side(card, name, parts) for name, parts in leaf), class_="leaf") for leaf in leaves
    ]


def _side(card: Card, name: str, parts: Iterable[Element]) -> Element:
    return node(
        "section",
        _top(card, first=name == "shims"),
        *parts,
        class_=f"side side-{name}",
        aria_label=name.capitalize(),
    )


def _top(card: Card, *, first: bool) -> Element:
    made = datetime.fromisoformat(card.made_at)
    number = node("span", f"Pass {card.pass_number}", class_="pass-number")
    return node(
        "header",
        node("h1" if first else "p", number, class_="title"),
        node("p", card.name, class_="head"),
        node("p", f"{made:%d %b %Y, %H:%M}", class_="made"),
        class_="top" if first else "top again",
    )


def _step(number: int, title: str, *after: Element | str) -> Element:
    return node("h2", node("span", str(number), class_="tag"), " ", title, *after)


def _verdict(card: Card) -> Element:
    go = "GO" if card.verdict == "straighten" else f"AGAINST THE VERDICT: {card.verdict.upper()}"
    return node("p", node("strong", go, class_="go"), f" {card.reason}", class_="verdict")


def _direction(card: Card) -> Element:
    return node("p", card.direction[:1].upper() + card.direction[1:] + ".", class_="direction")


# --- side 1: clamp -----------------------------------------------------------------------------------------------


def _shims(card: Card) -> tuple[Element, ...]:
    system = card.system
    front, rear = (sizes.size(x, system, big=True) for x in card.shim_stations)
    where = node("p", "Across the full width, front at ", front, ", rear at ", rear, ".", class_="where")
    if card.reverse:
        where = node("p", "Across the full width, in the middle.", class_="where")
    by_corner = {stack.corner: stack for stack in card.stacks}
    if len({(stack.blades, stack.warning) for stack in card.stacks}) == 1:
        alike = node("div", _stack("all four corners, each", card.stacks[0], card), class_="stacks alike")
        return _step(1, "Shims"), where, alike
    cells = [_stack(corner, by_corner[corner], card) for corner in CORNERS if corner in by_corner]
    return _step(1, "Shims"), where, node("div", *cells, class_="stacks")


def _stack(corner: str, stack: Stack, card: Card) -> Element:
    if not stack.blades:
        return node(
            "div",
            node("span", corner, class_="corner"),
            node("span", "none: head on the base", class_="blades"),
        )
    own, other = ("mm", "thou") if card.system == "mm" else ("thou", "mm")
    strips: list[Element | str] = []
    for blade in stack.blades:
        strips += [" + ", node("span", sizes.bare([blade], card.system)[0], class_="blade")]
    small = node("small", f"{sizes.bare(stack.blades, card.system)[1]} {other}")
    warning = node("span", stack.warning, class_="warning") if stack.warning else None
    return node(
        "div", node("span", corner, class_="corner"),
        node("span", *strips[1:], f" {own} ", small, class_="blades"), warning,
    )  # fmt: skip


def _tighten(sheet: PassSheet) -> tuple[Element, ...]:
    card = sheet.card
    kinds = sorted({f"{b.thread} {b.grade}" for b in card.bolts})
    titles = ("round", "each bolt", "this blade GOES", "this one does NOT")
    head = node("tr", *nodes("th", titles, scope="col"))
    rows = [_round(n, turn, card) for n, turn in enumerate(card.rounds, start=1)]
    return (
        _step(2, "Tighten", node("span", f" bolts 1 to {len(card.bolts)} in turn, {', '.join(kinds)}", class_="aside")),
        clamp_view(card, sheet.sketch),
        node("p", "After each round try the blades under the middle." if not card.reverse else
             "After each round try the blades under the ends.", class_="where"),
        node("table", node("thead", head), node("tbody", *rows), class_="rounds"),
        node("p", node("strong", "Stop at the gap, not at the torque. "), _gap_words(card), " Never over ",
             sizes.torque(card.most_torque, card.system), ".", class_="rule"),
        node("p", "Gap read: ", *_read_boxes(card), class_="clock read"),
        node("p", *_held_words(card), f"; all bolts together pull {card.clamp_force.low / 1e3:.0f} to "
             f"{card.clamp_force.high / 1e3:.0f} kN.", class_="held"),
    )  # fmt: skip


def _read_boxes(card: Card) -> list[Element]:
    return [
        node("span", node("b", f"{n} "), _pencil(), class_="kept") for n, _ in enumerate(card.rounds, start=1)
    ]


def _held_words(card: Card) -> tuple[str, Element]:
    over = card.over_bend
    if over.middle >= 0:
        return "Held past straight by ", sizes.span(over, card.system)
    return "Held short of straight by ", sizes.span(
        Range(low=-over.high, middle=-over.middle, high=-over.low), card.system
    )


def _gap_words(card: Card) -> Element:
    if card.gap > 0:
        return node("span", "Stop when ", sizes.size(card.gap, card.system), " is left.")
    return node("span", "Stop when the gap is closed.")


def _round(number: int, turn: Round, card: Card) -> Element:
    times = node("small", f"{turn.times_round} times round") if turn.times_round > 1 else None
    return node(
        "tr",
        node("th", str(number), scope="row"),
        node("td", sizes.torque(turn.torque, card.system), " ", times),
        node("td", _blade(turn.goes, card, "goes", "none has to")),
        node("td", _blade(turn.stops, card, "stops", "any may")),
    )


def _blade(value: float | None, card: Card, kind: str, absent: str) -> Element:
    if value is None:
        return node("span", absent, class_="absent")
    return node("span", sizes.size(value, card.system), class_=f"blade {kind}")


# --- side 2: heat ------------------------------------------------------------------------------------------------


def _heat(sheet: PassSheet) -> tuple[Element, ...]:
    card = sheet.card
    if card.soak is not None:
        return _soak(card)
    if not card.spots:
        return _step(3, "Heat"), node("p", "No heat in this pass.")
    rows = sizes.size(sheet.sketch.rows, card.system, big=True)
    unit = "mm" if card.system == "mm" else "inches"
    return (
        _step(3, "Heat", node("span", f" {len(card.spots)} spots, cam side", class_="aside")),
        node("p", "One at a time. Places in ", f"{unit} from the front end, rows ", rows, " off the middle line.", class_="where"),
        spot_view(card, sheet.sketch),
        _legend(sheet),
        _temperatures(card, "target", card.spots[0].peak, _dwell(card)),
    )  # fmt: skip


def _legend(sheet: PassSheet) -> Element:
    marks = [("ring", "heat, in this order")]
    if sheet.sketch.used:
        marks.append(("crossed square", "used, leave alone"))
    if sheet.sketch.keep_off:
        reasons = ", ".join(dict.fromkeys(zone.reason for zone in sheet.sketch.keep_off if zone.reason))
        marks.append(("struck circle", f"keep off ({reasons})" if reasons else "keep off"))
    return node(
        "p",
        *(part for mark, words in marks for part in (node("b", mark), f" {words}. ")),
        class_="where legend",
    )


def _dwell(card: Card) -> str:
    short, long = min(s.dwell for s in card.spots), max(s.dwell for s in card.spots)
    return f"{short:.0f} s a spot" if long - short < 0.5 else f"{short:.0f} to {long:.0f} s a spot"


def _soak(card: Card) -> tuple[Element, ...]:
    soak = card.soak
    assert soak is not None  # noqa: S101 - the caller has looked
    hardness = f"Hardness after: {soak.hardness.low:.0f} to {soak.hardness.high:.0f} HB."
    return (
        _step(3, "Soak in the oven, clamped"),
        _temperatures(card, "metal at", soak.temperature, f"for {show_duration(soak.hold)}"),
        node("p", "Count from when the METAL is there, not the oven."),
        _clock("there at", "until"),
        node("p", hardness),
    )


def _temperatures(card: Card, word: str, target: float, how_long: str) -> Element:
    return node(
        "div",
        node("p", node("span", word, class_="word"), sizes.temperature(target, card.system), node("span", how_long, class_="word"), class_="target"),
        node("p", node("span", "NEVER ABOVE", class_="word"), sizes.temperature(card.ceiling, card.system), class_="ceiling"),
        class_="temperatures",
    )  # fmt: skip


def _clock(first: str, second: str) -> Element:
    blank = node("span", class_="pencil time", aria_hidden="true")
    return node(
        "p",
        first,
        " ",
        blank,
        " ",
        second,
        " ",
        node("span", class_="pencil time", aria_hidden="true"),
        class_="clock",
    )


def _cool(card: Card) -> tuple[Element, ...]:
    made = datetime.fromisoformat(card.made_at)
    wait = show_duration(card.wait)
    off = ("the last heat", "heat") if card.soak is None else ("the oven is off", "oven")
    unclamp = (", unclamp from ", node("b", _clock_time(card.unclamp_at, made))) if card.unclamp_at else ()
    return (
        _step(4, "Cool", node("span", " still air; no water, no fan", class_="aside")),
        node("p", "Leave it clamped ", node("b", show_duration(card.unclamp_wait)), f" after {off[0]}. Measure ",
             node("b", wait, class_="now"), " after it, not before:"),
        _clock(f"{off[1]} off at", f"+ {wait} ="),
        node("p", f"Were it off at {made:%H:%M}", *unclamp, ", measure from ",
             node("b", _clock_time(card.ready_at, made), class_="now"), ".", class_="where"),
    )  # fmt: skip


def _clock_time(iso: str, today: datetime) -> str:
    at = datetime.fromisoformat(iso)
    return f"{at:%H:%M}" if at.date() == today.date() else f"{at:%H:%M on %d %b}"


def _release(card: Card) -> tuple[Element, ...]:
    order = [str(b.order) for b in reversed(card.bolts)]
    return (
        _step(5, "Release", node("span", " cold, quarter turns, outside to middle", class_="aside")),
        node("p", "Bolts ", node("b", " · ".join(order)), class_="order"),
    )


def _caution(card: Card) -> Element:
    return node(
        "aside",
        node("h2", "Caution"),
        node("ul", *nodes("li", card.cautions)),
        class_="caution",
        aria_label="Caution",
    )


# --- side 3: measure ---------------------------------------------------------------------------------------------


def _measure(sheet: PassSheet) -> tuple[Element, ...]:
    system = sheet.card.system
    own, other = ("mm", "thou") if system == "mm" else ("thou", "mm")
    return (
        _step(6, "Measure", node("span", " room-warm, off the clamp", class_="aside")),
        node("p", f"Largest blade that goes; below it what to expect, {own} and {other}.", class_="where"),
        *(_box_table(rows, sheet) for rows in _alike(sheet.rows)),
        node("p", "Hardness exhaust ", _pencil(), " inlet ", _pencil(), " HB", class_="clock"),
    )  # fmt: skip


def _alike(rows: Sequence[BoxRow]) -> list[list[BoxRow]]:
    """Return the rows grouped where they are read alike and at the same stations."""
    groups: dict[tuple[object, ...], list[BoxRow]] = {}
    for row in rows:
        groups.setdefault((row.part, row.how, *(box.station for box in row.boxes)), []).append(row)
    return list(groups.values())


def _pencil(class_: str = "pencil") -> Element:
    return node("span", class_=class_, aria_hidden="true")


def _box_table(rows: Sequence[BoxRow], sheet: PassSheet) -> Element:
    system, first = sheet.card.system, rows[0]
    stations = [sizes.ruler(box.station, system) for box in first.boxes]
    unit = "mm" if system == "mm" else "in"
    return node(
        "table",
        node("caption", node("b", first.part), f", {first.how}"),
        node("thead", node("tr", node("th", f"at {unit}", scope="col"), *nodes("th", stations, scope="col"))),
        node("tbody", *(_box_row(row, system) for row in rows)),
        class_="boxes",
    )  # fmt: skip


def _box_row(row: BoxRow, system: System) -> Element:
    cells = []
    for box in row.boxes:
        own, other = sizes.bare_range(box.expected, system)
        cells.append(node("td", _pencil(), node("b", own), " ", node("small", other)))
    return node("tr", node("th", row.title, scope="row"), *cells)


def _then(card: Card) -> tuple[Element, ...]:
    lines = node("ul", *(_if(text) for text in card.if_then), class_="then")
    return (node("div", _step(7, "Then"), lines, class_="together"),)


def _if(text: str) -> Element:
    """Return one line of what to do, the part after its colon in bold."""
    condition, colon, deed = text.partition(": ")
    return node("li", condition + colon, node("b", deed)) if colon else node("li", text)


def _why(card: Card) -> Element:
    """Return why this pass: verdict, what decided, what to expect, what was learned."""
    system = card.system
    return node(
        "div",
        node("p", node("b", "Decided"), f" by {card.decided_by}."),
        node("p", node("b", "Expect"), " 8 times in 10: deck ", sizes.span(card.deck_after, system), ", cam line ",
             sizes.span(card.cam_after, system), f"; both inside their limits: {percent(card.chance_inside)}. Limits: deck ",
             sizes.size(card.deck_limit, system), f" ({card.deck_limit_source}), cam line ",
             sizes.size(card.cam_limit, system), f" ({card.cam_limit_source})."),
        node("p", node("b", "Or stack"), f" {card.second_stacking}.") if card.second_stacking and card.stacks[0].blades else None,
        node("p", card.learned),
        class_="fine",
    )  # fmt: skip


def _keep_in_mind(card: Card) -> list[Element]:
    """Return why the wait is what it is and the doubts behind the plan, or nothing."""
    waiting = [f"Waiting {show_duration(card.wait)}: {card.wait_reason}."] if card.wait_reason else []
    lines = [*waiting, *card.notes]
    return [node("div", *nodes("p", lines), class_="fine")] if lines else []
