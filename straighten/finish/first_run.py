"""Where the first run of strokes ends: by what is seen, by what the micrometer says, or by the count.

Nobody knows how fast a paper cuts before the first check. So the first run ends by a look: at a share of the face that
shines, or at a fall of the height. The share is chosen where the check tells most of the strokes left. A check too soon
knows little of the rate, one too late asks for a small rest that gauges cannot tell.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.finish.checks import HEIGHT_ERROR, SHARE_ERROR
from straighten.finish.face import ALL_CLEAN, DEPTHS
from straighten.finish.rate import FALLS, SHARE, depth_for, volume_for
from straighten.quantiles import quantile
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from straighten.finish.rate import Factors, Ground

    Array = NDArray[np.float64]

SAFE: Final = 0.005  # share of the belief that may pass the limit: half of the one per cent that is promised
SHINES: Final = (0.6, 0.5, 0.4, 0.35, 0.3, 0.25, 0.2, 0.15)  # of the face
GUARDS: Final = (
    0.9,
    0.8,
    0.7,
    0.6,
    0.5,
    0.4,
    0.3,
    0.2,
)  # falls of the height tried, of the depth that may be used
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
MISREAD: Final = (
    SURELY * math.sqrt(2) * HEIGHT_ERROR.value
)  # of a fall, and the least fall that can end a run [m]


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
    weights: Array
    look: Array
    goal_depth: Array
    usable: float
    way: float


def first_run(start: Start, until: Callable[[Array], Array]) -> tuple[Stop, float]:
    """Return where the first run ends and the most strokes for it.

    Args:
        start: what is known before it.
        until: gives the strokes to a depth, `(n,)`.

    Source: Bayes' rule (derived); the way to the check from simulated sandings (fitted).
    Valid: Looks after 10 strokes, then a quarter later each time, at last every 50.
    """
    share = _wanted_share(start)
    for stop in _tries(start, share):
        reached = stopped_at(start.ground, start.factors, stop, start.look)
        if _surely(start, reached, 1 - SAFE) <= start.usable:
            depth = np.minimum(_shine_depth(start.factors, stop.share), start.goal_depth)
            depth = np.minimum(depth, _fall_depth(start.factors, stop.fall))
            return stop, _surely(start, until(depth), REACH.value)
    depth = np.minimum(_shine_depth(start.factors, SHINES[-1]), start.goal_depth)
    return Stop(), _surely(start, until(depth), 0.5)


def _surely(start: Start, values: Array, at: float) -> float:
    return quantile(values, start.weights, at)


def _wanted_share(start: Start) -> float:
    """Return the share of the face that shines where the wanted part of the metal is off."""
    goal = np.maximum(volume_for(start.goal_depth, start.ground, start.factors), LEAST_VOLUME)
    shares = np.array(SHINES)
    way = [
        _surely(start, volume_for(_shine_depth(start.factors, s), start.ground, start.factors) / goal, 0.5)
        for s in SHINES
    ]
    return float(shares[np.argmin(np.abs(np.array(way) - start.way))])


def _tries(start: Start, share: float) -> list[Stop]:
    """Return what is tried in turn: the look alone, the look with a guard by the micrometer, smaller looks alone."""
    guarded = [Stop(share=share, fall=math.floor(1e6 * g * start.usable / 5) * 5e-6) for g in GUARDS]
    return [
        Stop(share=share),
        *(g for g in guarded if g.fall >= MISREAD),
        *(Stop(share=s) for s in SHINES if s < share),
    ]


def stopped_at(ground: Ground, factors: Factors, stop: Stop, look: Array) -> Array:
    """Return the depth that a run ended by looks can reach, `(n,)` [m].

    The share and the height are misread, and between two looks lie a quarter of the strokes so far, or fifty.
    """
    seen = np.minimum(
        _shine_depth(factors, stop.share + SURELY * SHARE_ERROR.value),
        _fall_depth(factors, stop.fall + MISREAD),
    )
    volume = volume_for(seen, ground, factors)
    return depth_for(volume + np.minimum(LOOK_GROWTH.value * volume, look), ground, factors)


def _shine_depth(factors: Factors, share: float) -> Array:
    """Return the depth at which so much of the face shines, `(n,)` [m]."""
    return _reached(factors, factors.curves[:, SHARE], np.full(factors.height.size, share))


def _fall_depth(factors: Factors, fall: float) -> Array:
    """Return the depth at which one place of the rim has fallen by so much, `(n,)` [m]."""
    if math.isinf(fall):
        return np.full(factors.height.size, np.inf)
    return _reached(factors, factors.curves[:, FALLS].max(axis=1), fall / factors.height)


def _reached(factors: Factors, curves: Array, value: Array) -> Array:
    rising = np.maximum.accumulate(curves, axis=1)
    at = np.where(rising[:, -1] < value, DEPTHS.size - 1, np.argmax(rising >= value[:, None], axis=1))
    depth: Array = factors.height * DEPTHS[at]
    return depth
