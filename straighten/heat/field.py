r"""Temperature under a torch on a plate, both faces insulated, in closed form; and the alloy's curves.

The flux is q(r) = q0 exp(-2 r^2 / R^2) on the upper face. An instantaneous Gaussian line of heat spreads as
another Gaussian, the plate's faces act as mirrors, so that the step response is one integral over age s:

.. math:: \frac{\Delta T}{P} = \frac{1}{\rho c}\int_0^t \frac{e^{-r^2/b}}{\pi b}\, Z(d, s)\, ds,\qquad
          b = R^2/2 + 4 a s

with Z the mirror sum (young heat) or its cosine series (old heat). A torch that is taken away is the step
response minus the same step started later. A flame that moves lays its heat down along its path; averaged over the
thickness, Z is 1/h. At a cross wall the heat parts: some goes on, some is taken, as if a mirror image drew it off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from straighten.head.alloys import Curve
    from straighten.head.records import Alloy, Head
    from straighten.heat.treatment import HeatStroke

    Floats = NDArray[np.float64]


ROOM: Final = Cited(20.0, "degC", "temperature at which the alloy tables begin", "assumed")
SHARE_OF_RISE: Final = Cited(
    0.25,
    "",
    "heat properties are taken at a quarter of the surface's rise; meets the peak of 542 degC that 3D finite "
    "elements give for 2479 W, 12 mm and 4 s on a 10 mm roof",
    "fitted",
)


def heated_wall(head: Head) -> float:
    """Return the thickness of the metal under the torch [m]: the roof, or a solid casting's whole height.

    Valid: spots on the cam side.
    """
    return head.casting.height if is_solid(head) else head.casting.roof


def is_solid(head: Head) -> bool:
    """Return whether the casting is a solid bar."""
    return head.casting.plates is not None and head.casting.plates.solid


def slab_of(alloy: Alloy, thickness: float, peak: float, start: float = ROOM.value) -> Slab:
    """Return the roof as a plate whose heat properties are those of the heated metal.

    `thickness` of the heated wall [m]; `peak` surface temperature at the end of the dwell [degC]; `start`
    temperature of the metal before [degC].

    Source: properties at start + 0.25 (peak - start), see `SHARE_OF_RISE` (fitted).
    Valid: peaks from 150 degC to the solidus; the field is then within 2 % of one with varying properties.
    """
    at = start + SHARE_OF_RISE.value * (peak - start)
    capacity = alloy.density * float(read(alloy.heat_capacity, at))
    return Slab(thickness=thickness, conductivity=float(read(alloy.conductivity, at)), capacity=capacity)


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


_PANELS: Final = 10  # of four Gauss points over the square root of the heat's age


@dataclass(frozen=True, slots=True)
class MovingFlame:
    """A moving flame: where it begins and ends [m], seconds of a pass, when each pass begins [s], power [W], radius [m]."""

    begin: tuple[float, float]
    end: tuple[float, float]
    time: float
    starts: tuple[float, ...]
    power: float
    radius: float
    webs: tuple[tuple[float, float], ...] = ()  # station, share of the heat that goes on past it

    @classmethod
    def of(cls, stroke: HeatStroke, power: float, webs: Webs | None = None) -> MovingFlame:
        """Return the flame of a stroke."""
        starts = tuple(k * (stroke.time + stroke.pause) for k in range(stroke.passes))
        held = () if webs is None else walls_passed(webs)
        begin, end = (stroke.station, stroke.across_from), (stroke.last, stroke.across_to)
        return cls(begin, end, stroke.time, starts, power, stroke.radius, held)

    def passed(self, x: Floats) -> tuple[Floats, list[tuple[float, Floats]]]:
        """Share of the heat that reaches stations x past the cross walls, and the mirrors that take heat off its own bay: station of each, share at x."""
        here = (self.begin[0] + self.end[0]) / 2
        share = np.ones_like(x)
        left = max((w for w, _ in self.webs if w <= here), default=-np.inf)
        right = min((w for w, _ in self.webs if w > here), default=np.inf)
        mirrors = []
        for station, on in self.webs:
            between = (np.minimum(x, here) < station) & (station <= np.maximum(x, here))
            share = np.where(between, share * on, share)
            if station in (left, right):
                inside = (x > left) & (x <= right)
                mirrors.append((station, np.where(inside, on - 1, 0.0)))
        return share, mirrors

    @property
    def length(self) -> float:
        """Length of the line [m]."""
        return math.hypot(self.end[0] - self.begin[0], self.end[1] - self.begin[1])

    def laid(self, slab: Slab, now: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Heat laid down until now `(...)`: places x and y [m], spread area [m2], weight over age [s], `(..., ages)` each; ages are Gauss points."""
        begun = np.asarray(self.starts)
        gone = np.asarray(now, dtype=np.float64)[..., None] - begun
        age, weight = _ages(gone - np.clip(gone, 0.0, self.time), gone)
        share = np.clip((gone[..., None] - age) / self.time, 0.0, 1.0).reshape(*gone.shape[:-1], -1)
        age, weight = age.reshape(share.shape), weight.reshape(share.shape)
        x = self.begin[0] + share * (self.end[0] - self.begin[0])
        y = self.begin[1] + share * (self.end[1] - self.begin[1])
        return x, y, self.radius**2 / 2 + 4 * slab.diffusivity * age, weight


def walls_passed(webs: Webs) -> tuple[tuple[float, float], ...]:
    """Return the stations of the cross walls and the share of the heat that goes on past each.

    Source: heat at a junction of three half-endless plates, after Carslaw & Jaeger (from memory); derived.
    Valid: deep walls.
    """
    return tuple(sorted((s, 2 / (2 + k)) for s, k in zip(webs.stations, webs.ratio, strict=True)))


def _ages(youngest: Floats, oldest: Floats) -> tuple[Floats, Floats]:
    """Gauss points of age and their weights [s], `(..., points)` each; none of weight where nothing is laid down yet."""
    node, weight = gauss(4)
    first, last = (np.sqrt(np.maximum(v, 0.0))[..., None] for v in (youngest, oldest))
    root = first + (last - first) * np.linspace(0.0, 1.0, _PANELS + 1)
    middle, half = (root[..., 1:] + root[..., :-1]) / 2, (root[..., 1:] - root[..., :-1]) / 2
    point = middle[..., None] + half[..., None] * node
    flat = (*first.shape[:-1], -1)
    return (point**2).reshape(flat), (2 * point * half[..., None] * weight).reshape(flat)


def grid_rise(flames: Sequence[MovingFlame], slab: Slab, now: Floats | float, x: Floats, y: Floats) -> Floats:
    """Return the rise over the thickness on a grid at times `(...)`, `(..., x, y)` [K]: each Gaussian is a product of one along and one across.

    Valid: constant properties, no loss to the air.
    """
    total = np.zeros((*np.shape(now), x.size, y.size))
    for flame in flames:
        along, across = _spread(flame, slab, np.asarray(now), x, y)
        total += along @ across.swapaxes(-1, -2)
    return total


def points_rise(flames: Sequence[MovingFlame], slab: Slab, now: Floats, x: Floats, y: Floats) -> Floats:
    """Return the same at points of any shape at times `(t,)`, `(t, ...)` [K]."""
    total = np.zeros((now.size, x.size))
    for flame in flames:
        along, across = _spread(flame, slab, now, x.ravel(), y.ravel())
        total += (along * across).sum(axis=-1)
    return total.reshape(now.size, *x.shape)


def _spread(flame: MovingFlame, slab: Slab, now: Floats, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Rise along `(..., x, ages)` [K], straight on and by what the cross walls take, and share across `(..., y, ages)` of heat laid down until now."""
    px, py, area, weight = (v[..., None, :] for v in flame.laid(slab, now))
    share, mirrors = flame.passed(x)
    along = share[:, None] * np.exp(-np.minimum((x[:, None] - px) ** 2 / area, 700.0))
    for station, part in mirrors:
        image = (x[:, None] - (2 * station - px)) ** 2 / area
        along += part[:, None] * np.exp(-np.minimum(image, 700.0))
    along *= flame.power / (slab.capacity * slab.thickness) * weight / (np.pi * area)
    return along, np.exp(-np.minimum((y[:, None] - py) ** 2 / area, 700.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Webs:
    """Cross walls under the roof: `stations` [m] and `ratio` of web to roof thickness, alike in order."""

    stations: tuple[float, ...]
    ratio: tuple[float, ...]


def webs_of(head: Head) -> Webs:
    """Return the cross walls under the roof, ends included where plates give them.

    Source: the casting's own sizes.
    Valid: webs that reach the roof.
    """
    webs, roof = head.casting.webs, head.casting.roof
    return Webs(stations=tuple(w.station for w in webs), ratio=tuple(w.thickness / roof for w in webs))
