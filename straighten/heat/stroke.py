r"""A torch drawn over the roof: its temperatures, the zones it softens, and when each of them freezes.

Heat laid down at the instant s by a flame that then stood at p(s) has spread as a Gaussian, so that

.. math:: \overline{\Delta T}(x, t) = \frac{P}{\rho c\,h}\int_0^{t} \frac{e^{-|x - p(s)|^2/b}}{\pi b}\, ds,
          \qquad b = R^2/2 + 4 a (t - s)

is the rise averaged over the roof's thickness. Where it passes the temperature at which half of the cold yield is gone,
the metal carries nothing. A softened zone is cut into slices along the stroke; each freezes when its mean falls back
under that temperature, and keeps the strain that made it free of stress at that instant: thermal stress of the whole
warm roof, the clamp, and whatever other zones have left (`keeping`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.case import check_peak, heated_wall
from straighten.heat.curves import expanded, read
from straighten.heat.field import through_thickness
from straighten.heat.gauss import gauss
from straighten.heat.hardness import equivalent_time
from straighten.heat.lines import triangle
from straighten.heat.roof import Roof, Zone
from straighten.heat.spot import COLLAPSED
from straighten.heat.torch import slab_of
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Alloy, Head
    from straighten.heat.field import Slab
    from straighten.heat.treatment import HeatStroke

    Floats = NDArray[np.float64]

SLICE: Final = Cited(
    14e-3, "m", "zones are cut into slices of about this length; halved, it moves the set by 3 %", "measured"
)
MOST_SLICES: Final = 8
_INSTANTS: Final = 14  # under the flame, and as many again while it cools
_COOLED: Final = 4.0  # times the stroke lasts, or `_LEAST_COOLING`, whichever is longer
_LEAST_COOLING: Final = 12.0  # s
_PANELS: Final = 10  # of four Gauss points over the square root of the heat's age
_ROUNDS: Final = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Freezing:
    """One instant at which zones freeze: `hot` numbers of the zones that carry nothing then, `drive` thermal stress over E in them, compression positive (2 hot,), `rise` what the warm roof's growth lifts the middle by, times E I over roof height [m4]."""

    hot: NDArray[np.intp]
    drive: Floats
    rise: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StrokeWork:
    """Strokes that burn together, worked through: `zones` with the stroke each belongs to, `freezings` in their order, `peaks` [degC], `powers` [W], `heat` [J]."""

    zones: tuple[Zone, ...]
    belongs: tuple[int, ...]
    freezings: tuple[Freezing, ...]
    peaks: tuple[float, ...]
    powers: tuple[float, ...]
    heat: float
    aged: float


def work_strokes(head: Head, roof: Roof, strokes: tuple[HeatStroke, ...], start: float) -> StrokeWork:
    """Return what strokes that burn together do to the roof.

    Args:
        head: alloy, wall, shims.
        roof: the elastic head.
        strokes: `across` signed by the side already; one start.
        start: temperature of the head before [degC].

    Raises:
        OutsideModel: a surface would melt, or stays too cold.

    Source: Gaussian source in an endless plate, superposed along the path (Carslaw & Jaeger, from memory); derived.
    Valid: heat that has not gone round the roof's edges or down the cross walls for the most part.
    """
    alloy, wall = head.alloy, heated_wall(head)
    powers, peaks = zip(*(power_and_peak(alloy, wall, stroke, start) for stroke in strokes), strict=True)
    slab = slab_of(alloy, wall, max(peaks), start)
    flames = [_Flame.of(stroke, power) for stroke, power in zip(strokes, powers, strict=True)]
    soft = collapse_temperature(alloy)
    time = _instants(strokes)
    zones, belongs = [], []
    for number, flame in enumerate(flames):
        found = _zones(flame, flames, slab, (time, soft - start))
        zones += found
        belongs += [number] * len(found)
    return StrokeWork(
        zones=tuple(zones),
        belongs=tuple(belongs),
        freezings=_freezings(head, roof, tuple(zones), (flames, slab, time, soft, start)),
        peaks=peaks,
        powers=powers,
        heat=sum(power * stroke.dwell for power, stroke in zip(powers, strokes, strict=True)),
        aged=_ageing(strokes, max(peaks), start),
    )


def _ageing(strokes: tuple[HeatStroke, ...], peak: float, start: float) -> float:
    """Equivalent time at 250 degC of the hottest metal [s]: it stands at its peak for the passing of the flame."""
    passing = max(
        stroke.passes * min(stroke.time, 2 * stroke.radius * stroke.time / max(_Flame.of(stroke, 1.0).length, 1e-6))
        for stroke in strokes
    )
    return float(equivalent_time(max(peak, start), passing))


def collapse_temperature(alloy: Alloy) -> float:
    """Return the temperature [degC] above which the metal counts as soft: less than half of its cold yield is left.

    Source: the alloy's short-exposure curve; `COLLAPSED`.
    Valid: curves that fall with temperature.
    """
    t = np.linspace(20.0, alloy.solidus, 541)
    weak = read(alloy.yield_short, t) < COLLAPSED * alloy.yield_short[0][1]
    return float(t[np.argmax(weak)]) if weak.any() else alloy.solidus


@dataclass(frozen=True, slots=True)
class _Flame:
    """A moving flame: where it begins and ends [m], seconds of a pass, when each pass begins [s], power [W], radius [m]."""

    begin: tuple[float, float]
    end: tuple[float, float]
    time: float
    starts: tuple[float, ...]
    power: float
    radius: float

    @classmethod
    def of(cls, stroke: HeatStroke, power: float) -> _Flame:
        last = stroke.station if stroke.station_to is None else stroke.station_to
        starts = tuple(k * (stroke.time + stroke.pause) for k in range(stroke.passes))
        return cls(
            (stroke.station, stroke.across_from), (last, stroke.across_to), stroke.time, starts, power, stroke.radius
        )

    @property
    def length(self) -> float:
        return math.hypot(self.end[0] - self.begin[0], self.end[1] - self.begin[1])

    def laid(self, slab: Slab, now: float) -> tuple[Floats, Floats, Floats, Floats]:
        """Heat laid down until now: places x and y [m], spread area [m2], weight over age [s]; ages are Gauss points."""
        parts = []
        for start in self.starts:
            done = min(now - start, self.time)
            if done > 0:
                parts.append(_ages(now - start - done, now - start))
        if not parts:
            return (np.zeros(0),) * 4
        age, weight = np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])
        begun = np.concatenate([np.full(p[0].size, s) for p, s in zip(parts, self.starts, strict=False)])
        share = np.clip((now - age - begun) / self.time, 0.0, 1.0)
        x = self.begin[0] + share * (self.end[0] - self.begin[0])
        y = self.begin[1] + share * (self.end[1] - self.begin[1])
        return x, y, self.radius**2 / 2 + 4 * slab.diffusivity * age, weight


def _ages(youngest: float, oldest: float) -> tuple[Floats, Floats]:
    node, weight = gauss(4)
    root = np.linspace(math.sqrt(max(youngest, 0.0)), math.sqrt(oldest), _PANELS + 1)
    middle, half = (root[1:] + root[:-1]) / 2, (root[1:] - root[:-1]) / 2
    point = middle[:, None] + half[:, None] * node
    return point.ravel() ** 2, (2 * point * half[:, None] * weight).ravel()


def _grid_rise(flames: list[_Flame], slab: Slab, now: float, x: Floats, y: Floats) -> Floats:
    """Rise over the thickness on a grid, `(x, y)` [K]: each Gaussian is a product of one along and one across."""
    total = np.zeros((x.size, y.size))
    for flame in flames:
        px, py, area, weight = flame.laid(slab, now)
        along = np.exp(-np.minimum((x[:, None] - px) ** 2 / area, 700.0)) * (weight / (np.pi * area))
        across = np.exp(-np.minimum((y[:, None] - py) ** 2 / area, 700.0))
        total += flame.power / (slab.capacity * slab.thickness) * along @ across.T
    return total


def surface_peak_per_watt(slab: Slab, stroke: HeatStroke) -> float:
    """Return the largest rise of the heated face on the stroke's line per absorbed power [K/W].

    Args:
        slab: the roof.
        stroke: path, time, passes.

    Source: as `work_strokes`, at the face.
    Valid: as there.
    """
    flame = _Flame.of(stroke, 1.0)
    hottest = 0.0
    for start in flame.starts[-1:]:
        for share in (0.5, 0.75, 0.9, 1.0):
            now = start + share * flame.time
            px, py, area, weight = flame.laid(slab, now)
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

    Args:
        alloy: heat properties.
        wall: thickness under the torch [m].
        stroke: with either of the two.
        start: temperature of the head before [degC].

    Raises:
        OutsideModel: as `check_peak`.

    Source: `surface_peak_per_watt`; derived.
    Valid: as there.
    """
    if stroke.power is None:
        peak = float(stroke.peak or 0.0)
        check_peak(alloy, peak)
        return (peak - start) / surface_peak_per_watt(slab_of(alloy, wall, peak, start), stroke), peak
    peak = start + 400.0
    for _ in range(_ROUNDS):
        slab = slab_of(alloy, wall, min(peak, 2 * alloy.solidus), start)
        peak = start + stroke.power * surface_peak_per_watt(slab, stroke)
    check_peak(alloy, peak)
    return stroke.power, peak


def _instants(strokes: tuple[HeatStroke, ...]) -> Floats:
    """Times looked at [s]: even while the torch is on, ever wider apart while the roof cools."""
    lasts = max(stroke.lasts for stroke in strokes)
    step = max(stroke.time for stroke in strokes) / _INSTANTS
    cooling = max((_COOLED - 1) * max(stroke.time for stroke in strokes), _LEAST_COOLING)
    on = np.linspace(0.0, lasts, max(math.ceil(lasts / step), _INSTANTS) + 1)[1:]
    return np.concatenate([on, lasts + cooling * (np.geomspace(1.0, 12.0, _INSTANTS + 1)[1:] - 1) / 11])


def _zones(flame: _Flame, flames: list[_Flame], slab: Slab, heat: tuple[Floats, float]) -> list[Zone]:
    """Slices of what a stroke softens: half-widths from how far across its line the rise passes the soft one's."""
    time, soft = heat
    count = min(max(round(flame.length / SLICE.value) + 1, 1), MOST_SLICES)
    away = np.linspace(0.0, 4 * flame.radius, 33)
    line = ((np.arange(count) + 0.5) / count) * (flame.length + 2 * flame.radius) - flame.radius
    line = np.clip(line, 0.0, flame.length) / max(flame.length, 1e-9)
    run, rise = flame.end[0] - flame.begin[0], flame.end[1] - flame.begin[1]
    size = max(flame.length, 1e-9)
    off = (-rise / size, run / size) if flame.length > 0 else (1.0, 0.0)
    x = flame.begin[0] + line[:, None] * run + away * off[0]
    y = flame.begin[1] + line[:, None] * rise + away * off[1]
    hottest = np.zeros(x.shape)
    for now in time:
        hottest = np.maximum(hottest, _points_rise(flames, slab, float(now), x, y))
    found = []
    for part in range(count):
        wide = float(away[hottest[part] > soft].max(initial=0.0))
        if wide > 0:
            found.append(
                Zone(
                    x=round(flame.begin[0], 4), y=round(flame.begin[1], 4), x_end=round(flame.end[0], 4),
                    y_end=round(flame.end[1], 4), radius=round(max(wide, 2e-3), 4), part=part, parts=count,
                )
            )  # fmt: skip
    return found


def _points_rise(flames: list[_Flame], slab: Slab, now: float, x: Floats, y: Floats) -> Floats:
    total = np.zeros(x.shape)
    for flame in flames:
        px, py, area, weight = flame.laid(slab, now)
        away = ((x[..., None] - px) ** 2 + (y[..., None] - py) ** 2) / area
        total += flame.power / (slab.capacity * slab.thickness) * (
            np.exp(-np.minimum(away, 700.0)) * (weight / (np.pi * area))
        ).sum(axis=-1)
    return total


def _freezings(
    head: Head, roof: Roof, zones: tuple[Zone, ...], fire: tuple[list[_Flame], Slab, Floats, float, float]
) -> tuple[Freezing, ...]:
    """Follow the zones' mean temperatures; whenever one falls back under the soft one's, all that are soft are told."""
    flames, slab, time, soft, start = fire
    if not zones:
        return ()
    covers = np.stack([roof.cover(zone) / roof.cover(zone).sum() for zone in zones])
    hot, found, last = np.zeros(len(zones), dtype=np.bool_), [], np.zeros((roof.x.size, roof.y.size))
    arm = triangle(
        np.array([head.casting.length / 2 - head.front_shim]),
        np.clip(roof.x - head.front_shim, 0.0, head.rear_shim - head.front_shim),
        head.rear_shim - head.front_shim,
    )[:, 0]
    for now in time:
        rise = _grid_rise(flames, slab, float(now), roof.x, roof.y)
        mean = start + np.tensordot(covers, rise, axes=2)
        cooled = hot & (mean <= soft)
        if cooled.any() or (now == time[-1] and hot.any()):
            found.append(_freezing(head.alloy, roof, (covers, last, start, arm), np.nonzero(hot)[0]))
        hot, last = mean > soft, rise
    return tuple(found)


def _freezing(
    alloy: Alloy, roof: Roof, heat: tuple[Floats, Floats, float, Floats], hot: NDArray[np.intp]
) -> Freezing:
    covers, rise, start, arm = heat
    grown = expanded(alloy.expansion, start + rise, start)
    stress = roof.stress_of_growth(grown)
    drive = np.einsum("kxy,xyc->kc", covers[hot], stress)
    lift = float((grown.sum(axis=1) * arm).sum()) * roof.dx * roof.dy * roof.sizes.roof
    return Freezing(hot=hot, drive=drive.ravel(), rise=lift)

