"""Evenly spread draws of a shape, the same on every run."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import combinations

import numpy as np

from straighten.head.records import Head
from straighten.quantiles import Floats
from straighten.readings.records import DIAGONALS, LONG_LINES, Readings, cam_title, cams_of
from straighten.shape.flatness import flatness
from straighten.shape.modes import Track, deck_rows, track
from straighten.shape.suspects import Misfit
from straighten.shape.towers import Towers
from straighten.sources import Cited
from straighten.units import show, show_range


def shape_draws(mean: Floats, covariance: Floats, count: int) -> Floats:
    """Return draws of a Gaussian shape, the mean first, `(count, 11)`; mean `(11,)` [m], covariance `(11, 11)` [m2]."""
    values, vectors = np.linalg.eigh(covariance)
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T  # of either sign of a vector the same
    return np.vstack([mean, mean + _normals(count - 1, mean.size) @ root])


@cache
def _normals(count: int, size: int) -> Floats:
    """Return standard normals on an additive lattice whose steps are powers of one root.

    Source: The root of x**(d + 1) = x + 1 as generator of a low-discrepancy lattice (M. Roberts, 2018) -- from
    memory.
    """
    from scipy.special import ndtri

    root = 1.5
    for _ in range(60):
        root = (1 + root) ** (1 / (size + 1))
    steps = (1 / root) ** np.arange(1, size + 1)
    lattice = (0.5 + np.outer(np.arange(1, count + 1), steps)) % 1.0
    normals: Floats = ndtri(lattice)
    return np.asarray((normals - normals.mean(axis=0)) / normals.std(axis=0))


DRAWS = 128
_IN_WINDOW = 7  # points in a stretch: a minimum zone of seven is exact for them
_STARTS = 9  # stretches along a line
_LOOKED_AT = (*LONG_LINES, *DIAGONALS)
_BY_BLADE = ("bridged", "rocked", "balanced")


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitCheck:
    """One limit against what the survey says.

    `name`; `value` as the middle of what is believed, `low`, `high` its 80 % range [m]; `limit` with its source;
    `holds`; `chance` to be inside; `over` length the limit is for [m] or None; `read` the widest gap that the blades leave
    open on its lines where that alone holds the limit [m], else None; `draws` the values behind them `(n,)` [m].
    """

    name: str
    value: float
    low: float
    high: float
    limit: Cited[float]
    holds: bool
    chance: float
    over: float | None = None
    read: float | None = None
    draws: Floats = field(repr=False, compare=False)

    def sentence(self, head: Head) -> str:
        """Say value, range, limit, verdict and where the limit comes from."""
        word = "holds" if self.holds else "fails"
        if self.read is not None:
            word += f" by its readings: no gap over {show(self.read, head.system)} on its lines"
        stretch = f" within {show(self.over, head.system, big=True)}" if self.over else ""
        return (
            f"{self.name}{stretch}: {show(self.value, head.system)}, range "
            f"{show_range(self.low, self.high, head.system)}; limit {show(self.limit.value, head.system)}: {word} "
            f"({self.limit.told})"
        )


def check_limits(
    head: Head,
    mean: Floats,
    covariance: Floats,
    dips: Sequence[Misfit] = (),
    read: float = math.inf,
    towers: Sequence[Towers] = (),
) -> tuple[LimitCheck, ...]:
    """Return every limit of the head against a believed shape.

    A deck limit is made for straightedge and blades (common practice, no source): where all its lines were read and no
    gap can be wider than the limit, the deck holds it, however wide the belief still is.

    `mean` `(11,)` [m], `covariance` `(11, 11)` [m2]; `dips` of the deck off the smooth shape; `read` `widest_open` of the
    survey [m]; `towers` what those of every cam line stand off it; none where they stand on it.

    Source: Minimum zone straightness and flatness, ISO 12780-1 and 12781-1:2011 -- from memory.
    """
    states = shape_draws(mean, covariance, DRAWS)
    limits = head.limits
    window = min(limits.deck_local_length, head.casting.length)
    checks = [
        _by_reading(_check("deck overall", _deck_overall(states, dips), limits.deck_overall), read),
        _check("deck per length", _deck_local(head, states, window, dips), limits.deck_local, window),
    ]
    for number, name in enumerate(cams_of(head)):
        run = track("cam", name, head)
        title = cam_title(name)
        heights = states @ run.rows(run.supports).T
        if towers:
            heights += towers[number].draws(states, number)
        checks.append(_check(f"{title} overall", zones(run.supports, heights), limits.cam_line))
        checks.append(_check(f"{title} tower to tower", _steps(run, heights), limits.tower_step))
    return tuple(checks)


def widest_open(readings: Readings) -> float:
    """Return the widest gap that the blades leave open along and across the deck [m]; inf where a line was not read.

    The three long lines and both diagonals count.
    """
    read = {line.name: line for line in readings.lines if line.part == "deck" and line.mode in _BY_BLADE}
    told = [
        [b.high for b in read[name].brackets if b.high is not None] for name in _LOOKED_AT if name in read
    ]
    if len(told) < len(_LOOKED_AT) or not all(told):
        return math.inf
    return max(map(max, told))


def _by_reading(check: LimitCheck, read: float) -> LimitCheck:
    return check if check.holds or read > check.limit.value else replace(check, holds=True, read=read)


def _check(name: str, values: Floats, limit: Cited[float], over: float | None = None) -> LimitCheck:
    low, middle, high = np.quantile(values, [0.1, 0.5, 0.9])
    return LimitCheck(
        name=name,
        value=float(middle),
        low=float(low),
        high=float(high),
        limit=limit,
        holds=bool(middle <= limit.value),
        chance=float(np.mean(values <= limit.value)),
        over=over,
        draws=values,
    )


def zones(station: Floats, heights: Floats) -> Floats:
    """Return the minimum zones of many short profiles at once.

    The zone of a profile is the largest distance of a point from the chord of two others around it: the best line
    is held by three points (Chebyshev), and no three give more than all together.

    `station` in rising order, `(m,)`, m <= 12 or so; `heights` `(..., m)`.
    """
    triples = np.array(list(combinations(range(station.size), 3)), dtype=np.intp)
    if triples.size == 0:
        return np.zeros(heights.shape[:-1])
    left, middle, right = triples.T
    share = (station[middle] - station[left]) / (station[right] - station[left])
    off = heights[..., middle] - (1 - share) * heights[..., left] - share * heights[..., right]
    return np.asarray(np.abs(off).max(axis=-1))


def deck_with_dips(states: Floats, dips: Sequence[Misfit]) -> tuple[Floats, Floats, Floats]:
    """Return places xi, eta `(m,)` over the deck, those of dips last, and heights there of states `(..., 11)`, `(..., m)`."""
    xi, eta = (v.ravel() for v in np.meshgrid(np.linspace(0, 1, 9), np.linspace(-1, 1, 5), indexing="ij"))
    xi = np.concatenate([xi, [d.xi for d in dips]])
    eta = np.concatenate([eta, [d.eta for d in dips]])
    heights = states @ deck_rows(xi, eta).T
    if dips:
        heights[..., -len(dips) :] += [d.off for d in dips]
    return xi, eta, heights


def _deck_overall(states: Floats, dips: Sequence[Misfit]) -> Floats:
    """Return the flatness of the whole deck for every draw: least squares range, scaled to the minimum zone."""
    xi, eta, heights = deck_with_dips(states, dips)
    plane = np.stack([np.ones_like(xi), xi, eta], axis=1)
    rest = heights - (heights @ plane) @ np.linalg.inv(plane.T @ plane) @ plane.T
    ranges: Floats = np.ptp(rest, axis=1)
    if ranges[0] > 0:
        ranges *= flatness(xi, eta, heights[0]).minimum_zone / ranges[0]
    return ranges


def _deck_local(head: Head, states: Floats, window: float, dips: Sequence[Misfit]) -> Floats:
    share = window / head.casting.length
    starts = np.linspace(0.0, 1.0 - share, _STARTS)
    inside = np.linspace(0.0, share, _IN_WINDOW)
    worst = np.full(len(states), max((abs(d.off) for d in dips), default=0.0))
    for name in LONG_LINES:
        heights = states @ track("deck", name, head).rows((starts[:, None] + inside).ravel()).T
        shaped = heights.reshape(len(states), starts.size, inside.size)
        worst = np.maximum(worst, zones(inside, shaped).max(axis=1))
    return worst


def _steps(run: Track, heights: Floats) -> Floats:
    """Return the largest step from one tower to the next over the least squares line."""
    x = run.supports - run.supports.mean()
    slope = heights @ x / (x @ x)
    level = heights - slope[:, None] * x
    if x.size < 2:
        return np.zeros(len(heights))
    return np.asarray(np.abs(np.diff(level, axis=1)).max(axis=1))
