"""Ways of asking that several parts of the guided session share."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from straighten.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Callable, Generator

    from straighten.desk.bench_records import Answer, Ask

Found = TypeVar("Found")

NAY = "skip"
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
