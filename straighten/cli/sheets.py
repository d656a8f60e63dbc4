"""The command that writes pages for the bench and the customer: sheet; and the option that writes a figure."""

import re
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from straighten.cli.options import BookOption, Json, answer, note
from straighten.errors import BadInput

if TYPE_CHECKING:
    from straighten.sheet.bench import PassSheet
    from straighten.sheet.card import Refusal

MaybeName = Annotated[
    str | None,
    typer.Argument(metavar="[NAME]", help="Head; left out: an invented one that comes with the program."),
]
PassOption = Annotated[int | None, typer.Option("--pass", min=1, help="An earlier pass, as it was planned.")]
OutOption = Annotated[
    Path | None, typer.Option("--out", metavar="FILE.html", help="Where to write; default NAME-pass-N.html.")
]
ForceOption = Annotated[bool, typer.Option("--force", help="Write over a file that is there.")]


def sheet(
    name: MaybeName = None,
    pass_number: PassOption = None,
    out: OutOption = None,
    force: ForceOption = False,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Write the pass card as a page to print or to read on a phone."""
    from straighten.desk.sheets import plain_of
    from straighten.sheet.bench import PassSheet
    from straighten.sheet.pass_page import pass_page, refusal_page

    found = _found(name, pass_number, book)
    is_card = isinstance(found, PassSheet)
    text = pass_page(found) if isinstance(found, PassSheet) else refusal_page(found)
    title = found.card.name if isinstance(found, PassSheet) else found.name
    end = f"pass-{found.card.pass_number}" if isinstance(found, PassSheet) else "no-pass"
    path = out or Path(f"{file_stem(title)}-{end}.html")
    write_page(path, text, force=force)
    plain = {"schema": "straighten/sheet/1", "file": str(path), "is_card": is_card, "card": plain_of(found)}
    answer(plain, f"wrote {path}", as_json=as_json)


def _found(name: str | None, pass_number: int | None, book: Path | None) -> "PassSheet | Refusal":
    from straighten.desk.sheets import earlier_sheet, next_sheet, unbooked_sheet

    now = datetime.now().astimezone()
    if name is None:
        from straighten.desk.dossier import default_dossier

        return unbooked_sheet(default_dossier(), now)
    from straighten.cli.opened import desk_for

    with desk_for(name, book) as (opened, dossier):
        if pass_number is not None:
            return earlier_sheet(opened, dossier, pass_number)
        found, made_now = next_sheet(opened, dossier, now)
    if made_now:
        note("Planned now and entered in the book.")
    return found


def file_stem(name: str) -> str:
    """Return a head's name as the start of a file name: letters, digits, - and _ alone."""
    return re.sub(r"[^A-Za-z0-9_-]+", "-", name).strip("-")[:60] or "head"


def write_page(path: Path, text: str, *, force: bool) -> None:
    """Write a page; a file that is there is left alone unless forced.

    Raises:
        BadInput: it is there already, or the folder cannot be written.
    """
    if path.exists() and not force:
        raise BadInput("already there, nothing written", where=str(path), fix="Use --force to write over it.")
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as fault:
        raise BadInput(f"cannot be written: {fault.strerror}", where=str(path)) from None
