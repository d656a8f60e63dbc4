"""The pass as a page, one sheet of A4 or two leaves of A5: clamp, heat, expect; boxes, what to do; on the screen why."""

from __future__ import annotations

import json
from datetime import datetime
from importlib.resources import files
from typing import Any, Final
from xml.etree.ElementTree import Element

from straighten.errors import in_shell
from straighten.head.equipment import TIMES
from straighten.plan.stages import STOP
from straighten.sheet import card_words as say
from straighten.sheet import markup
from straighten.sheet.card import Card, PassSheet, Refusal, Round, RungLine, SpotLine, StackLine
from straighten.sheet.layout import show_force
from straighten.sheet.markup import Part, clean, node, nodes, page, table
from straighten.sheet.sides import (
    NONE_GOES,
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
from straighten.units import THOU, show, show_duration, show_torque, told_duration

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
        _before(card),
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


def _before(card: Card) -> Part:
    """Return step 0: what is done and answered before the head is clamped."""
    lines = [node("li", pencil("tick"), " ", line) for line in card.before]
    return (
        section("before", step(0, "Before you clamp"), node("ul", *lines, class_="before")) if lines else None
    )


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


def _tighten(sheet: PassSheet) -> tuple[Part, ...]:
    card = sheet.card
    kinds = sorted({f"{b.thread} {b.grade}" for b in card.bolts})
    titles = ("round", "each bolt", "this blade GOES", "this one does NOT", "read")
    rows = (_round(n, turn, card) for n, turn in enumerate(card.rounds, start=1))
    left = ("Stop when ", markup.size(card.gap, card.system), " is left.")
    return (
        step(2, "Tighten", f" bolts 1 to {len(card.bolts)} in turn{say.round_words(card)}; {', '.join(kinds)}"),
        clamp_view(card, sheet.sketch),
        node("p", node("b", "Stand the blade"), f" {say.blade_words(card, sheet.sketch.length)}."),
        warned(card, 2),
        table(titles, rows, class_="rounds"),
        node("p", node("strong", "Stop at the gap, not at the torque. "),
             node("span", *(left if card.gap > 0 else ("Stop when the gap is closed.",))), " Never over ",
             markup.pair(show_torque(card.most_torque, card.system)),
             f" ({card.most_torque_limit})" if card.most_torque_limit else "", ".", class_="rule"),
    )  # fmt: skip


def _round(number: int, turn: Round, card: Card) -> tuple[Part, ...]:
    times = say.times_words(turn, card)
    return (
        str(number),
        node(
            "td",
            markup.pair(show_torque(turn.torque, card.system)),
            " ",
            node("small", times) if times else None,
        ),
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


# --- one step at a time on a phone -------------------------------------------------------------------------------------
# The script shows the printed steps one by one; between heat and cooling it leads from place to place and up the ladder.
# What it needs beside the printed page stands in a block of data: seconds, the ladder, words of buttons, what `log` takes.

_WORDS: Final = {
    "open": "One step at a time",
    "close": "Whole page",
    "next": "Next",
    "back": "Back",
    "heated": "Heated",
    "out": "Left out",
    "on": "Flame on: start the clock",
    "off": "Flame off: stop the clock",
    "start": "Start the clock",
    "clear": "Clear the clock",
    "read": "Gap read",
    "done": "What was done",
    "lost": "This page keeps nothing: closed or loaded anew, it begins again.",
    "take": "Copy or save it before you close the page. What begins with # straighten is typed at the program, in this order.",
}


def live_parts(card: Card) -> tuple[Element, ...]:
    """Return the frame, hidden until the script runs, and the block of data; nothing for a card that does not tell its flame."""
    if any(spot.flux_radius is None for spot in (*card.spots, *card.reserve)):
        return ()
    told = json.dumps(live_data(card), ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")
    return (
        node("div", class_="live", hidden="hidden"),
        node("script", told, type="application/json", id="steps"),
    )


def live_script() -> str:
    """Return the script that plays the block."""
    return files("straighten.sheet").joinpath("live.js").read_text(encoding="utf-8")


def live_data(card: Card) -> dict[str, Any]:
    """Return what the script needs, as JSON scalars: times [s], and finished sentences."""
    name = clean(" ".join(card.name.split()))
    file = f"pass-{card.pass_number}.toml"
    return {
        "words": {**_WORDS, "save": f"Save {file}"},
        "timed": {
            **({} if card.soak is None else {"3": ["soak", told_duration(card.soak.hold)]}),
            "4": ["cool", told_duration(card.unclamp_wait)],
            "6": ["cool", told_duration(card.wait)],
        },
        "pause": None if card.spot_pause is None else round(card.spot_pause),
        "wait": card.stage_wait,
        "shortest": TIMES.value[0],
        "stop": say.do_words(STOP, 0),
        "spots": {spot.order: _spot(spot, card) for spot in (*card.spots, *card.reserve)},
        "stages": _stages(card),
        "file": file,
        "top": f"Pass {card.pass_number}, head {name}, card of {card.made_at[:16].replace('T', ' ')}",
        "stage": f"straighten stage {in_shell(name)}",
        "log": f"straighten log {in_shell(name)} survey.toml --done {file}",
        "unheated": "heated = false",
    }


def _spot(spot: SpotLine, card: Card) -> dict[str, Any]:
    """Return a place in words, its seconds, and its table in a set-up file without them."""
    assert spot.flux_radius is not None  # noqa: S101 - `live_parts` has looked
    # The first place of a stage has cooled long since the one before: the pause of a set-up file that tells none.
    first = {rung.places[0] for rung in card.ladder if rung.places}
    pause = "" if card.spot_pause is None or spot.order in first else f'pause = "{card.spot_pause:.6g} s"\n'
    table = (
        f'[[spots]]\nstations = ["{1e3 * spot.station:.6g} mm"]\nside = "{spot.side}"\n'
        f'flame_radius = "{1e3 * spot.flux_radius:.6g} mm"\npeak = "{spot.peak:.6g} C"\n{pause}dwell = '
    )
    return {"words": say.spot_words(spot, card.system), "dwell": float(f"{spot.dwell:.6g}"), "table": table}


def _stages(card: Card) -> list[dict[str, Any]]:
    """Return the rungs; where there are none, all places as one stage after which nothing is read; none of a soak."""
    if card.ladder:
        return [_stage(rung, card) for rung in card.ladder]
    places = [spot.order for spot in card.spots]
    return [{"number": 1, "places": places, "lines": []}] if places else []


def _stage(rung: RungLine, card: Card) -> dict[str, Any]:
    thicker = (None, *(line.goes for line in rung.lines))  # the blade tried before each
    lines = [
        {
            "when": _when(line.goes, rung, card),
            "do": line.do,
            "then": say.do_words(line.do, rung.number),
            "gap": _bracket(line.goes, stops, card),
        }
        for line, stops in zip(rung.lines, thicker, strict=False)
    ]
    return {
        "number": rung.number,
        "name": say.do_words(rung.number, rung.number - 1),
        "places": list(rung.places),
        "words": say.rung_words(rung, card.system),
        "lines": lines,
    }


def _when(goes: float | None, rung: RungLine, card: Card) -> str:
    if goes is not None:
        return f"{show(goes, card.system)} goes"
    return NONE_GOES if len(rung.lines) > 1 else say.WHATEVER


def _bracket(goes: float | None, stops: float | None, card: Card) -> str:
    """Return a gap as `stage --gap` takes it: the blade that goes and the one tried before it, which does not."""
    unit, size = ("mm", 1e-3) if card.system == "mm" else ("thou", THOU)
    low, high = (None if blade is None else f"{blade / size:.4g}" for blade in (goes, stops))
    if high is None:
        return "" if low is None else f"goes {low} {unit}"
    return f"{low or 0}-{high} {unit}"
