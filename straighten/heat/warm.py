"""What warm zones of the roof go through: squeezed by its growth, flowing where that passes the hot yield, pulled as they cool.

A torch drawn over the roof: the zones it softens, slice by slice, and what they go through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.case import webs_of
from straighten.heat.field import expanded, read
from straighten.heat.flame import Flame, grid_rise, points_rise, power_and_peak, walls_passed
from straighten.heat.hardness import equivalent_time
from straighten.heat.lines import triangle
from straighten.heat.plates import Zone, inverse_of, mutual
from straighten.heat.roof import Roof
from straighten.heat.spot import COLLAPSED
from straighten.heat.torch import heated_wall, slab_of
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Alloy, Head
    from straighten.heat.field import Slab
    from straighten.heat.heating import SpotCase
    from straighten.heat.treatment import HeatStroke

    Floats = NDArray[np.float64]

HOT: Final = Cited(
    0.85,
    "",
    "share of the hot yield at which a zone as a whole flows, since its middle is hotter than its mean; set on wide slow "
    "spots in 3D finite elements (350 to 450 C, 20 to 30 s)",
    "fitted",
)


AT_YIELD: Final = 1 - 1e-6  # of the yield: a zone brought back to it still flows while the others do


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


def collapse_temperature(alloy: Alloy) -> float:
    """Return the temperature [degC] above which the metal counts as soft: less than half of its cold yield is left.

    Source: the alloy's short-exposure curve; `COLLAPSED`.
    Valid: curves that fall with temperature.
    """
    t = np.linspace(20.0, alloy.solidus, 541)
    weak = read(alloy.yield_short, t) < COLLAPSED * alloy.yield_short[0][1]
    return float(t[np.argmax(weak)]) if weak.any() else alloy.solidus


def spots_warmth(
    head: Head, roof: Roof, spots: tuple[tuple[float, float, SpotCase], ...], zones: tuple[Zone, ...]
) -> Warmth:
    """Return what the zones of spots that burn together go through.

    `spots` station and distance from the middle line [m] and case of each.
    """
    case = spots[0][2]
    slab = slab_of(case.alloy, case.thickness, max(c.peak for *_, c in spots), case.start)
    held = walls_passed(webs_of(head))
    flames = [Flame((x, y), (x, y), c.dwell, (0.0,), c.power, c.radius, held) for x, y, c in spots]
    return follow(head, roof, flames, slab, zones, case.start)


def follow(
    head: Head, roof: Roof, flames: list[Flame], slab: Slab, zones: tuple[Zone, ...], start: float
) -> Warmth:
    """Follow warm zones in time: the roof's growth squeezes them, they flow where it passes their hot yield, and are pulled as they cool.

    `start` temperature of the head before [degC].

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
    times, rise, own = _rises(roof, tuple(flames), slab, over)
    grown = expanded(alloy.expansion, start + rise, start)
    means = start + np.tensordot(roof.inside(rise), covers, axes=((1, 2), (1, 2)))
    squeezed = roof.squeezed(zones, grown, np.sqrt(4 * slab.diffusivity * times)).reshape(times.size, -1)
    alone = np.zeros((times.size, len(zones)))
    if len(flames) == len(zones):
        alone = np.einsum("kxy,ktxy->tk", covers, expanded(alloy.expansion, start + own, start)) / 2
    flown, nearest = np.zeros(2 * len(zones)), np.full(len(zones), -np.inf)
    for mean, press in zip(means, squeezed, strict=True):
        limit = HOT.value * read(alloy.yield_short, mean) / alloy.modulus[0][1]
        flown, near = _flowed(stiff, press, flown, limit)
        nearest = np.maximum(nearest, near)
    frozen = np.nonzero((times >= over) & (means.mean(axis=1) <= soft))[0]
    at = int(frozen[0]) if frozen.size else times.size - 1
    last, cooler = means[max(at - 1, 0)].mean(), means[at].mean()
    part = float(np.clip((last - soft) / (last - cooler), 0.0, 1.0)) if last > cooler else 1.0

    def then(told: Floats) -> Floats:
        return np.asarray((1 - part) * told[max(at - 1, 0)] + part * told[at])

    short = np.repeat(nearest, 2)
    return Warmth(
        press=then(squeezed),
        alone=np.repeat(then(alone), 2),
        drive=np.where(short < 0, short, stiff @ flown),
        rise=_lift(head, roof, roof.inside(then(grown))),
    )


@lru_cache(maxsize=32)
def _rises(roof: Roof, flames: tuple[Flame, ...], slab: Slab, over: float) -> tuple[Floats, Floats, Floats]:
    """Instants looked at [s], the rise on the cells of `unfolded` at each `(t, along, unfolded)`, and on the roof by each flame alone without walls `(flames, t, along, across)` [K]."""
    times = _looks(over, max(f.time for f in flames))
    own = [grid_rise([replace(flame, webs=())], slab, times, roof.x, roof.y) for flame in flames]
    return times, grid_rise(flames, slab, times, roof.x, roof.unfolded), np.stack(own)


def _looks(over: float, longest: float) -> Floats:
    """Instants looked at [s]: a few under the flame, then ever wider apart."""
    under = over - longest * np.array([0.6, 0.3, 0.0])
    return np.concatenate(
        [under[under > 0], over + longest * np.array([0.12, 0.28, 0.5, 0.8, 1.3, 2.2, 4.0])]
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
        beyond = np.nonzero(size > AT_YIELD * limit)[0]
        if not beyond.size:
            break
        at = np.stack([2 * beyond, 2 * beyond + 1], axis=1).ravel()
        back = stress[beyond] * (1 - limit[beyond] / size[beyond])[:, None]
        flown = flown.copy()
        flown[at] += inverse_of(stiff[np.ix_(at, at)]) @ back.ravel()
    return flown, near


def _lift(head: Head, roof: Roof, grown: Floats) -> float:
    """Growth of the roof times its arm to the middle [m4]."""
    arm = arm_of(head, roof.x)
    return float((grown.sum(axis=1) * arm).sum()) * roof.dx * roof.dy * roof.sizes.roof


def arm_of(head: Head, stations: Floats) -> Floats:
    """Return the rise of the middle against the shims per kink at stations [m].

    Valid: between the shims; nought beyond.
    """
    span = head.rear_shim - head.front_shim
    inside = np.clip(stations - head.front_shim, 0.0, span)
    return triangle(np.array([head.casting.length / 2 - head.front_shim]), inside, span)[:, 0]


SLICE: Final = Cited(
    14e-3, "m", "zones are cut into slices of about this length; halved, it moves the set by 3 %", "measured"
)

DRAWN: Final = Cited(
    (0.92, 0.77),
    "",
    "shares of their own shrinkage and of the clamp's strain that zones of a drawn flame reach of what they would if all were "
    "hot at once; set on a stroke of 12 s, free, clamped and drawn twice, in 3D finite elements: without them the clamped one "
    "comes out 24 % high",
    "fitted",
)
MOST_SLICES: Final = 8

NARROWEST: Final = 4e-3  # m: half-width of a zone at least, so that elements see it
_INSTANTS: Final = 14  # under the flame, and as many again while it cools

_COOLED: Final = 4.0  # times the stroke lasts, or `_LEAST_COOLING`, whichever is longer

_LEAST_COOLING: Final = 12.0  # s


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

    `strokes` `across` signed by the side already; one start; `start` temperature of the head before [degC].

    Raises:
        OutsideModel: a surface would melt, or stays too cold.

    Source: Gaussian source in an endless plate, superposed along the path (Carslaw & Jaeger, from memory); `follow`.
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
    hottest = points_rise(flames, slab, time, x, y).max(axis=0)
    beside = tuple((*f.begin, *f.end) for f in flames if f is not flame)
    widths = [_half_width(away, rise, soft) for rise in hottest]
    if max(widths) == 0.0:
        widths[count // 2] = NARROWEST
    ends = (round(v, 4) for v in (*flame.begin, *flame.end))
    x0, y0, x1, y1 = ends
    return [
        Zone(
            x=x0, y=y0, x_end=x1, y_end=y1, radius=round(max(wide, NARROWEST), 4), part=part, parts=count,
            cap=flame.radius, beside=beside,
        )
        for part, wide in enumerate(widths)
        if wide > 0
    ]  # fmt: skip


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
