"""The command about what the shop has taught: history."""

from pathlib import Path
from typing import Annotated

import typer

from straighten.cli.options import BookOption, Json, answer, note
from straighten.cli.paths import book_path
from straighten.errors import BadInput

FORMS = ("svg", "png", "pdf")


def history(
    figure: Annotated[
        Path | None, typer.Option("--figure", metavar="FILE", help="Write a figure too: .svg, .png or .pdf.")
    ] = None,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Show what the shop's heads have taught: factors, passes per head, foretold against measured."""
    from straighten.book import open_book
    from straighten.desk.history import shop_history
    from straighten.sheet.history import history_text

    form = "" if figure is None else figure.suffix.lower().removeprefix(".")
    if figure is not None and form not in FORMS:
        raise BadInput(f"{figure.name!r} is no figure file", where="--figure", fix="Use .svg, .png or .pdf.")
    with open_book(book_path(book), create=False) as opened:
        found = shop_history(opened)
    if figure is not None:
        from straighten.sheet.history_figure import history_figure

        try:
            figure.write_bytes(history_figure(found, form))
        except OSError as fault:
            raise BadInput(f"cannot be written: {fault.strerror}", where=str(figure)) from None
        note(f"wrote {figure}")
    answer(found.to_plain(), history_text(found), as_json=as_json)
