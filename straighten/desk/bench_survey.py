"""The guided session at the survey: the stations in order, or one place that does not fit read again alone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

from straighten.desk.bench_words import KIND_WHY, ask, measuring
from straighten.desk.bench_work import NAY, Answer, Ask, Asking, read_as
from straighten.desk.dossier import Dossier
from straighten.errors import BadInput
from straighten.head.records import Head
from straighten.readings import Readings, dialogue
from straighten.readings.asked import LINE_LIKE, Asked, several_in, understand
from straighten.readings.dialogue import Dialogue
from straighten.readings.gaps import GapWords, read_gap
from straighten.readings.records import DIAGONALS, Line, Mode
from straighten.shape import suspects
from straighten.units import System, show

SURE = "sure"
_DIAGONALS = tuple(f"deck, {name}" for name in DIAGONALS)
_LASTING = ("magnesium", "skimmed")  # of the intake: told once, they stay so; a crack may be new


def measured(dossier: Dossier, stage: int) -> Asking[Readings]:
    """Walk through the stations after so many passes; return the readings once the person keeps them."""
    known, echo = _told_before(dossier), ""
    if known is not None:
        echo = f"Bare gaps are {'mm' if known[0] == 'mm' else 'thou'}, as in the survey before."
    walk = Dialogue(head=dossier.head, known=known)
    while True:
        while (asked := dialogue.due(walk)) is not None:
            given = yield replace(_station(walk, asked, stage), echo=echo)
            walk, echo = dialogue.answer(walk, "" if given.word == NAY else given.typed)
        readings, fault = _finished(walk)
        keep = ask("keep", n=stage, part=measuring(stage), count=0 if readings is None else readings.count)
        if readings is None:
            shown = (f"These readings cannot be kept: {fault}",)
            keep = replace(keep, shown=shown, prompt="Go back and change them", hint="back")
        given = yield replace(keep, echo=echo)
        if readings is not None and given.confirms:
            return readings
        echo = "Enter keeps them; back goes to the last question."


def _station(walk: Dialogue, asked: Asked, stage: int) -> Ask:
    """Return the question of one station or particular."""
    due = dialogue.question(walk)
    at_once = ""
    if asked.kind == "cracks" and walk.known is None:
        at_once = "; with magnesium and facing at once: n n n"
    return Ask(
        key=f"survey/{stage}/{asked.key}",
        part=measuring(stage),
        prompt=f"{due.number}/{due.known} {asked.prompt}" if due is not None else asked.prompt,
        hint=f"{asked.hint}{at_once}; done = leave the rest blank",
        why=KIND_WHY[asked.kind],
    )


def _told_before(dossier: Dossier) -> tuple[System, frozenset[str]] | None:
    """Return the units of the survey before and what of its intake is not asked again; None before any."""
    if not dossier.told:
        return None
    lasting = {
        f"intake/{key}"
        for key in _LASTING
        if any(getattr(survey.intake, key) != "unknown" for survey in dossier.told)
    }
    read = {line.title for line in dossier.survey.lines} if dossier.measured else {*_DIAGONALS}
    both = {dialogue.BOTH_LEFT_OUT} if read.isdisjoint(_DIAGONALS) else set()
    return dossier.told[-1].system, frozenset({"units", *lasting, *both})


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
    readings = dossier.survey
    found = suspects.examine(readings, dossier.head)
    number = {line.title: n for n, line in enumerate(readings.lines) if not line.sure}
    told = [(one.title, one.place, one.sentence) for one in found.suspects]
    told += [(one.title, one.place, one.sentence) for one in found.misfits]
    return tuple(
        Doubt(line=number[title], place=place, sentence=sentence.removesuffix(suspects.SURE).strip())
        for title, place, sentence in told
        if title in number
    )


def read_again(dossier: Dossier, doubt: Doubt, stage: int) -> Asking[Readings]:
    """Ask for one place, or one line, again and return the survey with it; the same reading makes its line sure."""
    survey = dossier.survey
    line = survey.lines[doubt.line]
    place = line.title[:1].upper() + line.title[1:]
    like = f"the seat and the whole line: b {LINE_LIKE[survey.system]}"
    if doubt.place is not None:
        place += f", at {show(line.brackets[doubt.place].station, survey.system, big=True)}"
        like = f"like {'0.10-0.15' if survey.system == 'mm' else '4-6'}"
    question = ask("again", doubt.sentence, n=stage, place=place, like=like)
    new = yield from read_as(question, partial(_again, dossier.head, line, doubt.place))
    lines = [new if n == doubt.line else old for n, old in enumerate(survey.lines)]
    return replace(survey, source="typed in", lines=tuple(lines))


def _again(head: Head, line: Line, place: int | None, given: Answer) -> Line:
    if not given.word:
        raise BadInput("Enter says nothing here", fix="Type what it reads now, or sure.")
    if given.word == SURE:
        return replace(line, sure=True)
    new = _one_place(head, line, place, given) if place is not None else _whole_line(head, line, given)
    return replace(line, sure=True) if new.brackets == line.brackets and new.mode == line.mode else new


def _one_place(head: Head, line: Line, place: int, given: Answer) -> Line:
    gauge = GapWords.of(head, given.system, line.mode)
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
            fix=f"Type the seat and the gaps: b {LINE_LIKE[given.system]}.",
        )
    new = replace(line, mode=mode, touching=touching)
    for place, gap in enumerate(gaps):
        new = _one_place(head, new, place, replace(given, typed=gap))
    return new
