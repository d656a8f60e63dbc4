"""The guided session at the survey: the stations in order, or one place that does not fit read again alone."""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from straighten.desk import bench_words as words
from straighten.desk.bench_records import NAY, Answer, Ask, confirmed, read_as
from straighten.errors import BadInput
from straighten.readings import Readings, dialogue
from straighten.readings.asked import Asked, several_in, understand
from straighten.readings.gaps import GapWords, read_gap

if TYPE_CHECKING:
    from straighten.desk.dossier import Dossier
    from straighten.head.records import Head
    from straighten.readings.dialogue import Dialogue
    from straighten.readings.records import Line, Mode
    from straighten.units import System

SURE = "sure"
_LASTING = ("magnesium", "skimmed")  # of the intake: told once, they stay so; a crack may be new


def measured(dossier: Dossier, stage: int) -> Generator[Ask, Answer, Readings]:
    """Walk through the stations and return the readings once the person keeps them."""
    known = _told_before(dossier)
    walk, echo = dialogue.begin(dossier.head, known), "" if known is None else words.bare_gaps(known[0])
    while True:
        while (asked := dialogue.due(walk)) is not None:
            given = yield words.station(walk, asked, (stage, echo))
            walk, echo = dialogue.answer(walk, "" if given.typed.strip().lower() == NAY else given.typed)
        readings, fault = _finished(walk)
        given = yield words.survey_end(readings, fault, (stage, echo))
        if readings is not None and confirmed(given):
            return readings
        echo = "Enter keeps them; back goes to the last question."


def _told_before(dossier: Dossier) -> tuple[System, frozenset[str]] | None:
    """Return the units of the survey before and what of its intake is not asked again; None before any."""
    if not dossier.told:
        return None
    lasting = {
        f"intake/{key}"
        for key in _LASTING
        if any(getattr(survey.intake, key) != "unknown" for survey in dossier.told)
    }
    return dossier.told[-1].system, frozenset({"units", *lasting})


def _finished(walk: Dialogue) -> tuple[Readings | None, str]:
    try:
        readings = dialogue.finish(walk)
    except BadInput as fault:
        return None, str(fault)
    return (readings, "") if readings.tells_something else (None, "Nothing was read.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A reading that does not fit: number of its `line` in the survey, its `place` there or None for the whole line, the warning."""

    line: int
    place: int | None
    sentence: str


def doubts_of(dossier: Dossier) -> tuple[Doubt, ...]:
    """Return what does not fit in the survey in use; a line that was read twice is not asked about again."""
    from straighten.shape import suspects

    readings = dossier.survey
    found = suspects.examine(readings, dossier.head)
    number = {line.title: n for n, line in enumerate(readings.lines) if not line.sure}
    told = [
        *((one.title, one.place, one.sentence) for one in found.suspects),
        *((one.title, one.place, one.sentence) for one in found.misfits),
    ]
    return tuple(
        Doubt(line=number[title], place=place, sentence=sentence.removesuffix(suspects.SURE).strip())
        for title, place, sentence in told
        if title in number
    )


def read_again(dossier: Dossier, doubt: Doubt, stage: int) -> Generator[Ask, Answer, Readings]:
    """Ask for one place, or one line, again and return the survey with it; the same reading makes its line sure."""
    survey = dossier.survey
    line = survey.lines[doubt.line]
    ask = words.again(doubt.sentence, line, (stage, doubt.place), survey.system)
    new = yield from read_as(ask, _again(dossier.head, line, doubt.place))
    lines = [new if n == doubt.line else old for n, old in enumerate(survey.lines)]
    return replace(survey, source="typed in", lines=tuple(lines))


def _again(head: Head, line: Line, place: int | None) -> Callable[[Answer], Line]:
    def read(given: Answer) -> Line:
        word = given.typed.strip()
        if not word:
            raise BadInput("Enter says nothing here", fix="Type what it reads now, or sure.")
        if word.lower() == SURE:
            return replace(line, sure=True)
        new = _one_place(head, line, place, given) if place is not None else _whole_line(head, line, given)
        return replace(line, sure=True) if new.brackets == line.brackets and new.mode == line.mode else new

    return read


def _one_place(head: Head, line: Line, place: int, given: Answer) -> Line:
    gauge = GapWords(system=given.system, blades=tuple(sorted(head.gauge_blades)), mode=line.mode)
    new = read_gap(given.typed, line.brackets[place].station, gauge)
    return replace(line, brackets=tuple(new if n == place else b for n, b in enumerate(line.brackets)))


def _whole_line(head: Head, line: Line, given: Answer) -> Line:
    """Return a line read anew: how the edge sits, which end touches where it rocks, its gaps."""
    seat = Asked(key="line/mode", kind="seat", prompt="", hint="")
    typed = several_in(seat, given.typed)
    seated = understand(seat, typed[0], head, given.system).value
    if seated == "skip":
        return replace(line, brackets=tuple(replace(b, low=None, high=None) for b in line.brackets))
    gaps, touching = typed[1:], line.touching
    mode: Mode = "rocked" if seated == "rocked" else "balanced" if seated == "balanced" else "bridged"
    if mode == "rocked":
        end = Asked(key="line/touching", kind="end", prompt="", hint="")
        told = understand(end, gaps[0] if gaps else "", head, given.system).value
        gaps, touching = gaps[1:], "start" if told == "front" else "end"
    if len(gaps) != len(line.brackets):
        raise BadInput(
            f"{len(gaps)} gaps were typed, {len(line.brackets)} are due",
            fix="Type the seat and the gaps: b 0 6 8 6 0.",
        )
    new = replace(line, mode=mode, touching=touching)
    for place, gap in enumerate(gaps):
        new = _one_place(head, new, place, replace(given, typed=gap))
    return new
