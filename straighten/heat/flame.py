r"""A flame that moves over the roof, or is held still: how warm the roof becomes, averaged over its thickness.

Heat laid down at the instant s by a flame that then stood at p(s) has spread as a Gaussian, so that

.. math:: \overline{\Delta T}(x, t) = \frac{P}{\rho c\,h}\int_0^{t} \frac{e^{-|x - p(s)|^2/b}}{\pi b}\, ds,
          \qquad b = R^2/2 + 4 a (t - s)

At a cross wall the heat parts: some goes on, some is taken, as if a mirror image drew it off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.case import check_peak
from straighten.heat.field import gauss, through_thickness
from straighten.heat.torch import slab_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Alloy
    from straighten.heat.case import Webs
    from straighten.heat.field import Slab
    from straighten.heat.treatment import HeatStroke

    Floats = NDArray[np.float64]


_PANELS: Final = 10  # of four Gauss points over the square root of the heat's age

_ROUNDS: Final = 5


@dataclass(frozen=True, slots=True)
class Flame:
    """A moving flame: where it begins and ends [m], seconds of a pass, when each pass begins [s], power [W], radius [m]."""

    begin: tuple[float, float]
    end: tuple[float, float]
    time: float
    starts: tuple[float, ...]
    power: float
    radius: float
    webs: tuple[tuple[float, float], ...] = ()  # station, share of the heat that goes on past it

    @classmethod
    def of(cls, stroke: HeatStroke, power: float, webs: Webs | None = None) -> Flame:
        """Return the flame of a stroke."""
        last = stroke.station if stroke.station_to is None else stroke.station_to
        starts = tuple(k * (stroke.time + stroke.pause) for k in range(stroke.passes))
        held = () if webs is None else walls_passed(webs)
        begin, end = (stroke.station, stroke.across_from), (last, stroke.across_to)
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


def grid_rise(flames: Sequence[Flame], slab: Slab, now: Floats | float, x: Floats, y: Floats) -> Floats:
    """Return the rise over the thickness on a grid at times `(...)`, `(..., x, y)` [K]: each Gaussian is a product of one along and one across.

    Valid: constant properties, no loss to the air.
    """
    total = np.zeros((*np.shape(now), x.size, y.size))
    for flame in flames:
        along, across = _spread(flame, slab, np.asarray(now), x, y)
        total += along @ across.swapaxes(-1, -2)
    return total


def points_rise(flames: Sequence[Flame], slab: Slab, now: Floats, x: Floats, y: Floats) -> Floats:
    """Return the same at points of any shape at times `(t,)`, `(t, ...)` [K]."""
    total = np.zeros((now.size, x.size))
    for flame in flames:
        along, across = _spread(flame, slab, now, x.ravel(), y.ravel())
        total += (along * across).sum(axis=-1)
    return total.reshape(now.size, *x.shape)


def _spread(flame: Flame, slab: Slab, now: Floats, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Rise along `(..., x, ages)` [K], straight on and by what the cross walls take, and share across `(..., y, ages)` of heat laid down until now."""
    px, py, area, weight = (v[..., None, :] for v in flame.laid(slab, now))
    share, mirrors = flame.passed(x)
    along = share[:, None] * np.exp(-np.minimum((x[:, None] - px) ** 2 / area, 700.0))
    for station, part in mirrors:
        image = (x[:, None] - (2 * station - px)) ** 2 / area
        along += part[:, None] * np.exp(-np.minimum(image, 700.0))
    along *= flame.power / (slab.capacity * slab.thickness) * weight / (np.pi * area)
    return along, np.exp(-np.minimum((y[:, None] - py) ** 2 / area, 700.0))


def surface_peak_per_watt(slab: Slab, stroke: HeatStroke) -> float:
    """Return the largest rise of the heated face on the stroke's line per absorbed power [K/W]."""
    flame = Flame.of(stroke, 1.0)
    hottest = 0.0
    for start in flame.starts[-1:]:
        for share in (0.5, 0.75, 0.9, 1.0):
            now = start + share * flame.time
            px, py, area, weight = flame.laid(slab, np.asarray(now))
            age = (area - flame.radius**2 / 2) / (4 * slab.diffusivity)
            face = through_thickness(np.zeros(1), np.maximum(age, 1e-9), slab)[:, 0]
            behind = np.linspace(max(share - 0.3, 0.0), share, 7)
            x = flame.begin[0] + behind * (flame.end[0] - flame.begin[0])
            y = flame.begin[1] + behind * (flame.end[1] - flame.begin[1])
            away = (x[:, None] - px) ** 2 + (y[:, None] - py) ** 2
            rise = (np.exp(-np.minimum(away / area, 700.0)) / (np.pi * area) * face * weight).sum(axis=1)
            hottest = max(hottest, float(rise.max()))
    return hottest / slab.capacity


def power_and_peak(alloy: Alloy, wall: float, stroke: HeatStroke, start: float) -> tuple[float, float]:
    """Return absorbed power [W] and surface peak [degC] of a stroke, completed from one another.

    `wall` thickness under the torch [m]; `start` temperature of the head before [degC].

    Raises:
        OutsideModel: as `check_peak`.
    """
    if stroke.power is None:
        peak = float(stroke.peak or 0.0)
        check_peak(alloy, peak)
        return (peak - start) / surface_peak_per_watt(slab_of(alloy, wall, peak, start), stroke), peak
    peak = peak_reached(alloy, wall, stroke, start)
    check_peak(alloy, peak)
    return stroke.power, peak


def peak_reached(alloy: Alloy, wall: float, stroke: HeatStroke, start: float) -> float:
    """Return the surface peak that a stroke of known power reaches [degC], whether it makes sense or not.

    Source: `surface_peak_per_watt` with heat properties at the peak it gives, by repetition; derived.
    """
    peak = start + 400.0
    for _ in range(_ROUNDS):
        slab = slab_of(alloy, wall, min(peak, 2 * alloy.solidus), start)
        peak = start + (stroke.power or 0.0) * surface_peak_per_watt(slab, stroke)
    return peak
