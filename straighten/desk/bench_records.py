"""What the guided session speaks in: questions and ways to ask them, work to do, answers from the book."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Mapping
from contextlib import contextmanager
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
