"""Straightness of a profile by the definitions of ISO 12780: end-point, least squares, minimum zone.

A deviation is the largest minus the smallest height over a reference line. The minimum zone is the smallest value
any line can give: two parallel lines that hold all points between them. It is found exactly. The width of the zone
as a function of the slope is convex and linear between the slopes of the edges of the two convex hulls, so its least
value stands at one of those slopes.

Heights are taken at right angles to the station axis: at slopes of a thousandth the difference to distances at right
angles to the line is less than one part in a million.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from straighten.errors import BadInput
from straighten.quantiles import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Straightness:
    """Straightness of one profile [unit of the heights], by three reference lines."""

    end_point: float
    least_squares: float
    minimum_zone: float


def straightness(station: ArrayLike, height: ArrayLike) -> Straightness:
    """Return the straightness of a profile by all three definitions.

    `station` along the line, `(n,)`, n >= 2, in any order; `height` over any straight reference, `(n,)`, in any one unit.

    Raises:
        BadInput: fewer than two stations, or numbers that are not finite.

    Source: ISO 12780-1:2011, straightness deviation and reference lines -- from memory.

    Example:
        >>> found = straightness([0, 100, 200, 300, 400], [0, 0.12, 0.20, 0.10, 0])
        >>> round(found.end_point, 9), round(found.least_squares, 9), round(found.minimum_zone, 9)
        (0.2, 0.204, 0.2)
    """
    x, z = _profile(station, height)
    ends = (z[-1] - z[0]) / (x[-1] - x[0])
    return Straightness(
        end_point=_span(z - ends * x),
        least_squares=_span(z - _least_squares(x, z)[0] * x),
        minimum_zone=minimum_zone_line(x, z)[0],
    )


def _profile(station: ArrayLike, height: ArrayLike) -> tuple[Floats, Floats]:
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


def _span(values: Floats) -> float:
    return float(values.max() - values.min())


def _least_squares(x: Floats, z: Floats) -> tuple[float, float]:
    """Return slope and intercept, worked about the means so that no digits are lost."""
    x_mean, z_mean = x.mean(), z.mean()
    slope = float((x - x_mean) @ (z - z_mean) / ((x - x_mean) @ (x - x_mean)))
    return slope, float(z_mean - slope * x_mean)


def minimum_zone_line(x: Floats, z: Floats) -> tuple[float, float, float]:
    """Return width of the minimum zone, and slope and intercept of its middle line; stations x `(n,)` in rising order."""
    upper, lower = _hull(x, z, 1), _hull(x, z, -1)
    falling, rising = (np.diff(z[hull]) / np.diff(x[hull]) for hull in (upper, lower))
    slopes = np.concatenate([falling, rising])
    # where lines of these slopes lie on either hull
    top = np.asarray(upper)[np.searchsorted(-falling, -slopes)]
    bottom = np.asarray(lower)[np.searchsorted(rising, slopes)]
    best = int(np.argmin(z[top] - z[bottom] - slopes * (x[top] - x[bottom])))
    slope = float(slopes[best])
    high, low = float(np.max(z - slope * x)), float(np.min(z - slope * x))
    return high - low, slope, (high + low) / 2


def _hull(x: Floats, z: Floats, sign: int) -> list[int]:
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


def resting_gaps(station: ArrayLike, height: ArrayLike) -> Floats:
    """Return the gaps under a straightedge laid on a profile, its middle over the middle station.

    The edge rests on the two points of the upper hull on either side of the middle of the line. `station` in rising order,
    `height` of the metal towards the straightedge, `(n,)` each.
    """
    x, z = _profile(station, height)
    hull = _hull(x, z, 1)
    middle = (x[0] + x[-1]) / 2
    right = next(n for n, point in enumerate(hull) if x[point] >= middle and n > 0)
    a, b = hull[right - 1], hull[right]
    return np.asarray(z[a] + (z[b] - z[a]) * (x - x[a]) / (x[b] - x[a]) - z)


_ROUNDS = 60
_TOUCHES = 1e-12  # of the range of heights: points this near to a side of the zone touch it


@dataclass(frozen=True, slots=True, kw_only=True)
class Flatness:
    """Flatness of one face [unit of the heights], by three reference planes.

    `end_point` from the plane through the corners (least squares of the four: parallel to both diagonals).
    `minimum_zone_plane`: height at the origin, slope along x, slope along y.
    """

    end_point: float
    least_squares: float
    minimum_zone: float
    minimum_zone_plane: tuple[float, float, float]


def flatness(x: ArrayLike, y: ArrayLike, z: ArrayLike) -> Flatness:
    """Return the flatness of a face by all three definitions.

    `x` stations, `y` across, `z` heights over any plane in any one unit; `(n,)` each, n >= 3.

    Raises:
        BadInput: fewer than three points, all on one line, or numbers that are not finite.

    Source: ISO 12781-1:2011, flatness deviation and reference planes -- from memory.
    """
    points = np.stack([np.asarray(v, dtype=np.float64).ravel() for v in (x, y, z)], axis=1)
    if not np.isfinite(points).all():
        raise BadInput("stations and heights must be finite")
    plane_rows = np.stack([np.ones(len(points)), points[:, 0], points[:, 1]], axis=1)
    centred = plane_rows - [0.0, points[:, 0].mean(), points[:, 1].mean()]
    if len(points) < 3 or np.linalg.matrix_rank(centred) < 3:
        raise BadInput("flatness needs three points that are not in line")
    height = points[:, 2]
    squares = _best_fit(plane_rows, height)
    corners = _corners(points)
    corner_plane = _best_fit(plane_rows[corners], height[corners])
    zone = minimum_zone_plane(plane_rows, height, squares)
    return Flatness(
        end_point=_span(height - plane_rows @ corner_plane),
        least_squares=_span(height - plane_rows @ squares),
        minimum_zone=_span(height - plane_rows @ zone),
        minimum_zone_plane=(float(zone[0]), float(zone[1]), float(zone[2])),
    )


def _best_fit(rows: Floats, height: Floats) -> Floats:
    middle = rows.mean(axis=0)
    slopes, *_ = np.linalg.lstsq(rows[:, 1:] - middle[1:], height - height.mean(), rcond=None)
    return np.array([height.mean() - middle[1:] @ slopes, *slopes])


def _corners(points: Floats) -> list[int]:
    """Return the points nearest to the four corners of the face."""
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    scale = np.where(high > low, high - low, 1.0)
    unit = (points[:, :2] - low) / scale
    return [
        int(np.argmin(np.sum((unit - corner) ** 2, axis=1))) for corner in ((0, 0), (0, 1), (1, 0), (1, 1))
    ]


def minimum_zone_plane(rows: Floats, height: Floats, start: Floats) -> Floats:
    """Return the middle plane of the minimum zone: height at the origin and two slopes.

    `rows` one, x, y of every point, `(n, 3)`; `start` any plane near the face, such as the least squares one, `(3,)`.
    """
    rest = height - rows @ start
    scale = _span(rest)
    if scale == 0 or scale < 1e-14 * np.abs(height).max():
        return start
    middle, reach = rows.mean(axis=0), np.ptp(rows, axis=0)
    unit = np.column_stack([np.ones(len(rows)), (rows[:, 1:] - middle[1:]) / reach[1:]])
    fine = _chebyshev(unit, rest / scale) * scale
    slopes = fine[1:] / reach[1:]
    return np.asarray(start + np.array([fine[0] - slopes @ middle[1:], *slopes]))


def _chebyshev(unit: Floats, rest: Floats) -> Floats:
    """Return the plane (in unit coordinates) that minimises the largest distance."""
    inside = _first_points(unit, rest)
    plane = np.zeros(3)
    for _ in range(_ROUNDS):
        plane, half = _best_plane(unit[inside], rest[inside])
        over = np.abs(rest - unit @ plane)
        outside = np.flatnonzero(over > half + 1e-9)
        if outside.size == 0:
            break
        worst = outside[np.argsort(over[outside])[-8:]]
        inside = np.unique(np.concatenate([inside, worst]))
    return plane


def _first_points(unit: Floats, rest: Floats) -> NDArray[np.intp]:
    """Return the extreme points of a few directions, to start the programme from."""
    tilts = np.array([[0, a, b] for a in (-1.0, 0.0, 1.0) for b in (-1.0, 0.0, 1.0)])
    leaning = rest[:, None] - unit @ tilts.T
    ends = [unit[:, 1].argmin(), unit[:, 1].argmax()]  # so that there is a line along
    return np.unique(np.concatenate([leaning.argmax(axis=0), leaning.argmin(axis=0), ends]))


@dataclass(frozen=True, slots=True)
class _Piece:
    """The zone at one slope across: its least `width`, the `slope` of that width there, and the `plane` of its middle."""

    across: float
    width: float
    slope: float
    plane: Floats

    def depth(self) -> tuple[bool, float]:
        """Return the order from the lowest: a level piece is the bottom."""
        return self.slope != 0, self.width

    def crossing(self, other: _Piece) -> tuple[float, float]:
        """Return where the straight pieces cross: slope across and width."""
        run = (other.width - self.width - other.slope * (other.across - self.across)) / (
            self.slope - other.slope
        )
        return self.across + run, self.width + self.slope * run


def _best_plane(unit: Floats, rest: Floats) -> tuple[Floats, float]:
    """Return the middle plane of the minimum zone of a few points, and half its width."""
    order = np.argsort(unit[:, 1], kind="stable")
    points = unit[order, 1], unit[order, 2], rest[order]
    low = high = _piece(points, 0.0)
    step = -float(np.sign(low.slope))
    while low.slope * high.slope > 0:  # walk downhill until it rises again
        low, high, step = high, _piece(points, high.across + step), 2 * step
    best = min(low, high, key=_Piece.depth)
    for _ in range(_ROUNDS):
        if best.slope == 0:
            break
        across, least = low.crossing(high)
        if best.width <= least + _TOUCHES:
            break
        new = _piece(points, across)
        best = min(best, new, key=_Piece.depth)
        low, high = (low, new) if new.slope * high.slope > 0 else (new, high)
    return best.plane, best.width / 2


def _piece(points: tuple[Floats, Floats, Floats], across: float) -> _Piece:
    x, y, height = points
    z = height - across * y
    width, slope, middle = minimum_zone_line(x, z)
    off = z - slope * x - middle
    top, bottom = (np.flatnonzero(side >= width / 2 - _TOUCHES) for side in (off, -off))
    balanced = (max(x[top].min(), x[bottom].min()) + min(x[top].max(), x[bottom].max())) / 2
    places = [float(np.interp(balanced, x[side], y[side])) for side in (top, bottom)]
    return _Piece(across, width, places[1] - places[0], np.array([middle, slope, across]))
