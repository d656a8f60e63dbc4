"""Options that several commands share, and the files they name: the book, the head file, the dossier opened from both."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from typer import Argument, Option

from straighten.cli.terminal import note
from straighten.errors import BadInput, StraightenError, in_shell
from straighten.units import turned

if TYPE_CHECKING:
    from straighten.book import Book
    from straighten.desk.dossier import Dossier

Name = Annotated[str, Argument(metavar="NAME", help="Head: a name, a folder with head.toml, or a head file.")]
MaybeName = Annotated[
    str | None,
    Argument(metavar="NAME", help="Head; left out: an invented one that comes with the program."),
]
BookOption = Annotated[
    Path | None,
    Option("--book", metavar="FILE", help="The shop's book; default see `straighten where`."),
]
Json = Annotated[bool, Option("--json", help="Print one JSON object instead of text.")]

Because = Annotated[
    str,
    Option(
        "--because", metavar="REASON", help="Your reason to go past what is advised against; it is recorded."
    ),
]

Force = Annotated[bool, Option("--force", help="Write over a file that is there.")]

LEAST_REASON = 8  # letters: "because" is none
LONGEST_REASON = 300


def reasoned(text: str) -> str:
    """Return a reason as typed, or "" where none was.

    Raises:
        BadInput: too short to be one, or longer than a line of the card.
    """
    reason = " ".join(text.split())
    if reason and (sum(letter.isalpha() for letter in reason) < LEAST_REASON or len(reason) > LONGEST_REASON):
        raise BadInput(
            f"{reason[:40]!r} is no reason",
            where="--because",
            fix=f"Say in a few words why it goes on all the same, at most {LONGEST_REASON} letters.",
        )
    return reason


def now() -> datetime:
    """Return the bench clock with its zone.

    Raises:
        BadInput: the zone that the environment names is none.
    """
    try:
        return datetime.now().astimezone()
    except (ValueError, OverflowError, OSError):
        raise BadInput(
            f"{os.environ.get('TZ', '')[:40]!r} is no time zone",
            where="TZ",
            fix="Set it to one, for example Europe/Lisbon, or unset it.",
        ) from None


BOOK_NAME = "shop.book"
CONFIG_NAME = "config.toml"
LONGEST_NAME = 240  # characters


def _xdg(variable: str, *home: str) -> Path:
    """Return a folder after the XDG Base Directory Specification; a relative setting is ignored as it demands."""
    told = os.environ.get(variable, "")
    root = Path(told) if told and Path(told).is_absolute() else Path.home().joinpath(*home)
    return root / "straighten"


def config_file() -> Path:
    """Return the person's own settings, which need not be there."""
    return _xdg("XDG_CONFIG_HOME", ".config") / CONFIG_NAME


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A path and who named it: "--book", "STRAIGHTEN_BOOK", "config.toml" or "default"."""

    path: Path
    by: str


def book_told(option: Path | None) -> Told:
    """Return the book to use and who named it: the option, else the environment, else the config file, else the default.

    Raises:
        BadInput: the config file makes no sense.
    """
    if option is not None:
        return Told(path=option, by="--book")
    if told := os.environ.get("STRAIGHTEN_BOOK", ""):
        return Told(path=Path(told), by="STRAIGHTEN_BOOK")
    if (configured := _configured_book()) is not None:
        return Told(path=configured, by=CONFIG_NAME)
    return Told(path=_xdg("XDG_DATA_HOME", ".local", "share") / BOOK_NAME, by="default")


def book_path(option: Path | None) -> Path:
    """Return the book to use."""
    return book_told(option).path


def shop_book(option: Path | None, *, create: bool = True) -> Book:
    """Return the book, opened.

    Raises:
        BookError: it cannot be opened, or is not there and is not to be made.
    """
    from straighten.book import open_book

    return open_book(book_path(option), create=create)


def _configured_book() -> Path | None:
    """Return the book that the config file names; a relative one lies beside that file."""
    file = config_file()
    if not os.path.lexists(file):
        return None
    from straighten.filecheck import load_text, parse_toml

    data = parse_toml(load_text(file), str(file))
    if unknown := sorted(set(data) - {"book"}):
        raise BadInput(f"unknown key {unknown[0][:40]!r}; known is: book", where=str(file))
    told = data.get("book")
    if told is None:
        return None
    if not isinstance(told, str) or not told or "\0" in told:
        raise BadInput(
            "book must be the path of a file, as text", where=str(file), fix='book = "/path/shop.book"'
        )
    return file.parent / Path(told).expanduser()


def head_file(name: str) -> Path | None:
    """Return the head file that a name stands for, or None where only the book may know it.

    NAME may be the file itself, a folder that holds head.toml, or a name with NAME/head.toml or NAME.toml here.

    Raises:
        BadInput: the name is empty or holds characters that no file name has.
    """
    if not name.strip() or "\0" in name or len(name) > LONGEST_NAME:
        raise BadInput("a head needs a name", where="NAME", fix="For example: straighten plan pump-four")
    given = Path(name)
    named = [given.with_name(given.name + ".toml")] if given.name else []  # "." and "/" have none
    try:
        found = next((path for path in (given, given / "head.toml", *named) if path.is_file()), None)
    except OSError as fault:  # longer than the system allows, or a folder that may not be entered
        raise BadInput(f"cannot be looked at: {fault.strerror}", where="NAME") from None
    if found is not None:
        return found
    if given.suffix == ".toml":
        raise BadInput("no such file", where=name, fix="Check the name and the folder.")
    return None


@contextmanager
def desk_for(name: str, book: Path | None) -> Iterator[tuple[Book, Dossier]]:
    """Open the book and give it with the dossier of a head.

    Raises:
        BadInput: nobody knows the head.
        BookError: the book cannot be opened.
    """
    from straighten.desk.dossier import read_dossier
    from straighten.filecheck import load_text

    path = head_file(name)
    text = None if path is None else load_text(path)
    remember_searches(book)
    with shop_book(book) as opened:
        dossier = read_dossier(opened, name, text, str(path))
        if dossier.forked:
            note(told_fork(dossier.name, dossier.forked))
        try:
            yield opened, dossier
        except (
            StraightenError
        ) as fault:  # a room that does not know the person words a length in both units, mm first
            raise fault.reworded(partial(turned, system=dossier.head.system)) from None


@contextmanager
def desk_or_example(name: str | None, book: Path | None) -> Iterator[tuple[Book | None, Dossier]]:
    """Give what `desk_for` gives; without a name no book and the invented head that comes with the program."""
    if name is None:
        from straighten.desk.dossier import default_dossier

        remember_searches(book)
        yield None, default_dossier()
        return
    with desk_for(name, book) as both:
        yield both


def remember_searches(book: Path | None) -> None:
    """Keep what searches find beside the book, where there is one: the commands that follow need not search again."""
    from straighten.searches import SEARCHES

    path = book_path(book)
    SEARCHES.keep_in(path.with_name(f"{path.name}.searches") if path.parent.is_dir() else None)


def told_fork(name: str, lines: Sequence[Sequence[int]]) -> str:
    """Return the sentence on a head that was carried on in two places."""
    told = " and ".join(f"entries {', '.join(map(str, line))}" for line in lines)
    return (
        f"{name!r} was carried on in {len(lines)} places: {told} were made apart, and count in the order of their times. "
        f"Look at them, then: straighten settle {in_shell(name)}"
    )


def beside(name: str, given: Path) -> Path:
    """Return a file beside the head file, else where it was typed.

    Raises:
        BadInput: it is in neither place.
    """
    head = head_file(name)
    if head is not None and (head.parent / given).exists():
        return head.parent / given
    if given.exists():
        return given
    if head is None:
        raise BadInput(
            f"no head file {name}/head.toml or {name}.toml here, and no {given} in this folder either",
            where="NAME",
            fix="Check the name of the head, then that of the file and the folder.",
        )
    raise BadInput("no such file", where=str(given), fix="Check the name and the folder.")
