"""Command `tighten`: log torque and gap round by round."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from straighten.cli.figures import FigureOption, Outgoing, looked_at, outgoing, write_figure
from straighten.cli.options import BookOption, Json, Name, answer, note, spelled
from straighten.errors import BadInput

if TYPE_CHECKING:
    from straighten.book import Book
    from straighten.desk.dossier import Dossier
    from straighten.desk.tightening import Logged
    from straighten.sheet.tightening import TighteningReport


def tighten(
    name: Name,
    log: Annotated[
        Path | None, typer.Argument(metavar="LOG", help="Tightening file with all rounds so far.")
    ] = None,
    torque: Annotated[str | None, typer.Option(help="Torque of one more round, like '20 Nm'.")] = None,
    goes: Annotated[str, typer.Option(help="Largest blade that goes in the middle after it.")] = "0",
    stops: Annotated[str | None, typer.Option(help="Smallest blade that does not.")] = None,
    again: Annotated[
        bool, typer.Option("--again", help="Begin the log anew: slackened and started over.")
    ] = False,
    figure: FigureOption = None,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Log a tightening round by round; says go on, hold or stop, and the next torque."""
    from straighten.cli.paths import beside, desk_for
    from straighten.desk.recording import reread
    from straighten.desk.tightening import Logged, logged_so_far, one_more, read_log

    looked_at(figure)
    with desk_for(name, book) as (opened, dossier):
        logged = Logged() if again else logged_so_far(dossier)
        if log is not None:
            logged = read_log(beside(name, log), dossier)
        if torque is not None:
            logged = one_more(opened, dossier, logged, (torque, goes, stops))
        elif log is None and sys.stdin.isatty() and not as_json:
            _walk(opened, dossier, logged)
            if figure is not None:
                with outgoing() as files:
                    _draw(files, figure, dossier, logged_so_far(reread(opened, dossier)))
            return
        elif log is None:
            raise BadInput(
                "no round to log",
                where="tighten",
                fix="Give a log file, or --torque with --goes and --stops; at a terminal you are asked.",
            )
        with outgoing() as files, opened.together():
            report = _kept(opened, dossier, logged)
            if figure is not None:
                _draw(files, figure, dossier, logged)
    _print(report, as_json=as_json)


def _draw(files: Outgoing, figure: Path, dossier: "Dossier", logged: "Logged") -> None:
    from straighten.desk.pictures import logged_picture

    write_figure(files, figure, logged_picture(dossier, logged))


def _kept(book: "Book", dossier: "Dossier", logged: "Logged") -> "TighteningReport":
    from straighten.desk.kept import tightening_to_plain
    from straighten.desk.recording import record
    from straighten.desk.tightening import planned_setup, tightening_report

    report = tightening_report(dossier, logged)
    plain = tightening_to_plain(planned_setup(dossier), logged.rounds, logged.load)
    record(book, dossier, "tighten", plain)
    return report


def _print(report: "TighteningReport", *, as_json: bool) -> None:
    from straighten.sheet.tightening import tightening_text

    answer(report.to_plain(), tightening_text(report), as_json=as_json)


def _walk(book: "Book", dossier: "Dossier", logged: "Logged") -> None:
    """Ask for one round after the other until the gap is reached or the person stops."""
    from straighten.desk.tightening import LINE, one_more, round_parts, tightening_report

    report = tightening_report(dossier, logged)  # nothing is entered before there is a round
    _print(report, as_json=False)
    while report.verdict == "go on":
        typed = typer.prompt(spelled(f"{LINE} (or stop)", sys.stdout), default="stop", show_default=False)
        if typed.strip().lower() == "stop":
            note("Kept so far; go on with: straighten tighten " + dossier.name)
            return
        try:
            logged = one_more(book, dossier, logged, round_parts(typed))
        except BadInput as fault:
            note(f"{fault} Ask again.")
            continue
        report = _kept(book, dossier, logged)
        _print(report, as_json=False)
