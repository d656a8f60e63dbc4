"""The command that writes pages for the bench and the customer: sheet; and the option that writes a figure."""

import re
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from straighten.cli.figures import FigureOption, looked_at, outgoing, refuse_taken, write_figure
from straighten.cli.options import BookOption, Json, MaybeName, answer, note, now
from straighten.cli.waiting import busy
from straighten.errors import BadInput

if TYPE_CHECKING:
    from straighten.book import Book
    from straighten.desk.dossier import Dossier
    from straighten.sheet.figures.drawing import Picture

PassOption = Annotated[int | None, typer.Option("--pass", min=1, help="An earlier pass, as it was planned.")]
OutOption = Annotated[
    Path | None, typer.Option("--out", metavar="FILE.html", help="Where to write; default NAME-pass-N.html.")
]
ForceOption = Annotated[bool, typer.Option("--force", help="Write over a file that is there.")]
ReportOption = Annotated[
    bool, typer.Option("--report", help="The whole job for a customer instead of a pass card.")
]
FIGURES = ("bow", "spots", "tightening", "passes", "stop")
ShowOption = Annotated[
    str | None,
    typer.Option(
        "--show", metavar="WHICH", help=f"Which figure: {', '.join(FIGURES)}; left out: {FIGURES[0]}."
    ),
]


def sheet(
    name: MaybeName = None,
    pass_number: PassOption = None,
    out: OutOption = None,
    report: ReportOption = False,
    template: Annotated[
        bool,
        typer.Option(
            "--template", help="The roof in its own size, with the places to heat, to lay on the head."
        ),
    ] = False,
    whole: Annotated[
        bool,
        typer.Option(
            "--all", help="With --report: the shop's own, with settings, doubts, prices and sources."
        ),
    ] = False,
    figure: FigureOption = None,
    show: ShowOption = None,
    force: ForceOption = False,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Write the pass card, or the report of the job, as a page to print or to read on a phone."""
    if report and template:
        raise typer.BadParameter("--template and --report are two pages: ask for one of them at a time.")
    looked_at(figure)
    if show is not None:
        _figure_asked_for(show, figure)
    if figure is not None:
        refuse_taken(figure, force=force)
    with (
        _opened(name, book) as (opened, dossier),
        outgoing() as files,
        _at_once(opened),
        busy("writing the page"),
    ):
        made = (
            _report(opened, dossier, whole=whole)
            if report
            else _card(opened, dossier, pass_number, template=template)
        )
        path = out or Path(f"{file_stem(dossier.name)}-{made.end}.html")
        files.put(path, made.text, force=force)
        wrote = [path]
        if figure is not None:
            write_figure(files, figure, made.picture(show or FIGURES[0]))
            wrote.append(figure)
    if made.entered:
        note(
            "Planned now and entered in the book."
            if made.is_card
            else "No pass is planned; the refusal is entered in the book."
        )
    plain = {"schema": "straighten/sheet/1", "files": [str(p) for p in wrote], **made.plain}
    answer(plain, "\n".join(f"wrote {p}" for p in wrote), as_json=as_json)


def _at_once(book: "Book | None") -> AbstractContextManager[None]:
    """Return what keeps in the book all that is recorded inside, or nothing."""
    return nullcontext() if book is None else book.together()


def _figure_asked_for(show: str, figure: Path | None) -> None:
    """Refuse the name of a figure that does not exist or is not to be written, before anything is planned or entered."""
    if show not in FIGURES:
        raise BadInput(
            f"there is no figure {show[:40]!r}", where="--show", fix=f"Known: {', '.join(FIGURES)}."
        )
    if figure is None:
        raise BadInput(
            "a figure is named, but no file to write it to", where="--show", fix="Add --figure FILE.svg."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Made:
    """A page: its text, what its file name ends in, what --json says of it, how to get a figure of it.

    `entered` whether its card was planned and put into the book just now; `is_card` false for a refusal.
    """

    text: str
    end: str
    plain: dict[str, Any]
    picture: "Callable[[str], Picture]"
    entered: bool = False
    is_card: bool = True


@contextmanager
def _opened(name: str | None, book: Path | None) -> "Iterator[tuple[Book | None, Dossier]]":
    if name is None:
        from straighten.desk.dossier import default_dossier

        yield None, default_dossier()
        return
    from straighten.cli.paths import desk_for

    with desk_for(name, book) as both:
        yield both


def _report(book: "Book | None", dossier: "Dossier", *, whole: bool) -> _Made:
    from straighten.desk.pictures import picture_of
    from straighten.desk.reporting import job_report
    from straighten.sheet.report import report_page

    found = job_report(() if book is None else book.entries(dossier.name), dossier, now(), whole=whole)
    return _Made(
        text=report_page(found),
        end="report",
        plain={"is_card": False, "passes": found.passes},
        picture=lambda kind: picture_of(kind, dossier, None),
    )


def _card(book: "Book | None", dossier: "Dossier", pass_number: int | None, *, template: bool) -> _Made:
    from straighten.desk.job import Job
    from straighten.desk.pictures import picture_of
    from straighten.desk.sheets import earlier_sheet, next_sheet
    from straighten.sheet.card import PassSheet
    from straighten.sheet.pass_page import pass_page, refusal_page
    from straighten.sheet.sketch import template_page

    if pass_number is not None and book is not None:
        found = earlier_sheet(book, Job(dossier), pass_number)
    elif pass_number is not None:
        raise BadInput(
            "the program's own head has no earlier pass", where="--pass", fix="Give the NAME of a head."
        )
    else:
        found = next_sheet(book, Job(dossier), now())
    page = found.page
    is_card = isinstance(page, PassSheet)
    drawn = template_page if template else pass_page
    text = drawn(page) if isinstance(page, PassSheet) else refusal_page(page)
    plain = page.card.to_plain() if isinstance(page, PassSheet) else page.to_plain()
    what = "template" if template else "pass"
    end = f"{what}-{page.card.pass_number}" if isinstance(page, PassSheet) else "no-pass"
    return _Made(
        text=text,
        end=end,
        plain={"is_card": is_card, "card": plain},
        picture=lambda kind: picture_of(kind, found.dossier, found),
        entered=found.entered,
        is_card=is_card,
    )


def file_stem(name: str) -> str:
    """Return a head's name as the start of a file name: letters, digits, - and _ alone."""
    return re.sub(r"[^A-Za-z0-9_-]+", "-", name).strip("-")[:60] or "head"
