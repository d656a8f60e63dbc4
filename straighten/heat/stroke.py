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
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.case import check_peak, heated_wall, webs_of
from straighten.heat.curves import expanded, read
from straighten.heat.field import through_thickness
from straighten.heat.gauss import gauss
from straighten.heat.hardness import equivalent_time
from straighten.heat.lines import triangle
from straighten.heat.roof import Roof, Zone, mutual
from straighten.heat.spot import COLLAPSED
from straighten.heat.torch import slab_of
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Alloy, Head
    from straighten.heat.case import Webs
    from straighten.heat.field import Slab
    from straighten.heat.spot_case import SpotCase
    from straighten.heat.treatment import HeatStroke

    Floats = NDArray[np.float64]

SLICE: Final = Cited(
    14e-3, "m", "zones are cut into slices of about this length; halved, it moves the set by 3 %", "measured"
)
HOT: Final = Cited(
    0.85,
    "",
    "share of the hot yield at which a zone as a whole flows, since its middle is hotter than its mean; set on wide slow "
    "spots in 3D finite elements (350 to 450 C, 20 to 30 s)",
    "fitted",
)
DRAWN: Final = Cited(
    0.84,
    "",
    "share that a drawn flame reaches of what its zones would keep if all of them were hot at once; set on strokes of 6 to "
    "12 s, free and clamped, in 3D finite elements: without it they come out 16 to 38 % high",
    "fitted",
)
MOST_SLICES: Final = 8
_INSTANTS: Final = 14  # under the flame, and as many again while it cools
_COOLED: Final = 4.0  # times the stroke lasts, or `_LEAST_COOLING`, whichever is longer
_LEAST_COOLING: Final = 12.0  # s
_PANELS: Final = 10  # of four Gauss points over the square root of the heat's age
_ROUNDS: Final = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Warmth:
    """What warm zones go through.

    `press` stress over E that the warm roof puts on them when they freeze, compression positive, and `alone` what each
    one's own heat would put on it in an endless plate; `drive` stress over E that hot flow leaves in them, > 0 tension,
    < 0 where they never flow: how far they stay from it; `(2 zones,)` each; `rise` growth of the roof when they freeze
    times its arm to the middle [m4].
    """

    press: Floats
    alone: Floats
    drive: Floats
    rise: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StrokeWork:
    """Strokes that burn together, worked through: `zones` with the stroke each belongs to, their `warmth`, `peaks` [degC], `powers` [W], `heat` [J], `aged` equivalent time of the hottest metal [s]."""

    zones: tuple[Zone, ...]
    belongs: tuple[int, ...]
    warmth: Warmth
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

    Source: Gaussian source in an endless plate, superposed along the path (Carslaw & Jaeger, from memory); `follow`.
    Valid: as `follow`.
    """
    alloy, wall = head.alloy, heated_wall(head)
    powers, peaks = zip(*(power_and_peak(alloy, wall, stroke, start) for stroke in strokes), strict=True)
    slab = slab_of(alloy, wall, max(peaks), start)
    flames = [Flame.of(stroke, power, webs_of(head)) for stroke, power in zip(strokes, powers, strict=True)]
    soft = collapse_temperature(alloy)
    time = _instants(strokes)
    zones: list[Zone] = []
    belongs: list[int] = []
    for number, flame in enumerate(flames):
        found = _zones(flame, flames, slab, (time, soft - start))
        zones += found
        belongs += [number] * len(found)
    return StrokeWork(
        zones=tuple(zones),
        belongs=tuple(belongs),
        warmth=follow(head, roof, flames, slab, tuple(zones), start),
        peaks=peaks,
        powers=powers,
        heat=sum(power * stroke.dwell for power, stroke in zip(powers, strokes, strict=True)),
        aged=_ageing(strokes, max(peaks), start),
    )


def _ageing(strokes: tuple[HeatStroke, ...], peak: float, start: float) -> float:
    """Equivalent time at 250 degC of the hottest metal [s]: it stands at its peak for the passing of the flame."""
    passing = max(
        stroke.passes
        * min(stroke.time, 2 * stroke.radius * stroke.time / max(Flame.of(stroke, 1.0).length, 1e-6))
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
        held = () if webs is None else _walls_passed(webs)
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


def _walls_passed(webs: Webs) -> tuple[tuple[float, float], ...]:
    """Stations of the cross walls and the share of the heat that goes on past each."""
    return tuple(sorted((s, 2 / (2 + k)) for s, k in zip(webs.stations, webs.ratio, strict=True)))


def _ages(youngest: float, oldest: float) -> tuple[Floats, Floats]:
    node, weight = gauss(4)
    root = np.linspace(math.sqrt(max(youngest, 0.0)), math.sqrt(oldest), _PANELS + 1)
    middle, half = (root[1:] + root[:-1]) / 2, (root[1:] - root[:-1]) / 2
    point = middle[:, None] + half[:, None] * node
    return point.ravel() ** 2, (2 * point * half[:, None] * weight).ravel()


def grid_rise(flames: list[Flame], slab: Slab, now: float, x: Floats, y: Floats) -> Floats:
    """Rise over the thickness on a grid, `(x, y)` [K]: each Gaussian is a product of one along and one across."""
    total = np.zeros((x.size, y.size))
    for flame in flames:
        px, py, area, weight = flame.laid(slab, now)
        along = _along(flame, x, px, area) * (weight / (np.pi * area))
        across = np.exp(-np.minimum((y[:, None] - py) ** 2 / area, 700.0))
        total += flame.power / (slab.capacity * slab.thickness) * along @ across.T
    return total


def _along(flame: Flame, x: Floats, px: Floats, area: Floats) -> Floats:
    """Spread along the head of heat laid down at px, `(..., px)`: straight on, and what the cross walls take."""
    share, mirrors = flame.passed(x)
    found = share[..., None] * np.exp(-np.minimum((x[..., None] - px) ** 2 / area, 700.0))
    for station, part in mirrors:
        image = (x[..., None] - (2 * station - px)) ** 2 / area
        found += part[..., None] * np.exp(-np.minimum(image, 700.0))
    return np.asarray(found)


def surface_peak_per_watt(slab: Slab, stroke: HeatStroke) -> float:
    """Return the largest rise of the heated face on the stroke's line per absorbed power [K/W].

    Args:
        slab: the roof.
        stroke: path, time, passes.

    Source: as `work_strokes`, at the face.
    Valid: as there.
    """
    flame = Flame.of(stroke, 1.0)
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


def _zones(flame: Flame, flames: list[Flame], slab: Slab, heat: tuple[Floats, float]) -> list[Zone]:
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
    beside = tuple((*f.begin, *f.end) for f in flames if f is not flame)
    found = []
    for part in range(count):
        wide = _half_width(away, hottest[part], soft)
        if wide > 0:
            found.append(
                Zone(
                    x=round(flame.begin[0], 4), y=round(flame.begin[1], 4), x_end=round(flame.end[0], 4),
                    y_end=round(flame.end[1], 4), radius=round(max(wide, 2e-3), 4), part=part, parts=count, beside=beside,
                )
            )  # fmt: skip
    return found


def _half_width(away: Floats, rise: Floats, soft: float) -> float:
    """Distance from the line at which the rise first falls under the soft one's [m], nought where it never passes it."""
    cold = np.nonzero(rise <= soft)[0]
    if not cold.size:
        return float(away[-1])
    k = int(cold[0])
    if k == 0:
        return 0.0
    part = (rise[k - 1] - soft) / (rise[k - 1] - rise[k])
    return float(away[k - 1] + part * (away[k] - away[k - 1]))


def _points_rise(flames: list[Flame], slab: Slab, now: float, x: Floats, y: Floats) -> Floats:
    total = np.zeros(x.shape)
    for flame in flames:
        px, py, area, weight = flame.laid(slab, now)
        across = np.exp(-np.minimum((y[..., None] - py) ** 2 / area, 700.0))
        heat = _along(flame, x, px, area) * across * (weight / (np.pi * area))
        total += flame.power / (slab.capacity * slab.thickness) * heat.sum(axis=-1)
    return total


def spots_warmth(
    head: Head, roof: Roof, spots: tuple[tuple[float, float, SpotCase], ...], zones: tuple[Zone, ...]
) -> Warmth:
    """Return what the zones of spots that burn together go through.

    Args:
        head: alloy, webs, shims.
        roof: the elastic head.
        spots: station and distance from the middle line [m] and case of each.
        zones: one a spot.

    Source: `follow`.
    Valid: as there.
    """
    case = spots[0][2]
    slab = slab_of(case.alloy, case.thickness, max(c.peak for *_, c in spots), case.start)
    held = _walls_passed(webs_of(head))
    flames = [Flame((x, y), (x, y), c.dwell, (0.0,), c.power, c.radius, held) for x, y, c in spots]
    return follow(head, roof, flames, slab, zones, case.start)


def follow(
    head: Head, roof: Roof, flames: list[Flame], slab: Slab, zones: tuple[Zone, ...], start: float
) -> Warmth:
    """Follow warm zones in time: the roof's growth squeezes them, they flow where it passes their hot yield, and are pulled as they cool.

    Args:
        head: alloy, shims.
        roof: the elastic head.
        flames: all that burn together.
        slab: heat properties.
        zones: that they soften.
        start: temperature of the head before [degC].

    Source: elastic roof, walls and cross walls (`roof`) with one plane-stress von Mises law a zone, its means standing
        for it; derived. In an endless plate an even strain meets half of itself (Timoshenko & Goodier, from memory).
    Valid: deck still cold.
    """
    if not zones:
        none = np.zeros(0)
        return Warmth(press=none, alone=none, drive=none, rise=0.0)
    alloy, stiff = head.alloy, mutual(roof, zones)
    covers = np.stack([roof.cover(zone) / roof.cover(zone).sum() for zone in zones])
    over = max(f.starts[-1] + f.time for f in flames)
    soft = max(collapse_temperature(alloy), start + 1.0)
    flown, nearest = np.zeros(2 * len(zones)), np.full(len(zones), -np.inf)
    looks: list[_Look] = []
    for now in _looks(over, max(f.time for f in flames)):
        look = _look(roof, (flames, slab, alloy, start), covers, now)
        limit = HOT.value * read(alloy.yield_short, look.mean) / alloy.modulus[0][1]
        flown, near = _flowed(stiff, look.squeezed, flown, limit)
        nearest = np.maximum(nearest, near)
        looks.append(look)
    at = next(
        (k for k, look in enumerate(looks) if look.now >= over and look.mean.mean() <= soft), len(looks) - 1
    )
    before, after = looks[max(at - 1, 0)], looks[at]
    fallen = before.mean.mean() - after.mean.mean()
    part = float(np.clip((before.mean.mean() - soft) / fallen, 0.0, 1.0)) if fallen > 0 else 1.0
    short = np.repeat(nearest, 2)
    return Warmth(
        press=(1 - part) * before.squeezed + part * after.squeezed,
        alone=np.repeat((1 - part) * before.alone + part * after.alone, 2),
        drive=np.where(short < 0, short, stiff @ flown),
        rise=_lift(head, roof, (1 - part) * before.grown + part * after.grown),
    )


@dataclass(frozen=True, slots=True)
class _Look:
    """The zones at one instant: time, their mean temperature [degC], stress over E that growth puts on them, what their own would in an endless plate, growth of the roof."""

    now: float
    mean: Floats
    squeezed: Floats
    alone: Floats
    grown: Floats


def _looks(over: float, longest: float) -> Floats:
    """Instants looked at [s]: a few under the flame, then ever wider apart."""
    under = over - longest * np.array([0.6, 0.3, 0.0])
    return np.concatenate(
        [under[under > 0], over + longest * np.array([0.12, 0.28, 0.5, 0.8, 1.3, 2.2, 4.0])]
    )


def _look(roof: Roof, heat: tuple[list[Flame], Slab, Alloy, float], covers: Floats, now: float) -> _Look:
    flames, slab, alloy, start = heat
    rise = grid_rise(flames, slab, now, roof.x, roof.unfolded)
    grown = expanded(alloy.expansion, start + rise, start)
    stress = roof.stress_of_growth(grown, math.sqrt(4 * slab.diffusivity * now))
    alone = np.zeros(len(covers))
    if len(flames) == len(covers):
        for k, flame in enumerate(flames):
            own = grid_rise([replace(flame, webs=())], slab, now, roof.x, roof.y)
            alone[k] = (covers[k] * expanded(alloy.expansion, start + own, start)).sum() / 2
    return _Look(
        now=float(now),
        mean=start + np.tensordot(covers, roof.inside(rise), axes=2),
        squeezed=np.einsum("kxy,xyc->kc", covers, stress).ravel(),
        alone=alone,
        grown=roof.inside(grown),
    )


def _flowed(stiff: Floats, squeezed: Floats, flown: Floats, limit: Floats) -> tuple[Floats, Floats]:
    """Return the zones' shrinkage after they have flowed back to their yield, and how far beyond it they were (negative: short of it)."""
    near = np.full(limit.size, -np.inf)
    for sweep in range(3):
        stress = (squeezed - stiff @ flown).reshape(-1, 2)
        along, across = stress.T
        size = np.sqrt(np.maximum(along**2 + across**2 - along * across, 1e-20))
        if not sweep:
            near = size - limit
        beyond = np.nonzero(size > limit)[0]
        if not beyond.size:
            break
        at = np.stack([2 * beyond, 2 * beyond + 1], axis=1).ravel()
        back = stress[beyond] * (1 - limit[beyond] / size[beyond])[:, None]
        flown = flown.copy()
        flown[at] += np.linalg.solve(stiff[np.ix_(at, at)], back.ravel())
    return flown, near


def _lift(head: Head, roof: Roof, grown: Floats) -> float:
    """Growth of the roof times its arm to the middle [m4]."""
    arm = arm_of(head, roof.x)
    return float((grown.sum(axis=1) * arm).sum()) * roof.dx * roof.dy * roof.sizes.roof


def arm_of(head: Head, stations: Floats) -> Floats:
    """Return the rise of the middle against the shims per kink at stations [m].

    Source: `triangle`.
    Valid: between the shims; nought beyond.
    """
    span = head.rear_shim - head.front_shim
    inside = np.clip(stations - head.front_shim, 0.0, span)
    return triangle(np.array([head.casting.length / 2 - head.front_shim]), inside, span)[:, 0]
