"""Read the alloy's curves: straight lines between the points of a table, level beyond its ends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from straighten.head.alloys import Curve


def read(curve: Curve, temperature: ArrayLike) -> NDArray[np.float64]:
    """Return a curve's value at temperatures [degC], any shape.

    Source: the alloy's own table.
    Valid: inside the table; beyond its ends the end value is kept.
    """
    points = np.asarray(curve, dtype=np.float64)
    return np.interp(np.asarray(temperature, dtype=np.float64), points[:, 0], points[:, 1])


def expanded(curve: Curve, temperature: ArrayLike, start: ArrayLike = 20.0) -> NDArray[np.float64]:
    """Return the free thermal strain from `start` [degC], any shape that goes with the temperatures', to each of them, from secant expansions.

    Source: definition of the secant coefficient, strain = alpha(T) (T - 20); derived.
    Valid: inside the table.
    """
    t, cold = np.asarray(temperature, dtype=np.float64), np.asarray(start, dtype=np.float64)
    origin = read(curve, cold) * (cold - 20.0)
    return read(curve, t) * (t - 20.0) - origin
