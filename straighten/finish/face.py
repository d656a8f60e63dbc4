r"""The deck as sandpaper meets it: how proud every place stands over the deepest one, and how the lands grow.

The head lies deck down; what stands lowest is cut first. With the minimum zone of height h laid through the face, a
place that stands `proud` over the zone's lower plane loses max(0, proud - (h - d)) when the depth d is taken off.
The share of the face that is cut and the mean depth of the cut, both against d / h, are the bearing curve and its
integral (Abbott and Firestone).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.readings.gauges import UNEVENNESS
from straighten.shape.draws import shape_draws
from straighten.shape.modes import deck_rows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

COLUMNS, ROWS = 33, 9  # places along and across on which the face is looked at
DEPTHS = np.linspace(0.0, 1.0, 41)  # depth of the cut over the height of the zone
DRAWS = 256
ALL_CLEAN = 0.97  # share that counts as "all shines": the last small pits do not leak
_COARSE = np.arange(COLUMNS * ROWS).reshape(COLUMNS, ROWS)[::2, ::2].ravel()  # enough to lay the plane by
_PLACES = np.arange(COLUMNS * ROWS).reshape(COLUMNS, ROWS)
_DIAGONAL = np.round(np.linspace(0, ROWS - 1, COLUMNS)).astype(int)
_LINES = np.unique(
    np.concatenate(
        [
            _PLACES[:, 0],
            _PLACES[:, ROWS // 2],
            _PLACES[:, -1],
            _PLACES[np.arange(COLUMNS), _DIAGONAL],
            _PLACES[np.arange(COLUMNS), _DIAGONAL[::-1]],
        ]
    )
)  # where a straightedge is laid: edges, centre, diagonals
_ROUNDS = 70
_LEAST_HEIGHT = 1e-6  # a face is never flatter than this [m]: the papers' own unevenness


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """The deck in draws, the mean shape first.

    `xi` `(m,)` station over length and `eta` `(m,)` 2 y / width of the places; `proud` `(n, m)` height of each over
    the lowest plane of the minimum zone [m]; `height` `(n,)` of the zone: the depth to full clean-up [m];
    `cut_share` `(n, k)`, `cut_mean` `(n, k)` share of the face cut and mean depth of the cut over `height` at
    `DEPTHS`; `corner_cut` `(n, k)` mean cut at the four corners over `height`; `pits` `(n,)` how far the lowest place
    under a straightedge stands over the lowest of all [m]: a straightedge does not reach every pit.
    """

    xi: Array
    eta: Array
    proud: Array
    height: Array
    cut_share: Array
    cut_mean: Array
    corner_cut: Array
    pits: Array

    def removal(self, depth: Array) -> Array:
        """Return what is cut off at every place [m], `(n, m)`, for a depth per draw [m], `(n,)`."""
        cut: Array = np.maximum(self.proud - (self.height - depth)[:, None], 0.0)
        return cut

    def depth_to_clean(self) -> Array:
        """Return the depth at which all but a few small places shine [m], `(n,)`."""
        return self.height * clean_depth(self.cut_share)

    def depth_to_leave(self, left: float) -> Array:
        """Return the depth that leaves no larger hollow under the straightedge [m], `(n,)`."""
        depth: Array = np.maximum(self.height - self.pits - left, 0.0)
        return depth


def clean_depth(cut_share: Array) -> Array:
    """Return the depth over the zone's height at which `ALL_CLEAN` of the face is cut, for curves `(n, k)`."""
    rising = np.maximum.accumulate(cut_share, axis=1)
    rows = np.arange(rising.shape[0])
    upper = np.clip(np.argmax(rising >= ALL_CLEAN, axis=1), 1, None)
    upper = np.where(rising[:, -1] < ALL_CLEAN, DEPTHS.size - 1, upper)
    low, high = rising[rows, upper - 1], rising[rows, upper]
    share = np.clip((ALL_CLEAN - low) / np.maximum(high - low, 1e-12), 0.0, 1.0)
    return np.asarray(DEPTHS[upper - 1] + share * (DEPTHS[1] - DEPTHS[0]), dtype=np.float64)


def face_of(mean: Array, covariance: Array, draws: int = DRAWS) -> Face:
    """Return the face of a believed shape.

    Args:
        mean: state `(11,)` [m].
        covariance: `(11, 11)` [m2].
        draws: how many, > 1.

    Source:
        Minimum zone flatness, ISO 12781-1:2011 (from memory); bearing curve, Abbott and Firestone 1933 (from memory).

    Valid:
        A deck that the smooth modes describe; holes in the face are left out of the share.
    """
    uneven = UNEVENNESS.value * _lattice(draws)
    uneven[0] = 0.0
    return face_of_states(shape_draws(mean, covariance, draws), uneven)


def _lattice(draws: int) -> Array:
    """Return unit unevenness with nodes on every second place, `(n, m)`; the same on every run."""
    rng = np.random.default_rng(11)
    field = np.zeros((draws, COLUMNS, ROWS))
    field[:, ::2, ::2] = rng.standard_normal((draws, (COLUMNS + 1) // 2, (ROWS + 1) // 2))
    field[:, 1::2] = (field[:, :-1:2] + field[:, 2::2]) / math.sqrt(2)
    field[:, :, 1::2] = (field[:, :, :-1:2] + field[:, :, 2::2]) / math.sqrt(2)
    return field.reshape(draws, -1)


def face_of_states(states: Array, uneven: Array | float = 0.0) -> Face:
    """Return the face of given shapes.

    Args:
        states: `(n, 11)` [m].
        uneven: height of every place off the smooth shape [m], `(n, m)`.

    Source:
        As for `face_of`.

    Valid:
        As for `face_of`.
    """
    xi, eta = (
        v.ravel() for v in np.meshgrid(np.linspace(0, 1, COLUMNS), np.linspace(-1, 1, ROWS), indexing="ij")
    )
    lowering = uneven - states @ deck_rows(xi, eta).T  # metal that stands towards the paper counts up
    planes, _ = zone_planes(xi[_COARSE], eta[_COARSE], lowering[:, _COARSE])
    rest = lowering - planes @ np.stack([np.ones_like(xi), xi, eta])
    proud = rest - rest.min(axis=1, keepdims=True)
    height = np.maximum(np.ptp(rest, axis=1), _LEAST_HEIGHT)
    return Face(
        xi=xi, eta=eta, proud=proud, height=height, pits=proud[:, _LINES].min(axis=1),
        **_curves(proud, height, area_weights()),
    )  # fmt: skip


def zone_planes(xi: Array, eta: Array, heights: Array) -> tuple[Array, Array]:
    r"""Return the minimum zones of many faces at once.

    Lawson's iteration: weighted least squares, each weight multiplied by its residual's size; the weights gather on
    the few places that hold the best plane.

    Args:
        xi: along, `(m,)`.
        eta: across, `(m,)`.
        heights: `(n, m)` [m].

    Returns:
        Planes `(n, 3)` and heights of the zones `(n,)` [m].

    Source:
        C. L. Lawson's algorithm for uniform approximation, 1961 -- from memory; held against linear programming by
        the tests.

    Valid:
        To about half a percent of the zone's height.
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


def area_weights() -> Array:
    """Return the trapezium weights of the places, sum one."""
    along, across = np.ones(COLUMNS), np.ones(ROWS)
    for edge in (along, across):
        edge[[0, -1]] = 0.5
    weights = np.outer(along, across).ravel()
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def _curves(proud: Array, height: Array, area: Array) -> dict[str, Array]:
    relative = proud / height[:, None]
    corners = [0, ROWS - 1, -ROWS, -1]
    depths = DEPTHS[:, None, None]
    cut = np.maximum(relative - 1 + depths, 0.0)  # (k, n, m)
    mean = (cut @ area).T
    share = np.gradient(mean, DEPTHS, axis=1).clip(0.0, 1.0)
    return {"cut_share": share, "cut_mean": mean, "corner_cut": cut[:, :, corners].mean(axis=2).T}
