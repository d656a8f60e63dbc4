"""What a set-up is worth: its expected loss as it is steered, its chances, and whether it is mild and hard enough."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.plan.alternatives import Candidate
from straighten.plan.forecast import PLACE_LUCK, bumps_of, luck_again
from straighten.plan.loss import (
    LOST,
    MOST_OVERSHOOT,
    PASS,
    TIME_LOSS,
    chances,
    losses,
    ratios,
    settled,
)
from straighten.plan.stages import stages_of
from straighten.plan.steering import past_after_first, rough_path, steered
from straighten.shape.modes import INDEX
from straighten.sobol import sobol_normal
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from straighten.clamp import Clamped
    from straighten.head.records import Head
    from straighten.heat import RoofState, Treatment
    from straighten.plan.forecast import Forecast
    from straighten.plan.records import Done, Draws, PassSetup
    from straighten.quantiles import Floats

FIRST_PASS_OVER_BEND: Final = Cited(
    0.25,
    "of the bow",
    "over-bend of a first pass, which measures what the head keeps",
    "common practice, no source",
)
LEAST_OVER_BEND: Final = 0.05e-3  # m: one blade is always allowed
FIRST_PASS_SHARE: Final = Cited(
    0.90, "of the bow", "a first pass is expected to take no more", "common practice, no source"
)
LEAST_FIRST: Final = Cited(0.05, "", "of what is out, by a first pass: it also teaches", "assumed")
NEARLY_LOST: Final = 0.9
LUCK_SEED: Final = 29
LEAST_CHANCE: Final = Cited(
    0.2, "", "added to the chance that the job is done: so much is worth a pass that takes less", "assumed"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked: the head, a few draws with their noise, which way, what was done before and what it left in the roof."""

    head: Head
    draws: Draws
    noise: Floats
    direction: int
    done: Done
    past: RoofState


def weighed_ones(ask: Question, seen: Iterable[tuple[Forecast, PassSetup]]) -> list[Candidate]:
    """Return what the set-ups are worth that stay hard, and mild where it is the first pass; their clamps are `gentle`."""
    found = []
    for foreseen, setup in seen:
        fit = _is_mild(ask, foreseen, setup) and not too_soft(ask.head, foreseen, setup)
        if fit and (one := _weighed(ask, setup, foreseen)):
            found.append(one)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Where a head stands before a pass: how far from done it is, as `how_far`, and the chance that it is done."""

    out: float
    done: float

    def share(self, gain: float) -> str:
        """Return a gain as a share of what the head is out, in words."""
        return f"{100 * gain / self.out:.1f} %" if self.out else "0 %"


def stand_of(ask: Question) -> Stand:
    """Return where the head stands now."""
    states, weights = ask.draws.states, ask.draws.weights
    done = chances(ask.head, states, weights, ask.direction).done
    return Stand(out=how_far(ask.head, states, weights), done=done)


def allowed(one: Candidate, now: Stand) -> bool:
    """Whether a set-up stays short of overshooting and brings the head nearer to done."""
    return one.chances.overshoot <= MOST_OVERSHOOT.value and one.out < now.out


def worth_a_pass(ask: Question, one: Candidate, now: Stand) -> bool:
    """Whether a set-up is likely enough to end the job, or brings the head nearer to done by `least_gain`."""
    return one.chances.done >= now.done + LEAST_CHANCE.value or now.out - one.out >= least_gain(ask, one, now)


def least_gain(ask: Question, one: Candidate, now: Stand) -> float:
    """Return how much nearer to done a pass must bring the head, in what is allowed.

    At its rate the passes still missing must cost less than a lost job; a first pass also teaches what heat does.
    """
    if not ask.done.passes:
        return LEAST_FIRST.value * now.out
    return max(now.out - 1, 0.0) * PASS.value / (LOST.value * (1 - min(one.lost, NEARLY_LOST)))


def _weighed(ask: Question, setup: PassSetup, seen: Forecast) -> Candidate | None:
    """Return a set-up as it is worth when it is steered; None where its first stage goes past straight too often."""
    stages, after, work = stages_of(ask.head, setup), seen.after, float(len(setup.spots))
    if stages is not None:
        path = rough_path(ask.head, seen, stages, ask.draws.response)
        if past_after_first(ask.head, path, ask.direction) > MOST_OVERSHOOT.value:
            return None
        way = steered(ask.head, path, stages, ask.direction)
        after, work = way.after, float(np.array(stages.ends)[way.last - 1].mean())
    if setup.soak is not None:
        work = setup.soak.hold / 360
    calm, bumps = settled(after, seen.weights), _bumps(ask.head, setup, seen, after)
    ratio = ask.draws.response.cam_ratio
    cost = losses(ask.head, calm, ask.direction, bumps, ratio)
    return Candidate(
        setup=setup,
        loss=float(seen.weights @ cost.loss) + TIME_LOSS.value * work,
        chances=chances(ask.head, after, seen.weights, ask.direction, bumps),
        lost=float(seen.weights @ cost.lost),
        out=how_far(ask.head, after, seen.weights, bumps),
        left=ask.direction * float(seen.weights @ after[:, INDEX["cam_bow"]]),
        work=work,
        hardness=_hardness(seen),
    )


def _bumps(head: Head, setup: PassSetup, seen: Forecast, after: Floats) -> Floats | float:
    """Return the heights that spots leave and the modes do not describe, as `losses` wants them [m]."""
    if not setup.spots or seen.relaxed is None:
        return 0.0
    taken, towers = seen.before - after, len(head.towers)
    luck = _luck_of_places(setup.spots, len(after)) * luck_again(seen.relaxed.again_each)
    bumps = bumps_of(head, setup.spots, seen.relaxed.kinks, luck)
    bumps[:, :towers] *= taken[:, [INDEX["cam_bow"]]]
    bumps[:, towers:] *= taken[:, [INDEX["deck_bow"]]]
    return bumps


def _luck_of_places(spots: Sequence[Treatment], count: int) -> Floats:
    """Return the luck of every spot, one for all of a station, in every draw `(count, spots)`."""
    stations = sorted({spot.station for spot in spots})
    luck = PLACE_LUCK.value * sobol_normal(count, len(stations), LUCK_SEED)
    return luck[:, [stations.index(spot.station) for spot in spots]]


def how_far(head: Head, states: Floats, weights: Floats, bumps: Floats | float = 0.0) -> float:
    """Return how far a head is from done: the mean of cam line or metal, the worse one, over what is allowed."""
    cam, _, metal = ratios(head, states, bumps)
    return float(weights @ np.maximum(cam, metal))


def _hardness(seen: Forecast) -> float:
    """Return the median over the draws of the lowest hardness after the heat [HB]."""
    assert seen.relaxed is not None  # noqa: S101 - the search always heats
    return float(np.median(np.atleast_2d(seen.relaxed.hardness_after)[:, 0]))


def too_soft(head: Head, seen: Forecast, setup: PassSetup) -> bool:
    """Whether a soak is expected to end at what stops the heat: the reject line, or too much lost since intake.

    Spots soften their own small places only.
    """
    if setup.soak is None or seen.relaxed is None:
        return False
    rules = head.thresholds
    lost = float(np.median((seen.relaxed.hardness_before - seen.relaxed.hardness_after).mean(axis=1)))
    return _hardness(seen) < rules.hardness_reject.value or lost > rules.hardness_drop.value


def gentle(ask: Question, clamped: Clamped) -> bool:
    """Whether a clamp may be used: a first pass over-bends little."""
    states, weights = ask.draws.states, ask.draws.weights
    bow = max(abs(float(weights @ states[:, INDEX[name]])) for name in ("deck_bow", "cam_bow"))
    over = float(weights @ np.abs(np.maximum(clamped.over_bend, 0.0)))
    return bool(ask.done.passes) or over <= max(FIRST_PASS_OVER_BEND.value * bow, LEAST_OVER_BEND)


def _is_mild(ask: Question, seen: Forecast, setup: PassSetup) -> bool:
    """Whether a first pass is expected to take no more than its share of the bow.

    Spots are heated in stages, the first of them mild; the share is asked of a soak, which cannot be steered.
    """
    if ask.done.passes or setup.spots:
        return True
    before, after = (
        ask.direction * float(seen.weights @ states[:, INDEX["cam_bow"]])
        for states in (seen.before, seen.after)
    )
    return before <= 0 or before - after <= FIRST_PASS_SHARE.value * before
