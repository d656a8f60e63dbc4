"""Commands about the end of the job and its pages: sand, finish, sheet."""

import re
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer
from typer import Option

from straighten.cli.figures import FigureOption, looked_at, outgoing, refuse_taken, write_figure
from straighten.cli.options import (
    Because,
    BookOption,
    Force,
    Json,
    MaybeName,
    Name,
    beside,
    desk_for,
    desk_or_example,
    now,
    reasoned,
)
from straighten.cli.terminal import answer, busy, note
from straighten.errors import BadInput, in_shell

if TYPE_CHECKING:
    from straighten.book import Book
    from straighten.desk.dossier import Dossier
    from straighten.sheet.figures import Picture


def sand(
    name: Name,
    *,
    goal: Annotated[
        Literal["limit", "clean-up"] | None,
        Option("--goal", help="limit: inside the limit; clean-up: until all shines."),
    ] = None,
    surface: Annotated[
        Path | None, Option("--surface", help="Survey or grade of the surface sanded on, TOML.")
    ] = None,
    log: Annotated[Path | None, Option("--log", help="What was done and seen, TOML.")] = None,
    strokes: Annotated[
        int | None, Option("--strokes", help="Strokes done, there and back: logs without a file.")
    ] = None,
    grit: Annotated[str | None, Option("--grit", help="Paper of those strokes, such as P180.")] = None,
    sheets: Annotated[int | None, Option("--sheets", help="Fresh sheets used.")] = None,
    cleaned: Annotated[
        float | None, Option("--cleaned", help="Share of the face that shines now, per cent.")
    ] = None,
    gap: Annotated[
        str | None, Option("--gap", help='Largest gap under the straightedge, such as "0.04-0.05".')
    ] = None,
    height: Annotated[
        str | None, Option("--height", help="Overall height now, where it was measured before.")
    ] = None,
    figure: FigureOption = None,
    because: Because = "",
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Plan the sanding; with --log or --strokes record what was done, learn from it, give the next count."""
    from straighten.desk.job import Job
    from straighten.desk.sanding import Asked, sand_report
    from straighten.sheet.sanding import sanding_text

    typed = _typed(strokes=strokes, grit=grit, sheets=sheets, cleaned=cleaned, gap=gap, height=height)
    if log is not None and typed:
        raise BadInput("a log file and typed strokes at once", where="--log", fix="Give one of them.")
    asked = Asked(
        goal=goal,
        surface=None if surface is None else beside(name, surface),
        log=None if log is None else beside(name, log),
        typed=typed,
        because=reasoned(because),
    )
    looked_at(figure)
    with desk_for(name, book) as (opened, dossier), outgoing() as files, opened.together():
        report = sand_report(opened, Job(dossier), asked)
        write_figure(files, figure, lambda: report)
    answer(report.to_plain(), sanding_text(report), as_json=as_json)
    if report.entry is not None:
        note(f"Recorded as entry {report.entry}.")
    if report.state == "go on":
        again = "" if surface is None or report.entry is not None else f" --surface {in_shell(str(surface))}"
        command = f"straighten sand {in_shell(name)}{again}"
        note(f"Next: {command} --log FILE.toml, or {command} --strokes N --grit P --cleaned PERCENT")
    else:
        note(
            f"Next: straighten measure {in_shell(name)} survey.toml, then straighten finish {in_shell(name)}"
        )


def _typed(**given: Any) -> dict[str, Any]:
    """Return the typed log under the keys of a log file; empty where nothing was typed."""
    words = {"cleaned": "cleaned_percent"}
    found = {words.get(key, key): value for key, value in given.items() if value is not None}
    if not found:
        return {}
    for key in ("strokes", "grit"):
        if key not in found:
            raise BadInput(
                f"--{key} is missing", where="sand", fix="A log needs at least --strokes and --grit."
            )
    if "height" in found:
        found["heights"] = {"anywhere": found.pop("height")}
    return found


def finish(
    name: Name,
    *,
    answers: Annotated[
        Path | None,
        Option("--answers", help="What only you can see: cam free, pressure test, ...; TOML."),
    ] = None,
    close: Annotated[bool, Option("--close", help="Record the final state in the book.")] = False,
    because: Because = "",
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Print the final list with values to reach and boxes; --close records the final state."""
    from straighten.desk.finishing import answers_of, finish_report
    from straighten.desk.job import Job
    from straighten.sheet.verdict import finish_text

    told = {} if answers is None else answers_of(beside(name, answers))
    with desk_for(name, book) as (opened, dossier):
        report = finish_report(opened, Job(dossier), told, close=close, because=reasoned(because))
    answer(report.to_plain(), finish_text(report), as_json=as_json)
    if report.entry is not None:
        note(f"Recorded as entry {report.entry}.")
    elif report.judgement["next"] == "finish":
        note(f"Next: straighten finish {in_shell(name)} --answers FILE.toml --close")


PassOption = Annotated[int | None, Option("--pass", min=1, help="An earlier pass, as it was planned.")]
OutOption = Annotated[
    Path | None, Option("--out", metavar="FILE.html", help="Where to write; default NAME-pass-N.html.")
]
ReportOption = Annotated[
    bool, Option("--report", help="The whole job for a customer instead of a pass card.")
]
FIGURES = ("bow", "spots", "tightening", "passes", "stop")
ShowOption = Annotated[
    str | None,
    Option("--show", metavar="WHICH", help=f"Which figure: {', '.join(FIGURES)}; left out: {FIGURES[0]}."),
]


def sheet(
    name: MaybeName = None,
    pass_number: PassOption = None,
    out: OutOption = None,
    report: ReportOption = False,
    template: Annotated[
        bool,
        Option("--template", help="The roof in its own size, with the places to heat, to lay on the head."),
    ] = False,
    whole: Annotated[
        bool,
        Option("--all", help="With --report: the shop's own, with settings, doubts, prices and sources."),
    ] = False,
    figure: FigureOption = None,
    show: ShowOption = None,
    force: Force = False,
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
        desk_or_example(name, book) as (opened, dossier),
        outgoing() as files,
        nullcontext() if opened is None else opened.together(),
        busy("writing the page"),
    ):
        made = (
            _report(opened, dossier, whole=whole)
            if report
            else _card(opened, dossier, pass_number, template=template)
        )
        path = out or Path(f"{file_stem(dossier.name)}-{made.end}.html")
        files.put(path, made.text, force=force)
        write_figure(files, figure, lambda: made.picture(show or FIGURES[0]))
    if made.entered:
        note(made.entered)
    wrote = [str(file) for file in (path, figure) if file is not None]
    plain = {"schema": "straighten/sheet/1", "files": wrote, **made.plain}
    answer(plain, "\n".join(f"wrote {file}" for file in wrote), as_json=as_json)


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

    `entered` what is told where its card was planned and put into the book just now.
    """

    text: str
    end: str
    plain: dict[str, Any]
    picture: "Callable[[str], Picture]"
    entered: str = ""


def _report(book: "Book | None", dossier: "Dossier", *, whole: bool) -> _Made:
    from straighten.desk.pictures import picture_of
    from straighten.desk.reporting import job_report
    from straighten.sheet.verdict import report_page

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
    from straighten.desk.planning import earlier_sheet, next_sheet
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
    if isinstance(page, PassSheet):
        text, plain = (template_page if template else pass_page)(page), page.card.to_plain()
        end = f"{'template' if template else 'pass'}-{page.card.pass_number}"
        entered = "Planned now and entered in the book."
    else:
        text, plain, end = refusal_page(page), page.to_plain(), "no-pass"
        entered = "No pass is planned; the refusal is entered in the book."
    return _Made(
        text=text,
        end=end,
        plain={"is_card": isinstance(page, PassSheet), "card": plain},
        picture=lambda kind: picture_of(kind, found.dossier, found),
        entered=entered if found.entered else "",
    )


def file_stem(name: str) -> str:
    """Return a head's name as the start of a file name: letters, digits, - and _ alone."""
    return re.sub(r"[^A-Za-z0-9_-]+", "-", name).strip("-")[:60] or "head"
