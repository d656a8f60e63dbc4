r"""The deck as sandpaper meets it: how proud every place stands over the deepest one, and how the lands grow.

The head lies deck down; what stands lowest is cut first. With the minimum zone of height h laid through the face, a
place that stands `proud` over the zone's lower plane loses max(0, proud - (h - d)) when the depth d is taken off.
The share of the face that is cut and the mean depth of the cut, both against d / h, are the bearing curve and its
integral (Abbott and Firestone).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.shape.draws import shape_draws
from straighten.shape.modes import deck_rows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

COLUMNS, ROWS = 33, 9  # places along and across on which the face is looked at
DEPTHS = np.linspace(0.0, 1.0, 41)  # depth of the cut over the height of the zone
DRAWS = 256
_COARSE = np.arange(COLUMNS * ROWS).reshape(COLUMNS, ROWS)[::2, ::2].ravel()  # enough to lay the plane by
_ROUNDS = 70
_LEAST_HEIGHT = 1e-6  # a face is never flatter than this [m]: the papers' own unevenness


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """The deck in draws, the mean shape first.

    `xi` `(m,)` station over length and `eta` `(m,)` 2 y / width of the places; `proud` `(n, m)` height of each over
    the lowest plane of the minimum zone [m]; `height` `(n,)` of the zone: the depth to full clean-up [m];
    `cut_share` `(n, k)`, `cut_mean` `(n, k)` share of the face cut and mean depth of the cut over `height` at
    `DEPTHS`; `corner_cut` `(n, k)` mean cut at the four corners over `height`; `planes` `(n, 3)` heights of the
    middle of the zone [m] at the origin and per unit of xi and of eta.
    """

    xi: Array
    eta: Array
    proud: Array
    height: Array
    cut_share: Array
    cut_mean: Array
    corner_cut: Array
    planes: Array

    def removal(self, depth: Array) -> Array:
        """Return what is cut off at every place [m], `(n, m)`, for a depth per draw [m], `(n,)`."""
        cut: Array = np.maximum(self.proud - (self.height - depth)[:, None], 0.0)
        return cut


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
    return face_of_states(shape_draws(mean, covariance, draws))


def face_of_states(states: Array) -> Face:
    """Return the face of given shapes.

    Args:
        states: `(n, 11)` [m].

    Source:
        As for `face_of`.

    Valid:
        As for `face_of`.
    """
    xi, eta = (
        v.ravel() for v in np.meshgrid(np.linspace(0, 1, COLUMNS), np.linspace(-1, 1, ROWS), indexing="ij")
    )
    lowering = -(states @ deck_rows(xi, eta).T)  # metal that stands towards the paper counts up
    planes, _ = zone_planes(xi[_COARSE], eta[_COARSE], lowering[:, _COARSE])
    rest = lowering - planes @ np.stack([np.ones_like(xi), xi, eta])
    proud = rest - rest.min(axis=1, keepdims=True)
    height = np.maximum(np.ptp(rest, axis=1), _LEAST_HEIGHT)
    return Face(
        xi=xi, eta=eta, proud=proud, height=height, planes=planes,
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
