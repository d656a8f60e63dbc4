"""Commands about the end of the job: sand, finish."""

from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from straighten.cli.figures import FigureOption, looked_at, outgoing, write_figure
from straighten.cli.options import Because, BookOption, Json, Name, answer, note, reasoned
from straighten.errors import BadInput, in_shell


def sand(
    name: Name,
    *,
    goal: Annotated[
        Literal["limit", "clean-up"] | None,
        typer.Option("--goal", help="limit: inside the limit; clean-up: until all shines."),
    ] = None,
    surface: Annotated[
        Path | None, typer.Option("--surface", help="Survey or grade of the surface sanded on, TOML.")
    ] = None,
    log: Annotated[Path | None, typer.Option("--log", help="What was done and seen, TOML.")] = None,
    strokes: Annotated[
        int | None, typer.Option("--strokes", help="Strokes done, there and back: logs without a file.")
    ] = None,
    grit: Annotated[str | None, typer.Option("--grit", help="Paper of those strokes, such as P180.")] = None,
    sheets: Annotated[int | None, typer.Option("--sheets", help="Fresh sheets used.")] = None,
    cleaned: Annotated[
        float | None, typer.Option("--cleaned", help="Share of the face that shines now, per cent.")
    ] = None,
    gap: Annotated[
        str | None, typer.Option("--gap", help='Largest gap under the straightedge, such as "0.04-0.05".')
    ] = None,
    height: Annotated[
        str | None, typer.Option("--height", help="Overall height now, where it was measured before.")
    ] = None,
    figure: FigureOption = None,
    because: Because = "",
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Plan the sanding; with --log or --strokes record what was done, learn from it, give the next count."""
    from straighten.cli.paths import beside, desk_for
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
        if figure is not None:
            from straighten.sheet.sanding import TradePicture

            picture = TradePicture(rows=report.trade, allowed=report.allowed, system=report.system)
            write_figure(files, figure, picture)
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
        typer.Option("--answers", help="What only you can see: cam free, pressure test, ...; TOML."),
    ] = None,
    close: Annotated[bool, typer.Option("--close", help="Record the final state in the book.")] = False,
    because: Because = "",
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Print the final list with values to reach and boxes; --close records the final state."""
    from straighten.cli.paths import beside, desk_for
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
