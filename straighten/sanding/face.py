r"""The deck as sandpaper meets it: how proud every place stands, and how the lands grow.

The head lies deck down; what stands lowest is cut first. Two planes count. The minimum zone says how flat the face is.
The plane that the paper really cuts follows from the weight: wear goes with pressure (Preston), and the pressures of a
head that lies by its own weight have no moment about its middle; so neither has the metal worn off. With z the height
of the metal towards the paper, the cut

.. math:: u = \max(0, z - a - b x - c y), \qquad \int u\,dA = V, \quad \int u x\,dA = \int u y\,dA = 0

is fixed by its volume V alone. Share cut, mean cut and cut at the corners against the depth are the bearing curves
(Abbott and Firestone) of the face. Once all of it is cut, that plane is the least squares one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from straighten.quantiles import Floats
from straighten.readings.gauges import UNEVENNESS
from straighten.readings.records import DIAGONALS, LONG_LINES
from straighten.shape.limits import shape_draws
from straighten.shape.modes import deck_rows

Goal = Literal["limit", "clean-up"]

COLUMNS, ROWS = 33, 9  # places along and across on which the face is looked at
DEPTHS = np.linspace(0.0, 1.0, 41)  # depth of the cut over the height of the zone
DRAWS = 256
ALL_CLEAN = 0.97  # share that counts as "all shines": the last small pits do not leak
_PLACES = np.arange(COLUMNS * ROWS).reshape(COLUMNS, ROWS)
_COARSE = _PLACES[::2, ::2].ravel()  # enough to lay the plane by
_DIAGONAL = np.round(np.linspace(0, ROWS - 1, COLUMNS)).astype(int)
LINES = (*LONG_LINES, *DIAGONALS)
# Bearing curves; hollows by `LINES`, falls by `readings.records.RIM`.
SHARE, MEAN, HOLLOWS, FALLS = 0, 1, slice(2, 7), slice(7, 13)
_LINES = (
    _PLACES[:, 0],
    _PLACES[:, ROWS // 2],
    _PLACES[:, -1],
    _PLACES[np.arange(COLUMNS), _DIAGONAL],
    _PLACES[np.arange(COLUMNS), _DIAGONAL[::-1]],
)  # where a straightedge is laid
# Where a micrometer reaches, in the order of RIM.
_RIM_PLACES = [_PLACES[at, edge] for at in (0, -1, COLUMNS // 2) for edge in (0, -1)]
# Volumes of the levels, each over the one before, from full clean-up down.
_SHRINKING = (*[0.80] * 35, *[0.30] * 6)
_NEWTON, _BALANCED = 30, 1e-6  # most tries a level, and moment over metal at which it lies
_ROUNDS = 100
_LEAST_HEIGHT = 1e-6  # a face is never flatter than this [m]: the papers' own unevenness


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """The deck in draws, the mean shape first.

    `xi` `(m,)` station over length and `eta` `(m,)` 2 y / width of the places; `metal` `(n, m)` height of each towards
    the paper [m]; `proud` `(n, m)` height over the lower plane of the minimum zone and `zone` `(n,)` that zone's height
    [m]; `height` `(n,)` depth off the highest place at full clean-up, as the head settles [m]; `planes` `(n, k, 3)` that
    are cut at `DEPTHS` (shares of `height`); `curves` `(n, 13, k)` over `height`: share of the face cut (`SHARE`), mean cut
    (`MEAN`), largest hollow left on each line where a straightedge is laid (`HOLLOWS`, by `LINES`), cut at the four
    corners and the middles of both edges (`FALLS`, by `RIM`).
    """

    xi: Floats
    eta: Floats
    metal: Floats
    proud: Floats
    zone: Floats
    height: Floats
    planes: Floats
    curves: Floats

    def removal(self, depth: Floats) -> Floats:
        """Return what is cut off at every place [m], `(n, m)`, for a depth off the highest place per draw [m], `(n,)`."""
        place = np.clip(depth / self.height * (DEPTHS.size - 1), 0.0, DEPTHS.size - 1 - 1e-9)
        left = place.astype(np.intp)
        share = (place - left)[:, None]
        rows = np.arange(depth.size)
        plane = (1 - share) * self.planes[rows, left] + share * self.planes[rows, left + 1]
        cut: Floats = np.maximum(self.metal - plane @ _columns(self.xi, self.eta).T, 0.0)
        return cut + np.maximum(depth - self.height, 0.0)[:, None]

    def hollow(self, depth: Floats) -> Floats:
        """Return the largest hollow under the straightedge after a depth [m], `(n,)`."""
        place = np.clip(np.rint(depth / self.height * (DEPTHS.size - 1)), 0, DEPTHS.size - 1).astype(np.intp)
        largest: Floats = self.curves[:, HOLLOWS].max(axis=1)
        return self.height * largest[np.arange(depth.size), place]

    def depth_for(self, goal: Goal, left: float) -> Floats:
        """Return the depth off the highest place at which a goal is reached [m], `(n,)`."""
        return depth_to_goal(goal, left, self.height, self.curves)


def depth_reaching(curves: Floats, value: Floats) -> Floats:
    """Return the depth over the height at which rising curves `(n, k)` reach a value each, `(n,)`; 1 where they never do."""
    rising = np.maximum.accumulate(curves, axis=1)
    rows = np.arange(rising.shape[0])
    upper = np.argmax(rising >= value[:, None], axis=1)
    upper = np.where(rising[:, -1] < value, DEPTHS.size - 1, upper)
    lower = np.maximum(upper - 1, 0)
    low, high = rising[rows, lower], rising[rows, upper]
    share = np.clip((value - low) / np.maximum(high - low, 1e-12), 0.0, 1.0)
    reached: Floats = DEPTHS[lower] + share * (DEPTHS[upper] - DEPTHS[lower])
    return reached


def depth_to_goal(goal: Goal, left: float, height: Floats, curves: Floats) -> Floats:
    """Return the depth [m] at which all but a few small places shine, or no hollow is over `left` [m]; the rest as in `Face`."""
    if goal == "clean-up":
        return height * depth_reaching(curves[:, SHARE], np.full(height.size, ALL_CLEAN))
    return height * depth_reaching(-curves[:, HOLLOWS].max(axis=1), -left / height)


def face_of(mean: Floats, covariance: Floats, land: Floats | None = None) -> Face:
    """Return the face of a believed shape: mean `(11,)` [m], covariance `(11, 11)` [m2]; `land` as in `face_of_states`.

    Source: Minimum zone flatness, ISO 12781-1:2011 (from memory); bearing curve, Abbott and Firestone 1933 (from
    memory).
    Valid: A deck that the smooth modes describe.
    """
    uneven = UNEVENNESS.value * _lattice()
    uneven[0] = 0.0
    return face_of_states(shape_draws(mean, covariance, DRAWS), uneven, land)


def _lattice() -> Floats:
    """Return unit unevenness with nodes on every second place, `(n, m)`; the same on every run."""
    rng = np.random.default_rng(11)
    field = np.zeros((DRAWS, COLUMNS, ROWS))
    field[:, ::2, ::2] = rng.standard_normal((DRAWS, (COLUMNS + 1) // 2, (ROWS + 1) // 2))
    field[:, 1::2] = (field[:, :-1:2] + field[:, 2::2]) / math.sqrt(2)
    field[:, :, 1::2] = (field[:, :, :-1:2] + field[:, :, 2::2]) / math.sqrt(2)
    return field.reshape(DRAWS, -1)


def face_of_states(states: Floats, uneven: Floats | float = 0.0, land: Floats | None = None) -> Face:
    """Return the face of given shapes `(n, 11)` [m].

    `uneven` is the height of every place off the smooth shape [m], `(n, m)`; `land` the metal that every place stands for,
    `(m,)`, sum one, None for the whole outline.
    """
    xi, eta = (
        v.ravel() for v in np.meshgrid(np.linspace(0, 1, COLUMNS), np.linspace(-1, 1, ROWS), indexing="ij")
    )
    metal = uneven - states @ deck_rows(xi, eta).T  # what stands towards the paper counts up
    columns = _columns(xi, eta)
    zone, _ = zone_planes(xi[_COARSE], eta[_COARSE], metal[:, _COARSE])
    rest = metal - zone @ columns.T
    proud = rest - rest.min(axis=1, keepdims=True)
    area = area_weights() if land is None else land
    height, planes, curves = _curves(columns, metal, settle(columns, metal, area), area)
    return Face(
        xi=xi, eta=eta, metal=metal, proud=proud, zone=np.maximum(proud.max(axis=1), _LEAST_HEIGHT),
        height=height, planes=planes, curves=curves,
    )  # fmt: skip


def _columns(xi: Floats, eta: Floats) -> Floats:
    return np.stack([np.ones_like(xi), xi, eta], axis=1)


def settle(columns: Floats, metal: Floats, area: Floats) -> Floats:
    """Return the planes that are cut by growing volumes, `(n, levels, 3)`, from nearly nothing to full clean-up.

    For `columns` one, xi, eta of every place `(m, 3)`, `metal` height towards the paper `(n, m)` [m], and weights `(m,)`
    of sum one.

    Source: Preston's law and balance of a head under its own weight (derived, see above); Newton on a convex problem.
    Valid: Middle of mass over the middle of the face; turned end for end, so that the drag tilts it neither way.
    """
    normal = (columns * area[:, None]).T @ columns
    mean = columns.T @ area
    plane = np.asarray(np.linalg.solve(normal, ((metal * area) @ columns).T).T, dtype=np.float64)
    rest = metal - plane @ columns.T
    scale = np.maximum(np.ptp(rest, axis=1), _LEAST_HEIGHT)
    plane[:, 0] += rest.min(axis=1)
    volume = -rest.min(axis=1) + 1e-9 * scale
    squares = (columns[:, :, None] * columns[:, None, :]).reshape(columns.shape[0], 9)
    found = [plane]
    for smaller in _SHRINKING:
        volume = volume * smaller
        plane = _balanced((columns, metal, area, squares), plane, volume[:, None] * mean)
        found.append(plane)
    return np.stack(found[::-1], axis=1)


def _balanced(face: tuple[Floats, Floats, Floats, Floats], start: Floats, wanted: Floats) -> Floats:
    """Return the planes at which the metal cut has the wanted sums, `(n, 3)`.

    They are the least of a convex energy, half the squares of the cut plus the plane's own height; a step that does not lower
    it is halved, since few places carry a small cut and Newton's steps jump between them.
    """
    columns, metal, area, squares = face
    plane, move, share = start.copy(), np.zeros_like(start), np.ones(len(start))
    least = np.full(len(start), np.inf)
    going = np.arange(len(start))
    for _ in range(_NEWTON):
        tried = plane[going] + share[going, None] * move[going]
        cut = np.maximum(metal[going] - tried @ columns.T, 0.0)
        over = cut * area
        energy = (over * cut).sum(axis=1) / 2 + (wanted[going] * tried).sum(axis=1)
        lower = energy < least[going]
        share[going] = np.where(lower, 1.0, share[going] / 2)
        to, over = going[lower], over[lower]
        plane[to], least[to] = tried[lower], energy[lower]
        off = over @ columns - wanted[to]
        stiff = (((over > 0) * area) @ squares).reshape(-1, 3, 3) + 1e-7 * np.eye(3)
        move[to] = np.linalg.solve(stiff, off[..., None])[..., 0]
        lies = to[np.abs(off).max(axis=1) <= _BALANCED * wanted[to, 0]]
        going = going[~np.isin(going, lies)]
        if going.size == 0:
            break
    return plane


def zone_planes(xi: Floats, eta: Floats, heights: Floats) -> tuple[Floats, Floats]:
    """Return the planes `(n, 3)` and heights `(n,)` [m] of the minimum zones of many faces at once.

    The faces are heights `(n, m)` [m] at places `(m,)` along and across. Lawson's iteration: weighted least squares, each
    weight multiplied by its residual's size; the weights gather on the few places that hold the best plane.

    Source: C. L. Lawson's algorithm for uniform approximation, 1961 -- from memory; held against linear programming
    by the tests.
    Valid: To a tenth of a percent for most shapes, to four percent for the most crooked ones; never too small.
    """
    columns = np.stack([np.ones_like(xi), xi - xi.mean(), eta - eta.mean()], axis=1)
    squares = (columns[:, :, None] * columns[:, None, :]).reshape(xi.size, 9)
    weights = np.full(heights.shape, 1.0 / xi.size)
    best = np.full(heights.shape[0], np.inf)
    planes = np.zeros((heights.shape[0], 3))
    for _ in range(_ROUNDS):
        normal = (weights @ squares).reshape(-1, 3, 3) + 1e-12 * np.eye(3)
        found = np.linalg.solve(normal, ((weights * heights) @ columns)[..., None])[..., 0]
        rest = heights - found @ columns.T
        span = np.ptp(rest, axis=1)
        better = span < best
        best[better] = span[better]
        planes[better] = found[better]
        weights = weights * (np.abs(rest) + 1e-3 * span[:, None] + 1e-15)
        weights /= weights.sum(axis=1, keepdims=True)
    planes[:, 0] -= planes[:, 1] * xi.mean() + planes[:, 2] * eta.mean()
    return planes, best


def area_weights() -> Floats:
    """Return the trapezium weights of the places, sum one."""
    along, across = np.ones(COLUMNS), np.ones(ROWS)
    for edge in (along, across):
        edge[[0, -1]] = 0.5
    weights = np.outer(along, across).ravel()
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def _curves(columns: Floats, metal: Floats, planes: Floats, area: Floats) -> tuple[Floats, Floats, Floats]:
    """Return height, planes laid between those of the levels at `DEPTHS`, and the bearing curves there, as in `Face`."""
    there = area > 0.05 * area.max()  # over a chamber there is nothing to cut or to lay a straightedge on
    rest = metal[:, None, there] - planes @ columns[there].T
    top = np.maximum(rest, 0.0).max(axis=2)  # (n, levels)
    height = np.maximum(top[:, -1], _LEAST_HEIGHT)
    laid = _between(planes, np.maximum.accumulate(top, axis=1), height)
    rest = metal[:, None, :] - laid @ columns.T
    cut = np.maximum(rest, 0.0) / height[:, None, None]
    hollows = [np.maximum(-rest[:, :, line[there[line]]], 0.0).max(axis=2, initial=0.0) for line in _LINES]
    shares = np.maximum.accumulate(np.stack([(cut > 0) @ area, cut @ area], axis=1), axis=2)
    falls = np.maximum.accumulate(cut[:, :, _RIM_PLACES].transpose(0, 2, 1), axis=2)
    curves = [shares, np.stack(hollows, axis=1) / height[:, None, None], falls]
    return height, laid, np.concatenate(curves, axis=1)


def _between(planes: Floats, top: Floats, height: Floats) -> Floats:
    """Return the planes at `DEPTHS`, linear between the levels; before the first one it sinks onto the highest place."""
    rows = np.arange(top.shape[0])[:, None]
    wanted = DEPTHS * height[:, None]
    upper = np.clip((top[:, None, :] < wanted[:, :, None]).sum(axis=2), 1, top.shape[1] - 1)
    low, high = top[rows, upper - 1], top[rows, upper]
    share = (wanted - low) / np.maximum(high - low, 1e-15)
    below = wanted < top[:, :1]
    share = np.clip(np.where(below, 0.0, share), 0.0, 1.0)[:, :, None]
    laid = (1 - share) * planes[rows, upper - 1] + share * planes[rows, upper]
    laid[:, :, 0] += np.where(below, top[:, :1] - wanted, 0.0)
    return np.asarray(laid, dtype=np.float64)
