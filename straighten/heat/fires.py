"""Treatments that burn together: their zones, what each goes through, and the warmth and the neighbours each has."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.head.records import side_sign
from straighten.heat.cooling import equivalent_time, spot_start
from straighten.heat.field import ROOM, MovingFlame, heated_wall, points_rise, slab_of, webs_of
from straighten.heat.heating import SpotCase, spot_among, spot_case
from straighten.heat.plates import Zone, collapse_temperature, endless, follow, sizes_of, spots_warmth
from straighten.heat.roof import roof_of
from straighten.heat.spot import Effect, work_spots
from straighten.heat.torch import power_and_peak
from straighten.heat.treatment import HeatSpot, HeatStroke
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.clamp.section import Section
    from straighten.head.records import Head
    from straighten.heat.field import Slab
    from straighten.heat.plates import Warmth
    from straighten.heat.roof import Roof
    from straighten.heat.spot import SpotAnswer
    from straighten.heat.treatment import Treatment

    Counts = NDArray[np.intp]
    Floats = NDArray[np.float64]


WARM_STEP: Final = 10.0  # K: a spot on a head so much warmer is followed anew
SMALLEST: Final = Cited(
    6e-3,
    "m",
    "zones are drawn no smaller, so that elements see them; their own stiffness is put in",
    "derived",
)
WHOLE: Final = 0.97  # share of a zone from which on it counts as whole: cells are coarse
LONE: Final = Cited(
    (0.13, 1.05e-3),
    "per e-fold; m2",
    "more that spots shrink and keep where none burns on the other side with them, per e-fold of their heat's spread "
    "R^2/2 + 4 a t over 1050 mm2, that of 12 mm, 4 s; set on one side, then the other in 3D finite elements (12 to 26 mm, 4 to 20 s): "
    "without it 1 to 19 % low",
    "fitted",
)
LEAST: Final = 1e-12  # m3: a zone that keeps less than this much per strain is taken to keep this much


@dataclass(frozen=True, slots=True, kw_only=True)
class Fire:
    """Treatments of one kind that burn together.

    `numbers` of the treatments; `zones` with the treatment each `belongs` to; `offset` of the shrinkage from the wall's
    mid-plane by zone [m]; surface `peaks` [degC] and absorbed `powers` [W] of the treatments; `heat` put in [J]; `aged`
    equivalent time of the hottest metal at 250 degC [s]; `warmth` the zones go through, None in a solid bar;
    `answers` and `cases` of spots, none of strokes.
    """

    numbers: tuple[int, ...]
    zones: tuple[Zone, ...]
    belongs: tuple[int, ...]
    offset: Floats
    peaks: tuple[float, ...]
    powers: tuple[float, ...]
    heat: float
    aged: float
    warmth: Warmth | None
    answers: tuple[SpotAnswer, ...] = ()
    cases: tuple[SpotCase, ...] = ()

    @property
    def reached(self) -> tuple[float, float]:
        """Shares of the answer that the zones come to, of their own and of the clamp's: `DRAWN`, `LONE`."""
        if not self.cases:
            return DRAWN.value
        if self.cases[0].bar_width is not None or len({zone.y > 0 for zone in self.zones}) > 1:
            return 1.0, 1.0
        more, begins = LONE.value
        spread = max(case.spread() for case in self.cases)
        share = 1 + more * max(math.log(spread / begins), 0.0)
        return share, share

    def stiffness(self) -> Floats:
        """M of each spot's own zone in an endless plate, even and lopsided (zones, 2) [1/m3]: what makes it keep what its disc keeps."""
        nu = self.cases[0].alloy.poisson
        kept = np.maximum([[a.effect.even, a.effect.lopsided] for a in self.answers], LEAST)
        return np.asarray(1 / (np.array([1 - nu, 1 + nu]) * kept))

    def stiffer(self, roof: Roof) -> Floats:
        """How much stiffer a zone is than its elements make it, even and lopsided, never negative."""
        if not self.cases:
            return np.zeros((len(self.zones), 2))
        if self.cases[0].bar_width is not None:
            return self.stiffness()
        told = [endless(roof, (zone,)) for zone in self.zones]
        elements = np.array([[m.sum() / 2, (m[0, 0] + m[1, 1] - 2 * m[0, 1]) / 2] for m in told])
        return np.asarray(np.maximum(self.stiffness() - elements, 0.0))


def fires_of(head: Head, section: Section, treatments: tuple[Treatment, ...]) -> list[Fire]:
    """Return groups in the order of their starts; of one start spots come before strokes."""
    warm, cases = _warmth(head, section, treatments), cases_of(head, section, treatments)
    known = dict(zip([c for c in cases if c], work_spots([c for c in cases if c]), strict=True))
    found = []
    for start in sorted({t.start for t in treatments}):
        now = [k for k, t in enumerate(treatments) if t.start == start]
        spots = [k for k in now if cases[k] is not None]
        strokes = [k for k in now if cases[k] is None]
        if spots:
            burning = [(k, case, known[case]) for k in spots if (case := cases[k])]
            found.append(_spot_fire(head, treatments, burning))
        if strokes:
            found.append(_stroke_fire(head, treatments, strokes, warm[strokes[0]]))
    return [fire for fire in found if fire.zones] or found[:1]


def _spot_fire(
    head: Head,
    treatments: tuple[Treatment, ...],
    burning: list[tuple[int, SpotCase, SpotAnswer]],
) -> Fire:
    numbers, cases, answers = zip(*burning, strict=True)
    zones = []
    for k, case, answer in burning:
        spot = treatments[k]
        assert isinstance(spot, HeatSpot)  # noqa: S101 - spots only
        y = _signed(head, spot)
        zones.append(
            Zone(x=spot.station, y=y, x_end=spot.station, y_end=y, radius=_reach(case, answer.effect))
        )
    zones = [_cut(zone, zones) for zone in zones]
    roof = roof_of(sizes_of(head))
    where = tuple((z.x, z.y, c) for z, c in zip(zones, cases, strict=True))
    share = [float(roof.cover(z).sum()) * roof.dx * roof.dy / (math.pi * z.radius**2) for z in zones]
    return Fire(
        numbers=numbers,
        zones=tuple(zones),
        belongs=numbers,
        offset=np.array([_offset(a.effect) for a in answers]),
        peaks=tuple(c.hottest for c in cases),
        powers=tuple(c.power for c in cases),
        heat=sum(a.heat for a in answers),
        aged=max(a.aged for a in answers),
        answers=tuple(_part(a, s) for a, s in zip(answers, share, strict=True)),
        cases=cases,
        warmth=_spots_warm(head, where, tuple(zones)),
    )


def _spots_warm(
    head: Head, where: tuple[tuple[float, float, SpotCase], ...], zones: tuple[Zone, ...]
) -> Warmth | None:
    """Return what the zones of spots that burn together go through; one alone goes through the same on either side."""
    if where[0][2].bar_width is not None:
        return None
    if len(zones) > 1:
        return spots_warmth(head, roof_of(sizes_of(head)), where, zones)
    (x, y, case), (zone,) = where[0], zones
    start = ROOM.value + WARM_STEP * round((case.start - ROOM.value) / WARM_STEP)
    same_side = replace(zone, y=abs(zone.y), y_end=abs(zone.y_end))
    return _alone(head, (x, abs(y), replace(case, start=start)), same_side)


@lru_cache(maxsize=4096)
def _alone(head: Head, where: tuple[float, float, SpotCase], zone: Zone) -> Warmth:
    return spots_warmth(head, roof_of(sizes_of(head)), (where,), (zone,))


def _part(answer: SpotAnswer, share: float) -> SpotAnswer:
    """What is left of a spot of which roof edges and neighbours leave only a share."""
    if share > WHOLE:
        return answer
    effect = Effect(**{f.name: share * getattr(answer.effect, f.name) for f in fields(Effect)})
    return replace(answer, effect=effect, growth=share * answer.growth)


def _cut(zone: Zone, zones: list[Zone]) -> Zone:
    """A zone ends half-way to the next one that burns with it."""
    near = [
        z for z in zones if z is not zone and math.hypot(z.x - zone.x, z.y - zone.y) < z.radius + zone.radius
    ]
    return replace(zone, beside=tuple((z.x, z.y, z.x_end, z.y_end) for z in near))


def _reach(case: SpotCase, effect: Effect) -> float:
    """Radius of the hole that keeps what the disc keeps, the larger of its even and lopsided one [m]."""
    nu = case.alloy.poisson
    area = max((1 - nu) / 2 * effect.even, (1 + nu) / 4 * effect.lopsided, LEAST) / case.thickness
    return round(max(math.sqrt(area / math.pi), SMALLEST.value), 4)


def _offset(effect: Effect) -> float:
    return effect.lift / effect.shrinkage if effect.shrinkage > 0 else 0.0


@lru_cache(maxsize=512)
def _warmth(head: Head, section: Section, treatments: tuple[Treatment, ...]) -> tuple[float, ...]:
    """Return the head's temperature when each treatment begins [degC]."""
    starts = np.array([t.start for t in treatments])
    powers = [
        spot_case(head, one).power
        if isinstance(one, HeatSpot)
        else power_and_peak(head.alloy, heated_wall(head), one, ROOM.value)[0]
        for one in treatments
    ]
    heat = np.array([power * one.dwell for power, one in zip(powers, treatments, strict=True)])
    return tuple(spot_start(head, section, starts, heat))


@lru_cache(maxsize=512)
def cases_of(head: Head, section: Section, treatments: tuple[Treatment, ...]) -> tuple[SpotCase | None, ...]:
    """Return what each spot's answer depends on: the head's warmth when it burns, and what burns beside it; None for a stroke."""
    warm = _warmth(head, section, treatments)
    spots = {k: t for k, t in enumerate(treatments) if isinstance(t, HeatSpot)}
    places = tuple(
        (t.station, _signed(head, t)) if (t := spots.get(k)) else (0.0, 0.0) for k in range(len(treatments))
    )
    found: list[SpotCase | None] = [None] * len(treatments)
    for k, one in spots.items():
        with_it = [j for j, t in spots.items() if t.start == one.start and j != k]
        alone = spot_case(head, one, warm[k])
        found[k] = spot_among(alone, webs_of(head), places, (k, *with_it), aimed=one.peak is not None)
    return tuple(found)


def standing_cases(head: Head, section: Section, treatments: tuple[Treatment, ...]) -> tuple[SpotCase, ...]:
    """Return what each treatment does to the metal under it: a spot's case, or that of a flame that stands as long as a drawn one passes.

    Raises:
        BadInput: as `check_sense`.
        OutsideModel: as `check_peak`.

    Source: a Gaussian flux drawn at the speed v acts for R sqrt(pi/2) / v; derived.
    Valid: strokes longer than the flame is wide.
    """
    warm = _warmth(head, section, treatments)
    found = []
    for one, case, start in zip(treatments, cases_of(head, section, treatments), warm, strict=True):
        if isinstance(one, HeatStroke):
            power, peak = power_and_peak(head.alloy, heated_wall(head), one, start)
            passing = one.time * min(1.0, math.sqrt(math.pi / 2) * one.radius / max(one.length, 1e-6))
            found.append(SpotCase(
                alloy=head.alloy, thickness=heated_wall(head), power=power, radius=one.radius, dwell=passing, peak=peak,
                start=start,
            ))  # fmt: skip
        elif case is not None:
            found.append(case)
    return tuple(found)


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
_TIMES: Final = 14  # under the flame, and as many again while it cools
_COOLED: Final = 4.0  # times the stroke lasts, or `_LEAST_COOLING`, whichever is longer
_LEAST_COOLING: Final = 12.0  # s


def _stroke_fire(head: Head, treatments: tuple[Treatment, ...], numbers: list[int], start: float) -> Fire:
    """Work through strokes that burn together on a head so warm [degC].

    Source: Gaussian source in an endless plate, superposed along the path (Carslaw & Jaeger, from memory); `follow`.
    """
    strokes = [_drawn(treatments[k]) for k in numbers]
    alloy, wall = head.alloy, heated_wall(head)
    powers, peaks = zip(*(power_and_peak(alloy, wall, stroke, start) for stroke in strokes), strict=True)
    slab = slab_of(alloy, wall, max(peaks), start)
    flames = [
        MovingFlame.of(stroke, power, webs_of(head)) for stroke, power in zip(strokes, powers, strict=True)
    ]
    hot = _times(strokes), collapse_temperature(alloy) - start
    slices = [
        (k, zone)
        for k, flame in zip(numbers, flames, strict=True)
        for zone in _slices(flame, flames, slab, hot)
    ]
    zones = tuple(zone for _, zone in slices)
    return Fire(
        numbers=tuple(numbers),
        zones=zones,
        belongs=tuple(k for k, _ in slices),
        offset=np.zeros(len(zones)),
        peaks=peaks,
        powers=powers,
        heat=sum(power * stroke.dwell for power, stroke in zip(powers, strokes, strict=True)),
        aged=float(equivalent_time(max(*peaks, start), max(_passing(stroke) for stroke in strokes))),
        warmth=follow(head, roof_of(sizes_of(head)), flames, slab, zones, start),
    )


def _drawn(one: Treatment) -> HeatStroke:
    """A stroke with its distances from the middle line signed by its side."""
    assert isinstance(one, HeatStroke)  # noqa: S101 - strokes only
    sign = side_sign(one.side)
    return replace(one, across_from=sign * one.across_from, across_to=sign * one.across_to)


def _passing(stroke: HeatStroke) -> float:
    """How long the hottest metal stands at its peak: while the flame passes [s]."""
    return stroke.passes * min(stroke.time, 2 * stroke.radius * stroke.time / max(stroke.length, 1e-6))


def _times(strokes: list[HeatStroke]) -> Floats:
    """Times looked at [s]: even while the torch is on, ever wider apart while the roof cools."""
    lasts = max(stroke.lasts for stroke in strokes)
    step = max(stroke.time for stroke in strokes) / _TIMES
    cooling = max((_COOLED - 1) * max(stroke.time for stroke in strokes), _LEAST_COOLING)
    on = np.linspace(0.0, lasts, max(math.ceil(lasts / step), _TIMES) + 1)[1:]
    return np.concatenate([on, lasts + cooling * (np.geomspace(1.0, 12.0, _TIMES + 1)[1:] - 1) / 11])


def _slices(
    flame: MovingFlame, flames: list[MovingFlame], slab: Slab, heat: tuple[Floats, float]
) -> list[Zone]:
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
    x0, y0, x1, y1 = (round(v, 4) for v in (*flame.begin, *flame.end))
    return [
        Zone(
            x=x0, y=y0, x_end=x1, y_end=y1, radius=round(max(wide, NARROWEST), 4), part=part, parts=count,
            cap=flame.radius, beside=beside,
        )
        for part, wide in enumerate(widths)
        if wide > 0
    ]  # fmt: skip


def _half_width(away: Floats, rise: Floats, soft: float) -> float:
    """Distance from the line at which the rise first falls under the soft one's [m], zero where it never passes it."""
    cold = np.nonzero(rise <= soft)[0]
    if not cold.size:
        return float(away[-1])
    k = int(cold[0])
    if k == 0:
        return 0.0
    part = (rise[k - 1] - soft) / (rise[k - 1] - rise[k])
    return float(away[k - 1] + part * (away[k] - away[k - 1]))


def _signed(head: Head, spot: HeatSpot) -> float:
    return side_sign(spot.side) * (head.spot_rows if spot.across is None else spot.across)
