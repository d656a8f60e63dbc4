"""The side of the pass page that goes to the torch or the oven: heat, cool, release."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from straighten.sheet import sizes
from straighten.sheet.card_text import if_words, keep_off_words, reserve_words, rung_words
from straighten.sheet.layout import show_pause
from straighten.sheet.markup import node
from straighten.sheet.parts import clock, pencil, step
from straighten.sheet.sketch import spot_view
from straighten.units import show_duration

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

    from straighten.sheet.card import Card, PassSheet


def heat_side(sheet: PassSheet) -> tuple[Element, ...]:
    """Return where and how hot to heat, how long to wait, how to release."""
    return (*_heat(sheet), *_ladder(sheet.card), *_cool(sheet.card), *_release(sheet.card))


def _heat(sheet: PassSheet) -> tuple[Element, ...]:
    card = sheet.card
    if card.soak is not None:
        return _soak(card)
    if not card.spots:
        return step(3, "Heat"), node("p", "No heat in this pass.")
    rows = sizes.size(sheet.sketch.rows, card.system, big=True)
    unit = "mm" if card.system == "mm" else "inches"
    return (
        step(3, "Heat", node("span", f" {len(card.spots)} spots, one at a time; cautions read ", pencil("tick"), class_="aside")),
        spot_view(card, sheet.sketch),
        _temperatures(card, "target", card.spots[0].peak, _dwell(card)),
        *([] if card.lowered is None else [node("p", card.lowered.reason, class_="where")]),
        *([node("p", card.flame, class_="where")] if card.flame else []),
        *_pause(card),
        node("p", f"Places in {unit} from the front end, rows ", rows, " off the middle. ", *_legend(sheet), class_="where"),
    )  # fmt: skip


def _ladder(card: Card) -> list[Element]:
    """Return the stages of the heat, with what follows from the gap read after each."""
    if not card.ladder:
        return []
    wait = f"Wait {show_pause(card.stage_wait)}, slacken" if card.stage_wait else "Cool, slacken"
    how = f"{wait} the middle nuts, blade under the middle; tighten again as in 2."
    reserve = f"In reserve: {reserve_words(card)}." if card.reserve else ""
    rungs = [
        node("li", rung_words(rung, card.system), ". ", "; ".join(if_words(rung, card.system)), ".")
        for rung in card.ladder
    ]
    return [
        node("p", node("b", "In stages. "), how, " ", reserve, class_="where"),
        node("ul", *rungs, class_="then ladder"),
    ]


def _pause(card: Card) -> list[Element]:
    if card.spot_pause is None:
        return []
    return [
        node(
            "p",
            "From spot to spot: flame off for ",
            node("b", show_pause(card.spot_pause)),
            ", still air.",
            class_="where",
        )
    ]


def _legend(sheet: PassSheet) -> list[Element | str]:
    marks = [("ring", "heat, in this order")]
    if sheet.sketch.used:
        marks.append(("crossed square", "used, leave alone"))
    if sheet.sketch.keep_off:
        marks.append(("struck circle", "keep off" + _zones(sheet)))
    return [part for mark, words in marks for part in (node("b", mark), f" {words}. ")]


def _zones(sheet: PassSheet) -> str:
    """Return the distances to keep from places never to heat, and why."""
    told = keep_off_words(sheet.card)
    reasons = dict.fromkeys(
        zone.reason for zone in sheet.sketch.keep_off if zone.reason
    )  # cards of before have no zones
    listed = "; ".join(told) if told else ", ".join(reasons)
    return f": {listed}" if listed else ""


def _dwell(card: Card) -> str:
    short, long = min(s.dwell for s in card.spots), max(s.dwell for s in card.spots)
    return f"{short:.0f} s a spot" if long - short < 0.5 else f"{short:.0f} to {long:.0f} s a spot"


def _soak(card: Card) -> tuple[Element, ...]:
    soak = card.soak
    assert soak is not None  # noqa: S101 - the caller has looked
    hardness = f"Hardness after: {soak.hardness.low:.0f} to {soak.hardness.high:.0f} HB."
    return (
        step(
            3,
            "Soak in the oven, clamped",
            node("span", "; cautions read ", pencil("tick"), class_="aside"),
        ),
        _temperatures(card, "metal at", soak.temperature, f"for {show_duration(soak.hold)}"),
        node("p", "Count from when the METAL is there, not the oven."),
        clock("there at", "until"),
        node("p", hardness),
    )


def _temperatures(card: Card, word: str, target: float, how_long: str) -> Element:
    return node(
        "div",
        node("p", node("span", word, class_="word"), sizes.temperature(target, card.system), node("span", how_long, class_="word"), class_="target"),
        node("p", node("span", "NEVER ABOVE", class_="word"), sizes.temperature(card.ceiling, card.system), class_="ceiling"),
        class_="temperatures",
    )  # fmt: skip


def _cool(card: Card) -> tuple[Element, ...]:
    made = datetime.fromisoformat(card.made_at)
    wait = show_duration(card.wait)
    off = ("the last heat", "heat") if card.soak is None else ("the oven is off", "oven")
    free, honest = (_clock_time(at, made) if at else "" for at in (card.unclamp_at, card.ready_at))
    first = f"{free} free, " if free not in ("", honest) else ""
    return (
        step(4, "Cool", node("span", " still air; no water, no fan", class_="aside")),
        node("p", "Clamped ", node("b", show_duration(card.unclamp_wait)), f" after {off[0]}; a reading is honest ",
             node("b", wait, class_="now"), " after it."),
        node("p", f"{off[1]} off at ", pencil("pencil time"), f" + {wait} = ", pencil("pencil time"),
             node("span", f" (if at {made:%H:%M}: {first}", node("b", honest, class_="now"), ")", class_="where"), class_="clock"),
    )  # fmt: skip


def _clock_time(iso: str, today: datetime) -> str:
    at = datetime.fromisoformat(iso)
    return f"{at:%H:%M}" if at.date() == today.date() else f"{at:%H:%M on %d %b}"


def _release(card: Card) -> tuple[Element, ...]:
    order = [str(b.order) for b in reversed(card.bolts)]
    return (
        step(
            5,
            "Release",
            node("span", " cold, quarter turns: ", node("b", " · ".join(order)), class_="aside order"),
        ),
    )
