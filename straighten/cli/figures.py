"""Files that a command writes: beside the place, synced, moved there last, all or none; and the option --figure.

What cannot be written, or not as it was asked for, is refused with `BadInput`.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from typer import Option

from straighten.cli.terminal import note
from straighten.errors import BadInput

if TYPE_CHECKING:
    from straighten.sheet.figures import Form, Picture


class Outgoing:
    """Files ready beside their places, which a refused command leaves as they were."""

    def __init__(self) -> None:
        self._ready: list[tuple[Path, Path]] = []

    def put(self, path: Path, data: str | bytes, *, force: bool) -> None:
        """Make a file ready; one that is there is left alone unless forced, and what a link leads to likewise."""
        refuse_taken(path, force=force)
        raw = data.encode("utf-8") if isinstance(data, str) else data
        with _told(path):
            target = path.resolve() if path.is_symlink() else path
            beside = target.with_name(f".{target.name[:100]}.{os.getpid()}.part")
            self._ready.append((beside, target))
            _write(beside, raw, like=target)

    def place(self) -> None:
        """Move every file to its place."""
        for beside, target in self._ready:
            with _told(target):
                beside.replace(target)
                _sync_folder(target.parent)

    def drop(self) -> None:
        """Take away what did not reach its place."""
        for beside, _ in self._ready:
            with suppress(OSError):
                beside.unlink()


@contextmanager
def outgoing() -> Iterator[Outgoing]:
    """Give a place to put files; they reach theirs when all inside has gone well."""
    files = Outgoing()
    try:
        yield files
        files.place()
    finally:
        files.drop()


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Tell what the system refuses inside as a file that cannot be written."""
    try:
        yield
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "no file has this name"
        raise BadInput(f"cannot be written: {reason}", where=str(path)[:200].replace("\0", "?")) from None


def refuse_taken(path: Path, *, force: bool) -> None:
    """Refuse a file that is there, and a link, which could lead to a file elsewhere; --force follows it."""
    with _told(path):
        there, other = os.path.lexists(path), path.exists() and not path.is_file()
    if other:
        raise BadInput(
            "cannot be written: a folder, device or pipe is there", where=str(path), fix="Name a file."
        )
    if there and not force:
        raise BadInput("already there, nothing written", where=str(path), fix="Use --force to write over it.")


def _write(path: Path, raw: bytes, *, like: Path) -> None:
    handle = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666)
    with os.fdopen(handle, "wb") as file:
        if like.exists():
            os.fchmod(handle, like.stat().st_mode & 0o777)
        file.write(raw)
        file.flush()
        os.fsync(handle)


def _sync_folder(folder: Path) -> None:
    with suppress(OSError):  # not every file system can
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


FigureOption = Annotated[
    Path | None,
    Option("--figure", metavar="FILE", help="Write a figure too: .svg, .png or .pdf."),
]


def figure_form(path: Path) -> Form:
    """Return the form that a figure's file name asks for."""
    from straighten.sheet.figures import FORMS

    form = next((f for f in FORMS if path.suffix.lower() == f".{f}"), None)
    if form is None:
        ending = path.suffix or "a file without an ending"
        known = ", ".join(f".{f}" for f in FORMS)
        raise BadInput(f"a figure cannot be written as {ending}", where=str(path), fix=f"Known: {known}.")
    if not path.parent.is_dir():
        raise BadInput("cannot be written: there is no such folder", where=str(path))
    if path.is_symlink():
        raise BadInput(
            "a link: a figure is not written through it", where=str(path), fix="Name the file itself."
        )
    refuse_taken(path, force=True)
    return form


def looked_at(path: Path | None) -> None:
    """Refuse a figure that could not be written before anything is computed or entered in the book."""
    if path is not None:
        figure_form(path)


def write_figure(files: Outgoing, path: Path | None, picture: Callable[[], Picture]) -> None:
    """Make a picture ready in the form its file name asks for, over a figure of before; nothing where none was asked for."""
    if path is None:
        return
    from straighten.sheet.figures import draw_figure

    files.put(path, draw_figure(picture(), figure_form(path)), force=True)
    note(f"wrote {path}")
