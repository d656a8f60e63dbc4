"""A tightening log in the form the book keeps."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from straighten.belief.tightened import TighteningLog
from straighten.clamp.tightening_log import Reading
from straighten.plan.records import PassSetup, setup_from_plain, setup_to_plain

if TYPE_CHECKING:
    from straighten.book import Entry


def log_to_plain(
    setup: PassSetup, rounds: tuple[Reading, ...], load: tuple[float, float] | None
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
        "load_N": None if load is None else load[0],
        "load_doubt_N": None if load is None else load[1],
    }


def tightening_of(entry: Entry, stage: int) -> TighteningLog | None:
    """Return the tightening log of a book entry, or None where its set-up had no clamp."""
    plain = entry.record
    clamp = setup_from_plain(plain["setup"]).clamp
    if clamp is None:
        return None
    load = plain["load_N"]
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
        load=None if load is None else (load, plain["load_doubt_N"]),
    )
