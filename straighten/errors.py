"""Every error the planner expects, with the exit code that `cli` gives it.

StraightenError
|- BadInput       3  a file, a reading or an option makes no sense
|- OutsideModel   4  the physics does not hold there
|- NoPlan         5  no pass keeps the limits; names the limit that binds
`- BookError      6  the book is missing, locked, damaged or newer than the program
"""

from __future__ import annotations

import shlex
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from typing import ClassVar


class StraightenError(Exception):
    """An expected fault, told in three parts: where it is, what was found, what to do.

    Args:
        problem: what was found and what is allowed, one sentence.
        where: file, key, reading or option at fault; empty when there is none.
        fix: what the person can do about it, one sentence.
    """

    exit_code: ClassVar[int] = 1

    def __init__(self, problem: str, *, where: str = "", fix: str = "") -> None:
        super().__init__(problem)
        self.problem = problem
        self.where = where
        self.fix = fix

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        return f"{place}{closed(self.problem)} {self.fix}" if self.fix else f"{place}{self.problem}"

    def reworded(self, change: Callable[[str], str]) -> StraightenError:
        """Return the same fault with its words changed."""
        return type(self)(change(self.problem), where=self.where, fix=change(self.fix))

    def at(self, where: str) -> StraightenError:
        """Return the same fault with its place told more precisely."""
        place = f"{where}: {self.where}" if self.where else where
        return type(self)(self.problem, where=place, fix=self.fix)


def in_shell(name: str) -> str:
    """Return a head's name as it is typed after a command: in quotes where it holds blanks or what a shell reads."""
    return shlex.quote(name)


def nearest(found: str, known: Collection[str], allowed: str = "Allowed") -> str:
    """Return what to do about a word that is not known: the nearest one, or all that are."""
    from difflib import get_close_matches

    near = get_close_matches(found, known, n=1, cutoff=0.5)
    return f"Did you mean {near[0]!r}?" if near else f"{allowed}: {', '.join(known)}."


class BadInput(StraightenError):
    """A file, a reading or an option makes no sense."""

    exit_code = 3


@contextmanager
def located(where: str) -> Iterator[None]:
    """Tell more precisely where a `BadInput` that is raised inside lies."""
    try:
        yield
    except BadInput as fault:
        raise fault.at(where) from None


class OutsideModel(StraightenError):
    """The physics of the planner does not hold for what was asked."""

    exit_code = 4


class NoPlan(StraightenError):
    """No pass keeps the limits; the message names the limit that binds."""

    exit_code = 5


class BookError(StraightenError):
    """The book is missing, locked, damaged or newer than the program."""

    exit_code = 6


def closed(text: str) -> str:
    """Return a sentence with a full stop at its end, where it does not end by itself.

    Example:
        >>> closed("a bow of 0.1 mm"), closed("face it."), closed("(Some do.)")
        ('a bow of 0.1 mm.', 'face it.', '(Some do.)')
    """
    return text if text.rstrip("\"')").endswith((".", "?", "!")) else f"{text}."


def counted(number: int, name: str) -> str:
    """Return a number with the name of what it counts.

    Source: English plural in s.
    """
    return f"{number} {name}{'' if number == 1 else 's'}"


def printable(text: str) -> str:
    r"""Return text without what moves a terminal's cursor or turns its writing round; those stand as escapes.

    Example:
        >>> print(printable("len" + chr(27) + "[2Jgth"))
        len\x1b[2Jgth
    """
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)
