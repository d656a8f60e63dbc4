"""What the guided session asks outside a pass, in words: every question with its hint and its reason."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from straighten.desk.bench_records import Ask
from straighten.readings.dialogue import Dialogue, question
from straighten.sheet.layout import percent

if TYPE_CHECKING:
    from straighten.readings import Readings
    from straighten.readings.asked import Asked

_KIND_WHY = {
    "units": "A bare number means nothing without it; a written unit (4 thou, 0.10 mm) always wins.",
    "yes or no": "A deck faced while the head was bowed is flat over a bent cam line: deck and cam line then disagree.",
    "cracks": "A cracked head is neither clamped nor heated; it goes to a specialist.",
    "magnesium": "Magnesium burns: such a casting is neither heated nor sanded.",
    "seat": "The same gap means one thing under an edge that rests on both ends and another under one that rocks.",
    "end": "The gaps of a rocking edge are counted from the end that touches.",
    "gap": "The shape is drawn through these brackets; a blank is fair and costs width in the range of the plan.",
    "hardness": "Heat softens the casting; a first figure is what later ones are judged by.",
    "height": "The height says how much metal may still come off the deck.",
}


def station(walk: Dialogue, asked: Asked, where: tuple[int, str]) -> Ask:
    """Return the question of one station or particular."""
    stage, echo = where
    due = question(walk)
    count = f"{due.number}/{due.known} " if due is not None else ""
    return Ask(
        key=f"survey/{stage}/{asked.key}",
        part="MEASURE" if stage == 0 else f"MEASURE after pass {stage}",
        prompt=f"{count}{asked.prompt}",
        hint=f"{asked.hint}; done = leave the rest blank",
        why=_KIND_WHY[asked.kind],
        echo=echo,
    )


def survey_end(readings: Readings | None, fault: str, where: tuple[int, str]) -> Ask:
    """Return the question whether the readings are kept, or what is wrong with them."""
    stage, echo = where
    bad = readings is None
    count = 0 if readings is None else readings.count
    return Ask(
        key=f"survey/{stage}/keep",
        part="MEASURE" if stage == 0 else f"MEASURE after pass {stage}",
        shown=(f"These readings cannot be kept: {fault}",) if bad else (),
        prompt="Go back and change them" if bad else f"Keep these {count} readings?",
        hint="back" if bad else "Enter = into the book; back = change the last one",
        why="Once in the book they are not changed, only struck with a reason (straighten strike).",
        echo=echo,
    )


def all_as_before(stage: int) -> Ask:
    """Return the question where a survey after a pass equals the one before it."""
    return Ask(
        key=f"survey/{stage}/same",
        part=f"MEASURE after pass {stage}",
        shown=("Every reading equals the survey before the pass.",),
        prompt="Were they really read again?",
        hint="type yes; back = change them",
        why="The next plan would learn that the pass did next to nothing.",
    )


def check(told: Mapping[str, Any], stage: int, *, go: bool, going_on: bool) -> Ask:
    """Return the question after the go / no-go."""
    lines = (f"VERDICT {str(told['verdict']).upper()}: {told['reason']}", str(told["direction"]))
    shown = tuple(line for line in lines if line)
    hint = "Enter = plan the pass; measure = measure again" if go else "Enter = leave; measure"
    if going_on:
        hint += "; on"
        shown = (*shown, "'on' goes on against the advice and asks you why; the reason is kept.")
    return Ask(
        key=f"check/{stage}/go",
        part="CHECK",
        shown=shown,
        prompt="Go on to the plan?" if go else "No pass is advised now.",
        hint=hint,
        why=" ".join([f"Decided by {told['decided_by']}.", *map(str, told["findings"])]),
    )


def decision(record: Mapping[str, Any], stage: int, *, again: bool, going_on: bool) -> Ask:
    """Return the question after the decision."""
    options = tuple(
        f"{o['choice']}: expected cost {o['expected_cost_money']:.0f}, in limits {percent(o['chance_in_limits'])}"
        for o in record["options"]
    )
    return Ask(
        key=f"decide/{stage}/next",
        part="DECIDE",
        shown=(str(record["reason"]), *options),
        prompt="Plan the next pass?" if again else "No pass is advised now.",
        hint=("Enter = on to the next pass" if again else "Enter = leave the clamp here")
        + "; measure"
        + ("; heat = heat again, asks why" if going_on else ""),
        why="; ".join(
            [*(str(o["reason"]) for o in record["options"]), "prices: " + ", ".join(record["prices"])]
        ),
    )


def left(what: str, command: str, key: str = "end") -> Ask:
    """Return the last question: nothing follows."""
    return Ask(
        key=key,
        part="END",
        shown=(f"The session ends here: {what}.",),
        prompt=f"Next: {command}",
        hint="Enter = leave; back = change the answer before",
        why="All of it is in the book; straighten bench goes on from there.",
        last=True,
    )


def reason(key: str, part: str, rule: str) -> Ask:
    """Return the question for a reason to go on past a stop rule."""
    return Ask(
        key=key,
        part=part,
        shown=(f"STOP RULE: {rule}",),
        prompt="Why go on all the same? The reason is kept with the job.",
        hint="a few words; back = do not",
        why=f"The rule: {rule} Going past it can cost the head or hurt someone.",
    )
