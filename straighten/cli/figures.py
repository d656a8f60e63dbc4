"""The option --figure of every command that has something to draw: its form is looked at first, the file written last."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from straighten.cli.options import note
from straighten.cli.writing import Outgoing, refuse_taken
from straighten.errors import BadInput

if TYPE_CHECKING:
    from straighten.sheet.figures.drawing import Form, Picture

FigureOption = Annotated[
    Path | None,
    typer.Option("--figure", metavar="FILE", help="Write a figure too: .svg, .png or .pdf."),
]


def figure_form(path: Path) -> "Form":
    """Return the form that a figure's file name asks for.

    Raises:
        BadInput: it asks for none that is known, its folder is not there, or the file is a link.
    """
    from straighten.sheet.figures.drawing import FORMS

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
    """Refuse a figure that could not be written before anything is computed or entered in the book.

    Raises:
        BadInput: see `figure_form`.
    """
    if path is not None:
        figure_form(path)


def write_figure(files: Outgoing, path: Path, picture: "Picture") -> None:
    """Make a picture ready in the form its file name asks for, over a figure of before.

    Raises:
        BadInput: another form, or the folder cannot be written.
    """
    from straighten.sheet.figures.drawing import draw_figure

    files.put(path, draw_figure(picture, figure_form(path)), force=True)
    note(f"wrote {path}")
