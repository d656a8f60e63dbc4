"""What the first hundred strokes teach: the removal rate and the height still to go, from what was seen and measured.

The unknowns (rate, wear of the paper, weight of the grain, height of the zone, form of the bearing curve) are standard
normal; `belief.posterior` draws them given every check so far. From the draws come the strokes to the target and the
strokes that keep 99 % of the belief inside the removal limit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final, Literal

import numpy as np

from straighten.belief.posterior import sample_posterior
from straighten.quantiles import Floats, quantile, tenths
from straighten.sanding.face import ALL_CLEAN, DEPTHS, FALLS, SHARE, Goal, depth_to_goal
from straighten.sanding.lap import Grit
from straighten.sanding.rate import (
    HEIGHT_ERROR,
    NAMES,
    SHARE_ERROR,
    SHEET_LIFE,
    Check,
    Factors,
    Ground,
    depth_for,
    factors_of,
    grain_factor,
    hollow_left,
    of_check,
    read_curve,
    rim_falls,
    sheet_work,
    strokes_for,
    volume_for,
    work_done,
)
from straighten.sources import Cited

DRAWS: Final = 1024
SEED: Final = 61
LIMIT_MARGIN: Final = 0.95  # of the metal left is what a plan may use

ASKEW: Final = Cited(
    1.15,
    "times",
    "what one corner may lose over the even depth until the corners are measured: simulated lapping",
    "fitted",
)
ASKEW_SEEN: Final = Cited(1.05, "times", "the same once the corners have been measured", "fitted")

State = Literal["go on", "flat enough", "removal limit"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Where sanding ends: `goal`; flatness that may be `left` [m], 0 for full clean-up; `allowed` depth off the highest place [m]; `allowance` of that kept for the finer papers [m]."""

    goal: Goal
    left: float
    allowed: float
    allowance: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sanding:
    """What is known while sanding, as weighted draws.

    `factors`, `weights`; `depth` off the highest place so far and `to_go` depth still to take [m], `(n,)`; `strokes`
    still to the target `(n,)`; `next_strokes` until the next check, 0 where it ends; `safe_strokes` that keep the limit;
    `state`; `stop` at which the run ends sooner.
    """

    factors: Factors
    weights: Floats
    depth: Floats
    to_go: Floats
    strokes: Floats
    next_strokes: int
    safe_strokes: float
    state: State
    stop: Stop

    def quantiles(self, values: Floats) -> tuple[float, float, float]:
        """Return the 10, 50 and 90 % points of weighted values."""
        return tenths(values, self.weights)

    def quantile(self, values: Floats, at: float) -> float:
        """Return one weighted quantile."""
        return quantile(values, self.weights, at)


def learn_rate(ground: Ground, checks: Sequence[Check], target: Target, grit: Grit) -> Sanding:
    """Return what is known of the sanding after checks in their order, and how far to go on; none gives the prior.

    Source: Bayes' rule (derived), priors of `rate`, errors named at the top of this module.
    Valid: One shape all the way: after a new survey begin anew.
    """
    posterior = sample_posterior(partial(_log_likelihood, ground, checks), np.zeros(len(NAMES)), DRAWS, SEED)
    factors, weights = factors_of(ground, posterior.draws), posterior.weights
    volume, rate = _volume(factors, checks), _rate(factors, grit)
    depth = depth_for(volume, ground, factors)
    goal_depth = depth_to_goal(target.goal, target.left, factors.height, factors.curves)
    allowed = max(target.allowed - target.allowance, 0.0)
    usable = LIMIT_MARGIN * allowed / _askew(checks, depth, weights)

    def until(reached: Floats) -> Floats:
        work = np.maximum(volume_for(reached, ground, factors) - volume, 0.0) / rate
        return strokes_for(work, factors)

    strokes = until(goal_depth)
    limited = np.where(depth >= usable, 0.0, until(np.full(depth.size, usable)))
    safe, middle = quantile(limited, weights, SAFE), quantile(strokes, weights, 0.5)
    stop, wanted = Stop(), middle
    if not checks:
        start = Start(
            ground=ground, factors=factors, weights=weights, look=_look(factors, rate), goal_depth=goal_depth, usable=usable,
            way=WAY[target.goal].value,
        )  # fmt: skip
        stop, wanted = first_run(start, until)
        safe = wanted if stop.share < ALL_CLEAN else safe
    state, count = _next(middle, wanted, safe, checks, target)
    return Sanding(
        factors=factors, weights=weights, depth=depth, to_go=np.maximum(goal_depth - depth, 0.0), strokes=strokes,
        next_strokes=count, safe_strokes=safe, state=state, stop=stop,
    )  # fmt: skip


def _look(factors: Factors, rate: Floats) -> Floats:
    """Return the metal taken between two looks [m3], `(n,)`."""
    return rate * sheet_work(np.asarray(LOOK.value), factors)


def _rate(factors: Factors, grit: Grit) -> Floats:
    """Return what fresh sheets of a paper take off [m3 per stroke], `(n,)`."""
    return factors.volume_rate * grain_factor(grit.size, factors.grain)


def _volume(factors: Factors, checks: Sequence[Check]) -> Floats:
    work = np.zeros(factors.used.size)
    for check in checks:
        done = work_done(check.strokes, check.sheets, factors)
        work = work + grain_factor(check.grit.size, factors.grain) * done
    return factors.volume_rate * work


def _log_likelihood(ground: Ground, checks: Sequence[Check], u: Floats) -> Floats:
    factors = factors_of(ground, u)
    total: Floats = np.zeros(u.shape[0])
    for number, check in enumerate(checks, 1):
        depth = depth_for(_volume(factors, checks[:number]), ground, factors)
        total = total + of_check(check, depth, factors)
    return total


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOutlook:
    """What a run of strokes should show, 10, 50, 90 % each: share of the face that shines, fall of the corners [m], hollow left [m]; `deepest` depth off the highest place that 99 % of the belief stays under [m]."""

    share: tuple[float, float, float]
    dropped: tuple[float, float, float]
    left: tuple[float, float, float]
    deepest: float


def outlook_after(ground: Ground, sanding: Sanding, strokes: float, grit: Grit) -> RunOutlook:
    """Return what to expect at the next check, after so many strokes on fresh sheets of a paper."""
    factors = sanding.factors
    work = work_done(strokes, sheets_for(strokes), factors) if strokes else np.zeros(factors.used.size)
    rate = _rate(factors, grit)
    depth = depth_for(volume_for(sanding.depth, ground, factors) + rate * work, ground, factors)
    if sanding.stop.share < ALL_CLEAN:  # the run ends by a look
        depth = np.minimum(depth, stopped_at(ground, factors, sanding.stop, _look(factors, rate)))
    relative = depth / factors.height
    return RunOutlook(
        share=sanding.quantiles(read_curve(factors.curves[:, SHARE], relative, beyond=0.0)),
        dropped=sanding.quantiles(rim_falls(factors, depth)[:4].mean(axis=0)),
        left=sanding.quantiles(hollow_left(factors, depth)),
        deepest=sanding.quantile(depth, 0.99),
    )


def _askew(checks: Sequence[Check], depth: Floats, weights: Floats) -> float:
    """Return how much deeper one corner may be cut than the zone says: the head settles askew on uneven lands."""
    measured = [check.deepest for check in checks if check.deepest is not None]
    if not measured:
        return ASKEW.value
    middle = quantile(depth, weights, 0.5)
    return max(ASKEW_SEEN.value, 1.05 * measured[-1] / max(middle, 1e-6))


LEAST_RUN: Final = 10  # strokes: fewer are not worth a check


def _next(
    middle: float, wanted: float, safe: float, checks: Sequence[Check], target: Target
) -> tuple[State, int]:
    """Return whether to go on and how many strokes: as wanted, never past the limit's 99 %; `middle` to the goal."""
    done = bool(checks) and _seen_flat(checks[-1], target)
    if done or (checks and middle < LEAST_RUN / 2) or middle <= 0:
        return "flat enough", 0
    if safe < LEAST_RUN:
        return "removal limit", 0
    return "go on", max(_rounded(min(max(wanted, LEAST_RUN), safe)), 1)


def _seen_flat(check: Check, target: Target) -> bool:
    """Return whether the last look itself says that the goal is reached."""
    if target.goal == "clean-up":
        return check.cleaned is not None and check.cleaned >= ALL_CLEAN
    return check.gap is not None and check.gap[1] <= target.left


def _rounded(count: float) -> int:
    """Return a count of strokes as people count: tens below 300, fifties above, always down."""
    step = 10 if count < 300 else 50
    return int(count // step * step) if count >= step else int(count)


def sheets_for(strokes: float) -> int:
    """Return how many fresh sheets a run of strokes wants."""
    return max(1, math.ceil(strokes / SHEET_LIFE.value))


# --- where the first run ends -------------------------------------------------------------------------------------------
# Nobody knows how fast a paper cuts before the first look. So the first run ends by a look: at a share of the face that
# shines, or at a fall of the height. The share is chosen where the look tells most of the strokes left. A look too early
# knows little of the rate. One too late leaves a rest too small for the gauges.

SAFE: Final = 0.005  # share of the belief that may pass the limit: half of the one per cent that is promised
SHINES: Final = (0.6, 0.5, 0.4, 0.35, 0.3, 0.25, 0.2, 0.15)  # of the face
# Falls of the height tried, of the depth that may be used.
GUARDS: Final = (0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2)
WAY: Final = {
    "limit": Cited(
        0.3, "of the metal to go", "simulated sandings: where the rest is foretold best", "fitted"
    ),
    "clean-up": Cited(0.45, "of the metal to go", "the same for the whole face", "fitted"),
}
REACH: Final = Cited(0.9, "of the belief", "the shine comes within the strokes allowed for it", "assumed")
LOOK_GROWTH: Final = Cited(
    0.25, "of the strokes so far", "looks come sooner at first, 10 strokes on", "assumed"
)
LOOK: Final = Cited(
    50.0, "strokes", "the pen grid is looked at every 50 to 100 strokes", "common practice, no source"
)
LEAST_VOLUME: Final = 1e-15  # m3, nothing
SURELY: Final = 2.5  # standard deviations by which a look may be off
# Of a fall, and the least fall that can end a run [m].
MISREAD: Final = SURELY * math.sqrt(2) * HEIGHT_ERROR.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """Where a run ends before its count: at a `share` of the face that shines, `ALL_CLEAN` for none; at a `fall` of the height at any place of the rim [m], infinite for none."""

    share: float = ALL_CLEAN
    fall: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """What is known before the first run: `factors` and `weights`; metal taken between two looks `look`, `(n,)` [m3]; `goal_depth` `(n,)` and `usable` depth [m]; `way` of the metal to go at which the check tells most."""

    ground: Ground
    factors: Factors
    weights: Floats
    look: Floats
    goal_depth: Floats
    usable: float
    way: float


def first_run(start: Start, until: Callable[[Floats], Floats]) -> tuple[Stop, float]:
    """Return where the first run ends and the most strokes for it; `until` gives the strokes to a depth, `(n,)`.

    Source: Bayes' rule (derived); the way to the check from simulated sandings (fitted).
    Valid: Looks after 10 strokes, then a quarter later each time, at last every 50.
    """
    for stop in _tries(start, _wanted_share(start)):
        reached = stopped_at(start.ground, start.factors, stop, start.look)
        if quantile(reached, start.weights, 1 - SAFE) <= start.usable:
            depth = np.minimum(_shine_depth(start.factors, stop.share), start.goal_depth)
            depth = np.minimum(depth, _fall_depth(start.factors, stop.fall))
            return stop, quantile(until(depth), start.weights, REACH.value)
    depth = np.minimum(_shine_depth(start.factors, SHINES[-1]), start.goal_depth)
    return Stop(), quantile(until(depth), start.weights, 0.5)


def _wanted_share(start: Start) -> float:
    """Return the share of the face that shines where the wanted part of the metal is off."""
    goal = np.maximum(volume_for(start.goal_depth, start.ground, start.factors), LEAST_VOLUME)

    def off(share: float) -> float:
        volume = volume_for(_shine_depth(start.factors, share), start.ground, start.factors)
        return abs(quantile(volume / goal, start.weights, 0.5) - start.way)

    return min(SHINES, key=off)


def _tries(start: Start, share: float) -> list[Stop]:
    """Return what is tried in turn: the look alone, the look with a guard by the micrometer, smaller looks alone."""
    guarded = [Stop(share=share, fall=math.floor(1e6 * g * start.usable / 5) * 5e-6) for g in GUARDS]
    return [
        Stop(share=share),
        *(g for g in guarded if g.fall >= MISREAD),
        *(Stop(share=s) for s in SHINES if s < share),
    ]


def stopped_at(ground: Ground, factors: Factors, stop: Stop, look: Floats) -> Floats:
    """Return the depth that a run ended by looks can reach, `(n,)` [m].

    The share and the height are misread, and between two looks lie a quarter of the strokes so far, or fifty.
    """
    seen = np.minimum(
        _shine_depth(factors, stop.share + SURELY * SHARE_ERROR.value),
        _fall_depth(factors, stop.fall + MISREAD),
    )
    volume = volume_for(seen, ground, factors)
    return depth_for(volume + np.minimum(LOOK_GROWTH.value * volume, look), ground, factors)


def _shine_depth(factors: Factors, share: float) -> Floats:
    """Return the depth at which so much of the face shines, `(n,)` [m]."""
    return _reached(factors, factors.curves[:, SHARE], np.full(factors.height.size, share))


def _fall_depth(factors: Factors, fall: float) -> Floats:
    """Return the depth at which one place of the rim has fallen by so much, `(n,)` [m]."""
    if math.isinf(fall):
        return np.full(factors.height.size, np.inf)
    return _reached(factors, factors.curves[:, FALLS].max(axis=1), fall / factors.height)


def _reached(factors: Factors, curves: Floats, value: Floats) -> Floats:
    rising = np.maximum.accumulate(curves, axis=1)
    at = np.where(rising[:, -1] < value, DEPTHS.size - 1, np.argmax(rising >= value[:, None], axis=1))
    return factors.height * DEPTHS[at]
