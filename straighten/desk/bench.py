"""The guided session as a state machine: the entries of a book in, the next question or piece of work out.

Nothing is remembered outside the book, nothing is printed and no clock is read, so a session that ends at any moment
goes on where it stood. Answers are entries of kind "bench"; a part that is complete becomes the entry that the
command of that part would have written, and the answers before it are done with. "back" takes answers back up to
that entry.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from straighten.book import Book, Entry
from straighten.desk import bench_words as words
from straighten.desk.bench_answers import trial_told
from straighten.desk.bench_end import LIST, STROKES, after_the_heat
from straighten.desk.bench_pass import through_pass
from straighten.desk.bench_survey import Doubt, doubts_of, measured, read_again
from straighten.desk.bench_work import (
    STARTED,
    Answer,
    Ask,
    Asking,
    Facts,
    Script,
    Step,
    Work,
    agreed,
    reasoned,
)
from straighten.desk.dossier import Dossier
from straighten.desk.kept import stage_of, tightening_of
from straighten.desk.pass_card import untried_torch
from straighten.errors import BadInput, in_shell
from straighten.readings import Readings
from straighten.units import System


def session(facts: Facts, dossier: Dossier, system: System) -> Script:
    """Ask for what is missing from where the head stands; end in the next piece of work or the last question."""
    if facts.closed is not None or facts.final is not None or facts.sand is not None:
        return (yield from after_the_heat(facts, dossier))
    if facts.plan is not None:
        from straighten.desk.job import Job
        from straighten.desk.judgement import command_of

        if forbidden := Job(dossier).forbidden_to_clamp:
            command = command_of("hand it on", forbidden[0].kind, dossier.name)
            return words.left(forbidden[0].told, command, key="never")
        return (yield from _in_pass(facts, dossier, system))
    if not facts.measured:
        readings = yield from measured(dossier, facts.passes)
        return Work(deed="survey", readings=readings)
    return (yield from _between_passes(facts, dossier, system))


def _in_pass(facts: Facts, dossier: Dossier, system: System) -> Script:
    setup = yield from through_pass(facts, dossier, system)
    if isinstance(setup, Work):
        return setup
    readings = yield from measured(dossier, facts.passes + 1)
    if dossier.reads_as_before(readings):
        yield from agreed(words.ask("as before", n=facts.passes + 1))
    return Work(deed="pass", setup=setup, readings=readings)


def _between_passes(facts: Facts, dossier: Dossier, system: System) -> Script:
    """Lead from a survey by its check or decision to the next step; both are worked out first where they are due."""
    if facts.passes and facts.decision is None:
        return Work(deed="decide")
    told = facts.check if facts.decision is None else facts.decision.record
    if told is None:
        return Work(deed="check", key=f"check/{facts.passes}")
    if told.get("forbidden") or told.get("judgement", {}).get("forbidden"):
        return words.left(str(told["reason"]), _command(told, dossier), key=f"check/{facts.passes}/never")
    doubts = doubts_of(dossier) if dossier.measured else ()
    step = _step(told)
    onward = words.Onward(
        step=step,
        past=_past(told, "on" if facts.decision is None else "heat"),
        doubts=tuple(one.sentence for one in doubts),
        trial=untried_torch(dossier.head) if step == "heat" else (),
        measured=dossier.measured,
        system=system,
    )
    asked = words.check if facts.decision is None else words.decision
    return (yield from _go_on(asked(told, facts.passes, onward), onward, (facts, dossier, told), doubts))


def _step(told: Mapping[str, Any]) -> str:
    """Return the next step that a check or a decision names."""
    from straighten.desk.judgement import STEPS

    word = told.get("verdict") or told.get("choice")
    return next((step for step, said in STEPS.items() if word in said[:2]), "hand it on")


def _command(told: Mapping[str, Any], dossier: Dossier) -> str:
    return str(told.get("command") or f"straighten check {in_shell(dossier.name)}")


def _past(told: Mapping[str, Any], heat: str) -> str:
    """Return the word that goes past the advice where a reason opens a way: `heat` to a plan, "sand" to the sanding."""
    words = {"straighten plan": heat, "straighten sand": "sand"}
    return next((w for way, w in words.items() if str(told.get("go_on", "")).startswith(way)), "")


_DEEDS: dict[str, Work] = {"heat": Work(deed="plan"), "sand": STROKES, "finish": LIST}
_AGAIN = re.compile(r"again\s*(\d*)")


def _go_on(
    ask: Ask, onward: words.Onward, where: tuple[Facts, Dossier, Mapping[str, Any]], doubts: tuple[Doubt, ...]
) -> Script:
    """Ask until the person goes on, leaves, measures again, all or one place, or goes past the advice with a reason."""
    facts, dossier, told = where
    due = _DEEDS.get(onward.step)
    while True:
        given = yield ask
        readings = yield from _read_more(given, dossier, doubts, facts.passes)
        if readings is not None:
            return Work(deed="survey", readings=readings)
        if due is not None and given.confirms:
            return due
        if given.word == "finish" and onward.listed:
            return LIST
        if due is None and not given.word:
            return words.left(str(told["reason"]), _command(told, dossier))
        if given.word.startswith("crayon"):
            tried = _tried(ask, onward, dossier, given)
            if isinstance(tried, Work):
                return tried
            ask = tried
            continue
        if onward.past and given.word == onward.past:
            key = ask.key.rpartition("/")[0]
            why = yield from reasoned(words.reason(f"{key}/reason", ask.part, str(told["reason"])))
            return replace(STROKES if given.word == "sand" else _DEEDS["heat"], because=why)
        ask = replace(ask, echo=f"{given.typed.strip()[:40]!r} is not among: {ask.hint}")


def _read_more(
    given: Answer, dossier: Dossier, doubts: tuple[Doubt, ...], stage: int
) -> Asking[Readings | None]:
    """Walk through the whole survey again, or ask for the one place that was named; None where neither is wanted."""
    if given.word == "measure":
        return (yield from measured(dossier, stage))
    if (which := _AGAIN.fullmatch(given.word)) and 1 <= int(which[1] or 1) <= len(doubts):
        return (yield from read_again(dossier, doubts[int(which[1] or 1) - 1], stage))
    return None


def _tried(ask: Ask, onward: words.Onward, dossier: Dossier, given: Answer) -> Ask | Work:
    """Return the head file with the flame trial that was told, as work to keep; else the question again."""
    if not onward.trial:
        return replace(ask, echo="The head file tells the flame trial, or no flame.")
    try:
        lines, text = trial_told(dossier, given)
    except BadInput as fault:
        return replace(ask, echo=str(fault))
    if text:
        return Work(deed="torch", typed=text)
    told = f"Write under [torch] in head.toml, then begin straighten bench {in_shell(dossier.name)} again:"
    return replace(ask, echo=told, shown=lines)


_ANCHORS = ("survey", "pass", "plan", "tighten", "stage", "decision", "sand", "finish", "strike")


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where the session stands: the next step, the units shown first, and whether "back" has somewhere to go."""

    step: Step
    system: System
    can_go_back: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fold:
    """The entries so far: facts, answers that still count, units."""

    facts: Facts
    answers: tuple[Answer, ...]
    system: System

    @property
    def heating(self) -> bool:
        """Whether the flame or the oven has been on: from here to its log the pass stays the one in hand."""
        return self.facts.stage is not None or any(
            a.key.startswith("heat/") and a.key.endswith(("/light", "/in")) and a.word in STARTED
            for a in self.answers
        )


def standing(entries: Iterable[Entry], dossier: Dossier) -> Standing:
    """Return where the session stands."""
    fold = _Fold(facts=Facts(), answers=(), system=dossier.head.system)
    for entry in entries:
        fold = _after(fold, entry)
    step = _replayed(session(fold.facts, dossier, fold.system), fold.answers)
    can = bool(fold.answers) or bool(fold.facts.rounds)
    return Standing(step=step, system=fold.system, can_go_back=can)


def keep_answer(book: Book, dossier: Dossier, place: tuple[str, System], typed: str) -> Entry:
    """Enter an answer before anything else is asked.

    Raises:
        BookError: another session or command has recorded something meanwhile; nothing is kept.
    """
    key, system = place
    record = {"step": key, "typed": typed, "system": system}
    return book.append(dossier.name, "bench", record, after=dossier.last)


def _replayed(script: Script, answers: tuple[Answer, ...]) -> Step:
    """Play the answers into the script; one that belongs to no question asked (the head file changed) is left out."""
    try:
        asked: Ask = next(script)
        for answer in answers:
            if answer.key == asked.key:
                asked = script.send(answer)
    except StopIteration as end:
        step: Step = end.value
        return step
    return asked


def _after(fold: _Fold, entry: Entry) -> _Fold:
    if entry.kind == "bench":
        return fold if entry.struck_by is not None else _after_bench(fold, entry)
    if entry.kind not in _ANCHORS:
        return fold
    survey_ends_stages = entry.kind == "survey" and fold.facts.stage is not None  # as a pass does
    if fold.heating and not (entry.kind in ("pass", "stage") or survey_ends_stages):
        return fold
    if entry.struck_by is not None or entry.kind == "strike":
        return replace(fold, answers=())
    return replace(fold, facts=_now(fold.facts, entry), answers=())


def _after_bench(fold: _Fold, entry: Entry) -> _Fold:
    record = entry.record
    key = str(record.get("step", ""))
    if "told" in record:
        name = {"check": "check", "sand": "sand", "final": "final"}.get(key.partition("/")[0], "verdict")
        return replace(fold, facts=replace(fold.facts, **{name: record["told"]}))
    typed = str(record.get("typed", ""))
    system: System = "inch" if record.get("system") == "inch" else "mm"
    given = Answer(key=key, typed=typed, at=entry.at, system=system)
    if given.word == "units":
        return replace(fold, system="mm" if fold.system == "inch" else "inch")
    if given.word == "back":
        return _back(fold, key)
    return replace(fold, answers=(*fold.answers, given))


def _back(fold: _Fold, key: str) -> _Fold:
    """Take back what was typed at the question in hand and at the one before; with none left, the last round."""
    kept = _without_last(fold.answers, key)
    if kept:
        taken = kept[-1].key
        facts = fold.facts
        if taken.startswith(("check/", "decide/")):  # the way to the strokes, or to the list, is taken back
            facts = replace(facts, sand=None, final=None)
        return replace(fold, answers=_without_last(kept, taken), facts=facts)
    if fold.facts.rounds and fold.facts.plan is not None:
        return replace(fold, answers=(), facts=replace(fold.facts, withdrawn=True))
    return replace(fold, answers=())


def _without_last(answers: tuple[Answer, ...], key: str) -> tuple[Answer, ...]:
    while answers and answers[-1].key == key:
        answers = answers[:-1]
    return answers


def _now(facts: Facts, entry: Entry) -> Facts:
    """Return where the head stands after an entry of a command."""
    record = entry.record
    match entry.kind:
        case "survey":
            facts = Facts(passes=facts.passes + (facts.stage is not None), measured=True)
        case "pass":
            facts = Facts(passes=facts.passes + 1, measured=record.get("readings") is not None)
        case "plan":
            fresh = replace(facts, rounds=None, verdict=None, withdrawn=False, laid=None, stage=None)
            facts = replace(fresh, plan=entry, sand=None, final=None, closed=None)
        case "tighten":
            log = tightening_of(entry, facts.passes)
            if log is not None and facts.plan is not None:
                facts = replace(facts, rounds=log.readings, laid=log.setup, verdict=None, withdrawn=False)
        case "stage":
            laid = stage_of(entry).done.clamp or facts.laid
            facts = replace(facts, stage={**record, "at": entry.at}, laid=laid)
        case "decision":
            facts = replace(facts, decision=entry)
        case "sand":
            said = {**record["report"], "because": record.get("because", "")}
            facts = replace(facts, sand=said, plan=None, final=None, closed=None)
        case "finish":
            facts = replace(facts, closed=entry, plan=None)
    return facts
