"""Commands about the passes: plan, tighten, stage, log, decide, try, explain."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from typer import Argument, Option

from straighten.cli.figures import FigureOption, Outgoing, looked_at, outgoing, write_figure
from straighten.cli.options import (
    Because,
    BookOption,
    Json,
    MaybeName,
    Name,
    beside,
    desk_for,
    desk_or_example,
    head_file,
    now,
    reasoned,
    remember_searches,
)
from straighten.cli.terminal import answer, busy, note, spelled
from straighten.errors import BadInput, in_shell

if TYPE_CHECKING:
    from straighten.book import Book
    from straighten.desk.dossier import Dossier
    from straighten.desk.logging import Logged
    from straighten.desk.planning import Planned
    from straighten.sheet.setups import TighteningReport


def plan(
    name: MaybeName = None,
    survey: Annotated[Path | None, Option("--survey", help="Plan from this file, record nothing.")] = None,
    because: Because = "",
    whole: Annotated[
        bool, Option("--all", help="Print cautions, reasons, doubts and what was assumed, too.")
    ] = False,
    figure: FigureOption = None,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Print the card of the next pass."""
    from straighten.desk.job import Job
    from straighten.desk.kept import record_card
    from straighten.desk.planning import plan_card

    looked_at(figure)
    if name is None or survey is not None:
        dossier = _unbooked(name, survey)
        remember_searches(book)
        planned = plan_card(Job(dossier), now(), because=reasoned(because), ahead=whole or as_json)
        with outgoing() as files:
            _draw_plan(files, figure, dossier, planned)
    else:
        with desk_for(name, book) as (opened, dossier):
            with busy("planning the pass"):
                planned = plan_card(Job(dossier), now(), because=reasoned(because), ahead=whole or as_json)
            with outgoing() as files, opened.together():
                record_card(opened, dossier, planned)
                _draw_plan(files, figure, dossier, planned)
    from straighten.sheet.card_text import printed_text

    answer(planned.printed.to_plain(), printed_text(planned.printed, whole=whole), as_json=as_json)


def _draw_plan(files: Outgoing, figure: Path | None, dossier: Dossier, planned: Planned) -> None:
    from straighten.desk.pictures import bow_picture

    setup = planned.setup
    if setup is not None:
        write_figure(files, figure, lambda: bow_picture(dossier, setup))
    elif figure is not None:
        note(f"{figure} not written: no pass is planned, so there is nothing to draw.")


def _unbooked(name: str | None, survey: Path | None) -> Dossier:
    """Return a dossier from files alone: the program's own example, or a head file with a survey."""
    from straighten.desk.dossier import default_dossier, loose_dossier
    from straighten.filecheck import load_text

    if survey is None:
        return default_dossier()
    if name is None:
        raise BadInput(
            f"{survey} is the survey of which head?",
            where="NAME",
            fix=f"Name the head or its file first: straighten plan NAME --survey {survey}",
        )
    path = head_file(name)
    if path is None:
        raise BadInput(
            f"no head file {name}/head.toml or {name}.toml here",
            where="NAME",
            fix="Check the name and the folder: with --survey the head is read from its file, not from the book.",
        )
    return loose_dossier(load_text(path), str(path), beside(name, survey))


def log(
    name: Name,
    survey: Annotated[Path | None, Argument(metavar="SURVEY", help="Readings after the pass.")] = None,
    done: Annotated[Path | None, Option("--done", help="Set-up file of what was really done.")] = None,
    read_again: Annotated[
        bool,
        Option("--read-again", help="Readings that look like those before the pass were taken after it."),
    ] = False,
    figure: FigureOption = None,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Record what was done and the readings after it; the next plan learns from it."""
    from straighten.desk.job import Job
    from straighten.desk.kept import reread
    from straighten.desk.logging import log_pass
    from straighten.desk.pictures import passes_picture
    from straighten.sheet.learned import log_text

    looked_at(figure)
    path = None if survey is None else beside(name, survey)
    done_path = None if done is None else beside(name, done)
    with desk_for(name, book) as (opened, dossier), outgoing() as files, opened.together(), busy("learning"):
        report = log_pass(opened, dossier, path, done_path, read_again=read_again)
        then = reread(opened, dossier)
        judgement = Job(then).judgement
        write_figure(files, figure, lambda: passes_picture(then))
    answer({**report.to_plain(), "judgement": judgement.to_plain()}, log_text(report), as_json=as_json)
    note(f"{judgement.choice.capitalize()}: {judgement.reason}")
    note(f"Next: {judgement.command}")


def decide(name: Name, figure: FigureOption = None, book: BookOption = None, as_json: Json = False) -> None:
    """Say whether to heat again, sand now, or stop and hand the head on."""
    from straighten.desk.deciding import decision_report
    from straighten.desk.job import Job
    from straighten.desk.kept import record
    from straighten.sheet.decision import StopPicture, decision_text

    looked_at(figure)
    with desk_for(name, book) as (opened, dossier):
        with busy("weighing what comes next"):
            report = decision_report(Job(dossier))
        with outgoing() as files, opened.together():
            record(opened, dossier, "decision", report.to_plain())
            write_figure(files, figure, lambda: StopPicture.of(report.to_plain()))
    answer(report.to_plain(), decision_text(report), as_json=as_json)
    note(f"Next: {report.command}")


def try_(
    setup: Annotated[Path, Argument(metavar="SETUP", help="Set-up file, TOML; names its head file.")],
    as_json: Json = False,
) -> None:
    """Say what a set-up of your own would do; nothing is recorded."""
    from straighten.desk.physics import try_setup
    from straighten.sheet.setups import trial_text

    with busy("trying it"):
        report = try_setup(setup)
    answer(report.to_plain(), trial_text(report), as_json=as_json)


def explain(name: MaybeName = None, book: BookOption = None, as_json: Json = False) -> None:
    """Show the formulas with this head's numbers, the priors with their reasons, the sources."""
    from straighten.desk.physics import explain as explained
    from straighten.sheet.learned import explanation_text

    with desk_or_example(name, book) as (_, dossier):
        found = explained(dossier)
    answer(found.to_plain(), explanation_text(found), as_json=as_json)


Gap = str | None


def stage(
    name: Name,
    gap: Annotated[Gap, Option(help="Gap in the middle at either edge, like 0.30-0.35.")] = None,
    exhaust: Annotated[Gap, Option(help="Gap in the middle of the exhaust edge.")] = None,
    inlet: Annotated[Gap, Option(help="Gap in the middle of the inlet edge.")] = None,
    centre: Annotated[Gap, Option(help="Gap in the middle of the centre line.")] = None,
    after: Annotated[
        str | None, Option(help="Time since the last flame, like '90 s'; left out: it was cool.")
    ] = None,
    done: Annotated[Path | None, Option("--done", help="Set-up file of what was done differently.")] = None,
    skip: Annotated[bool, Option("--skip", help="This stage is left out.")] = False,
    again: Annotated[bool, Option("--again", help="The last stage, read once more.")] = False,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Log one stage of the pass with the gap read on slack nuts; says go on, skip or stop."""
    from straighten.desk.staging import StageAsked, stage_done
    from straighten.sheet.learned import stage_text

    typed = {"middle": gap, "exhaust": exhaust, "inlet": inlet, "centre": centre}
    with desk_for(name, book) as (opened, dossier):
        asked = StageAsked(
            gaps={place: text for place, text in typed.items() if text is not None},
            after=after,
            done=None if done is None else beside(name, done),
            skip=skip,
            again=again,
        )
        report = stage_done(opened, dossier, asked)
    answer(report.to_plain(), stage_text(report), as_json=as_json)
    if report.do == 0:
        note(f"Next: release it cold, measure, then straighten log {in_shell(dossier.name)} survey.toml")


def tighten(
    name: Name,
    log: Annotated[
        Path | None, Argument(metavar="LOG", help="Tightening file with all rounds so far.")
    ] = None,
    torque: Annotated[str | None, Option(help="Torque of one more round, like '20 Nm'.")] = None,
    goes: Annotated[str, Option(help="Largest blade that goes in the middle after it.")] = "0",
    stops: Annotated[str | None, Option(help="Smallest blade that does not.")] = None,
    again: Annotated[bool, Option("--again", help="Begin the log anew: slackened and started over.")] = False,
    figure: FigureOption = None,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Log a tightening round by round; says go on, hold or stop, and the next torque."""
    from straighten.desk.kept import reread
    from straighten.desk.logging import Logged, logged_so_far, read_log, record_rounds
    from straighten.desk.pictures import logged_picture
    from straighten.desk.typed import one_more

    looked_at(figure)
    with desk_for(name, book) as (opened, dossier):
        logged = Logged() if again else logged_so_far(dossier)
        if log is not None:
            logged = read_log(beside(name, log), dossier)
        if torque is not None:
            logged = one_more(opened, dossier, logged, (torque, goes, stops))
        elif log is None and sys.stdin.isatty() and not as_json:
            _walk(opened, dossier, logged)
            with outgoing() as files:
                write_figure(
                    files, figure, lambda: logged_picture(dossier, logged_so_far(reread(opened, dossier)))
                )
            return
        elif log is None:
            raise BadInput(
                "no round to log",
                where="tighten",
                fix="Give a log file, or --torque with --goes and --stops; at a terminal you are asked.",
            )
        with outgoing() as files, opened.together(), busy("working out the next torque"):
            report = record_rounds(opened, dossier, logged)
            write_figure(files, figure, lambda: logged_picture(dossier, logged))
    _print(report, as_json=as_json)


def _print(report: TighteningReport, *, as_json: bool) -> None:
    from straighten.sheet.setups import tightening_text

    answer(report.to_plain(), tightening_text(report), as_json=as_json)


def _walk(book: Book, dossier: Dossier, logged: Logged) -> None:
    """Ask for one round after the other until the gap is reached or the person stops."""
    from straighten.desk.logging import record_rounds, tightening_report
    from straighten.desk.typed import LINE, one_more, round_parts

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
        report = record_rounds(book, dossier, logged)
        _print(report, as_json=False)
