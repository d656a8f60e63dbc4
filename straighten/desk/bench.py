"""The guided session as a state machine: the entries of a book in, the next question or piece of work out.

Nothing is remembered outside the book, nothing is printed and no clock is read, so a session that ends at any moment
goes on where it stood. Answers are entries of kind "bench"; a part that is complete becomes the entry that the
command of that part would have written, and the answers before it are done with. "back" takes answers back up to
that entry.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, TypeVar

from straighten.book import Book, Entry
from straighten.desk.bench_end import after_the_heat
from straighten.desk.bench_pass import through_pass
from straighten.desk.bench_survey import between_passes, measured
from straighten.desk.bench_words import STARTED, Answer, Ask, Facts, Script, Step, Work, agreed, ask, left
from straighten.desk.deciding import check_report, decision_report
from straighten.desk.dossier import Dossier
from straighten.desk.finishing import against_closing, by_hand, finish_report
from straighten.desk.job import Job
from straighten.desk.judgement import command_of
from straighten.desk.kept import keep_head, record, record_card, record_survey, stage_of, tightening_of
from straighten.desk.logging import log_done, record_rounds, tightening_report, with_its_load
from straighten.desk.planning import plan_card
from straighten.desk.sanding import Asked, sand_report
from straighten.desk.staging import StageAsked, stage_done
from straighten.sheet.card import Card
from straighten.sheet.card_text import printed_text
from straighten.sheet.decision import decision_text
from straighten.sheet.learned import log_text, stage_text
from straighten.sheet.sanding import sanding_text
from straighten.sheet.setups import tightening_text
from straighten.sheet.verdict import check_text, finish_text
from straighten.units import System


def session(facts: Facts, dossier: Dossier, system: System) -> Script:
    """Ask for what is missing from where the head stands; end in the next piece of work or the last question."""
    if facts.closed is not None or facts.final is not None or facts.sand is not None:
        return (yield from after_the_heat(facts, dossier))
    if facts.plan is not None:
        if forbidden := Job(dossier).forbidden_to_clamp:
            command = command_of("hand it on", forbidden[0].kind, dossier.name)
            return left(forbidden[0].told, command, key="never")
        return (yield from _in_pass(facts, dossier, system))
    if not facts.measured:
        readings = yield from measured(dossier, facts.passes)
        return Work(deed="survey", readings=readings)
    return (yield from between_passes(facts, dossier, system))


def _in_pass(facts: Facts, dossier: Dossier, system: System) -> Script:
    setup = yield from through_pass(facts, dossier, system)
    if isinstance(setup, Work):
        return setup
    readings = yield from measured(dossier, facts.passes + 1)
    if dossier.reads_as_before(readings):
        yield from agreed(ask("as before", n=facts.passes + 1))
    return Work(deed="pass", setup=setup, readings=readings)


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


# --- work: each piece computes, enters what its own command would enter, and tells it as text --------------------------


# What the session keeps of a check and of a sanding plan, to go on from it.
_TOLD = ("verdict", "reason", "decided_by", "direction", "findings", "go_on", "command")
_STROKES = ("state", "sentence", "runs", "next_strokes", "next_grit", "do", "cautions", "method")
_Report = TypeVar("_Report", bound=Any)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bench:
    """Where a piece of work is done: book, head, the work, the time and the units shown first."""

    book: Book
    dossier: Dossier
    work: Work
    now: datetime
    system: System

    @property
    def job(self) -> Job:
        """The head's work so far."""
        return Job(self.dossier)

    def own(self, report: _Report) -> _Report:
        """Return a report in the units shown first."""
        return replace(report, system=self.system)

    def keep(self, told: dict[str, Any]) -> None:
        """Enter what the session goes on from."""
        keep_result(self.book, self.dossier, self.work.key, told)


def keep_result(book: Book, dossier: Dossier, key: str, told: dict[str, Any]) -> Entry:
    """Enter what was computed for the session and is no entry of its own, so that a resumed one need not compute it."""
    return book.append(dossier.name, "bench", {"step": key, "told": told})


def perform(book: Book, dossier: Dossier, work: Work, at: tuple[datetime, System]) -> str:
    """Do a piece of work, enter it, and return it as text; done twice after a power cut, it is entered once.

    Raises:
        NoPlan: no set-up keeps the limits.
        BookError: the book cannot take it; nothing is recorded.
    """
    here = _Bench(book=book, dossier=dossier, work=work, now=at[0], system=at[1])
    return DEEDS[work.deed].do(here)


def _survey(at: _Bench) -> str:
    readings = at.work.readings
    assert readings is not None  # noqa: S101 - the session asked for them
    entry = record_survey(at.book, at.dossier, readings)
    return f"Survey with {readings.count} readings kept as entry {entry.number}."


def _check(at: _Bench) -> str:
    report = check_report(at.job)
    plain = report.to_plain()
    at.keep({key: plain[key] for key in _TOLD} | {"forbidden": bool(report.judgement["forbidden"])})
    return check_text(at.own(report))


def _torch(at: _Bench) -> str:
    keep_head(at.book, replace(at.dossier, text=at.work.typed))
    return "The flame trial stands in the head file: the plan goes by it."


def _plan(at: _Bench) -> str:
    planned = plan_card(at.job, at.now, because=at.work.because, ahead=False)
    record_card(at.book, at.dossier, planned)
    printed = planned.printed
    if isinstance(printed, Card):
        return printed_text(at.own(printed))
    # Only where the head file was changed since the check: what it said then no longer holds.
    told = {"direction": "", "forbidden": bool(printed.judgement.get("forbidden")), **printed.to_plain()}
    told["command"] = str(printed.judgement.get("command", ""))
    keep_result(at.book, at.dossier, f"check/{len(at.dossier.passes)}", told)
    return printed_text(printed)


def _tighten(at: _Bench) -> str:
    laid = None if at.work.setup is None else at.work.setup.clamp
    logged = replace(with_its_load(at.dossier, at.work.rounds), laid=laid)
    with at.book.together():
        if at.work.deed == "tighten":
            report = record_rounds(at.book, at.dossier, logged)
        else:
            report = tightening_report(at.dossier, logged)
        at.keep({"verdict": report.verdict, "words": report.words, "next_torque_Nm": report.next_torque})
    return tightening_text(at.own(report))


def _pass(at: _Bench) -> str:
    assert at.work.setup is not None  # noqa: S101 - the session led through it
    return log_text(at.own(log_done(at.book, at.dossier, at.work.setup, at.work.readings)))


def _stage(at: _Bench) -> str:
    system, _, typed = at.work.typed.partition(":")
    asked = StageAsked(
        gaps={"middle": typed} if typed else {},
        system="inch" if system == "inch" else "mm",
        heated=at.work.setup,
        skip=at.work.setup is None and not at.work.again,
        again=at.work.again,
    )
    return stage_text(at.own(stage_done(at.book, at.dossier, asked)))


def _decide(at: _Bench) -> str:
    report = decision_report(at.job)
    record(at.book, at.dossier, "decision", report.to_plain())
    return decision_text(at.own(report))


def _strokes(at: _Bench) -> str:
    report = sand_report(at.book, at.job, Asked(because=at.work.because, surface_text=at.work.typed))
    plain = report.to_plain()
    more = {"because": at.work.because, "surface_text": at.work.typed}
    at.keep({key: plain[key] for key in _STROKES} | more)
    return sanding_text(at.own(report))


def _stretch(at: _Bench) -> str:
    asked = Asked(typed=at.work.answers, because=at.work.because, surface_text=at.work.typed)
    return sanding_text(at.own(sand_report(at.book, at.job, asked)), short=True)


def _list(at: _Bench) -> str:
    job, answers = at.job, at.work.answers
    report = finish_report(at.book, job, answers)
    asked = by_hand(finish_report(at.book, job, {}) if answers else report)
    told = {
        "asked": [[line.key, line.title, line.reach] for line in asked],
        "answers": answers,
        "refused": against_closing(report, job.judgement),
    }
    at.keep(told)
    return finish_text(at.own(report), short=bool(answers))


def _close(at: _Bench) -> str:
    report = finish_report(at.book, at.job, at.work.answers, close=True, because=at.work.because)
    return finish_text(at.own(report))


@dataclass(frozen=True, slots=True)
class _Deed:
    """A piece of work: what is said while it `takes` its time, how to `do` it, whether an answer alone leads to it."""

    takes: str
    do: Callable[[_Bench], str]
    taken_back: bool = False


DEEDS = {
    "survey": _Deed("entering the readings", _survey, taken_back=True),
    "check": _Deed("fitting the shape", _check),
    "torch": _Deed("keeping the flame trial", _torch, taken_back=True),
    "plan": _Deed("weighing the passes that could be made", _plan),
    "tighten": _Deed("playing the rounds through the draws", _tighten),
    "read tightening": _Deed("playing the rounds through the draws", _tighten),
    "stage": _Deed("carrying the draws through the stage", _stage, taken_back=True),
    "pass": _Deed("learning from the pass", _pass, taken_back=True),
    "decide": _Deed("weighing heat again, sand now, hand it on", _decide),
    "strokes": _Deed("planning the strokes", _strokes, taken_back=True),
    "stretch": _Deed("learning from the strokes", _stretch, taken_back=True),
    "list": _Deed("drawing up the final list", _list, taken_back=True),
    "close": _Deed("closing the head", _close, taken_back=True),
}
