"""What a pass is expected to do, in the one way that card, log, tightening and sheet tell it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from straighten.desk.job import noise_for
from straighten.desk.kept import stages_from_plain
from straighten.plan.forecast import forecast, roof_believed
from straighten.plan.loss import direction_of
from straighten.plan.records import setup_from_plain
from straighten.plan.search import draws_told
from straighten.plan.steering import steered_by_gaps

if TYPE_CHECKING:
    from straighten.belief.learn import Belief
    from straighten.desk.dossier import Dossier
    from straighten.plan.forecast import Forecast
    from straighten.plan.records import PassSetup
    from straighten.plan.stages import Stages


def foretold(dossier: Dossier, belief: Belief, setup: PassSetup, stages: Stages | None = None) -> Forecast:
    """Return what a set-up does to the head: as its card has it, steered by the gaps, where the card is followed.

    Args:
        dossier: the head before the pass, its card among the records.
        belief: before the pass.
        setup: what is done.
        stages: of a card that is not in the book.

    Source: `forecast`, `steered_by_gaps`.
    Valid: as there.
    """
    head, draws, few = dossier.head, belief.draws, draws_told(belief.draws)
    past = roof_believed(head, draws, dossier.done)
    seen = forecast(head, few, setup, noise_for(belief)[: few.weights.size], past)
    stages = stages or _followed(dossier, setup)
    if stages is None:
        return seen
    way = steered_by_gaps(head, few, stages, direction_of(draws.states, draws.weights), past)
    return replace(seen, after=way.after)


def _followed(dossier: Dossier, setup: PassSetup) -> Stages | None:
    """Return the card's clamping in stages where it is done as planned, stopped where its gaps said so; else None."""
    plain = None if dossier.planned is None else dossier.planned.record.get("stages")
    if dossier.planned is None or plain is None:
        return None
    stages = stages_from_plain(plain)
    if not dossier.stages:
        return stages if setup == setup_from_plain(dossier.planned.record["setup"]) else None
    as_planned = all(not log.done.spots or log.done == stages.stage(log.number) for log in dossier.stages)
    return stages if as_planned else None
