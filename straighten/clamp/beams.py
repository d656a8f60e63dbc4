"""Influence functions of a straight Timoshenko beam held at its two ends: the closed forms that the clamp stands on.

The beam lies on x = 0 to L, w up. The end supports are only a frame of reference: the clamp asks that their
reactions vanish and adds the rigid movement, so what is left is exactly the deflection with the ends' chord out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


HAIR = 1e-8  # m: stations this near are the same place


@dataclass(frozen=True, slots=True, kw_only=True)
class Beam:
    """A uniform beam: `length` [m], bending stiffness `EI` [N m2], shear stiffness `kGA` [N], torsion `GJ` [N m2]."""

    length: float
    EI: float
    kGA: float
    GJ: float


def _grid(x: ArrayLike, s: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return np.asarray(x, dtype=np.float64)[:, None], np.asarray(s, dtype=np.float64)[None, :]


def lift(beam: Beam, x: ArrayLike, s: ArrayLike) -> NDArray[np.float64]:
    r"""Return the rise at `x` under a unit upward force at `s`, bending and shear.

    .. math:: w = a\,(L^2 - b^2 - a^2)\,b / (6 L\,EI) + a\,b / (L\,kGA),\quad a = \min(x, s),\; b = L - \max(x, s)

    `x` stations [m], shape `(m,)`, 0 to length; `s` stations of the forces [m], shape `(p,)`.

    Returns:
        Rise per force [m/N], shape `(m, p)`; symmetric.

    Source: Timoshenko, Strength of Materials, simply supported beam with one load (from memory).
    Valid: small deflection, uniform section.
    """
    u, v = _grid(x, s)
    a, b = np.minimum(u, v), beam.length - np.maximum(u, v)
    bending = a * b * (beam.length**2 - b**2 - a**2) / (6 * beam.length * beam.EI)
    return np.asarray(bending + a * b / (beam.length * beam.kGA))


def moment(beam: Beam, x: ArrayLike, s: ArrayLike) -> NDArray[np.float64]:
    """Return the bending moment at `x` per unit upward force at `s` [m], > 0 where the middle is pulled down."""
    u, v = _grid(x, s)
    return np.asarray(-np.minimum(u, v) * (beam.length - np.maximum(u, v)) / beam.length)


def shear(beam: Beam, x: ArrayLike, s: ArrayLike) -> NDArray[np.float64]:
    """Return the shear force dM/dx just after `x` per unit upward force at `s` [-]."""
    u, v = _grid(x, s)
    return np.where(u < v - HAIR, v / beam.length - 1, v / beam.length)


def roll(beam: Beam, x: ArrayLike, s: ArrayLike) -> NDArray[np.float64]:
    """Return the roll at `x` per unit torque at `s` [rad/(N m)], the front end held.

    Source: Saint-Venant torsion of a uniform bar.
    Valid: warping free; torques in balance over the beam.
    """
    u, v = _grid(x, s)
    return np.asarray(np.minimum(u, v) / beam.GJ)


def torque(x: ArrayLike, s: ArrayLike) -> NDArray[np.float64]:
    """Return the torque GJ droll/dx just after `x` per unit torque at `s`, the front end held."""
    u, v = _grid(x, s)
    return np.where(u < v - HAIR, 1.0, 0.0)


def sag(beam: Beam, x: ArrayLike) -> NDArray[np.float64]:
    r"""Return the rise (negative: it sags) at `x` per unit of total weight spread evenly.

    .. math:: w = -\frac{x (L^3 - 2 L x^2 + x^3)}{24 L\,EI} - \frac{x (L - x)}{2 L\,kGA}

    Source: Timoshenko, Strength of Materials, uniform load (from memory).
    """
    u, length = np.asarray(x, dtype=np.float64), beam.length
    bending = u * (length**3 - 2 * length * u**2 + u**3) / (24 * length * beam.EI)
    return np.asarray(-bending - u * (length - u) / (2 * length * beam.kGA))


def rigid(beam: Beam, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
    """Return the rows that turn (rise of the front end, rise of the rear end, roll) into the rise of points.

    Valid: small angles.
    """
    u, v = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    return np.stack([1 - u / beam.length, u / beam.length, v], axis=-1)


def flexibility(
    beam: Beam, x: ArrayLike, y: ArrayLike, at: tuple[ArrayLike, ArrayLike]
) -> NDArray[np.float64]:
    """Return the rise of points (x, y) under unit upward forces at the points `at` [m/N], shape `(m, p)`."""
    v, t = np.asarray(y, dtype=np.float64), np.asarray(at[1], dtype=np.float64)
    return lift(beam, x, at[0]) + v[:, None] * t[None, :] * roll(beam, x, at[0])
