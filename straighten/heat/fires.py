"""Treatments that burn together: their zones, their answers, and the warmth and the neighbours each has."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.errors import OutsideModel
from straighten.head.records import side_sign
from straighten.heat.case import check_sense, check_time, ends_of, heat_from_others, spot_case, webs_of
from straighten.heat.cooling import spot_start
from straighten.heat.field import read
from straighten.heat.flame import power_and_peak
from straighten.heat.heating import SpotCase
from straighten.heat.plates import Zone, endless, sizes_of
from straighten.heat.roof import roof_of
from straighten.heat.spot import Effect, SpotAnswer, work_spots
from straighten.heat.torch import ROOM, heated_wall, slab_of
from straighten.heat.treatment import HeatSpot, HeatStroke
from straighten.heat.warm import spots_warmth, work_strokes
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.clamp.section import Section
    from straighten.head.records import Alloy, Head
    from straighten.heat.roof import Roof
    from straighten.heat.treatment import Treatment
    from straighten.heat.warm import StrokeWork, Warmth

    Floats = NDArray[np.float64]
    Counts = NDArray[np.intp]


WARM_STEP: Final = 10.0  # K: a spot on a head so much warmer is followed anew
SPREAD_AGE: Final = 2.0  # dwells: neighbours' heat is looked for while the spot is hot

ROOF_WARMTH: Final = Cited(
    180.0,
    "K",
    "mean rise of the roof under one fire if no heat left it; held against 3D finite elements up to 153 K",
    "assumed",
)
INSIDE: Final = Cited(
    0.5, "flux radii", "flames that burn at once nearer than this are one flame of another size", "assumed"
)
SMALLEST: Final = Cited(
    6e-3,
    "m",
    "zones are drawn no smaller, so that elements see them; their own stiffness is put in",
    "derived",
)

WHOLE: Final = 0.97  # share of a zone from which on it counts as whole: cells are coarse

LEAST: Final = 1e-12  # m3: a zone that keeps less than this much per strain is taken to keep this much


@dataclass(frozen=True, slots=True, kw_only=True)
class Fire:
    """Treatments of one kind that burn together.

    `numbers` of the treatments; `zones` with `belongs`; `answers` and `cases` of spots, `strokes` of strokes; `offset` of
    the shrinkage from the wall's mid-plane by zone [m].
    """

    numbers: tuple[int, ...]
    zones: tuple[Zone, ...]
    belongs: tuple[int, ...]
    offset: Floats
    answers: tuple[SpotAnswer, ...] = ()
    cases: tuple[SpotCase, ...] = ()
    warmth: Warmth | None = None
    strokes: StrokeWork | None = None

    @property
    def peaks(self) -> tuple[float, ...]:
        """Surface peaks of the treatments [degC]."""
        return self.strokes.peaks if self.strokes is not None else tuple(c.peak for c in self.cases)

    @property
    def powers(self) -> tuple[float, ...]:
        """Absorbed powers of the treatments [W]."""
        return self.strokes.powers if self.strokes is not None else tuple(c.power for c in self.cases)

    @property
    def heat(self) -> float:
        """Heat put in [J]."""
        return self.strokes.heat if self.strokes is not None else sum(a.heat for a in self.answers)

    @property
    def aged(self) -> float:
        """Equivalent time of the hottest metal at 250 degC [s]."""
        return self.strokes.aged if self.strokes is not None else max(a.aged for a in self.answers)

    def stiffness(self) -> Floats:
        """M of each spot's own zone in an endless plate, even and lopsided (zones, 2) [1/m3]: what makes it keep what its disc keeps."""
        effects = [a.effect for a in self.answers]
        nu = self.cases[0].alloy.poisson
        return np.array(
            [[1 / ((1 - nu) * _most(e.even)), 1 / ((1 + nu) * _most(e.lopsided))] for e in effects]
        )

    def stiffer(self, roof: Roof) -> Floats:
        """How much stiffer a zone is than its elements make it, even and lopsided, not under nought."""
        if self.strokes is not None:
            return np.zeros((len(self.zones), 2))
        if self.cases[0].bar_width is not None:
            return self.stiffness()
        told = [endless(roof, (zone,)) for zone in self.zones]
        elements = np.array([[m.sum() / 2, (m[0, 0] + m[1, 1] - 2 * m[0, 1]) / 2] for m in told])
        return np.asarray(np.maximum(self.stiffness() - elements, 0.0))


def _most(volume: float) -> float:
    return max(volume, LEAST)


def check_model(head: Head, section: Section, treatments: tuple[Treatment, ...]) -> None:
    """Refuse a heat that cannot be computed: what was done so is recorded, and nothing is learned from it.

    A roof that is warm as a whole is held by nothing, and its places shrink by what the model cannot tell.

    Raises:
        BadInput: as `check_sense`.
        OutsideModel: a time out of `TIMES`, a surface that melts or stays too cold, a roof warmer than `ROOF_WARMTH`,
            flames inside one another (`INSIDE`).
    """
    check_sense(head, treatments)
    for one in treatments:
        check_time(one)
    _check_apart(head, treatments)
    alloy, casting = head.alloy, head.casting
    capacity = alloy.density * float(read(alloy.heat_capacity, ROOM.value)) * casting.length * casting.width
    together: dict[float, float] = {}
    for one, case in zip(treatments, standing_cases(head, section, treatments), strict=True):
        together[one.start] = together.get(one.start, 0.0) + case.power * one.dwell
    warm = max(together.values()) / (capacity * heated_wall(head))
    if warm > ROOF_WARMTH.value:
        raise OutsideModel(
            f"the roof as a whole would be {warm:.0f} K warm; {ROOF_WARMTH.value:.0f} K is the most that can be computed",
            where="spots",
            fix="Heat fewer places at once, or each for a shorter time.",
        )


def _check_apart(head: Head, treatments: tuple[Treatment, ...]) -> None:
    for k, one in enumerate(treatments):
        for other in treatments[:k]:
            least = INSIDE.value * max(one.radius, other.radius)
            if (
                one.start == other.start
                and one.side == other.side
                and (away := _apart(head, one, other)) < least
            ):
                raise OutsideModel(
                    f"two flames burn {1e3 * away:.0f} mm from one another; from {1e3 * least:.0f} mm on it can be computed",
                    where="spots",
                    fix="Heat one after the other, or farther apart.",
                )


def _apart(head: Head, one: Treatment, other: Treatment) -> float:
    """Least distance between the ends of a flame's path and the other one's path [m]."""
    paths = (
        [complex(*begin) for begin in ends_of(head, one)],
        [complex(*begin) for begin in ends_of(head, other)],
    )
    found = math.inf
    for ends, path in (paths, paths[::-1]):
        begin, run = path[0], path[-1] - path[0]
        for end in ends:
            along = ((end - begin) * run.conjugate()).real / max(abs(run) ** 2, 1e-12)
            found = min(found, abs(end - begin - min(max(along, 0.0), 1.0) * run))
    return found


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
            found.append(
                _spot_fire(head, treatments, spots, [known[c] for k in spots if (c := cases[k])], cases)
            )
        if strokes:
            found.append(_stroke_fire(head, treatments, strokes, warm[strokes[0]]))
    return [fire for fire in found if fire.zones] or found[:1]


def _spot_fire(
    head: Head,
    treatments: tuple[Treatment, ...],
    spots: list[int],
    answers: list[SpotAnswer],
    cases: tuple[SpotCase | None, ...],
) -> Fire:
    wall = heated_wall(head)
    zones = []
    for k, answer in zip(spots, answers, strict=True):
        spot = treatments[k]
        assert isinstance(spot, HeatSpot)  # noqa: S101 - spots only
        y = _signed(head, spot)
        zones.append(
            Zone(x=spot.station, y=y, x_end=spot.station, y_end=y, radius=_reach(answer, wall, head.alloy))
        )
    zones = [_cut(zone, zones) for zone in zones]
    roof = roof_of(sizes_of(head))
    some = tuple(c for k in spots if (c := cases[k]))
    where = tuple((z.x, z.y, c) for z, c in zip(zones, some, strict=True))
    share = [float(roof.cover(z).sum()) * roof.dx * roof.dy / (math.pi * z.radius**2) for z in zones]
    return Fire(
        numbers=tuple(spots),
        zones=tuple(zones),
        belongs=tuple(spots),
        offset=np.array([_offset(a.effect) for a in answers]),
        answers=tuple(_part(a, s) for a, s in zip(answers, share, strict=True)),
        cases=some,
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
    e = answer.effect
    effect = replace(
        e,
        shrinkage=share * e.shrinkage,
        lift=share * e.lift,
        even=share * e.even,
        lopsided=share * e.lopsided,
    )
    return replace(answer, effect=effect, growth=share * answer.growth)


def _cut(zone: Zone, zones: list[Zone]) -> Zone:
    """A zone ends half-way to the next one that burns with it."""
    near = [
        z for z in zones if z is not zone and math.hypot(z.x - zone.x, z.y - zone.y) < z.radius + zone.radius
    ]
    return replace(zone, beside=tuple((z.x, z.y, z.x_end, z.y_end) for z in near))


def _reach(answer: SpotAnswer, wall: float, alloy: Alloy) -> float:
    """Radius of the hole that keeps what the disc keeps, the larger of its even and lopsided one [m]."""
    nu = alloy.poisson
    area = max((1 - nu) / 2 * answer.effect.even, (1 + nu) / 4 * answer.effect.lopsided, LEAST) / wall
    return round(max(math.sqrt(area / math.pi), SMALLEST.value), 4)


def _stroke_fire(head: Head, treatments: tuple[Treatment, ...], strokes: list[int], warm: float) -> Fire:
    drawn = []
    for k in strokes:
        one = treatments[k]
        assert isinstance(one, HeatStroke)  # noqa: S101 - strokes only
        sign = side_sign(one.side)
        drawn.append(replace(one, across_from=sign * one.across_from, across_to=sign * one.across_to))
    work = work_strokes(head, roof_of(sizes_of(head)), tuple(drawn), warm)
    return Fire(
        numbers=tuple(strokes),
        zones=work.zones,
        belongs=tuple(strokes[k] for k in work.belongs),
        offset=np.zeros(len(work.zones)),
        strokes=work,
    )


def _offset(effect: Effect) -> float:
    return effect.lift / effect.shrinkage if effect.shrinkage > 0 else 0.0


@lru_cache(maxsize=512)
def _warmth(head: Head, section: Section, treatments: tuple[Treatment, ...]) -> tuple[float, ...]:
    """Return the head's temperature when each treatment begins [degC]."""
    starts = np.array([t.start for t in treatments])
    heat = np.array([_joules(head, t) for t in treatments])
    return tuple(spot_start(head, section, starts, heat))


def _joules(head: Head, one: Treatment) -> float:
    if isinstance(one, HeatSpot):
        return spot_case(head, one).power * one.dwell
    return power_and_peak(head.alloy, heated_wall(head), one, ROOM.value)[0] * one.dwell


@lru_cache(maxsize=512)
def cases_of(head: Head, section: Section, treatments: tuple[Treatment, ...]) -> tuple[SpotCase | None, ...]:
    """Return what each spot's answer depends on: the head's warmth when it burns, and what burns beside it; None for a stroke."""
    wall, warm = heated_wall(head), _warmth(head, section, treatments)
    spots = {k: t for k, t in enumerate(treatments) if isinstance(t, HeatSpot)}
    places = tuple(
        (t.station, _signed(head, t)) if (t := spots.get(k)) else (0.0, 0.0) for k in range(len(treatments))
    )
    found: list[SpotCase | None] = [None] * len(treatments)
    for k, one in spots.items():
        with_it = [j for j, t in spots.items() if t.start == one.start and j != k]
        spread = _spread(spot_case(head, one), wall)
        others = heat_from_others(webs_of(head), places, (k, *with_it), spread)
        found[k] = spot_case(head, one, warm[k], others)
    return tuple(found)


def standing_cases(head: Head, section: Section, treatments: tuple[Treatment, ...]) -> tuple[SpotCase, ...]:
    """Return what each treatment does to the metal under it: a spot's case, or that of a flame that stands as long as a drawn one passes.

    Raises:
        BadInput: as `cases_of`.
        OutsideModel: as `cases_of`.

    Source: a Gaussian flux drawn at the speed v acts for R sqrt(pi/2) / v; derived.
    Valid: strokes longer than the flame is wide.
    """
    warm = _warmth(head, section, treatments)
    found = []
    for one, known, start in zip(treatments, cases_of(head, section, treatments), warm, strict=True):
        case = known
        if case is None:
            assert isinstance(one, HeatStroke)  # noqa: S101 - spots have cases
            power, peak = power_and_peak(head.alloy, heated_wall(head), one, start)
            passing = one.time * min(1.0, math.sqrt(math.pi / 2) * one.radius / max(one.length, 1e-6))
            case = SpotCase(
                alloy=head.alloy, thickness=heated_wall(head), power=power, radius=one.radius, dwell=passing, peak=peak,
                start=start,
            )  # fmt: skip
        found.append(case)
    return tuple(found)


def _signed(head: Head, spot: HeatSpot) -> float:
    return side_sign(spot.side) * (head.spot_rows if spot.across is None else spot.across)


def _spread(case: SpotCase, wall: float, age: float = SPREAD_AGE) -> float:
    slab = slab_of(case.alloy, wall, case.peak, case.start)
    return case.radius**2 / 2 + 4 * slab.diffusivity * age * case.dwell
