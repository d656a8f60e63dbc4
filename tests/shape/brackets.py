r"""How well a shape explains what the blades found, worked out apart from the room: the exact probability of every bracket.

A blade goes up to the gap, so a reading between `low` and `high` has the probability

.. math:: \Phi\left(\frac{high - g}{s}\right) - \Phi\left(\frac{low - g}{s}\right)

where g is the gap of the measurement equation and s the noise of that reading. The unevenness under the two rests
is common to a line, that at the place most lines cross and the straightedge's own error to several; all three are
integrated out by the two-point rule.
"""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from straighten.shape.equations import equations_of
from straighten.shape.moments import log_interval
from straighten.shape.seats import Block, Equations

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from straighten.head.records import Head
    from straighten.quantiles import Floats
    from straighten.readings.records import Readings
    from straighten.shape.modes import Spot

_NODES = (-1.0, 1.0)  # two-point Gauss-Hermite rule for a standard normal: exact to the third power
_CHUNK = 512  # states at a time, so that the work stays in the processor's cache


def log_likelihood(readings: Readings, head: Head, states: ArrayLike) -> Floats:
    """Return the log-probability of a survey for many shapes.

    Args:
        readings: the survey; blanks count for nothing.
        head: the head.
        states: shapes in the order of `STATE` [m], `(n, 11)` or `(11,)`.

    Returns:
        Array `(n,)` of log-probabilities (dial sweeps: log-densities).

    Source: Probability of an interval-censored normal reading; Gauss-Hermite rule -- derived.
    Valid: Readings independent but for the rests of a line, the one place that most lines cross, and the
    straightedge's own error; `fit_shape` also lets lines share their rests.
    """
    points = np.atleast_2d(np.asarray(states, dtype=np.float64))
    equations = equations_of(readings, head)
    parts = [log_probability(equations, points[i : i + _CHUNK]) for i in range(0, len(points), _CHUNK)]
    return np.concatenate(parts) if parts else np.zeros(0)


def log_probability(equations: Equations, states: Floats) -> Floats:
    """Return the log-probability of equations for states `(n, 11)`, shape `(n,)`."""
    total = np.zeros(len(states))
    for sweep in equations.swept:
        off = (states @ sweep.rows.T - sweep.values) / sweep.sd
        total -= 0.5 * np.sum(off**2, axis=1) + sweep.values.size * math.log(
            sweep.sd * math.sqrt(2 * math.pi)
        )
    if not equations.blocks:
        return total
    gaps = [block.seats.gaps(states) for block in equations.blocks]
    middle = busiest_spot(equations)
    nodes = [(edge, uneven) for edge in _NODES for uneven in (_NODES if middle else (0.0,))]
    per_node = np.zeros((len(nodes), len(states)))
    for node, (edge, uneven) in enumerate(nodes):
        for block, gap in zip(equations.blocks, gaps, strict=True):
            there = np.array([spot == middle for spot in block.own_spots])
            shift = edge * block.edge + uneven * block.own * there
            per_node[node] += _block(block, gap + shift, np.where(there, block.sd, block.noise))
    return total + _log_mean(per_node)


def busiest_spot(equations: Equations) -> Spot | None:
    """Return the spot that most lines read, commonly the middle of the deck; None where no two lines meet."""
    counted = Counter(spot for block in equations.blocks for spot in block.own_spots).most_common(1)
    return counted[0][0] if counted and counted[0][1] > 1 else None


def _block(block: Block, gaps: Floats, noise: Floats) -> Floats:
    """Return the log-probability of one line, the unevenness under its rests integrated out."""
    rests = block.seats.rests[0]
    if not rests.any():
        return _readings(block, gaps, noise)
    shifts = np.array([(first, second) for first in _NODES for second in _NODES]) @ rests.T
    return _log_mean(np.stack([_readings(block, gaps + shift, noise) for shift in shifts]))


def _readings(block: Block, gaps: Floats, noise: Floats) -> Floats:
    total: Floats = np.sum(log_interval((block.low - gaps) / noise, (block.high - gaps) / noise), axis=-1)
    return total


def _log_mean(values: Floats) -> Floats:
    """Return the log of the mean of exponentials over the first axis."""
    top = values.max(axis=0)
    mean: Floats = top + np.log(np.mean(np.exp(values - top), axis=0))
    return mean
