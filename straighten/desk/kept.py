"""What the book keeps: plain forms of cards, stages and tightening logs, and the entries that go into it."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, replace
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Any

from pydantic import TypeAdapter, ValidationError

from straighten.belief.blades import StagedPass, StageLog, TighteningLog
from straighten.clamp.tightening_log import Reading, Weighed
from straighten.errors import BadInput, in_shell
from straighten.plan.records import PassSetup, setup_from_plain, setup_to_plain
from straighten.plan.slack import Gaps, SlackReading
from straighten.plan.stages import Stages
from straighten.readings import Readings, to_plain
from straighten.sheet.card import Card, RungLine
from straighten.sheet.plain import si

if TYPE_CHECKING:
    from straighten.book import Book, Entry, Kind
    from straighten.desk.dossier import Dossier
    from straighten.desk.planning import Planned


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


def card_in_hand(dossier: Dossier, where: str, so: str, otherwise: str = "") -> Entry:
    """Return the entry of the card that was printed since the last pass.

    Raises:
        BadInput: there is none; `where` names the command, `so` what is not known then, `otherwise` another way than to plan.
    """
    if dossier.planned is None:
        problem = f"no card was printed since the last pass, so {so}"
        fix = f"Plan first: straighten plan {in_shell(dossier.name)}{otherwise}"
        raise BadInput(problem, where=where, fix=fix)
    return dossier.planned


def in_mm(length: float | None) -> float | None:
    """Return a length [m] in mm; None where it was not told, and of a gap that no blade bounds."""
    return None if length is None or math.isinf(length) else 1e3 * length


def in_metres(length: float | None) -> float | None:
    """Return a length [mm] in m; None where it was not told."""
    return None if length is None else 1e-3 * length


def bracket(goes: float, stops: float | None) -> tuple[float, float]:
    """Return a gap [mm] as blades that go and do not [m], infinite where every blade goes."""
    return 1e-3 * goes, math.inf if stops is None else 1e-3 * stops


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
        "gaps": [
            {"place": place, "goes_mm": in_mm(found.low), "stops_mm": in_mm(found.high)}
            for place, found in (reading.gaps if reading is not None else ())
        ],
    }


def stage_of(entry: Entry) -> StageLog:
    """Return the stage of a book entry."""
    plain = entry.record
    gaps = tuple((gap["place"], Gaps(*bracket(gap["goes_mm"], gap["stops_mm"]))) for gap in plain["gaps"])
    return StageLog(
        number=plain["stage"],
        done=setup_from_plain(plain["done"]),
        reading=SlackReading(gaps=gaps, after=plain["after_s"]) if gaps else None,
        heat=plain["heat_J"],
        doubted=plain.get("doubted", False),  # entries of earlier versions do not say it
    )


def rungs_of(plain: Sequence[Mapping[str, Any]]) -> tuple[RungLine, ...]:
    """Return the ladder that a stage's answer wrote; the blades to try beside its lines are not kept."""
    told = [si({"goes": None, "stops": None, **rung}) for rung in plain]
    return TypeAdapter(tuple[RungLine, ...]).validate_python(told)


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


def sandings(entries: Iterable[Entry]) -> list[list[dict[str, Any]]]:
    """Return the runs of each sanding, one that readings ended followed by the next; the last is empty before its first run."""
    found: list[list[dict[str, Any]]] = [[]]
    for entry in entries:
        if entry.kind == "sand":
            found[-1].append(entry.record)
        elif found[-1] and (entry.kind == "survey" or entry.record.get("readings") is not None):
            found.append([])
    return found


def tightening_to_plain(
    setup: PassSetup, rounds: tuple[Reading, ...], load: Weighed | None
) -> dict[str, Any]:
    """Return a tightening log as JSON scalars."""
    return {
        "setup": setup_to_plain(setup),
        "rounds": [
            {"torque_Nm": r.torque, "goes_mm": in_mm(r.goes), "stops_mm": in_mm(r.does_not)} for r in rounds
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
            Reading(torque=r["torque_Nm"], goes=1e-3 * r["goes_mm"], does_not=in_metres(r["stops_mm"]))
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


# --- into the book: where it cannot take an entry `BookError` is raised, and nothing is recorded -------------------------


def keep_head(book: Book, dossier: Dossier) -> int:
    """Enter the head's file where the book does not hold this text yet, and return the entry's number."""
    latest = None if dossier.last is None else book.latest(dossier.name, "head")
    if latest is not None and latest.record.get("text") == dossier.text:
        return latest.number
    return book.append(dossier.name, "head", {"name": dossier.name, "text": dossier.text}).number


def record(book: Book, dossier: Dossier, kind: Kind, plain: dict[str, Any]) -> Entry:
    """Enter a record, computed from the head's file and every entry that counts."""
    with book.together():
        head = keep_head(book, dossier)
        return book.append(dossier.name, kind, plain, inputs=sorted({head, *dossier.inputs}))


def record_survey(book: Book, dossier: Dossier, readings: Readings) -> Entry:
    """Enter a survey."""
    with book.together():
        head = keep_head(book, dossier)
        return book.append(dossier.name, "survey", {"readings": to_plain(readings)}, inputs=[head])


def record_card(book: Book, dossier: Dossier, planned: Planned) -> None:
    """Enter the card that was printed, with the set-up it stands for; a refusal is entered as a check."""
    plain = planned.printed.to_plain()
    if planned.setup is None:
        record(book, dossier, "check", {"refusal": plain})
        return
    kept: dict[str, Any] = {"card": plain, "setup": setup_to_plain(planned.setup)}
    if planned.stages is not None:
        kept["stages"] = stages_to_plain(planned.stages)
    if planned.because:
        kept |= {"because": planned.because, "against": list(planned.against)}
    record(book, dossier, "plan", kept)


def record_pass(
    book: Book,
    dossier: Dossier,
    done: PassSetup,
    readings: Readings | None,
    outcome: dict[str, Any] | None,
    broke: tuple[str, ...] = (),
) -> Entry:
    """Enter what was done and the readings after it; the limits that it broke, in words, keep it out of the learning.

    Raises:
        BadInput: the head was never measured before.
    """
    if dossier.surveys[0] is None and not dossier.passes:
        raise BadInput(
            "a pass cannot be learned from without a survey before it",
            where="book",
            fix=f"Record one first: straighten measure {in_shell(dossier.name)} survey.toml",
        )
    kept = {"done": setup_to_plain(done), "readings": None if readings is None else to_plain(readings)}
    more = {"outcome": outcome, "broke": list(broke) or None}
    return record(book, dossier, "pass", kept | {key: told for key, told in more.items() if told is not None})


def reread(book: Book, dossier: Dossier) -> Dossier:
    """Return the dossier again after something was recorded."""
    from straighten.desk.dossier import read_dossier

    return read_dossier(book, dossier.name, dossier.text, dossier.name)


def closing(entries: Sequence[Entry]) -> Entry | None:
    """Return the final list that closed the job, or None where none did or something was measured or done since."""
    told = [e for e in entries if e.kind in ("survey", "pass", "sand", "finish")]
    return told[-1] if told and told[-1].kind == "finish" else None
