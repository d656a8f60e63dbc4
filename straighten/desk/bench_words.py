"""What the guided session asks outside a pass, in words: every question with its hint and its reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from straighten.desk.bench_records import Ask
from straighten.errors import closed
from straighten.readings.dialogue import Dialogue, question
from straighten.sheet.layout import percent
from straighten.units import show

if TYPE_CHECKING:
    from straighten.readings import Readings
    from straighten.readings.asked import Asked
    from straighten.readings.records import Line
    from straighten.units import System

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
    at_once = (
        "; with magnesium and facing at once: n n n" if asked.kind == "cracks" and walk.known is None else ""
    )
    count = f"{due.number}/{due.known} " if due is not None else ""
    return Ask(
        key=f"survey/{stage}/{asked.key}",
        part="MEASURE" if stage == 0 else f"MEASURE after pass {stage}",
        prompt=f"{count}{asked.prompt}",
        hint=f"{asked.hint}{at_once}; done = leave the rest blank",
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


_ONWARD = {  # next step: what is asked, what Enter does
    "heat": ("Go on to the plan?", "Enter = plan the pass"),
    "sand": ("Go on to the sanding?", "Enter = plan the strokes"),
    "finish": ("Go on to the final list?", "Enter = the final list"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Onward:
    """What may be typed where the next step is decided.

    The `step` the judgement names; the word that goes `past` its advice with a reason, "" for none; the warnings of
    what does not fit (`doubts`); the flame's `trial` where it is still due; whether a shape was `measured`.
    """

    step: str
    past: str
    doubts: tuple[str, ...]
    trial: tuple[str, ...]
    measured: bool

    @property
    def hint(self) -> str:
        """The words."""
        words = [_ONWARD.get(self.step, ("", "Enter = leave"))[1], "measure = the whole survey again"]
        if self.doubts:
            which = f" 1 to {len(self.doubts)}" if len(self.doubts) > 1 else ""
            words.append(f"again{which} = read only the place that does not fit")
        if self.listed:
            words.append("finish = the final list as it stands")
        if self.past:
            words.append(f"{self.past} = go on against the advice, asks why; the reason is kept")
        return "; ".join(words)

    @property
    def listed(self) -> bool:
        """Whether the final list is to be had although another step is next."""
        return self.measured and self.step not in ("heat", "finish")

    @property
    def prompt(self) -> str:
        """The question."""
        return _ONWARD.get(self.step, ("No pass is advised now.", ""))[0]

    @property
    def warnings(self) -> tuple[str, ...]:
        """What does not fit, numbered where there are several, and what is due before the card."""
        many = len(self.doubts) > 1
        unfit = (
            f"DOES NOT FIT{f' ({n})' if many else ''}: {told}" for n, told in enumerate(self.doubts, start=1)
        )
        return (*unfit, *(f"BEFORE THE CARD: {told}" for told in self.trial))


def check(told: Mapping[str, Any], stage: int, onward: Onward) -> Ask:
    """Return the question after the go / no-go."""
    lines = (f"VERDICT {str(told['verdict']).upper()}: {told['reason']}", str(told["direction"]))
    return Ask(
        key=f"check/{stage}/go",
        part="CHECK",
        shown=(*(line for line in lines if line), *onward.warnings),
        prompt=onward.prompt,
        hint=onward.hint,
        why=" ".join([f"Decided by {told['decided_by']}.", *map(str, told["findings"])]),
    )


def decision(record: Mapping[str, Any], stage: int, onward: Onward) -> Ask:
    """Return the question after the decision."""
    options = tuple(
        f"{o['choice']}: expected cost {o['expected_cost_money']:.0f}, in limits {percent(o['chance_in_limits'])}"
        for o in record["options"]
    )
    return Ask(
        key=f"decide/{stage}/next",
        part="DECIDE",
        shown=(str(record["reason"]), *options, *onward.warnings),
        prompt=onward.prompt,
        hint=onward.hint,
        why="; ".join(
            [*(str(o["reason"]) for o in record["options"]), "prices: " + ", ".join(record["prices"])]
        ),
    )


def bare_gaps(system: System) -> str:
    """Return what bare gaps of a later survey are, since it is not asked again."""
    return f"Bare gaps are {'mm' if system == 'mm' else 'thou'}, as in the survey before."


def again(warning: str, line: Line, where: tuple[int, int | None], system: System) -> Ask:
    """Return the question for one place, or one line, that does not fit."""
    stage, place = where
    title = line.title[:1].upper() + line.title[1:]
    at = "" if place is None else f", at {show(line.brackets[place].station, system, big=True)}"
    like = (
        "the seat and the whole line: b 0 6 8 6 0"
        if place is None
        else f"like {'0.10-0.15' if system == 'mm' else '4-6'}"
    )
    return Ask(
        key=f"survey/{stage}/again",
        part="READ AGAIN",
        shown=(warning,),
        prompt=f"{title}{at}: what does it read now?",
        hint=f"{like}; sure = it reads the same",
        why="The other readings stay. What reads the same twice is no slip: its line is marked as read twice.",
    )


def left(what: str, command: str, key: str = "end") -> Ask:
    """Return the last question: nothing follows."""
    return Ask(
        key=key,
        part="END",
        shown=(closed(f"The session ends here: {what}"),),
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
