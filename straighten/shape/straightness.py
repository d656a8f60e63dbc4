r"""Straightness of a profile by the definitions of ISO 12780: end-point, least squares, minimum zone.

A deviation is the largest minus the smallest height over a reference line. The minimum zone is the smallest value
any line can give: two parallel lines that hold all points between them. It is found exactly. The width of the zone
as a function of the slope is convex and linear between the slopes of the edges of the two convex hulls, so its least
value stands at one of those slopes.

Heights are taken at right angles to the station axis: at slopes of a thousandth the difference to distances at right
angles to the line is less than one part in a million.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.errors import BadInput

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Straightness:
    """Straightness of one profile [unit of the heights], by three reference lines.

    `least_squares_line`, `minimum_zone_line`: slope and height at station 0; of the minimum zone its middle line.
    """

    end_point: float
    least_squares: float
    minimum_zone: float
    least_squares_line: tuple[float, float]
    minimum_zone_line: tuple[float, float]


def straightness(station: ArrayLike, height: ArrayLike) -> Straightness:
    """Return the straightness of a profile by all three definitions.

    Args:
        station: along the line, `(n,)`, n >= 2, in any order.
        height: over any straight reference, `(n,)`, in any one unit.

    Raises:
        BadInput: fewer than two stations, or numbers that are not finite.

    Source:
        ISO 12780-1:2011, straightness deviation and reference lines -- from memory.

    Example:
        >>> found = straightness([0, 100, 200, 300, 400], [0, 0.12, 0.20, 0.10, 0])
        >>> round(found.end_point, 9), round(found.least_squares, 9), round(found.minimum_zone, 9)
        (0.2, 0.204, 0.2)
    """
    x, z = _profile(station, height)
    slope, at_nought = _least_squares(x, z)
    zone, zone_slope, zone_height = minimum_zone_line(x, z)
    ends = (z[-1] - z[0]) / (x[-1] - x[0])
    return Straightness(
        end_point=_span(z - ends * x),
        least_squares=_span(z - slope * x),
        minimum_zone=zone,
        least_squares_line=(slope, at_nought),
        minimum_zone_line=(zone_slope, zone_height),
    )


def _profile(station: ArrayLike, height: ArrayLike) -> tuple[Array, Array]:
    x, z = np.asarray(station, dtype=np.float64), np.asarray(height, dtype=np.float64)
    if x.shape != z.shape or x.ndim != 1:
        raise BadInput(f"{x.size} stations but {z.size} heights")
    if not (np.isfinite(x).all() and np.isfinite(z).all()):
        raise BadInput("stations and heights must be finite")
    order = np.argsort(x, kind="stable")
    x, z = x[order], z[order]
    if x.size < 2 or x[0] == x[-1]:
        raise BadInput("straightness needs at least two stations")
    return x, z


def _span(values: Array) -> float:
    return float(values.max() - values.min())


def _least_squares(x: Array, z: Array) -> tuple[float, float]:
    """Return slope and intercept, worked about the means so that no digits are lost."""
    x_mean, z_mean = x.mean(), z.mean()
    slope = float((x - x_mean) @ (z - z_mean) / ((x - x_mean) @ (x - x_mean)))
    return slope, float(z_mean - slope * x_mean)


def minimum_zone_line(x: Array, z: Array) -> tuple[float, float, float]:
    """Return width of the minimum zone, and slope and intercept of its middle line.

    Args:
        x: stations in rising order, `(n,)`.
        z: heights, `(n,)`.
    """
    upper, lower = _hull(x, z, 1), _hull(x, z, -1)
    falling, rising = (np.diff(z[hull]) / np.diff(x[hull]) for hull in (upper, lower))
    slopes = np.concatenate([falling, rising])
    top = np.asarray(upper)[
        np.searchsorted(-falling, -slopes)
    ]  # where a line of that slope lies on the upper hull
    bottom = np.asarray(lower)[np.searchsorted(rising, slopes)]
    best = int(np.argmin(z[top] - z[bottom] - slopes * (x[top] - x[bottom])))
    slope = float(slopes[best])
    high, low = float(np.max(z - slope * x)), float(np.min(z - slope * x))
    return high - low, slope, (high + low) / 2


def _hull(x: Array, z: Array, sign: int) -> list[int]:
    """Return the points of the upper (sign 1) or lower (-1) convex hull, left to right (Andrew's chain)."""
    xs, zs = x.tolist(), (sign * z).tolist()
    kept: list[int] = []
    for new in range(len(xs)):
        if kept and xs[new] == xs[kept[-1]]:
            if zs[new] <= zs[kept[-1]]:
                continue
            kept.pop()
        while len(kept) >= 2 and _is_below(xs, zs, kept[-2], kept[-1], new):
            kept.pop()
        kept.append(new)
    return kept


def _is_below(xs: list[float], zs: list[float], left: int, middle: int, right: int) -> bool:
    rise = (zs[middle] - zs[left]) * (xs[right] - xs[left])
    return rise <= (zs[right] - zs[left]) * (xs[middle] - xs[left])


def resting_gaps(station: ArrayLike, height: ArrayLike) -> Array:
    """Return the gaps under a straightedge laid on a profile, its middle over the middle station.

    The edge rests on the two points of the upper hull on either side of the middle of the line.

    Args:
        station: in rising order, `(n,)`.
        height: of the metal towards the straightedge, `(n,)`.
    """
    x, z = _profile(station, height)
    hull = _hull(x, z, 1)
    middle = (x[0] + x[-1]) / 2
    right = next(n for n, point in enumerate(hull) if x[point] >= middle and n > 0)
    a, b = hull[right - 1], hull[right]
    gaps: Array = z[a] + (z[b] - z[a]) * (x - x[a]) / (x[b] - x[a]) - z
    return gaps


def worst_window(station: ArrayLike, height: ArrayLike, window: float) -> tuple[float, float]:
    """Return the largest minimum zone within any stretch of a given length, and where that stretch begins.

    Args:
        station: in rising order, `(n,)`.
        height: `(n,)`.
        window: length of the stretch, in the unit of the stations.
    """
    x, z = _profile(station, height)
    worst, where = 0.0, float(x[0])
    for first in range(x.size):
        inside = (x >= x[first]) & (x <= x[first] + window * (1 + 1e-9))
        if np.count_nonzero(inside) < 3:
            continue
        zone = minimum_zone_line(x[inside], z[inside])[0]
        if zone > worst:
            worst, where = zone, float(x[first])
    return worst, where
