r"""Flatness of a face by the definitions of ISO 12781: corner plane, least squares, minimum zone.

The minimum zone is the distance of the two parallel planes nearest to each other that hold all points between them:
a linear programme in the plane's three numbers and half its width,

.. math:: \min t \quad \text{so that} \quad |z_i - a - b x_i - c y_i| \le t

solved exactly on a growing set of points: whatever still lies outside is taken in until nothing does.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.errors import BadInput

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

_ROUNDS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Flatness:
    """Flatness of one face [unit of the heights], by three reference planes.

    `end_point` from the plane through the corners (least squares of the four: parallel to both diagonals).
    `least_squares_plane`, `minimum_zone_plane`: height at the origin, slope along x, slope along y.
    """

    end_point: float
    least_squares: float
    minimum_zone: float
    least_squares_plane: tuple[float, float, float]
    minimum_zone_plane: tuple[float, float, float]


def flatness(x: ArrayLike, y: ArrayLike, z: ArrayLike) -> Flatness:
    """Return the flatness of a face by all three definitions.

    Args:
        x: stations, `(n,)`, n >= 3.
        y: across, `(n,)`.
        z: heights over any plane, `(n,)`, in any one unit.

    Raises:
        BadInput: fewer than three points, all on one line, or numbers that are not finite.

    Source:
        ISO 12781-1:2011, flatness deviation and reference planes -- from memory.
    """
    points = np.stack([np.asarray(v, dtype=np.float64).ravel() for v in (x, y, z)], axis=1)
    if not np.isfinite(points).all():
        raise BadInput("stations and heights must be finite")
    plane_rows = np.stack([np.ones(len(points)), points[:, 0], points[:, 1]], axis=1)
    centred = plane_rows - [0.0, points[:, 0].mean(), points[:, 1].mean()]
    if len(points) < 3 or np.linalg.matrix_rank(centred) < 3:
        raise BadInput("flatness needs three points that are not in line")
    height = points[:, 2]
    squares = _least_squares(plane_rows, height)
    corners = _corners(points)
    corner_plane = _least_squares(plane_rows[corners], height[corners])
    zone = minimum_zone_plane(plane_rows, height, squares)
    return Flatness(
        end_point=_span(height - plane_rows @ corner_plane),
        least_squares=_span(height - plane_rows @ squares),
        minimum_zone=_span(height - plane_rows @ zone),
        least_squares_plane=_triple(squares),
        minimum_zone_plane=_triple(zone),
    )


def _triple(plane: Array) -> tuple[float, float, float]:
    return float(plane[0]), float(plane[1]), float(plane[2])


def _span(values: Array) -> float:
    return float(values.max() - values.min())


def _least_squares(rows: Array, height: Array) -> Array:
    middle = rows.mean(axis=0)
    slopes, *_ = np.linalg.lstsq(rows[:, 1:] - middle[1:], height - height.mean(), rcond=None)
    plane: Array = np.array([height.mean() - middle[1:] @ slopes, *slopes])
    return plane


def _corners(points: Array) -> list[int]:
    """Return the points nearest to the four corners of the face."""
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    scale = np.where(high > low, high - low, 1.0)
    unit = (points[:, :2] - low) / scale
    return [
        int(np.argmin(np.sum((unit - corner) ** 2, axis=1))) for corner in ((0, 0), (0, 1), (1, 0), (1, 1))
    ]


def minimum_zone_plane(rows: Array, height: Array, start: Array) -> Array:
    """Return the middle plane of the minimum zone: height at the origin and two slopes.

    Args:
        rows: one, x, y of every point, `(n, 3)`.
        height: `(n,)`.
        start: any plane near the face, such as the least squares one, `(3,)`.
    """
    rest = height - rows @ start
    scale = _span(rest)
    if scale == 0 or scale < 1e-14 * np.abs(height).max():
        return start
    middle, reach = rows.mean(axis=0), np.ptp(rows, axis=0)
    unit = np.column_stack([np.ones(len(rows)), (rows[:, 1:] - middle[1:]) / reach[1:]])
    fine = _chebyshev(unit, rest / scale) * scale
    slopes = fine[1:] / reach[1:]
    plane: Array = start + np.array([fine[0] - slopes @ middle[1:], *slopes])
    return plane


def _chebyshev(unit: Array, rest: Array) -> Array:
    """Return the plane (in unit coordinates) that minimises the largest distance."""
    inside = _first_points(unit, rest)
    plane = np.zeros(3)
    for _ in range(_ROUNDS):
        plane, half = _programme(unit[inside], rest[inside])
        over = np.abs(rest - unit @ plane)
        outside = np.flatnonzero(over > half + 1e-9)
        if outside.size == 0:
            break
        worst = outside[np.argsort(over[outside])[-8:]]
        inside = np.unique(np.concatenate([inside, worst]))
    return plane


def _first_points(unit: Array, rest: Array) -> NDArray[np.intp]:
    """Return the extreme points of a few directions, to start the programme from."""
    tilts = np.array([[0, a, b] for a in (-1.0, 0.0, 1.0) for b in (-1.0, 0.0, 1.0)])
    leaning = rest[:, None] - unit @ tilts.T
    return np.unique(np.concatenate([leaning.argmax(axis=0), leaning.argmin(axis=0)]))


def _programme(unit: Array, rest: Array) -> tuple[Array, float]:
    from scipy.optimize import linprog

    one = np.ones((len(rest), 1))
    both = np.vstack([np.hstack([-unit, -one]), np.hstack([unit, -one])])
    found = linprog(
        [0, 0, 0, 1],
        A_ub=both,
        b_ub=np.concatenate([-rest, rest]),
        bounds=[(None, None)] * 3 + [(0, None)],
        method="highs-ds",
    )
    solution = np.asarray(found.x, dtype=np.float64)
    return solution[:3], float(solution[3])
