"""What one look after a run of strokes tells, and where the first run ends.

Nobody knows how fast a paper cuts before the first look. So the first run ends by a look: at a share of the face that
shines, or at a fall of the height. The share is chosen where the look tells most of the strokes left. A look too early
knows little of the rate. One too late leaves a rest too small for the gauges.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.quantiles import Floats, quantile
from straighten.sanding.face import ALL_CLEAN, DEPTHS, FALLS, HOLLOWS, SHARE
from straighten.sanding.rate import Factors, depth_for, read_curve, volume_for
from straighten.sources import Cited

if TYPE_CHECKING:
    from straighten.sanding.lap import Grit
    from straighten.sanding.rate import Ground

SHARE_ERROR: Final = Cited(
    0.04, "of the face", "squares of a pen grid counted, those half worn judged by eye", "assumed"
)
HEIGHT_ERROR: Final = Cited(
    4e-6, "m", "a micrometer read twice at the same place, hand and casting warm", "assumed"
)
GAP_ERROR: Final = Cited(6e-6, "m", "straightedge and feeler, blade tolerance in it", "assumed")
MODEL_ERROR: Final = Cited(
    0.04, "of the value", "lands do not grow quite as the smooth shape says", "assumed"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One run of strokes and what was seen after it.

    `strokes` there and back on `sheets` fresh sheets of `grit`; `cleaned` share of the face that shines, 0 to 1; `falls`
    of the height since sanding began at each of `readings.records.RIM` [m]; `gaps` left on each of `face.LINES`, what goes and what
    does not [m]; where only one figure is known: `dropped` mean fall of so many `corners` and the `deepest` fall [m], the
    largest `gap` anywhere; None or empty = not looked at.
    """

    strokes: float
    grit: Grit
    sheets: int
    cleaned: float | None = None
    dropped: float | None = None
    corners: int = 4
    gap: tuple[float, float] | None = None
    deepest: float | None = None
    gaps: tuple[tuple[float, float] | None, ...] = ()
    falls: tuple[float | None, ...] = ()


def of_check(check: Check, depth: Floats, factors: Factors) -> Floats:
    """Return the log-likelihood `(n,)` of a check at a depth off the highest place by then, `(n,)` [m].

    Source: Normal errors and a bracket's probability (derived), sizes as named above.
    Valid: Errors of one look independent of each other.
    """
    from scipy.special import log_ndtr

    relative = depth / factors.height
    total: Floats = np.zeros(depth.size)
    if check.cleaned is not None:
        share = read_curve(factors.curves[:, SHARE], relative, beyond=0.0)
        if check.cleaned >= ALL_CLEAN:  # all that is known: at least so much
            total = total + log_ndtr((share - ALL_CLEAN + SHARE_ERROR.value) / SHARE_ERROR.value)
        else:
            total = total - 0.5 * ((share - check.cleaned) / SHARE_ERROR.value) ** 2
    if any(fall is not None for fall in check.falls):
        total = total + _of_falls(check.falls, factors, depth)
    elif check.dropped is not None:
        corner = rim_falls(factors, depth)[:4].mean(axis=0)
        error = math.hypot(
            HEIGHT_ERROR.value * math.sqrt(2 / check.corners), MODEL_ERROR.value * abs(check.dropped)
        )
        total = total - 0.5 * ((corner - check.dropped) / error) ** 2
    if any(gap is not None for gap in check.gaps):
        hollows = zip(check.gaps, hollows_left(factors, depth), strict=True)
        total = total + sum(_between(hollow, gap) for gap, hollow in hollows if gap is not None)
    elif check.gap is not None:
        total = total + _between(hollow_left(factors, depth), check.gap)
    return total


def _of_falls(falls: tuple[float | None, ...], factors: Factors, depth: Floats) -> Floats:
    """Return the log-likelihood of the falls read at the rim, `(n,)`."""
    total: Floats = np.zeros(depth.size)
    for fall, found, own in zip(falls, rim_falls(factors, depth), _rim_errors(factors, depth), strict=True):
        if fall is not None:
            error = np.sqrt(2 * HEIGHT_ERROR.value**2 + (MODEL_ERROR.value * fall) ** 2 + own**2)
            total = total - 0.5 * ((found - fall) / error) ** 2 - np.log(error)
    return total


def _rim_errors(factors: Factors, depth: Floats) -> Floats:
    """Return what the modes of the curves leave open of the fall at each place of the rim [m], `(6, n)`."""
    relative = depth / factors.height
    cut = rim_falls(factors, depth) / factors.height
    rows = [np.broadcast_to(row, (depth.size, row.size)) for row in factors.unexplained[FALLS]]
    sd = np.stack([read_curve(row, relative, beyond=0.0) for row in rows])
    return factors.height * (2 * np.sqrt(cut) * sd + sd**2)  # of a root's square


def hollow_left(factors: Factors, depth: Floats) -> Floats:
    """Return the largest hollow under the straightedge after a depth off the highest place [m], `(n,)`."""
    largest: Floats = hollows_left(factors, depth).max(axis=0)
    return largest


def hollows_left(factors: Factors, depth: Floats) -> Floats:
    """Return the hollow left on each of the five lines after a depth off the highest place [m], `(5, n)`."""
    lines = factors.curves[:, HOLLOWS].transpose(1, 0, 2)
    return factors.height * np.stack([read_curve(line, depth / factors.height, beyond=0.0) for line in lines])


def rim_falls(factors: Factors, depth: Floats) -> Floats:
    """Return the fall of the height at the six places of the rim after a depth off the highest place [m], `(6, n)`."""
    places = factors.curves[:, FALLS].transpose(1, 0, 2)
    return factors.height * np.stack([read_curve(place, depth / factors.height) for place in places])


def _between(value: Floats, gap: tuple[float, float]) -> Floats:
    """Return the log-probability that a feeler brackets a value, with the gauges' error."""
    from scipy.special import ndtr

    error = np.hypot(GAP_ERROR.value, MODEL_ERROR.value * value)
    below = ndtr((gap[0] - value) / error) if gap[0] > 0 else 0.0
    above = ndtr((gap[1] - value) / error) if math.isfinite(gap[1]) else 1.0
    return np.log(np.maximum(above - below, 1e-12))


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
