"""From the name typed to the head's dossier, with the book open."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from straighten.cli.options import note
from straighten.cli.paths import book_path, head_file
from straighten.errors import BadInput

if TYPE_CHECKING:
    from straighten.book import Book
    from straighten.desk.dossier import Dossier


@contextmanager
def desk_for(name: str, book: Path | None) -> "Iterator[tuple[Book, Dossier]]":
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
    with open_book(book_path(book)) as opened:
        dossier = read_dossier(opened, name, text, str(path))
        if dossier.forked:
            note(told_fork(dossier.name, dossier.forked))
        yield opened, dossier


def told_fork(name: str, lines: Sequence[Sequence[int]]) -> str:
    """Return the sentence on a head that was carried on in two places."""
    told = " and ".join(f"entries {', '.join(map(str, line))}" for line in lines)
    return (
        f"{name!r} was carried on in {len(lines)} places: {told} were made apart, and count in the order of their times. "
        f"Look at them, then: straighten settle {name}"
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
