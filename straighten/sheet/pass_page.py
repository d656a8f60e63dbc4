"""The pass as a page, one sheet of A4 or two leaves of A5: clamp, heat, expect; boxes, what to do; on the screen why."""

from __future__ import annotations

from datetime import datetime
from xml.etree.ElementTree import Element

from straighten.sheet import card_words as say
from straighten.sheet import markup
from straighten.sheet.card import Card, PassSheet, Refusal, Round, StackLine
from straighten.sheet.layout import show_force
from straighten.sheet.live import live_parts, live_script
from straighten.sheet.markup import Part, node, nodes, page, table
from straighten.sheet.sides import (
    cool_side,
    expect_side,
    heat_side,
    ladder_side,
    measure_side,
    pencil,
    section,
    step,
    then_side,
    warned,
)
from straighten.sheet.sketch import clamp_view, side_view
from straighten.units import show_duration

# As they lie on the sketch from above.
CORNERS = ("front inlet", "rear inlet", "front exhaust", "rear exhaust")


def pass_page(sheet: PassSheet) -> str:
    """Return the pass page as one HTML file."""
    live = live_parts(sheet.card)
    body = node("body", node("main", *live, *_leaves(sheet), class_="pass"))
    title = f"Pass {sheet.card.pass_number}, head {sheet.card.name}"
    return page(title, body, script=live_script() if live else "")


def refusal_page(refusal: Refusal) -> str:
    """Return a page that says why no pass is planned, reason first."""
    side = node(
        "section",
        node("header", node("h1", "No pass"), node("p", refusal.name, class_="head"), class_="top"),
        node("p", f"Verdict: {refusal.verdict}", class_="direction"),
        node("p", refusal.reason),
        node("p", f"Decided by {refusal.decided_by}", class_="fine"),
        node("ul", *nodes("li", (f for f in refusal.findings if f != refusal.reason))),
        node("p", f"To go on all the same, with your reason: {refusal.go_on}") if refusal.go_on else None,
        class_="side",
    )
    return page(f"No pass, head {refusal.name}", node("body", node("main", side, class_="pass")))


def _leaves(sheet: PassSheet) -> list[Element]:
    """Return two leaves: clamp and flame; what is read and waited for after it, what to expect, the boxes.

    On A4 each is a page; on A5 both together take three sides, the boxes the fourth. Why the pass was chosen and what was assumed
    stand below them on the screen alone.
    """
    card = sheet.card
    work = node(
        "div",
        *_before(card),
        section("clamp", side_view(card, sheet.sketch), *_shims(card)),
        section("tighten", *_tighten(sheet)),
        section("heat" if card.soak is None else "soak", *heat_side(sheet)),
        class_="work",
    )
    bench = node(
        "div",
        _top(card, first=True),
        node("p", card.direction[:1].upper() + card.direction[1:] + ".", class_="direction"),
        node("p", node("strong", say.go_words(card), class_="go"), f" {card.reason}", class_="verdict"),
        *_listed("Advised against", card.advice),
        work,
        class_="leaf bench",
    )
    after = node(
        "div",
        *([section("ladder", *ladder_side(card))] if card.ladder else []),
        section("cool", *cool_side(card)),
        section("expect", *expect_side(card)),
        section(
            "measure",
            _top(card, first=False),
            *measure_side(sheet),
            *then_side(card),
            *_listed("Keep in mind", card.notes),
        ),
        class_="leaf after",
    )
    return [bench, after, node("div", section("more", *_why(card)), class_="leaf screen")]


def _before(card: Card) -> tuple[Element, ...]:
    """Return step 0: what is done and answered before the head is clamped."""
    if not card.before:
        return ()
    lines = (node("li", pencil("tick"), " ", line) for line in card.before)
    return (section("before", step(0, "Before you clamp"), node("ul", *lines, class_="before")),)


def _listed(title: str, lines: tuple[str, ...], class_: str = "mind") -> list[Element]:
    return [node("h2", title), node("ul", *nodes("li", lines), class_=class_)] if lines else []


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


# --- clamp -----------------------------------------------------------------------------------------------


def _shims(card: Card) -> tuple[Element, ...]:
    front, rear = (markup.size(x, card.system, big=True) for x in card.shim_stations)
    if not card.shimmed:
        return (step(1, "Shims", f" {say.bare_words(card)}"),)
    middle = (" full width, in the middle",)
    ends = (" full width, front at ", front, ", rear at ", rear)
    on = f" on your {card.base}," if card.base else ""
    where = step(1, "Shims", on, *(middle if card.reverse else ends))
    by_corner = {stack.corner: stack for stack in card.stacks}
    if len({(stack.blades, stack.warning) for stack in card.stacks}) == 1:
        alike = _stack("all four corners, each", card.stacks[0], card)
        return where, node("div", alike, class_="stacks alike")
    cells = [_stack(corner, by_corner[corner], card) for corner in CORNERS if corner in by_corner]
    return where, node("div", *cells, class_="stacks")


def _stack(corner: str, stack: StackLine, card: Card) -> Element:
    if not stack.blades:
        return node("div", node("span", corner, class_="corner"), node("span", say.BARE, class_="blades"))
    own, other = ("mm", "thou") if card.system == "mm" else ("thou", "mm")
    strips: list[Element | str] = []
    for blade in stack.blades:
        strips += [" + ", node("span", markup.bare([blade], card.system)[0], class_="blade")]
    small = node("small", f"{markup.bare(stack.blades, card.system)[1]} {other}")
    warning = node("span", stack.warning, class_="warning") if stack.warning else None
    return node(
        "div", node("span", corner, class_="corner"),
        node("span", *strips[1:], f" {own} ", small, class_="blades"), warning,
    )  # fmt: skip


def _tighten(sheet: PassSheet) -> tuple[Element, ...]:
    card = sheet.card
    kinds = sorted({f"{b.thread} {b.grade}" for b in card.bolts})
    titles = ("round", "each bolt", "this blade GOES", "this one does NOT", "read")
    rows = (_round(n, turn, card) for n, turn in enumerate(card.rounds, start=1))
    left = ("Stop when ", markup.size(card.gap, card.system), " is left.")
    return (
        step(2, "Tighten", f" bolts 1 to {len(card.bolts)} in turn{say.round_words(card)}; {', '.join(kinds)}"),
        clamp_view(card, sheet.sketch),
        node("p", node("b", "Stand the blade"), f" {say.blade_words(card, sheet.sketch.length)}."),
        *warned(card, 2),
        table(titles, rows, class_="rounds"),
        node("p", node("strong", "Stop at the gap, not at the torque. "),
             node("span", *(left if card.gap > 0 else ("Stop when the gap is closed.",))), " Never over ",
             markup.torque(card.most_torque, card.system),
             f" ({card.most_torque_limit})" if card.most_torque_limit else "", ".", class_="rule"),
    )  # fmt: skip


def _round(number: int, turn: Round, card: Card) -> tuple[Part, ...]:
    times = say.times_words(turn, card)
    return (
        str(number),
        node("td", markup.torque(turn.torque, card.system), " ", node("small", times) if times else None),
        _blade(turn.goes, card, "goes", "none has to"),
        _blade(turn.stops, card, "stops", "any may"),
        pencil(),
    )


def _blade(value: float | None, card: Card, kind: str, absent: str) -> Element:
    if value is None:
        return node("span", absent, class_="absent")
    return node("span", markup.size(value, card.system), class_=f"blade {kind}")


def _why(card: Card) -> list[Element]:
    """Return why this pass: what decided, how it is held, why to wait, what was learned; and what was assumed."""
    held, far = say.held_words(card).split(": ", 1)
    found = node(
        "div",
        node("p", node("b", "Decided"), f" by {card.decided_by}."),
        node("p", node("b", "Limits"), f": deck {card.deck_limit_source}; cam line {card.cam_limit_source}."),
        node("p", f"{held}: ", markup.pair(far), "; all bolts together pull ",
             markup.pair(show_force(card.clamp_force.low, card.clamp_force.high, system=card.system)), "."),
        node("p", card.base_words) if card.base_words else None,
        node("p", node("b", "Or stack"), f" {card.second_stacking}.") if card.second_stacking and card.stacks[0].blades else None,
        node("p", f"Waiting {show_duration(card.wait)}: {card.wait_reason}.") if card.wait_reason else None,
        node("p", card.learned),
        class_="fine",
    )  # fmt: skip
    return [
        node("h2", "Why"),
        found,
        *_listed("What the heat costs", (*card.costs, *card.measure_next), "fine assumed"),
        *_listed("Assumed", card.assumed, "fine assumed"),
    ]
