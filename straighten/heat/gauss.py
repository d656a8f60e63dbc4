"""Gauss-Legendre points, worked out once for each number of them: finding them costs an eigenvalue problem."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@cache
def gauss(points: int) -> tuple[Floats, Floats]:
    """Return nodes on -1..1 and weights, both read-only: they are shared.

    Source: numpy's `leggauss`.
    """
    node, weight = np.polynomial.legendre.leggauss(points)
    node.flags.writeable = weight.flags.writeable = False
    return node, weight
