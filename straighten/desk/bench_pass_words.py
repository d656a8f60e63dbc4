"""What the guided session asks inside a pass, in words: clamp, rounds, heat, cool-down, release."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from straighten.desk.bench_records import Ask
from straighten.desk.bench_words import reason
from straighten.readings.records import RIM
from straighten.sheet.card import Card, SpotLine
from straighten.sheet.card_words import (
    bolt_words,
    expected_rows,
    held_words,
    if_words,
    rung_words,
    stack_words,
)
from straighten.sheet.layout import percent
from straighten.units import System, show, show_duration, show_likely, show_temperature, show_torque

if TYPE_CHECKING:
    from straighten.clamp import ClampSetup
    from straighten.head.records import Head


def card_read(card: Card) -> Ask:
    """Return the card in short."""
    expect = tuple(
        f"after it {line}: {show_likely(*after, card.system)}; "
        f"limit {show(limit, card.system)}, inside {percent(chance)}"
        for line, after, limit, chance in expected_rows(card)
    )
    return Ask(
        key=f"pass/{card.pass_number}/read",
        part=f"PLAN of pass {card.pass_number}",
        shown=(f">>> {card.direction}", held_words(card), *expect),
        prompt=f"This is the card of pass {card.pass_number}.",
        hint="Enter = begin; the whole card: straighten sheet NAME, in another window",
        why=f"{card.reason} Decided by {card.decided_by}. {card.learned}",
    )


def before(card: Card) -> Ask:
    """Return what is done before the head is clamped, to be agreed to."""
    return Ask(
        key=f"clamp/{card.pass_number}/before",
        part=f"BEFORE YOU CLAMP, pass {card.pass_number}",
        shown=card.before,
        prompt="All of step 0 done, nobody in the way?",
        hint="type yes",
        why="Trapped water, sodium, magnesium and unseen cracks have hurt people; once clamped it is too late to look.",
    )


_LAID: Mapping[System, str] = {
    "mm": "shims 0.15, front 0.10, corners 0.1 0.1 0.15 0.15, pull 111 309",
    "inch": "shims 6, front 4, corners 4 4 6 6, pull 4.4 12.2",
}


def shims(card: Card) -> Ask:
    """Return the shim stacks to lay."""
    return Ask(
        key=f"clamp/{card.pass_number}/shims",
        part=_clamp_part(card),
        shown=(
            f">>> {card.direction}",
            *(stack_words(stack, card.system) for stack in card.stacks),
            *(bolt_words(bolt, card.system) for bolt in card.bolts),
        ),
        prompt="Shims laid, nuts finger tight in this order. Anything different?",
        hint=f"Enter = as on the card; else like {_LAID[card.system]}",
        why="Shims at the wrong place bend the wrong way and double the bow: read the arrow line again.",
    )


def laid_words(clamp: ClampSetup, head: Head, system: System) -> str:
    """Return the clamp as it was laid, where otherwise than on the card."""
    stations = sorted({head.bolts[n].station for n in clamp.bolts})
    pulled = ", ".join(show(station, system, big=True) for station in stations)
    shimmed = ", ".join(f"{name} {show(h, system)}" for name, h in zip(RIM[:4], clamp.shims, strict=True))
    return f"Laid otherwise: {shimmed}; pulled at {pulled}."


def _clamp_part(card: Card) -> str:
    return f"TIGHTEN pass {card.pass_number}"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundFacts:
    """One round to ask for: the card, number of the pass and of the round, what the rounds before it said, how it was `laid` otherwise."""

    card: Card
    number: int
    count: int
    said: Mapping[str, Any]
    laid: str = ""

    @property
    def suggested(self) -> float | None:
        """Torque to bring every bolt to [N m]; the card's before anything was logged."""
        if self.count > 1 or self.said:
            told = self.said.get("next_torque_Nm")
            return None if told is None else float(told)
        return self.card.rounds[0].torque if self.card.rounds else None


def torque(given: RoundFacts) -> Ask:
    """Return the question for the torque reached."""
    card, to = given.card, given.suggested
    told = (
        "bring every nut to " + show_torque(to, card.system)
        if to is not None
        else "none is advised; your own"
    )
    shown = [str(given.said["words"])] if given.said else [card.stop_rule]
    if given.count == 1 and card.rounds and not given.laid:  # the card's blades are for the card's shims
        first = card.rounds[0]
        goes = "no blade has to go" if first.goes is None else f"{show(first.goes, card.system)} should go"
        stops = "" if first.stops is None else f", {show(first.stops, card.system)} should not"
        shown.append(f"{first.times_round} times round; in the middle {goes}{stops}")
    return Ask(
        key=f"round/{given.number}/{given.count}/torque",
        part=_clamp_part(card),
        shown=(*shown, f"NEVER OVER {show_torque(card.most_torque, card.system)}"),
        prompt=f"Round {given.count}: {told}, middle pair first. Torque reached?",
        hint=f"{'Enter = as said, or ' if to is not None else ''}like {'18 Nm' if card.system == 'mm' else '13 ft-lb'}; skip = no more rounds, asks why",
        echo=given.laid,
        why="Torque and gap together tell how stiff this head is on these bolts; stop at the gap, not at the torque.",
    )


def goes(given: RoundFacts, reached: float) -> Ask:
    """Return the question for the largest blade that goes."""
    return Ask(
        key=f"round/{given.number}/{given.count}/goes",
        part=_clamp_part(given.card),
        prompt="Largest blade that goes under the middle?",
        hint="like 0.10 mm or 4 thou, or both blades: 0.10-0.12; 0 = none goes",
        why=f"The gap wanted is {show(given.card.gap, given.card.system)}.",
        echo=f"{show_torque(reached, given.card.system)} reached",
    )


def stops(given: RoundFacts, largest: float) -> Ask:
    """Return the question for the smallest blade that does not go."""
    return Ask(
        key=f"round/{given.number}/{given.count}/stops",
        part=_clamp_part(given.card),
        prompt="Smallest blade that does not go?",
        hint="like 0.12 mm or 5 thou; all = every blade goes",
        why="The gap lies between the two blades; one alone leaves the other side open.",
        echo=f"{show(largest, given.card.system)} goes" if largest else "no blade goes",
    )


def over_the_most(card: Card, which: tuple[int, int], said: str) -> Ask:
    """Return the question after a torque over the most the bolts may have."""
    number, count = which
    return Ask(
        key=f"clamp/{number}/over/{count}",
        part=_clamp_part(card),
        shown=(f"STOP: {said}",),
        prompt="Slackened, bolts and threads checked or new?",
        hint="anew = begin the rounds anew; back = the torque was mistyped",
        why="A bolt that has yielded can break when it gets hot. No blade reading and no reason changes that.",
    )


def untold_gap(given: RoundFacts) -> Ask:
    """Return the question for a reason to heat without a gap logged as reached."""
    wanted = show(given.card.gap, given.card.system)
    return reason(
        f"round/{given.number}/{given.count}/untold",
        _clamp_part(given.card),
        f"no round says that the gap of {wanted} is reached; the bend that is heated in would be unknown.",
    )


_LEFT: Mapping[System, str] = {"mm": "like 0.10-0.12 or 30 Nm", "inch": "like 4-5 or 22 ft-lb"}


def gap_left(card: Card, number: int) -> Ask:
    """Return the question for the gap that was left where no round says that the one wanted is reached."""
    return Ask(
        key=f"clamp/{number}/left",
        part=_clamp_part(card),
        prompt=f"Left at {show(card.gap, card.system)}, anything different?",
        hint=f"Enter = as on the card; else the gap or the torque, {_LEFT[card.system]}",
        why="What the clamp really held decides what the heat takes out; the next plan learns from it.",
    )


def ready_to_heat(card: Card, number: int) -> Ask:
    """Return the cautions, to be agreed to."""
    target = (
        f"{len(card.spots)} spots on the cam side, one at a time"
        if card.soak is None
        else f"metal at {show_temperature(card.soak.temperature, card.system)} for {show_duration(card.soak.hold)}"
    )
    return Ask(
        key=f"heat/{number}/ready",
        part=f"HEAT pass {number}",
        shown=(
            *card.cautions,
            f"TARGET {target}",
            f"NEVER ABOVE {show_temperature(card.ceiling, card.system)}",
        ),
        prompt="All of this seen to, nobody in the way?",
        hint="type yes",
        why="Hot aluminium looks cold and the clamp holds tonnes; the lines above are what has hurt people.",
    )


def _spot(card: Card, order: int) -> SpotLine:
    return next(spot for spot in (*card.spots, *card.reserve) if spot.order == order)


def light(card: Card, which: tuple[int, int], pause: tuple[str, float]) -> Ask:
    """Return the question to light one spot.

    Args:
        card: the card.
        which: number of the pass and of the spot.
        pause: when the spot before ended, "" for the first, and how long to wait after it [s].
    """
    number, order = which
    spot = _spot(card, order)
    ended, seconds = pause
    at = show(spot.station, card.system, big=True)
    held_for = f"{spot.dwell:.0f} s to {show_temperature(spot.peak, card.system)}"
    return Ask(
        key=f"heat/{number}/spot/{order}/light",
        part=f"HEAT pass {number}",
        shown=(
            f"SPOT {order} of {len(card.spots)}: {spot.side} side at {at} from the front, {held_for}",
            f"NEVER ABOVE {show_temperature(card.ceiling, card.system)}",
        ),
        prompt="Flame on the spot? Type on",
        hint="on starts the clock; skip = leave this spot out",
        why="The order spreads the heat; a pause lets the spot before cool in still air, no water and no fan.",
        since=ended,
        seconds=seconds if ended else 0.0,
        waiting=f"pause before spot {order}",
    )


_BURNT: Mapping[System, str] = {"mm": "6 s at 165 mm 480 C", "inch": "6 s at 6.5 in 900 F"}


def held(card: Card, which: tuple[int, int], lit: str, dwell: float) -> Ask:
    """Return the question how long the flame was held, asked when the time is up."""
    number, order = which
    following = f"next is spot {order + 1}" if order < len(card.spots) else "this was the last spot"
    return Ask(
        key=f"heat/{number}/spot/{order}/held",
        part=f"HEAT pass {number}",
        prompt=f"Flame off. Anything different? ({following})",
        hint=f"Enter = {dwell:.0f} s as on the card; else time, place, heat: {_BURNT[card.system]}; skip = it was not heated",
        why="The pass is logged as it was done; the next plan learns from the time really held.",
        since=lit,
        seconds=dwell,
        waiting=f"flame on spot {order}, off at 0",
    )


def stage_gap(card: Card, which: tuple[int, int], ended: str, *, again: bool = False) -> Ask:
    """Return the question for the gap after a stage, asked once the roof is cool."""
    number, stage = which
    rung = next((r for r in card.ladder if r.number == stage), None)
    lines = () if rung is None or again else (rung_words(rung, card.system), *if_words(rung, card.system))
    return Ask(
        key=f"heat/{number}/stage/{stage}/{'again' if again else 'gap'}",
        part=f"HEAT pass {number}",
        shown=(
            "Slacken the middle nuts, leave the end nuts nipped; blade under the deck in the middle.",
            *lines,
        ),
        prompt="Read it once more. Gap in the middle?" if again else f"Stage {stage}: gap in the middle?",
        hint="like 0.30-0.35 or 12-14 thou; skip = not read",
        why="On its shims with slack nuts the head shows shims and bow at once: the next stage is chosen by it.",
        since="" if again else ended,
        seconds=0.0 if again else card.stage_wait or 0.0,
        waiting="roof cools, read at 0",
    )


def tighten_again(card: Card, which: tuple[int, int], told: str) -> Ask:
    """Return the question to tighten again before the next stage."""
    number, stage = which
    return Ask(
        key=f"heat/{number}/stage/{stage}/tighten",
        part=f"HEAT pass {number}",
        shown=(f"Next: {told}", f"NEVER OVER {show_torque(card.most_torque, card.system)}"),
        prompt=f"Tightened again in rounds until {show(card.gap, card.system)} is left?",
        hint="Enter = done",
        why="Every stage is heated under the same bend; the gap, not the torque, says when it is reached.",
    )


def into_oven(card: Card, number: int) -> Ask:
    """Return the question when the metal is hot."""
    assert card.soak is not None  # noqa: S101 - the plan holds a soak
    target = show_temperature(card.soak.temperature, card.system)
    return Ask(
        key=f"heat/{number}/in",
        part=f"HEAT pass {number}",
        shown=(f"Clamped head in the oven; the METAL at {target}, by a thermocouple in the middle of it",),
        prompt=f"Type on once the metal is at {target}",
        hint="on starts the clock",
        why="The dial is not the metal; the soak counts from when the metal is there.",
    )


def out_of_oven(card: Card, number: int, since: str) -> Ask:
    """Return the question how long the soak lasted."""
    assert card.soak is not None  # noqa: S101 - the plan holds a soak
    return Ask(
        key=f"heat/{number}/out",
        part=f"HEAT pass {number}",
        prompt="Oven off. Metal at temperature so long, anything different?",
        hint=f"Enter = {show_duration(card.soak.hold)} as on the card; else time, heat: {'3 h 190 C' if card.system == 'mm' else '3 h 375 F'}",
        why="Time at temperature decides both what stays straight and how soft the casting gets.",
        since=since,
        seconds=card.soak.hold,
        waiting="soak, oven off at 0",
    )


def release(card: Card, number: int, ended: str) -> Ask:
    """Return the question for the release, asked when the head is cool."""
    return Ask(
        key=f"cool/{number}/release",
        part=f"COOL pass {number}",
        shown=("Leave it clamped in still air: no water, no fan.",),
        prompt="Cool to the hand? Slacken outside to middle, a quarter turn at a time. Head free?",
        hint="Enter = free; skip before the time asks why",
        why=(
            f"It stays clamped {show_duration(card.unclamp_wait)} after the last heat: released warm, it "
            "ends with another bow than it shows then."
        ),
        since=ended,
        seconds=card.unclamp_wait,
        waiting="cools, unclamp at 0",
        strict=True,
    )


def honest(card: Card, number: int, ended: str) -> Ask:
    """Return the question before measuring, asked when a reading is honest."""
    return Ask(
        key=f"cool/{number}/honest",
        part=f"COOL pass {number}",
        prompt="Ready to measure?",
        hint="Enter = measure; skip before the time asks why",
        why=f"A reading is honest {show_duration(card.wait)} after the last heat: {card.wait_reason}.",
        since=ended,
        seconds=card.wait,
        waiting="evens out, measure at 0",
        strict=True,
    )


def release_cold(number: int) -> Ask:
    """Return the question for the release where nothing was heated."""
    return Ask(
        key=f"cool/{number}/cold",
        part=f"RELEASE pass {number}",
        prompt="Slacken outside to middle, a quarter turn at a time. Head free?",
        why="The clamp holds tonnes: stand clear of the stud ends.",
    )
