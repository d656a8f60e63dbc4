"""Stages of a pass in the form the book keeps."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from straighten.belief.staged import StagedPass, StageLog
from straighten.plan.records import PassSetup, setup_from_plain, setup_to_plain
from straighten.plan.slack import Gaps, SlackReading
from straighten.plan.stages import Stages

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straighten.book import Entry
    from straighten.desk.dossier import Dossier


def stages_to_plain(stages: Stages) -> dict[str, Any]:
    """Return a clamping in stages as JSON scalars."""
    return {
        "setup": setup_to_plain(stages.setup),
        "treatments_after_stage": list(stages.ends),
        "planned_treatments": stages.planned,
    }


def stages_from_plain(plain: dict[str, Any]) -> Stages:
    """Return the clamping that `stages_to_plain` wrote.

    Raises:
        BadInput: the record does not hold a set-up.
    """
    return Stages(
        setup=setup_from_plain(plain["setup"]),
        ends=tuple(plain["treatments_after_stage"]),
        planned=plain["planned_treatments"],
    )


def log_to_plain(log: StageLog) -> dict[str, Any]:
    """Return a stage as it was done and read as JSON scalars."""
    reading = log.reading
    return {
        "stage": log.number,
        "done": setup_to_plain(log.done),
        "heat_J": log.heat,
        "after_s": None if reading is None else reading.after,
        "gaps": []
        if reading is None
        else [
            {
                "place": place,
                "goes_mm": 1e3 * found.low,
                "stops_mm": None if math.isinf(found.high) else 1e3 * found.high,
            }
            for place, found in reading.gaps
        ],
    }


def stage_of(entry: Entry) -> StageLog:
    """Return the stage of a book entry."""
    plain = entry.record
    gaps = tuple(
        (
            gap["place"],
            Gaps(
                low=1e-3 * gap["goes_mm"],
                high=math.inf if gap["stops_mm"] is None else 1e-3 * gap["stops_mm"],
            ),
        )
        for gap in plain["gaps"]
    )
    return StageLog(
        number=plain["stage"],
        done=setup_from_plain(plain["done"]),
        reading=SlackReading(gaps=gaps, after=plain["after_s"]) if gaps else None,
        heat=plain["heat_J"],
    )


def all_done(logs: Sequence[StageLog]) -> PassSetup:
    """Return what the stages did together, as one pass in the clamp of the last that was heated."""
    heated = [log.done for log in logs if log.done.spots] or [logs[-1].done]
    return replace(heated[-1], spots=tuple(spot for done in heated for spot in done.spots))


def closed_stages(now: Dossier) -> Dossier:
    """Return the dossier with the stages in hand put to the pass that is logged next."""
    if not now.stages:
        return now
    one = StagedPass(number=len(now.passes), logs=now.stages)
    return replace(now, stages=(), retightened=None, staged=(*now.staged, one))
