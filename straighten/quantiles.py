"""Quantiles of weighted draws: what every range of the program is told by."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Triple = tuple[float, float, float]  # the 10, 50 and 90 % points


def weights_of(log_weights: Floats) -> Floats:
    """Return normalised weights of log weights."""
    raw = np.exp(log_weights - log_weights.max())
    return np.asarray(raw / raw.sum())


def weighted_quantiles(values: Floats, weights: Floats, shares: Sequence[float] | Floats) -> Floats:
    """Return quantiles of weighted draws, straight between the middles of their weights.

    Args:
        values: shape `(n,)`.
        weights: shape `(n,)`, of any sum above zero.
        shares: probabilities in 0 to 1.
    """
    order = np.argsort(values)
    heap = np.cumsum(weights[order])
    return np.interp(shares, (heap - weights[order] / 2) / heap[-1], values[order])


def quantile(values: Floats, weights: Floats, share: float) -> float:
    """Return one quantile of weighted draws, `(n,)` each."""
    return float(weighted_quantiles(values, weights, (share,))[0])


def tenths(values: Floats, weights: Floats) -> Triple:
    """Return the 10, 50 and 90 % quantiles of weighted draws, `(n,)` each."""
    low, middle, high = weighted_quantiles(values, weights, (0.1, 0.5, 0.9)).tolist()
    return low, middle, high


def spread_along(weights: Floats, count: int, *, start: float = 0.5) -> NDArray[np.intp]:
    """Return the places of `count` draws that stand for all with equal weight, spread evenly along their weights.

    Args:
        weights: shape `(n,)`, that sum to one, in the order that the draws are to be spread along.
        count: how many; a heavy draw stands more than once.
        start: where in its share of the weights each is taken, 0 to 1.

    Source: systematic resampling; derived.
    """
    places = (np.arange(count) + start) / count
    return np.searchsorted(np.cumsum(weights), places).clip(0, weights.size - 1)
