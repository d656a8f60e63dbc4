r"""The shape of a head in eleven numbers: the state vector that every later room speaks.

With xi = x / length and eta = 2 y / width the deck face stands at

.. math:: z(x, y) = (bow + side\,\eta + belly\,(1 - \eta^2))\, b(\xi) + skew\, s(\xi) + peak\, p(\xi)
          + twist\, \eta\, (2\xi - 1) + dish\, (1 - \eta^2)

and a cam line at the same with the cam's own bow, skew, peak and side (side counts where there are two lines).
All modes but twist and dish vanish at the ends; skew and peak vanish in the middle as well, so that `bow` is
exactly the height of the middle over the line through the ends.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

STATE = (
    "deck_bow",  # middle over the ends, mean of the two edges [m]
    "deck_skew",  # > 0: the front half stands higher than the rear half [m]
    "deck_peak",  # > 0: flat-topped; < 0: pointed in the middle [m]
    "deck_side",  # half of inlet-edge bow minus exhaust-edge bow [m]
    "deck_belly",  # centre-line bow over the edges' bow [m]
    "twist",  # lift of the rear inlet corner, and of the front exhaust one [m]
    "dish",  # centre line over the edges along the whole length [m]
    "cam_bow",  # cam line, middle over the ends [m]
    "cam_skew",
    "cam_peak",
    "cam_side",  # half of inlet cam bow minus exhaust cam bow [m]
)
INDEX = {name: number for number, name in enumerate(STATE)}
DECK = slice(0, 7)
CAM = slice(7, 11)

_SKEW_TOP = float(np.sqrt(3)) / 18  # largest value of xi (1 - xi) (1 - 2 xi)


def bow_mode(xi: ArrayLike) -> NDArray[np.float64]:
    """Return the parabola 4 xi (1 - xi): one in the middle, nought at the ends."""
    u = np.asarray(xi, dtype=np.float64)
    return 4 * u * (1 - u)


def skew_mode(xi: ArrayLike) -> NDArray[np.float64]:
    """Return the cubic that vanishes at the ends and the middle, largest value one, positive in the front half."""
    u = np.asarray(xi, dtype=np.float64)
    return u * (1 - u) * (1 - 2 * u) / _SKEW_TOP


def peak_mode(xi: ArrayLike) -> NDArray[np.float64]:
    """Return the quartic 16 u (1 - 4 u), u = xi (1 - xi): nought at ends and middle, largest value one."""
    u = np.asarray(xi, dtype=np.float64)
    u = u * (1 - u)
    return 16 * u * (1 - 4 * u)


def deck_rows(xi: ArrayLike, eta: ArrayLike) -> NDArray[np.float64]:
    """Return the rows that turn a state into deck heights.

    Args:
        xi: station over length, shape `(m,)`.
        eta: 2 y / width, shape `(m,)`.

    Returns:
        Array `(m, 11)`; heights [m] are `rows @ state`.
    """
    u, v = np.broadcast_arrays(np.asarray(xi, dtype=np.float64), np.asarray(eta, dtype=np.float64))
    rows = np.zeros((u.size, len(STATE)))
    crown = 1 - v**2
    rows[:, 0] = bow_mode(u)
    rows[:, 1] = skew_mode(u)
    rows[:, 2] = peak_mode(u)
    rows[:, 3] = v * bow_mode(u)
    rows[:, 4] = crown * bow_mode(u)
    rows[:, 5] = v * (2 * u - 1)
    rows[:, 6] = crown
    return rows


def cam_rows(xi: ArrayLike, line: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Return the rows that turn a state into cam-line heights.

    Args:
        xi: station over length, shape `(m,)`.
        line: 0 for a single or mean cam line, +1 inlet, -1 exhaust cam, shape `(m,)` or a scalar.

    Returns:
        Array `(m, 11)`; heights [m] over the line through the ends are `rows @ state`.
    """
    u, v = np.broadcast_arrays(np.asarray(xi, dtype=np.float64), np.asarray(line, dtype=np.float64))
    rows = np.zeros((u.size, len(STATE)))
    rows[:, 7] = bow_mode(u)
    rows[:, 8] = skew_mode(u)
    rows[:, 9] = peak_mode(u)
    rows[:, 10] = v * bow_mode(u)
    return rows


def project_line(xi: ArrayLike, heights: ArrayLike) -> NDArray[np.float64]:
    """Return bow, skew and peak of sampled lines, exact in the middle, least squares elsewhere.

    Args:
        xi: station over length from 0 to 1, shape `(m,)`, symmetric about 0.5 and containing it.
        heights: line heights [m], shape `(..., m)`; the line through the ends is taken off.

    Returns:
        Array `(..., 3)` of bow, skew and peak [m].
    """
    u = np.asarray(xi, dtype=np.float64)
    z = np.asarray(heights, dtype=np.float64)
    z = z - z[..., :1] * (1 - u) - z[..., -1:] * u
    middle = z[..., int(np.argmin(np.abs(u - 0.5)))]
    rest = z - middle[..., None] * bow_mode(u)
    modes = np.stack([skew_mode(u), peak_mode(u)], axis=-1)
    others = rest @ modes @ np.linalg.inv(modes.T @ modes)
    return np.concatenate([middle[..., None], others], axis=-1)
