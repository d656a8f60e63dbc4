"""Spots and strokes on one head: their zones of the roof, what their heat drives, and what earlier heats have left."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.head.records import side_sign
from straighten.heat.case import check_sense, heat_from_others, heated_wall, spot_case, webs_of
from straighten.heat.cooling import spot_start
from straighten.heat.lines import Bowing
from straighten.heat.roof import Zone, endless, mutual, roof_of, sizes_of
from straighten.heat.spot import Effect, SpotAnswer, work_spots
from straighten.heat.stroke import DRAWN, power_and_peak, spots_warmth, work_strokes
from straighten.heat.torch import ROOM, slab_of
from straighten.heat.treatment import HeatSpot, HeatStroke
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from straighten.clamp.section import Section
    from straighten.head.records import Alloy, Head
    from straighten.heat.roof import Roof
    from straighten.heat.spot_case import SpotCase
    from straighten.heat.stroke import StrokeWork, Warmth
    from straighten.heat.treatment import Treatment

    Floats = NDArray[np.float64]
    Counts = NDArray[np.intp]

SPREAD_AGE: Final = 2.0  # dwells: neighbours' heat is looked for while the spot is hot
SMALLEST: Final = Cited(
    6e-3,
    "m",
    "zones are drawn no smaller, so that elements see them; their own stiffness is put in",
    "derived",
)
WHOLE: Final = 0.97  # share of a zone from which on it counts as whole: cells are coarse
LEAST: Final = 1e-12  # m3: a zone that keeps less than this much per strain is taken to keep this much


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneLeft:
    """What a heat has left in one zone of the roof: the zone, how much stiffer it is than its elements make it (even, lopsided) [1/m3], shrinkage along and across by its own heat and kept of the clamp, factors one [m3]."""

    zone: Zone
    stiffer: tuple[float, float]
    own: tuple[float, float]
    kept: tuple[float, float]


RoofState = tuple[ZoneLeft, ...]
FRESH: Final[RoofState] = ()


@dataclass(frozen=True, slots=True)
class Event:
    """Zones that freeze together.

    `zones` their numbers; `drive` stress over E that their own heat drives (2 hot,); `stiff` their rows of M against all
    zones of this heat, `stiff_past` against those of earlier heats; `inverse` of M among them; `rise` growth of the warm
    roof times its arm to the middle [m4]; `reached` share of the answer that they come to (`DRAWN`).
    """

    zones: Counts
    drive: Floats
    stiff: Floats
    stiff_past: Floats
    inverse: Floats
    rise: float
    reached: float = 1.0

    @property
    def at(self) -> Counts:
        """Their places in the list of all shrinkages, along and across in turn."""
        return np.stack([2 * self.zones, 2 * self.zones + 1], axis=1).ravel()

    def solve(self, stress: Floats) -> Floats:
        """Return the shrinkage that makes a stress (2 hot,), or stresses (2 hot, n)."""
        return np.asarray(self.reached * (self.inverse @ stress))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fired:
    """One heat on one head, ready for arithmetic over draws.

    `zones` with `belongs`, the treatment of each; `stations` and `height` over the neutral axis of each [m]; `felt`
    clamp stress over E along and across per strain along (2 zones,); `events` with the metal as the table has it and
    `softened` where it loses its temper; `stiffer` see `ZoneLeft` (zones, 2); `past_own`, `past_kept` what earlier heats
    left (2 past,) [m3]; `shear` volume that keeps a shear angle, by zone [m3]; `yielding` strain of the cold metal;
    `bowing` what kinks at the zones do; `peaks` [degC] and `powers` [W] of the treatments; `heat` [J]; `aged` equivalent
    time of the hottest metal [s]; `softens` whether temper is lost.
    """

    zones: tuple[Zone, ...]
    belongs: Counts
    stations: Floats
    height: Floats
    felt: Floats
    events: tuple[Event, ...]
    softened: tuple[Event, ...]
    stiffer: Floats
    past_own: Floats
    past_kept: Floats
    shear: Floats
    yielding: float
    bowing: Bowing
    peaks: tuple[float, ...]
    powers: tuple[float, ...]
    heat: float
    aged: float
    softens: bool


@lru_cache(maxsize=256)
def fire_on(
    head: Head, section: Section, treatments: tuple[Treatment, ...], past: RoofState = FRESH
) -> Fired:
    """Return a heat on this head, each treatment with the warmth and the neighbours it has when it burns.

    Args:
        head: casting, alloy, spot rows.
        section: height, neutral axis, weight.
        treatments: in any order.
        past: what earlier heats have left.

    Raises:
        BadInput: a treatment that makes no sense.
        OutsideModel: a surface would melt, or stays too cold.

    Source: `work_spots`, `work_strokes`, `mutual`; derived.
    Valid: as those.
    """
    check_sense(head, treatments)
    fires = _fires(head, section, treatments)
    zones = tuple(zone for fire in fires for zone in fire.zones)
    plate = _plate(head, fires, zones, past)
    parts = np.array([number for fire in fires for number in fire.belongs], dtype=np.intp)
    stations = np.array([(z.x + z.x_end) / 2 for z in zones])
    offset = np.concatenate([fire.offset for fire in fires])
    felt = np.concatenate([plate.felt(zone) for zone in zones])
    alloy = head.alloy
    events = _events(fires, plate, softened=False)
    softens = any(answer.soft_volume > 0 for fire in fires for answer in fire.answers)
    peaks, powers = (_by_treatment(fires, name, len(treatments)) for name in ("peaks", "powers"))
    return Fired(
        zones=zones,
        belongs=parts,
        stations=stations,
        height=section.height - heated_wall(head) / 2 + offset - section.neutral_axis,
        felt=felt,
        events=events,
        softened=_events(fires, plate, softened=True) if softens else events,
        stiffer=np.concatenate([fire.stiffer(plate.roof) for fire in fires]),
        past_own=np.array([v for left in past for v in left.own]),
        past_kept=np.array([v for left in past for v in left.kept]),
        shear=np.array([_shear_volume(plate, zone, alloy.poisson) for zone in zones]),
        yielding=alloy.yield_short[0][1] / alloy.modulus[0][1],
        bowing=Bowing.at(stations, head),
        peaks=peaks,
        powers=powers,
        heat=sum(fire.heat for fire in fires),
        aged=max(fire.aged for fire in fires),
        softens=softens,
    )


def work_sets(head: Head, section: Section, sets: Iterable[tuple[Treatment, ...]]) -> None:
    """Work through the spots of several sets together, so that `fire_on` finds each one's answer known.

    Args:
        head: as in `fire_on`.
        section: as in `fire_on`.
        sets: of treatments that will be asked about.

    Raises:
        BadInput: as `fire_on`.
        OutsideModel: as `fire_on`.

    Source: `work_spots`.
    Valid: any sets; it saves time and changes no answer.
    """
    work_spots([case for one in sets for case in _cases(head, section, tuple(one)) if case is not None])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fire:
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

    def stiffness(self, *, softened: bool) -> Floats:
        """M of each spot's own zone in an endless plate, even and lopsided (zones, 2) [1/m3]: what makes it keep what its disc keeps."""
        effects = [a.softened if softened else a.sound for a in self.answers]
        nu = self.cases[0].alloy.poisson
        return np.array(
            [[1 / ((1 - nu) * _most(e.even)), 1 / ((1 + nu) * _most(e.lopsided))] for e in effects]
        )

    def stiffer(self, roof: Roof, *, softened: bool = False) -> Floats:
        """How much stiffer a zone is than its elements make it, even and lopsided, not under nought."""
        if self.strokes is not None:
            return np.zeros((len(self.zones), 2))
        told = [endless(roof, (zone,)) for zone in self.zones]
        elements = np.array([[m.sum() / 2, (m[0, 0] + m[1, 1] - 2 * m[0, 1]) / 2] for m in told])
        return np.asarray(np.maximum(self.stiffness(softened=softened) - elements, 0.0))


def _most(volume: float) -> float:
    return max(volume, LEAST)


def _fires(head: Head, section: Section, treatments: tuple[Treatment, ...]) -> list[_Fire]:
    """Return groups in the order of their starts; of one start spots come before strokes."""
    warm, cases = _warmth(head, section, treatments), _cases(head, section, treatments)
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
) -> _Fire:
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
    return _Fire(
        numbers=tuple(spots),
        zones=tuple(zones),
        belongs=tuple(spots),
        offset=np.array([_offset(a.sound) for a in answers]),
        answers=tuple(_part(a, s) for a, s in zip(answers, share, strict=True)),
        cases=some,
        warmth=None if some[0].bar_width is not None else spots_warmth(head, roof, where, tuple(zones)),
    )


def _part(answer: SpotAnswer, share: float) -> SpotAnswer:
    """What is left of a spot of which roof edges and neighbours leave only a share."""
    if share > WHOLE:
        return answer
    sound, softened = (
        replace(
            e,
            shrinkage=share * e.shrinkage,
            lift=share * e.lift,
            even=share * e.even,
            lopsided=share * e.lopsided,
        )
        for e in (answer.sound, answer.softened)
    )
    return replace(answer, sound=sound, softened=softened, growth=share * answer.growth)


def _cut(zone: Zone, zones: list[Zone]) -> Zone:
    """A zone ends half-way to the next one that burns with it."""
    near = [
        z for z in zones if z is not zone and math.hypot(z.x - zone.x, z.y - zone.y) < z.radius + zone.radius
    ]
    return replace(zone, beside=tuple((z.x, z.y, z.x_end, z.y_end) for z in near))


def _reach(answer: SpotAnswer, wall: float, alloy: Alloy) -> float:
    """Radius of the hole that keeps what the disc keeps, the larger of its even and lopsided one [m]."""
    nu = alloy.poisson
    area = max((1 - nu) / 2 * answer.sound.even, (1 + nu) / 4 * answer.sound.lopsided, LEAST) / wall
    return round(max(math.sqrt(area / math.pi), SMALLEST.value), 4)


def _stroke_fire(head: Head, treatments: tuple[Treatment, ...], strokes: list[int], warm: float) -> _Fire:
    drawn = []
    for k in strokes:
        one = treatments[k]
        assert isinstance(one, HeatStroke)  # noqa: S101 - strokes only
        sign = side_sign(one.side)
        drawn.append(replace(one, across_from=sign * one.across_from, across_to=sign * one.across_to))
    work = work_strokes(head, roof_of(sizes_of(head)), tuple(drawn), warm)
    return _Fire(
        numbers=tuple(strokes),
        zones=work.zones,
        belongs=tuple(strokes[k] for k in work.belongs),
        offset=np.zeros(len(work.zones)),
        strokes=work,
    )


@dataclass(frozen=True, slots=True)
class _Elastic:
    """The elastic answer of the head to all zones: M among those of this heat and against earlier ones, before what makes spots stiffer."""

    roof: Roof
    stiff: Floats  # (2 zones, 2 zones)
    past: Floats  # (2 zones, 2 past)
    alike: Floats  # (zones + past, zones + past) how far covers are the same, cosines
    past_stiffer: Floats
    bent: Floats

    def felt(self, zone: Zone) -> Floats:
        """Clamp stress along and across over the zone, per stress along of plain bending."""
        cover = self.roof.cover(zone)
        return np.asarray(np.tensordot(cover, self.bent, axes=2) / cover.sum())

    def with_stiffer(self, stiffer: Floats) -> tuple[Floats, Floats]:
        """Return both parts of M with the zones' own stiffness put in: roots, so that M keeps its sign however zones overlap."""
        root = np.sqrt(np.concatenate([stiffer, self.past_stiffer]))
        count = len(stiffer)
        added = self.alike[..., None] * root[:, None] * root
        even, lopsided = added[..., 0], added[..., 1]
        along, across = (even + lopsided) / 2, (even - lopsided) / 2
        more = np.stack([np.stack([along, across], -1), np.stack([across, along], -1)], axis=-2)
        whole = more.transpose(0, 2, 1, 3).reshape(2 * len(root), -1)
        return self.stiff + whole[: 2 * count, : 2 * count], self.past + whole[: 2 * count, 2 * count :]


def _plate(head: Head, fires: list[_Fire], zones: tuple[Zone, ...], past: RoofState) -> _Elastic:
    roof = roof_of(sizes_of(head))
    every = (*zones, *(left.zone for left in past))
    whole = mutual(roof, every)
    if roof.sizes.wall == 0.0:  # a bar is no plate: its zones feel one another only where they overlap
        whole = np.kron(np.eye(len(every)), np.ones((2, 2))) * whole
    covers = np.stack([roof.cover(zone).ravel() for zone in every])
    covers /= np.linalg.norm(covers, axis=1, keepdims=True)
    count = 2 * len(zones)
    del fires
    return _Elastic(
        roof=roof,
        stiff=whole[:count, :count],
        past=whole[:count, count:],
        alike=covers @ covers.T,
        past_stiffer=np.array([left.stiffer for left in past]).reshape(-1, 2),
        bent=roof.bent(),
    )


def _events(fires: list[_Fire], plate: _Elastic, *, softened: bool) -> tuple[Event, ...]:
    stiff, past = plate.with_stiffer(
        np.concatenate([f.stiffer(plate.roof, softened=softened) for f in fires])
    )
    found, first = [], 0
    for fire in fires:
        for zones, drive, rise in _told(fire, plate.roof, first, softened=softened):
            at = np.stack([2 * zones, 2 * zones + 1], axis=1).ravel()
            among = stiff[np.ix_(at, at)]
            found.append(
                Event(
                    zones=zones, drive=drive, stiff=stiff[at], stiff_past=past[at], inverse=np.asarray(np.linalg.inv(among)), rise=rise,
                    reached=1.0 if fire.strokes is None else DRAWN.value,
                )
            )  # fmt: skip
        first += len(fire.zones)
    return tuple(found)


def _told(fire: _Fire, roof: Roof, first: int, *, softened: bool) -> list[tuple[Counts, Floats, float]]:
    """Hot zones, drive and rise of every event of a fire."""
    if fire.strokes is not None:
        count = len(fire.zones)
        return (
            [(first + np.arange(count), fire.strokes.warmth.drive, fire.strokes.warmth.rise)] if count else []
        )
    zones = np.arange(first, first + len(fire.zones))
    if fire.cases[0].bar_width is not None:
        return [(zones, _own(fire, roof, softened=softened), 0.0)]
    warm = fire.warmth
    assert warm is not None  # noqa: S101 - only bars have none
    drive = np.minimum(_own(fire, roof, softened=softened) + warm.press - warm.alone, warm.drive)
    return [(zones, drive, warm.rise)]


def _own(fire: _Fire, roof: Roof, *, softened: bool) -> Floats:
    """Stress over E that holds each spot's own shrinkage in an endless plate."""
    shrinkage = np.array([(a.softened if softened else a.sound).shrinkage for a in fire.answers])
    even = fire.stiffness(softened=softened)[:, 0]
    elements = np.array([endless(roof, (zone,)).sum() / 2 for zone in fire.zones])
    return np.repeat(np.maximum(even, elements) * shrinkage, 2)


def _by_treatment(fires: list[_Fire], name: str, count: int) -> tuple[float, ...]:
    found = [0.0] * count
    for fire in fires:
        for number, value in zip(fire.numbers, getattr(fire, name), strict=True):
            found[number] = value
    return tuple(found)


def _shear_volume(plate: _Elastic, zone: Zone, nu: float) -> float:
    """Volume that keeps a shear angle: that of a hole (Kirsch), four over one plus nu times its own."""
    cover = plate.roof.cover(zone)
    return float(4 / (1 + nu) * cover.sum() * plate.roof.dx * plate.roof.dy * plate.roof.sizes.roof)


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
def _cases(head: Head, section: Section, treatments: tuple[Treatment, ...]) -> tuple[SpotCase | None, ...]:
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


def _signed(head: Head, spot: HeatSpot) -> float:
    return side_sign(spot.side) * (head.spot_rows if spot.across is None else spot.across)


def _spread(case: SpotCase, wall: float, age: float = SPREAD_AGE) -> float:
    slab = slab_of(case.alloy, wall, case.peak, case.start)
    return case.radius**2 / 2 + 4 * slab.diffusivity * age * case.dwell
