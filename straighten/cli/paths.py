"""Which files the program uses: the book, the head file that a name stands for, and the dossier opened from both."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from straighten.cli.options import note
from straighten.errors import BadInput, StraightenError, in_shell
from straighten.units import turned

if TYPE_CHECKING:
    from straighten.book import Book
    from straighten.desk.dossier import Dossier

BOOK_NAME = "shop.book"
CONFIG_NAME = "config.toml"
LONGEST_NAME = 240  # characters


def _xdg(variable: str, *home: str) -> Path:
    """Return a folder after the XDG Base Directory Specification; a relative setting is ignored as it demands."""
    told = os.environ.get(variable, "")
    root = Path(told) if told and Path(told).is_absolute() else Path.home().joinpath(*home)
    return root / "straighten"


def data_folder() -> Path:
    """Return the folder of the book."""
    return _xdg("XDG_DATA_HOME", ".local", "share")


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
    return Told(path=data_folder() / BOOK_NAME, by="default")


def book_path(option: Path | None) -> Path:
    """Return the book to use."""
    return book_told(option).path


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
    from straighten.book import open_book
    from straighten.desk.dossier import read_dossier
    from straighten.filecheck import load_text

    path = head_file(name)
    text = None if path is None else load_text(path)
    remember_searches(book)
    with open_book(book_path(book)) as opened:
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
