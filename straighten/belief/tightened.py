"""What a tightening log teaches: draws reweighted by how well they explain gap against torque."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from straighten.belief.posterior import effective_draws
from straighten.clamp.tightening_log import load_log_likelihood, log_likelihood, replay, within_cap

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.belief.learn import Belief
    from straighten.clamp import ClampSetup
    from straighten.clamp.tightening_log import Reading, Weighed
    from straighten.head.records import Head

    Floats = NDArray[np.float64]

LEAST_EFFECTIVE = 60  # draws below which the log and the rest of the belief contradict one another


@dataclass(frozen=True, slots=True, kw_only=True)
class TighteningLog:
    """One logged tightening.

    `stage` passes done before it; `setup` shims, bolts, wanted gap; `readings` in order; `load` weighed or jacked
    after one of them, or None.
    """

    stage: int
    setup: ClampSetup
    readings: tuple[Reading, ...]
    load: Weighed | None = None


def with_tightenings(head: Head, belief: Belief, logs: tuple[TighteningLog, ...]) -> Belief:
    """Return the belief after tightening logs.

    Torque and gap tell the product of stiffness and friction only; a weighed load parts the two. Rounds over the most
    torque the bolts may have teach nothing.

    Args:
        head: the head.
        belief: draws with their shapes at every stage.
        logs: in any order.

    Source: Bayes' rule on the draws: weight times likelihood of the log (derived).
    Valid: While enough draws stay effective; a caveat is added where they do not.
    """
    draws = belief.draws
    logs_of_weights = np.log(draws.weights + 1e-300)
    for log in logs:
        readings = within_cap(head, log.setup, log.readings)
        played = replay(head, belief.history[log.stage], log.setup, draws.response, readings)
        logs_of_weights = logs_of_weights + log_likelihood(played, readings)
        if log.load is not None and log.load.after <= len(readings):
            logs_of_weights = logs_of_weights + load_log_likelihood(played, log.load)
    weights = np.exp(logs_of_weights - logs_of_weights.max())
    weights /= weights.sum()
    effective = effective_draws(weights)
    caveats = belief.caveats
    if logs and effective < LEAST_EFFECTIVE:
        caveats = (
            *caveats,
            "The tightening log does not fit the head as believed: check shims, torque wrench and blades.",
        )
    return replace(belief, draws=replace(draws, weights=weights), effective=effective, caveats=caveats)
