"""What the guided session speaks in: questions with their words, answers from the book, and the work they lead to."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Generator, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from importlib.resources import files
from typing import Any, Final, Literal, TypeVar

from pydantic import TypeAdapter

from straighten.book import Entry
from straighten.clamp import ClampSetup
from straighten.clamp.tightening_log import Reading
from straighten.errors import BadInput, closed, in_shell
from straighten.plan.records import PassSetup
from straighten.readings import Readings
from straighten.sheet.card import Card
from straighten.sheet.verdict import passes_told
from straighten.units import System, show, show_duration, show_temperature, show_torque

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
    answers: dict[str, Any] = field(default_factory=dict)


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
IN_FULL = ("yes", "ja")
TYPE_YES: Final = "This one is neither skipped nor passed with Enter: type yes."
STROKES: Final = Work(deed="strokes", key="sand/plan")
LIST: Final = Work(deed="list", key="final/list")
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
    return _one_of(ask, IN_FULL, TYPE_YES)


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


# --- the words -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What `bench_words.toml` holds: the question of each step, examples in the units shown first, why a kind of place is asked for."""

    ask: Mapping[str, Ask]
    like: Mapping[System, Mapping[str, str]]
    why: Mapping[str, str]


_FILE = files("straighten.desk").joinpath("bench_words.toml")
WORDS: Final = TypeAdapter(Words).validate_python(tomllib.loads(_FILE.read_text(encoding="utf-8")))


def ask(step: str, *first: str, **told: object) -> Ask:
    """Return the question of a step with what is `told` filled in, and lines to read `first` before its own."""
    row = WORDS.ask[step]
    words = {
        name: getattr(row, name).format(**told)
        for name in ("key", "part", "prompt", "hint", "why", "waiting")
    }
    return replace(row, **words, shown=(*first, *(line.format(**told) for line in row.shown)))


def of_card(card: Card) -> dict[str, object]:
    """Return what a card fills in: number of the pass, its figures in words, examples in its units."""
    soaked = {}
    if card.soak is not None:
        metal, hold = show_temperature(card.soak.temperature, card.system), show_duration(card.soak.hold)
        soaked = {"metal": metal, "hold": hold, "target": f"metal at {metal} for {hold}"}
    return {
        "n": card.pass_number,
        "name": in_shell(card.name),
        "gap": show(card.gap, card.system),
        "until": f"{show(card.gap, card.system)} is left" if card.gap > 0 else "the gap is closed",
        "reached": f"Left at {show(card.gap, card.system)}" if card.gap > 0 else "Gap closed",
        "most": show_torque(card.most_torque, card.system),
        "ceiling": show_temperature(card.ceiling, card.system),
        "spots": len(card.spots),
        "target": f"{len(card.spots)} spots on the cam side, one at a time",
        "unclamp": show_duration(card.unclamp_wait),
        "wait": show_duration(card.wait),
        "wait_reason": card.wait_reason,
        **soaked,
        **WORDS.like[card.system],
    }


def measuring(stage: int) -> str:
    """Return the part of the work in which a survey is read, after so many passes."""
    return f"MEASURE after pass {stage}" if stage else "MEASURE"


def left(what: str, command: str, key: str = "end") -> Ask:
    """Return the last question: nothing follows."""
    return ask("end", closed(f"The session ends here: {what}"), key=key, command=command)


def reason(key: str, part: str, rule: str) -> Ask:
    """Return the question for a reason to go on past a stop rule."""
    return ask("reason", key=key, part=part, rule=rule)


def how_closed(entry: Entry, name: str) -> Ask:
    """Return the last words: when and how the head was closed."""
    final, because = entry.record["final"], str(entry.record.get("because", ""))
    told = [
        closed(f"closed as entry {entry.number} on {entry.at[:10]}, {passes_told(final['passes'])}"),
        *([closed(f"Sanded: {final['sanded']}")] if final["sanded"] else []),
        *([closed(f"Left out or not seen: {'; '.join(final['skipped'])}")] if final["skipped"] else []),
        *([f'Closed all the same because: "{because}".'] if because else []),
    ]
    return left(" ".join(told), f"straighten sheet {in_shell(name)} --report", key="closed")
