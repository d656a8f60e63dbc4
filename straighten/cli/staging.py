"""Command `stage`: one stage of a pass done, the gap read in the clamp, and what to do next."""

from pathlib import Path
from typing import Annotated

import typer

from straighten.cli.options import BookOption, Json, Name, answer, note

Gap = str | None


def stage(
    name: Name,
    gap: Annotated[Gap, typer.Option(help="Gap in the middle at either edge, like 0.30-0.35.")] = None,
    exhaust: Annotated[Gap, typer.Option(help="Gap in the middle of the exhaust edge.")] = None,
    inlet: Annotated[Gap, typer.Option(help="Gap in the middle of the inlet edge.")] = None,
    centre: Annotated[Gap, typer.Option(help="Gap in the middle of the centre line.")] = None,
    after: Annotated[
        str | None, typer.Option(help="Time since the last flame, like '90 s'; left out: it was cool.")
    ] = None,
    done: Annotated[
        Path | None, typer.Option("--done", help="Set-up file of what was done differently.")
    ] = None,
    skip: Annotated[bool, typer.Option("--skip", help="This stage is left out.")] = False,
    again: Annotated[bool, typer.Option("--again", help="The last stage, read once more.")] = False,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Log one stage of the pass with the gap read on slack nuts; says go on, skip or stop."""
    from straighten.cli.opened import beside, desk_for
    from straighten.desk.staging import StageAsked, stage_done
    from straighten.sheet.stage import stage_text

    typed = {
        "middle": gap, "exhaust": exhaust, "inlet": inlet, "centre": centre,
    }  # fmt: skip
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
        note(f"Next: release it cold, measure, then straighten log {dossier.name} survey.toml")
