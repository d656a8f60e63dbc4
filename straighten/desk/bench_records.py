"""What the guided session speaks in: questions and ways to ask them, work to do, answers from the book."""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from straighten.errors import BadInput
from straighten.units import System

if TYPE_CHECKING:
    from straighten.book import Entry
    from straighten.clamp import ClampSetup
    from straighten.clamp.tightening_log import Reading
    from straighten.plan.records import PassSetup
    from straighten.readings import Readings

Deed = Literal[
    "survey", "check", "plan", "tighten", "read tightening", "stage", "pass", "decide", "strokes", "stretch", "list", "close"
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One answer from the book: the step it belongs to, what was typed, when, and the units bare numbers were in."""

    key: str
    typed: str
    at: str
    system: System


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
    `answers` by key: of a stretch of sanding, of the final list.
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


Step = Ask | Work
Script = Generator[Ask, Answer, Step]


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Where the head stands by the entries of its book.

    `passes` logged; `measured` since the last one; `decision` and `check` (what it said) since that measurement;
    `plan` in hand; `rounds` of its tightening, None before the first; `verdict` on them; `withdrawn` where the last
    round was taken back; `laid` the clamp as it was laid, once that is in an entry; `stage` what the last stage's entry
    holds, and how many `odd` readings end with it; `sand` what the sanding's last answer said since the survey; `final`
    what the final list said; `closed` the entry that closed the head.
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
    odd: int = 0
    laid: ClampSetup | None = None
    sand: dict[str, Any] | None = None
    final: dict[str, Any] | None = None
    closed: Entry | None = None


Found = TypeVar("Found")

NAY = "skip"
STARTED = ("on", "lit", "burning")  # a flame or a soak has begun
_YES = ("", "y", "yes", "ok", "done", "ja")
_LEAST_REASON = 8  # letters: "because" is none


def confirmed(given: Answer) -> bool:
    """Return whether an answer says yes; Enter does."""
    return given.typed.strip().lower() in _YES


def done_or_skipped(ask: Ask) -> Generator[Ask, Answer, bool]:
    """Ask until it is done (true) or skipped (false)."""
    return (yield from given_or_skipped(ask)) is not None


def given_or_skipped(ask: Ask) -> Generator[Ask, Answer, Answer | None]:
    """Ask until it is confirmed, and return the answer; None where it is skipped."""
    while True:
        given = yield ask
        if confirmed(given):
            return given
        if given.typed.strip().lower() == NAY:
            return None
        ask = replace(ask, echo=f"{given.typed.strip()[:40]!r} is not understood: {ask.hint}")


def begun(ask: Ask) -> Generator[Ask, Answer, Answer | None]:
    """Ask until a clock is to start, and return the answer; None where it is skipped. Enter alone starts nothing."""
    while True:
        given = yield ask
        word = given.typed.strip().lower()
        if word in STARTED:
            return given
        if word == NAY:
            return None
        ask = replace(ask, echo=f"No clock runs yet: {ask.hint}.")


def agreed(ask: Ask) -> Generator[Ask, Answer, Answer]:
    """Ask until yes is typed in full; neither Enter nor skip is taken."""
    while True:
        given = yield ask
        if given.typed.strip().lower() in ("yes", "ja"):
            return given
        ask = replace(ask, echo="This one is neither skipped nor passed with Enter: type yes.")


def read_as(ask: Ask, read: Callable[[Answer], Found]) -> Generator[Ask, Answer, Found]:
    """Ask until the answer can be read."""
    while True:
        given = yield ask
        try:
            return read(given)
        except BadInput as fault:
            ask = replace(ask, echo=str(fault))


def reasoned(ask: Ask) -> Generator[Ask, Answer, str]:
    """Ask until a reason is given in words."""
    while True:
        given = yield ask
        if sum(letter.isalpha() for letter in given.typed) >= _LEAST_REASON:
            return given.typed.strip()
        ask = replace(ask, echo="A reason in a few words; without one it does not go on. back = think again.")
