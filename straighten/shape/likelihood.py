r"""How well a shape explains what the blades found: the exact probability of every bracket.

A blade goes up to the gap, so a reading between `low` and `high` has the probability

.. math:: \Phi\left(\frac{high - g}{s}\right) - \Phi\left(\frac{low - g}{s}\right)

where g is the gap of the measurement equation and s the noise of that reading. The unevenness under the two rests
is common to a line and the straightedge's own error common to the survey; both are integrated out.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from straighten.shape.equations import Block, Equations, equations_of

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from straighten.head.records import Head
    from straighten.readings.records import Readings

    Array = NDArray[np.float64]

# Three-point Gauss-Hermite rule for a standard normal: exact to the fifth power.
_NODES = np.array([-math.sqrt(3.0), 0.0, math.sqrt(3.0)])
_WEIGHTS = np.array([1 / 6, 2 / 3, 1 / 6])
_CHUNK = 4096  # states at a time, so that memory stays small


def log_likelihood(readings: Readings, head: Head, states: ArrayLike) -> Array:
    """Return the log-probability of a survey for many shapes.

    Args:
        readings: the survey; blanks count for nothing.
        head: the head.
        states: shapes in the order of `STATE` [m], `(n, 11)` or `(11,)`.

    Returns:
        Array `(n,)` of log-probabilities (dial sweeps: log-densities).

    Source:
        Probability of an interval-censored normal reading; Gauss-Hermite rule -- derived.

    Valid:
        Readings independent but for the rests of a line and the straightedge's own error.
    """
    points = np.atleast_2d(np.asarray(states, dtype=np.float64))
    equations = equations_of(readings, head)
    parts = [log_probability(equations, points[i : i + _CHUNK]) for i in range(0, len(points), _CHUNK)]
    return np.concatenate(parts) if parts else np.zeros(0)


def log_probability(equations: Equations, states: Array) -> Array:
    """Return the log-probability of equations for states `(n, 11)`, shape `(n,)`."""
    total = np.zeros(len(states))
    for sweep in equations.swept:
        off = (states @ sweep.rows.T - sweep.values) / sweep.sd
        total -= 0.5 * np.sum(off**2, axis=1) + sweep.values.size * math.log(
            sweep.sd * math.sqrt(2 * math.pi)
        )
    if not equations.blocks:
        return total
    gaps = [block.gaps(states) for block in equations.blocks]
    per_node = np.zeros((_NODES.size, len(states)))
    for node, edge in enumerate(_NODES):
        for block, gap in zip(equations.blocks, gaps, strict=True):
            per_node[node] += _block(block, gap + edge * block.edge)
    return total + _log_mean(per_node, _WEIGHTS)


def _block(block: Block, gaps: Array) -> Array:
    """Return the log-probability of one line, the unevenness under its rests integrated out."""
    if not block.rests.any():
        return _readings(block, gaps)
    first, second = np.meshgrid(_NODES, _NODES, indexing="ij")
    weights = np.outer(_WEIGHTS, _WEIGHTS).ravel()
    shifts = np.stack([first.ravel(), second.ravel()], axis=1) @ block.rests.T
    found = np.stack([_readings(block, gaps + shift) for shift in shifts])
    return _log_mean(found, weights)


def _readings(block: Block, gaps: Array) -> Array:
    total: Array = np.sum(
        log_interval((block.low - gaps) / block.sd, (block.high - gaps) / block.sd), axis=-1
    )
    return total


def _log_mean(values: Array, weights: Array) -> Array:
    top = values.max(axis=0)
    mean: Array = top + np.log(np.tensordot(weights, np.exp(values - top), axes=1))
    return mean


def log_interval(a: Array, b: Array) -> Array:
    r"""Return log(Phi(b) - Phi(a)) for a < b, without loss far out in either tail.

    Args:
        a: lower bounds in standard deviations, any shape; may be -inf.
        b: upper bounds, same shape; may be +inf.

    Source:
        Reflection of the normal distribution, \Phi(b) - \Phi(a) = \Phi(-a) - \Phi(-b) -- derived.
    """
    from scipy.special import ndtr

    flip = a > 0
    lower, upper = np.where(flip, -b, a), np.where(flip, -a, b)
    share = ndtr(upper) - ndtr(lower)
    with np.errstate(divide="ignore"):
        found: Array = np.log(share)
    far = upper < -5
    if np.any(far):
        found[far] = _log_tail(lower[far], upper[far])
    return found


def _log_tail(lower: Array, upper: Array) -> Array:
    """Return log(Phi(upper) - Phi(lower)) for both far below nought."""
    from scipy.special import log_ndtr

    top, bottom = log_ndtr(upper), log_ndtr(lower)
    tail: Array = top + np.log(-np.expm1(np.minimum(bottom - top, -1e-300)))
    return tail
