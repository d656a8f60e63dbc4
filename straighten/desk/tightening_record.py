"""A tightening log in the form the book keeps."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from straighten.belief.tightened import TighteningLog
from straighten.clamp.tightening_log import Reading, Weighed
from straighten.plan.records import PassSetup, setup_from_plain, setup_to_plain

if TYPE_CHECKING:
    from collections.abc import Mapping

    from straighten.book import Entry


def log_to_plain(setup: PassSetup, rounds: tuple[Reading, ...], load: Weighed | None) -> dict[str, Any]:
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
