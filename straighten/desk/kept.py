"""What the book keeps, in its plain form and back as records: cards, stages of a pass, tightening logs."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Any

from pydantic import TypeAdapter, ValidationError

from straighten.belief.staged import StagedPass, StageLog
from straighten.belief.tightened import TighteningLog
from straighten.clamp.tightening_log import Reading, Weighed
from straighten.plan.records import PassSetup, setup_from_plain, setup_to_plain
from straighten.plan.slack import Gaps, SlackReading
from straighten.plan.stages import Stages
from straighten.sheet.card import Card, RungIf, RungLine
from straighten.sheet.plain import Range, si

if TYPE_CHECKING:
    from straighten.book import Entry
    from straighten.desk.dossier import Dossier

_RAW = ("judgement", "heat_cost")  # plain in the card itself


@cache
def _cards() -> TypeAdapter[Card]:
    return TypeAdapter(Card)


def card_from_plain(plain: dict[str, Any]) -> Card:
    """Return the card that `Card.to_plain` wrote; keys that it does not know are left alone.

    A line of words that cards of earlier versions did not have is empty.

    Raises:
        ValueError: a part is missing or not of its kind.
    """
    empty = {field.name: "" for field in fields(Card) if field.type == "str"}
    told = si({key: value for key, value in plain.items() if key not in _RAW})
    raw = {key: plain[key] for key in _RAW if key in plain}
    try:
        made = _cards().validate_json(json.dumps({**empty, **told, **raw}), strict=True)
    except ValidationError as fault:
        raise ValueError(f"no card: {fault.errors()[0]['loc']}: {fault.errors()[0]['msg']}") from None
    for at in (made.made_at, made.ready_at, made.unclamp_at):
        if at:
            datetime.fromisoformat(at)
    return made


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


def stage_to_plain(log: StageLog) -> dict[str, Any]:
    """Return a stage as it was done and read as JSON scalars."""
    reading = log.reading
    return {
        "stage": log.number,
        "done": setup_to_plain(log.done),
        "heat_J": log.heat,
        "after_s": None if reading is None else reading.after,
        "doubted": log.doubted,
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
        doubted=plain.get("doubted", False),  # entries of earlier versions do not say it
    )


def rungs_of(plain: Sequence[Mapping[str, Any]]) -> tuple[RungLine, ...]:
    """Return the ladder that a stage's answer wrote; the blades to try beside its lines are not kept."""
    return tuple(
        RungLine(
            number=rung["number"],
            places=tuple(rung["places"]),
            gap=Range(*(1e-3 * gap for gap in rung["gap_mm"])),
            goes=None,
            stops=None,
            lines=tuple(
                RungIf(goes=None if line["goes_mm"] is None else 1e-3 * line["goes_mm"], do=line["do"])
                for line in rung["lines"]
            ),
        )
        for rung in plain
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


def tightening_to_plain(
    setup: PassSetup, rounds: tuple[Reading, ...], load: Weighed | None
) -> dict[str, Any]:
    """Return a tightening log as JSON scalars."""
    return {
        "setup": setup_to_plain(setup),
        "rounds": [
            {
                "torque_Nm": r.torque,
                "goes_mm": 1e3 * r.goes,
                "stops_mm": None if r.does_not is None else 1e3 * r.does_not,
            }
            for r in rounds
        ],
        "load_N": None if load is None else load.load,
        "load_doubt_N": None if load is None else load.doubt,
        "load_after_rounds": None if load is None else load.after,
    }


def tightening_of(entry: Entry, stage: int) -> TighteningLog | None:
    """Return the tightening log of a book entry, or None where its set-up had no clamp."""
    plain = entry.record
    clamp = setup_from_plain(plain["setup"]).clamp
    if clamp is None:
        return None
    return TighteningLog(
        stage=stage,
        setup=clamp,
        readings=tuple(
            Reading(
                torque=r["torque_Nm"],
                goes=1e-3 * r["goes_mm"],
                does_not=None if r["stops_mm"] is None else 1e-3 * r["stops_mm"],
            )
            for r in plain["rounds"]
        ),
        load=_weighed(plain),
    )


def _weighed(plain: Mapping[str, Any]) -> Weighed | None:
    if plain["load_N"] is None or not plain["rounds"]:
        return None
    # Entries from before the round was kept hold loads weighed after their last.
    after = plain.get("load_after_rounds") or len(plain["rounds"])
    return Weighed(load=plain["load_N"], doubt=plain["load_doubt_N"], after=after)
