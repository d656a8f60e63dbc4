"""What the guided session speaks in: questions and ways to ask them, answers from the book, and work with how it is done."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Literal, TypeVar

from straighten.book import Book, Entry
from straighten.clamp import ClampSetup
from straighten.clamp.tightening_log import Reading
from straighten.desk.deciding import check_report, decision_report
from straighten.desk.dossier import Dossier
from straighten.desk.finishing import against_closing, by_hand, finish_report
from straighten.desk.job import Job
from straighten.desk.kept import keep_head, record, record_card, record_survey
from straighten.desk.logging import log_done
from straighten.desk.planning import plan_card
from straighten.desk.sanding import Asked as SandAsked
from straighten.desk.sanding import sand_report
from straighten.desk.staging import StageAsked, stage_done
from straighten.desk.tightening import record_rounds, tightening_report, with_its_load
from straighten.errors import BadInput
from straighten.plan.records import PassSetup
from straighten.readings import Readings
from straighten.sheet.card import Card
from straighten.sheet.card_text import printed_text
from straighten.sheet.decision import decision_text
from straighten.sheet.learned import log_text, stage_text
from straighten.sheet.sanding import sanding_text
from straighten.sheet.setups import tightening_text
from straighten.sheet.verdict import check_text, finish_text
from straighten.units import System

Deed = Literal[
    "survey", "check", "torch", "plan", "tighten", "read tightening", "stage", "pass", "decide", "strokes", "stretch",
    "list", "close",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One answer from the book: the step it belongs to, what was typed, when, and the units bare numbers were in."""

    key: str
    typed: str
    at: str
    system: System

    @property
    def word(self) -> str:
        """What was typed, as a word to compare."""
        return self.typed.strip().lower()

    @property
    def confirms(self) -> bool:
        """Whether it says yes; Enter does."""
        return self.word in YES


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """A question.

    `key` names the step; `part` of the work; `shown` lines to read first; `prompt` and `hint` of what may be typed;
    `why` it is asked; `echo` how the last answer was understood, or why it was not. With `seconds` the question
    comes only so long after `since` (ISO time), counted down under the words `waiting`; `strict` where an earlier
    answer is not taken. `last` where nothing follows.
    """

    key: str
    part: str
    prompt: str
    hint: str = "Enter = done"
    why: str = ""
    shown: tuple[str, ...] = ()
    echo: str = ""
    since: str = ""
    seconds: float = 0.0
    waiting: str = ""
    strict: bool = False
    last: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Something to compute and to enter in the book.

    `key` under which a result that is no entry of its own is kept; `readings` of a finished survey; `setup` that was
    done; `rounds` of the tightening; `because` the reason given to go past what is advised against;
    of a stage the gap as `typed` after its units, "" unread, and whether it was read `again`; no `setup`: it is skipped;
    `answers` by key: of a stretch of sanding, of the final list; of strokes and a stretch the file of the surface as `typed`,
    of a flame trial the head file with it.
    """

    deed: Deed
    key: str = ""
    readings: Readings | None = None
    setup: PassSetup | None = None
    rounds: tuple[Reading, ...] = ()
    because: str = ""
    typed: str = ""
    again: bool = False
    answers: Mapping[str, Any] | None = None


Found = TypeVar("Found")
Asking = Generator[Ask, Answer, Found]
Step = Ask | Work
Script = Asking[Step]


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Where the head stands by the entries of its book.

    `passes` logged; `measured` since the last one; `decision` and `check` (what it said) since that measurement;
    `plan` in hand; `rounds` of its tightening, None before the first; `verdict` on them; `withdrawn` where the last
    round was taken back; `laid` the clamp as it was laid, once that is in an entry; `stage` what the last stage's entry
    holds; `sand` what the sanding's last answer said since the survey; `final` what the final list said; `closed` the
    entry that closed the head.
    """

    passes: int = 0
    measured: bool = False
    decision: Entry | None = None
    check: dict[str, Any] | None = None
    plan: Entry | None = None
    rounds: tuple[Reading, ...] | None = None
    verdict: dict[str, Any] | None = None
    withdrawn: bool = False
    stage: dict[str, Any] | None = None
    laid: ClampSetup | None = None
    sand: dict[str, Any] | None = None
    final: dict[str, Any] | None = None
    closed: Entry | None = None


NAY = "skip"
STARTED = ("on", "lit", "burning")  # a flame or a soak has begun
YES = ("", "y", "yes", "ok", "done", "ja")
_LEAST_REASON = 8  # letters: "because" is none


def read_as(ask: Ask, read: Callable[[Answer], Found]) -> Asking[Found]:
    """Ask until the answer can be read; the fault of one that cannot is its echo."""
    while True:
        given = yield ask
        try:
            return read(given)
        except BadInput as fault:
            ask = replace(ask, echo=str(fault))


@contextmanager
def as_typed() -> Iterator[None]:
    """Tell a fault without the file and the key at which it lies: nobody typed them."""
    try:
        yield
    except BadInput as fault:
        raise BadInput(fault.problem, fix=fault.fix) from None


def _one_of(ask: Ask, words: tuple[str, ...], refusal: str, *, skips: bool = False) -> Asking[Answer | None]:
    """Ask until one of the words is typed, and return the answer; None where it is skipped."""

    def read(given: Answer) -> Answer | None:
        if given.word in words or (skips and given.word == NAY):
            return None if given.word == NAY else given
        raise BadInput(refusal.replace("TYPED", repr(given.typed.strip()[:40])))

    return read_as(ask, read)


def done_or_skipped(ask: Ask) -> Asking[Answer | None]:
    """Ask until it is done, and return the answer; None where it is skipped."""
    return _one_of(ask, YES, f"TYPED is not understood: {ask.hint}", skips=True)


def begun(ask: Ask, *, skips: bool = True) -> Asking[Answer | None]:
    """Ask until a clock is to start, and return the answer; None where it is skipped. Enter alone starts nothing."""
    return _one_of(ask, STARTED, f"No clock runs yet: {ask.hint}.", skips=skips)


def agreed(ask: Ask) -> Asking[Answer | None]:
    """Ask until yes is typed in full; neither Enter nor skip is taken."""
    refusal = "This one is neither skipped nor passed with Enter: type yes."
    return _one_of(ask, ("yes", "ja"), refusal)


def anew(ask: Ask) -> Asking[Answer | None]:
    """Ask until the tightening is to begin anew; "back" is the only other way."""
    refusal = "It does not go on from here: anew, or back where the torque was mistyped."
    return _one_of(ask, ("anew",), refusal)


def reasoned(ask: Ask) -> Asking[str]:
    """Ask until a reason is given in words."""

    def read(given: Answer) -> str:
        if sum(letter.isalpha() for letter in given.typed) >= _LEAST_REASON:
            return given.typed.strip()
        raise BadInput("A reason in a few words; without one it does not go on. back = think again.")

    return read_as(ask, read)


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

    @property
    def answers(self) -> dict[str, Any]:
        """Answers by key: of a stretch of sanding, of the final list."""
        return dict(self.work.answers or {})

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
    report = sand_report(at.book, at.job, SandAsked(because=at.work.because, surface_text=at.work.typed))
    plain = report.to_plain()
    more = {"because": at.work.because, "surface_text": at.work.typed}
    at.keep({key: plain[key] for key in _STROKES} | more)
    return sanding_text(at.own(report))


def _stretch(at: _Bench) -> str:
    asked = SandAsked(typed=at.answers, because=at.work.because, surface_text=at.work.typed)
    return sanding_text(at.own(sand_report(at.book, at.job, asked)), short=True)


def _list(at: _Bench) -> str:
    job, answers = at.job, at.answers
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
    report = finish_report(at.book, at.job, at.answers, close=True, because=at.work.because)
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
