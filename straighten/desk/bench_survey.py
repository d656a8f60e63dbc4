"""The guided session at the survey: the stations in order, one place read again alone, and what is decided after it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from straighten.desk.bench_words import (
    LIST,
    NAY,
    STROKES,
    WORDS,
    Answer,
    Ask,
    Asking,
    Facts,
    Script,
    Work,
    ask,
    left,
    measuring,
    read_as,
    reason,
    reasoned,
)
from straighten.desk.dossier import Dossier
from straighten.desk.judgement import STEPS
from straighten.desk.pass_card import untried_torch
from straighten.desk.typed import trial_told
from straighten.errors import BadInput, in_shell
from straighten.head.records import Head
from straighten.readings import Readings, dialogue
from straighten.readings.asked import LINE_LIKE, Asked, several_in, understand
from straighten.readings.dialogue import Dialogue
from straighten.readings.gaps import GapWords, read_gap
from straighten.readings.records import DIAGONALS, Line, Mode
from straighten.shape import suspects
from straighten.sheet.layout import percent
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
        why=WORDS.why[asked.kind],
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


# --- what follows a survey ------------------------------------------------------------------------------------------------


_ONWARD = {  # next step: what is asked, what Enter does
    "heat": ("Go on to the plan?", "Enter = plan the pass"),
    "sand": ("Go on to the sanding?", "Enter = plan the strokes"),
    "finish": ("Go on to the final list?", "Enter = the final list"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Onward:
    """Where the next step is decided: what the check or the decision `told`, and the readings that do not fit (`doubts`)."""

    facts: Facts
    dossier: Dossier
    told: Mapping[str, Any]
    doubts: tuple[Doubt, ...]
    system: System

    @property
    def step(self) -> str:
        """The step that the judgement names."""
        word = self.told.get("verdict") or self.told.get("choice")
        return next((step for step, said in STEPS.items() if word in said[:2]), "hand it on")

    @property
    def past(self) -> str:
        """The word that goes past the advice where a reason opens a way, to a plan or to the sanding; "" for none."""
        words = {
            "straighten plan": "on" if self.facts.decision is None else "heat",
            "straighten sand": "sand",
        }
        way = str(self.told.get("go_on", ""))
        return next((word for start, word in words.items() if way.startswith(start)), "")

    @property
    def trial(self) -> tuple[str, ...]:
        """The flame's trial where it is still due."""
        return untried_torch(self.dossier.head) if self.step == "heat" else ()

    @property
    def listed(self) -> bool:
        """Whether the final list is to be had although another step is next."""
        return self.dossier.measured and self.step not in ("heat", "finish")

    def left(self, key: str = "end") -> Ask:
        """Return the last question, with the command that does the step."""
        command = self.told.get("command") or f"straighten check {in_shell(self.dossier.name)}"
        return left(str(self.told["reason"]), str(command), key=key)

    def asked(self) -> Ask:
        """Return the question, below what was found and the warnings of what does not fit, numbered if several."""
        stage, checked = self.facts.passes, self.facts.decision is None
        key, part = (f"check/{stage}/go", "CHECK") if checked else (f"decide/{stage}/next", "DECIDE")
        found, why = self._checked() if checked else self._decided()
        many = len(self.doubts) > 1
        unfit = (
            f"DOES NOT FIT{f' ({n})' if many else ''}: {one.sentence}" for n, one in enumerate(self.doubts, 1)
        )
        trial = (f"BEFORE THE CARD: {told}" for told in self.trial)
        prompt, enter = _ONWARD.get(self.step, ("No pass is advised now.", "Enter = leave"))
        hint = "; ".join([enter, *self._hints()])
        return Ask(key=key, part=part, shown=(*found, *unfit, *trial), prompt=prompt, hint=hint, why=why)

    def _hints(self) -> Iterator[str]:
        yield "measure = the whole survey again"
        if self.doubts:
            which = f" 1 to {len(self.doubts)}" if len(self.doubts) > 1 else ""
            yield f"again{which} = read only the place that does not fit"
        if self.listed:
            yield "finish = the final list as it stands"
        if self.trial:
            yield f"{WORDS.like[self.system]['crayon']} = what the flame trial told, kept in the head file"
        if self.past:
            yield f"{self.past} = go on against the advice, asks why; the reason is kept"

    def _checked(self) -> tuple[tuple[str, ...], str]:
        """Return what the go / no-go found, and why."""
        told = self.told
        lines = (f"VERDICT {str(told['verdict']).upper()}: {told['reason']}", str(told["direction"]))
        why = " ".join([f"Decided by {told['decided_by']}.", *map(str, told["findings"])])
        return tuple(filter(None, lines)), why

    def _decided(self) -> tuple[tuple[str, ...], str]:
        """Return what the decision found, and why."""
        told = self.told
        options = tuple(
            f"{o['choice']}: expected cost {o['expected_cost_money']:.0f}, in limits {percent(o['chance_in_limits'])}"
            for o in told["options"]
        )
        why = "; ".join(
            [*(str(o["reason"]) for o in told["options"]), "prices: " + ", ".join(told["prices"])]
        )
        return (str(told["reason"]), *options), why


def between_passes(facts: Facts, dossier: Dossier, system: System) -> Script:
    """Lead from a survey by its check or decision to the next step; both are worked out first where they are due."""
    if facts.passes and facts.decision is None:
        return Work(deed="decide")
    told = facts.check if facts.decision is None else facts.decision.record
    if told is None:
        return Work(deed="check", key=f"check/{facts.passes}")
    forbidden = told.get("forbidden") or told.get("judgement", {}).get("forbidden")
    doubts = doubts_of(dossier) if dossier.measured and not forbidden else ()
    onward = _Onward(facts=facts, dossier=dossier, told=told, doubts=doubts, system=system)
    if forbidden:
        return onward.left(key=f"check/{facts.passes}/never")
    return (yield from _go_on(onward))


_DEEDS: dict[str, Work] = {"heat": Work(deed="plan"), "sand": STROKES, "finish": LIST}
_AGAIN = re.compile(r"again\s*(\d*)")


def _go_on(onward: _Onward) -> Script:
    """Ask until the person goes on, leaves, measures again, all or one place, or goes past the advice with a reason."""
    ask, due = onward.asked(), _DEEDS.get(onward.step)
    while True:
        given = yield ask
        readings = yield from _read_more(given, onward)
        if readings is not None:
            return Work(deed="survey", readings=readings)
        if due is not None and given.confirms:
            return due
        if given.word == "finish" and onward.listed:
            return LIST
        if due is None and not given.word:
            return onward.left()
        if given.word.startswith("crayon"):
            tried = _tried(ask, onward, given)
            if isinstance(tried, Work):
                return tried
            ask = tried
            continue
        if onward.past and given.word == onward.past:
            key = ask.key.rpartition("/")[0]
            why = yield from reasoned(reason(f"{key}/reason", ask.part, str(onward.told["reason"])))
            return replace(STROKES if given.word == "sand" else _DEEDS["heat"], because=why)
        ask = replace(ask, echo=f"{given.typed.strip()[:40]!r} is not among: {ask.hint}")


def _read_more(given: Answer, onward: _Onward) -> Asking[Readings | None]:
    """Walk through the whole survey again, or ask for the one place that was named; None where neither is wanted."""
    dossier, stage = onward.dossier, onward.facts.passes
    if given.word == "measure":
        return (yield from measured(dossier, stage))
    if (which := _AGAIN.fullmatch(given.word)) and 1 <= int(which[1] or 1) <= len(onward.doubts):
        return (yield from read_again(dossier, onward.doubts[int(which[1] or 1) - 1], stage))
    return None


def _tried(ask: Ask, onward: _Onward, given: Answer) -> Ask | Work:
    """Return the head file with the flame trial that was told, as work to keep; else the question again."""
    if not onward.trial:
        return replace(ask, echo="The head file tells the flame trial, or no flame.")
    try:
        lines, text = trial_told(onward.dossier, given)
    except BadInput as fault:
        return replace(ask, echo=str(fault))
    if text:
        return Work(deed="torch", typed=text)
    told = f"Write under [torch] in head.toml, then begin straighten bench {in_shell(onward.dossier.name)} again:"
    return replace(ask, echo=told, shown=lines)
