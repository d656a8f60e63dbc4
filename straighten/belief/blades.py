"""What the blades find at a clamping teaches: rounds of a tightening, gaps between stages, as weights of the draws."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from straighten.belief.learn import LEAST_EFFECTIVE, Belief
from straighten.belief.posterior import effective_draws
from straighten.clamp import ClampSetup, section_of
from straighten.clamp.tightening_log import (
    Reading,
    Weighed,
    load_log_likelihood,
    log_likelihood,
    replay,
    within_cap,
)
from straighten.head.records import Head
from straighten.heat import FRESH, RoofState, Treatment
from straighten.plan.forecast import run_pass
from straighten.plan.records import PassSetup
from straighten.plan.slack import WARMTH_DOUBT, SlackReading, gap_of, reading_sd, warm_bow
from straighten.plan.stages import ONE_HAND, STAGE_DRAWS, after_stage, stage_draws, stage_noise
from straighten.quantiles import Floats, spread_along
from straighten.shape.modes import INDEX
from straighten.shape.moments import log_interval

FEW: Final = 0.1  # share of the draws: where fewer carry the weight they are taken anew before the next stage
LEAST_STAGED: Final = 40  # draws below which the gaps between stages and the belief contradict one another
SHARE_DRAWS: Final = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class StageLog:
    """One stage as it was done.

    Its `number` from 1, `done` with its own treatments alone (none: skipped), `reading` after it, `heat` put in [J].
    A `doubted` reading was so odd that it is kept but does not weigh.
    """

    number: int
    done: PassSetup
    reading: SlackReading | None = None
    heat: float = 0.0
    doubted: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StagedPass:
    """A pass done in stages and logged since: `number` of passes before it, its stages in order."""

    number: int
    logs: tuple[StageLog, ...]


def _taken(belief: Belief, count: int) -> Belief:
    """Return the belief with so many draws of equal weight, evenly along the bow: systematic resampling (derived)."""
    draws = belief.draws
    chosen = stage_draws(draws, count)
    return replace(
        belief, draws=draws.even(chosen), history=tuple(states[chosen] for states in belief.history)
    )


def with_stages(head: Head, belief: Belief, logs: Sequence[StageLog], past: RoofState = FRESH) -> Belief:
    """Return the belief after the stages of the clamping in hand.

    `belief` before the first stage; `past` what earlier passes have left in the roof.

    Source: Bayes' rule on draws carried forward; Gordon, Salmond, Smith, IEE Proc. F 140 (1993) 107 (from memory).
    Valid: While enough draws carry the weight; a caveat is added where they do not.
    """
    if not logs:
        return belief
    if belief.draws.weights.size > STAGE_DRAWS:
        belief = _taken(belief, STAGE_DRAWS)
    noise = stage_noise(belief.draws.weights.size)
    before: PassSetup | None = None
    for log in logs:
        if log.done.spots:
            belief, before = _stepped(head, belief, (log, before), noise[log.number - 1], past)
        if log.reading is not None:
            belief = heard(head, belief, log)
    if belief.effective >= LEAST_STAGED:
        return belief
    odd = "The gaps read between the stages do not fit the head as believed: check shims, blades and what was heated."
    return replace(belief, caveats=(*belief.caveats, odd))


def _stepped(
    head: Head, belief: Belief, which: tuple[StageLog, PassSetup | None], noise: Floats, past: RoofState
) -> tuple[Belief, PassSetup]:
    """Return the belief after the treatments of one stage, and all treatments up to its end."""
    log, before = which
    count = belief.draws.weights.size
    if effective_draws(belief.draws.weights) < FEW * count:
        belief = _taken(belief, count)
    whole = log.done if before is None else replace(log.done, spots=(*before.spots, *log.done.spots))
    draws = belief.draws
    states = after_stage(head, (draws.states, draws.response), whole, before, noise, past)
    moved = replace(belief, draws=replace(draws, states=states), history=(*belief.history[:-1], states))
    return moved, whole


def heard(head: Head, belief: Belief, log: StageLog) -> Belief:
    """Return the belief, its draws as they are after a stage, weighted with what the stage's blades found.

    Source: Bayes' rule; derived.
    """
    return belief.weighed(belief.logs + reading_log(head, log, belief.draws.states))


def reading_log(head: Head, log: StageLog, states: Floats, more: Floats | float = 0.0) -> Floats:
    """Return the log-probability of a stage's gaps for shapes after it, `(n,)`.

    `states` shapes after the stage `(n, 11)` [m]; `more` standard deviation beside the reading's own [m].

    Source: Interval-censored normal readings; derived.
    Valid: Gaps of one stage independent but for the roof's warmth, whose doubt is counted in each.
    """
    reading, total = log.reading, np.zeros(len(states))
    if reading is None or log.doubted:
        return total
    warm = 0.0 if reading.after is None else warm_bow(head, log.done.spots, log.heat, reading.after)
    for place, found in reading.gaps:
        gap = gap_of(head, log.done, states, place) + warm
        sd = np.hypot(np.hypot(reading_sd(place), WARMTH_DOUBT.value * warm), more)
        low = -np.inf if found.low <= 0 else found.low
        total = total + log_interval((low - gap) / sd, (found.high - gap) / sd)
    return total


def with_staged_passes(head: Head, belief: Belief, passes: int, staged: Sequence[StagedPass]) -> Belief:
    """Return the belief after passes whose stages were read: weights by the gaps, the shape between taken by shares.

    After its last stage a pass is learned from as one, so between its ends the shape is known by how much of the whole
    the physics gives to the stages so far, and by a bridge of the pass's own scatter.

    `passes` how many there are in all; `staged` those read in stages.

    Source: Brownian bridge between two known ends (derived).
    Valid: Shares of stages differ little from draw to draw.
    """
    for one in staged:
        at = len(belief.history) - 1 - (passes - one.number)
        if 0 <= at < len(belief.history) - 1:
            belief = _bridged(head, belief, at, one.logs)
    return belief


def _bridged(head: Head, belief: Belief, at: int, logs: tuple[StageLog, ...]) -> Belief:
    draws, before, after = belief.draws, belief.history[at], belief.history[at + 1]
    logs_of_weights = belief.logs
    for log, share in zip(logs, _shares(head, belief, at, logs), strict=True):
        way = gap_of(head, log.done, after, "middle") - gap_of(head, log.done, before, "middle")
        loose = draws.response.scatter * math.sqrt(1 - ONE_HAND.value)
        bridge = loose * np.abs(way) * np.sqrt(share * (1 - share))
        logs_of_weights = logs_of_weights + reading_log(head, log, before + share * (after - before), bridge)
    return belief.weighed(logs_of_weights)


def _shares(head: Head, belief: Belief, at: int, logs: tuple[StageLog, ...]) -> Floats:
    """Return which share of the whole set the physics gives to the stages up to each."""
    chosen = spread_along(belief.draws.weights, SHARE_DRAWS)
    states, response = belief.history[at][chosen], belief.draws.response.take(chosen)
    taken: list[float] = []
    spots: tuple[Treatment, ...] = ()
    for log in logs:
        spots = (*spots, *log.done.spots)
        whole = replace(log.done, spots=spots)
        _, relaxed = run_pass(head, section_of(head), states, response, whole)
        taken.append(float(relaxed.set_state[:, INDEX["deck_bow"]].mean()))
    whole_set = taken[-1] if taken and abs(taken[-1]) > 1e-9 else 1.0
    return np.clip(np.array(taken) / whole_set, 0.0, 1.0)


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

    Source: Bayes' rule on the draws: weight times likelihood of the log (derived).
    Valid: While enough draws stay effective; a caveat is added where they do not.
    """
    logs_of_weights = belief.logs
    for log in logs:
        readings = within_cap(head, log.setup, log.readings)
        played = replay(head, belief.history[log.stage], log.setup, belief.draws.response, readings)
        logs_of_weights = logs_of_weights + log_likelihood(played, readings)
        if log.load is not None and log.load.after <= len(readings):
            logs_of_weights = logs_of_weights + load_log_likelihood(played, log.load)
    belief = belief.weighed(logs_of_weights)
    if not logs or belief.effective >= LEAST_EFFECTIVE:
        return belief
    odd = "The tightening log does not fit the head as believed: check shims, torque wrench and blades."
    return replace(belief, caveats=(*belief.caveats, odd))
