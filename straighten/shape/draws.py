"""Evenly spread draws of a shape, the same on every run."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


def shape_draws(mean: Array, covariance: Array, count: int) -> Array:
    """Return draws of a Gaussian shape, the mean first, shape `(count, 11)`.

    Args:
        mean: `(11,)` [m].
        covariance: `(11, 11)` [m2].
        count: how many, > 1.
    """
    values, vectors = np.linalg.eigh(covariance)
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T  # of either sign of a vector the same
    found: Array = mean + _normals(count - 1, mean.size) @ root
    return np.vstack([mean, found])


@cache
def _normals(count: int, size: int) -> Array:
    """Return standard normals on an additive lattice whose steps are powers of one root.

    Source:
        The root of x**(d + 1) = x + 1 as generator of a low-discrepancy lattice (M. Roberts, 2018) -- from memory.
    """
    from scipy.special import ndtri

    root = 1.5
    for _ in range(60):
        root = (1 + root) ** (1 / (size + 1))
    steps = (1 / root) ** np.arange(1, size + 1)
    lattice = (0.5 + np.outer(np.arange(1, count + 1), steps)) % 1.0
    normals: Array = ndtri(lattice)
    even: Array = (normals - normals.mean(axis=0)) / normals.std(axis=0)
    return even
