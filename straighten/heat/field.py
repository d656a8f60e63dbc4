r"""Temperature under a torch: a Gaussian flux on a plate, both faces insulated, in closed form.

The flux is q(r) = q0 exp(-2 r^2 / R^2) on the upper face. An instantaneous Gaussian line of heat spreads as
another Gaussian, the plate's faces act as mirrors, so that the step response is one integral over age s:

.. math:: \frac{\Delta T}{P} = \frac{1}{\rho c}\int_0^t \frac{e^{-r^2/b}}{\pi b}\, Z(d, s)\, ds,\qquad
          b = R^2/2 + 4 a s

with Z the mirror sum (young heat) or its cosine series (old heat). A torch that is taken away is the step
response minus the same step started later.

Gauss-Legendre points, worked out once for each number of them: finding them costs an eigenvalue problem.

Read the alloy's curves: straight lines between the points of a table, level beyond its ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from straighten.head.alloys import Curve

    Floats = NDArray[np.float64]


@cache
def gauss(points: int) -> tuple[Floats, Floats]:
    """Return nodes on -1..1 and weights, both read-only: they are shared.

    Source: numpy's `leggauss`.
    """
    node, weight = np.polynomial.legendre.leggauss(points)
    node.flags.writeable = weight.flags.writeable = False
    return node, weight


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


_MIRRORS = np.arange(-3, 4)
_COSINES = np.arange(1, 7)
_SWITCH = 0.1  # a s / h^2 where mirrors and cosines both hold to 1e-15 with the terms above
_BREAKS = 24  # least number of panels over the age of the heat


@dataclass(frozen=True, slots=True, kw_only=True)
class Flame:
    """A torch held on one place: absorbed `power` [W], `radius` where the flux is down to exp(-2) [m], `dwell` [s]."""

    power: float
    radius: float
    dwell: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Slab:
    """A plate that takes the heat: `thickness` [m], `conductivity` [W/(m K)], heat `capacity` per volume [J/(m3 K)]."""

    thickness: float
    conductivity: float
    capacity: float

    @property
    def diffusivity(self) -> float:
        """Conductivity over capacity [m2/s]."""
        return self.conductivity / self.capacity


def through_thickness(
    depth: NDArray[np.float64], age: NDArray[np.float64], slab: Slab
) -> NDArray[np.float64]:
    r"""Return the share of a unit sheet of heat per depth [1/m] after an age, insulated faces.

    `depth` below the heated face [m], shape `(z,)`; `age` since the sheet was laid on the face [s], > 0,
    shape `(s,)`.

    Returns:
        Array `(s, z)`; its integral over the thickness is one.

    Source: Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., method of images -- from memory; derived.
    Valid: constant properties, no loss to the air.
    """
    h, a = slab.thickness, slab.diffusivity
    share = np.empty((age.size, depth.size))
    young = a * age < _SWITCH * h**2
    spread = 4 * a * age[young, None, None]
    paths = (depth[:, None] + 2 * h * _MIRRORS) ** 2
    share[young] = np.exp(-np.minimum(paths / spread, 700)).sum(axis=-1) / np.sqrt(
        np.pi * a * age[young, None]
    )
    waves = np.cos(np.pi * _COSINES * depth[:, None] / h)
    fading = np.exp(-((np.pi * _COSINES / h) ** 2) * a * age[~young, None])
    share[~young] = (1 + 2 * fading @ waves.T) / h
    return share


def slab_rise(
    flame: Flame, slab: Slab, radius: ArrayLike, depth: ArrayLike, time: ArrayLike
) -> NDArray[np.float64]:
    """Return the temperature rise of the plate under and around a torch.

    `radius` from the torch's axis [m], shape `(r,)`; `depth` below the heated face [m], shape `(z,)`; `time`
    since the torch came on [s], >= 0, shape `(t,)`.

    Returns:
        Rise [K], shape `(t, r, z)`.

    Source: Green's function of a Gaussian source with images, after Carslaw & Jaeger -- from memory; derived.
    Valid: constant properties (take them at `mean_temperature`), no loss to the air, edges far away.
    """
    r, d, t = (np.atleast_1d(np.asarray(v, dtype=np.float64)) for v in (radius, depth, time))
    nodes = age_nodes(flame, slab, t)
    area = flame.radius**2 / 2 + 4 * slab.diffusivity * nodes.age
    across = np.exp(-(r**2) / area[:, None]) / (np.pi * area[:, None])
    return flame.power / slab.capacity * step_between(nodes, across, through_thickness(d, nodes.age, slab))


@dataclass(frozen=True, slots=True)
class AgeNodes:
    """Gauss points over the age of the heat: `age` and `weight` [s], four a panel, and the panel ends before and after which each time's heat was laid down."""

    age: NDArray[np.float64]
    weight: NDArray[np.float64]
    youngest: NDArray[np.intp]
    oldest: NDArray[np.intp]


def age_nodes(flame: Flame, slab: Slab, time: NDArray[np.float64]) -> AgeNodes:
    """Return quadrature points for the step response at every time [s] and at every time since the torch left.

    Source: Gauss-Legendre in the square root of the age, which takes the singularity away; derived.
    """
    gone = np.maximum(time - flame.dwell, 0.0)
    ages = np.unique(np.concatenate([time, gone, _breaks(flame, slab, float(time.max()))]))
    root = np.sqrt(ages)
    x, weight = gauss(4)
    middle, half = (root[1:] + root[:-1]) / 2, (root[1:] - root[:-1]) / 2
    points = middle[:, None] + half[:, None] * x
    return AgeNodes(
        points.ravel() ** 2,
        (2 * points * half[:, None] * weight).ravel(),
        np.searchsorted(ages, gone),
        np.searchsorted(ages, time),
    )


def step_between(
    nodes: AgeNodes, face: NDArray[np.float64], down: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the integral over the age of face pattern times depth pattern, shape `(t, face, depth)`.

    `face` pattern along the face at each point, `(nodes, face)`; `down` pattern over the depth at each point,
    `(nodes, depth)`.

    Source: superposition of steps; derived.
    Valid: constant power while the torch is on.
    """
    panels = (nodes.age.size // 4, 4)
    weighed = (face * nodes.weight[:, None]).reshape(*panels, -1).transpose(0, 2, 1)
    steps = np.zeros((panels[0] + 1, face.shape[1], down.shape[1]))
    np.cumsum(weighed @ down.reshape(*panels, -1), axis=0, out=steps[1:])
    return np.asarray(steps[nodes.oldest] - steps[nodes.youngest])


def _breaks(flame: Flame, slab: Slab, oldest: float) -> NDArray[np.float64]:
    """Ages between panels: even in the square root while the source is young, in its logarithm later."""
    young = min(flame.radius, slab.thickness) / np.sqrt(8 * slab.diffusivity)
    last = np.arcsinh(np.sqrt(oldest) / young)
    return np.asarray((young * np.sinh(np.linspace(0, last, _BREAKS + 1))) ** 2)


def surface_rise(flame: Flame, slab: Slab) -> float:
    """Return the rise [K] of the middle of the spot's face when the torch is taken away.

    Source: `slab_rise` at radius 0, depth 0, time = dwell; derived.
    """
    return float(slab_rise(flame, slab, 0.0, 0.0, flame.dwell)[0, 0, 0])
