"""Spots and strokes on one head: what can be computed, what their heat drives, and what earlier heats and this one leave."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.errors import OutsideModel
from straighten.heat.field import ROOM, heated_wall, read
from straighten.heat.fires import fires_of, standing_cases
from straighten.heat.lines import Bowing, arm_of
from straighten.heat.plates import endless, inverse_of, mutual, sizes_of
from straighten.heat.roof import roof_of
from straighten.heat.torch import check_apart, check_sense, check_time
from straighten.sources import Cited
from straighten.units import show_difference

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.clamp.section import Section
    from straighten.head.records import Head
    from straighten.heat.fires import Fire
    from straighten.heat.plates import Zone
    from straighten.heat.roof import Roof
    from straighten.heat.treatment import Treatment

    Counts = NDArray[np.intp]
    Floats = NDArray[np.float64]


PRESSED: Final = Cited(
    0.85,
    "",
    "share of the warm roof's extra press that acts on a spot while it freezes, ring by ring from outside; set on free spots "
    "in 3D finite elements: without it they come out 6 to 9 % low, 19 % far from the middle",
    "fitted",
)
# Shrinkage along and across, under stress along only, and across only.
_ENDS: Final = np.array([[2.0, -1.0], [-1.0, 2.0]]) / 3


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneLeft:
    """What a heat has left in one zone of the roof.

    `stiffer` how much stiffer it is than its elements make it, even and lopsided [1/m3]; shrinkage along and across by its
    `own` heat and `kept` of the clamp, factors one [m3].
    """

    zone: Zone
    stiffer: tuple[float, float]
    own: tuple[float, float]
    kept: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoofState:
    """What heats have left in the roof so far: zone by zone, on the yield curve of short exposure and on the soaked one."""

    short: tuple[ZoneLeft, ...] = ()
    soaked: tuple[ZoneLeft, ...] = ()


FRESH: Final = RoofState()


@dataclass(frozen=True, slots=True)
class Event:
    """Zones that freeze together.

    `zones` their numbers, `at` their places in the list of all shrinkages, along and across in turn, `others` the rest
    of them; `drive` stress over E that their own heat drives (2 hot,); `stiff` their rows of M against all
    zones of this heat, `stiff_past` against those of earlier heats; `among` M among them and its `inverse`; `rise` growth of the warm
    roof times its arm to the middle [m4]; `reached` shares of the answer that they come to, of their own and of the clamp's (`Fire.reached`).
    """

    zones: Counts
    at: Counts
    others: Counts
    drive: Floats
    stiff: Floats
    stiff_past: Floats
    among: Floats
    inverse: Floats
    rise: float
    reached: tuple[float, float] = (1.0, 1.0)

    def own(self, stress: Floats) -> Floats:
        """Return their own shrinkage under a stress (2 hot,).

        Metal squeezed both ways flows, by von Mises' rule, along between twice and minus half of what it flows across.
        What would leave that range is held at its end, the one farthest outside before the others.
        """
        found, flows = self.inverse @ stress, np.ones(2 * self.zones.size, dtype=bool)
        sides = np.kron(np.eye(self.zones.size), _ENDS)
        while (part := np.where(flows, np.linalg.solve(sides, found), 0.0)).min() < 0:
            flows[part.argmin()] = False
            some = sides[:, flows]
            found = some @ (inverse_of(some.T @ self.among @ some) @ (some.T @ stress))
        return np.asarray(self.reached[0] * found)

    def kept(self, stress: Floats, flowing: Floats) -> Floats:
        """Return what they keep of stresses (n, 2 hot); `flowing` of `among_those`."""
        return np.asarray(self.reached[1] * (stress @ flowing))

    def among_those(self, stress: Floats) -> Floats:
        """Return the inverse of M among the zones that flow under their heat, or under the clamp's stress (2 hot,) beside it."""
        flows = np.maximum(self.drive, stress).reshape(-1, 2).max(axis=1) > 0
        if flows.all():
            return self.inverse
        at = np.nonzero(np.repeat(flows, 2))[0]
        inverse = np.zeros_like(self.inverse)
        inverse[np.ix_(at, at)] = inverse_of(self.among[np.ix_(at, at)])
        return inverse


@dataclass(frozen=True, slots=True, kw_only=True)
class Fired:
    """One heat on one head, ready for arithmetic over draws.

    `zones` with `belongs`, the treatment of each; `stations` and `height` over the neutral axis of each [m]; `felt`
    clamp stress over E along and across per strain along (2 zones,); `events` in their order; `stiffer` see `ZoneLeft`
    (zones, 2); `past_own`, `past_kept` what earlier heats left (2 past,) [m3]; `shear` volume that keeps a shear angle, by zone [m3]; `yielding` strain of the cold metal;
    `bowing` what kinks at the zones do; `peaks` [degC] and `powers` [W] of the treatments; `heat` [J]; `aged` equivalent
    time of the hottest metal [s].
    """

    zones: tuple[Zone, ...]
    belongs: Counts
    stations: Floats
    height: Floats
    felt: Floats
    events: tuple[Event, ...]
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


@lru_cache(maxsize=256)
def fire_on(
    head: Head, section: Section, treatments: tuple[Treatment, ...], past: tuple[ZoneLeft, ...] = ()
) -> Fired:
    """Return a heat on this head, each treatment with the warmth and the neighbours it has when it burns.

    `past` what earlier heats have left.

    Raises:
        BadInput: as `check_model`.
        OutsideModel: as `check_model`.
    """
    check_model(head, section, treatments)
    fires = fires_of(head, section, treatments)
    zones = tuple(zone for fire in fires for zone in fire.zones)
    plate = _plate(head, zones, past)
    stations = np.array([(z.x + z.x_end) / 2 for z in zones])
    offset = np.concatenate([fire.offset for fire in fires])
    alloy = head.alloy
    peaks, powers = (_by_treatment(fires, name, len(treatments)) for name in ("peaks", "powers"))
    return Fired(
        zones=zones,
        belongs=np.array([number for fire in fires for number in fire.belongs], dtype=np.intp),
        stations=stations,
        height=section.height - heated_wall(head) / 2 + offset - section.neutral_axis,
        felt=np.concatenate([plate.felt(zone) for zone in zones]),
        events=_events(head, fires, plate),
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


def _plate(head: Head, zones: tuple[Zone, ...], past: tuple[ZoneLeft, ...]) -> _Elastic:
    roof = roof_of(sizes_of(head))
    every = (*zones, *(left.zone for left in past))
    whole = mutual(roof, every)
    if roof.sizes.wall == 0.0:  # a bar is no plate: its zones feel one another only where they overlap
        whole = np.zeros_like(whole)
    covers = np.stack([roof.cover(zone).ravel() for zone in every])
    covers /= np.linalg.norm(covers, axis=1, keepdims=True)
    count = 2 * len(zones)
    return _Elastic(
        roof=roof,
        stiff=whole[:count, :count],
        past=whole[:count, count:],
        alike=covers @ covers.T,
        past_stiffer=np.array([left.stiffer for left in past]).reshape(-1, 2),
        bent=roof.bent,
    )


def _events(head: Head, fires: list[Fire], plate: _Elastic) -> tuple[Event, ...]:
    stiff, past = plate.with_stiffer(np.concatenate([f.stiffer(plate.roof) for f in fires]))
    found, first = [], 0
    for fire in fires:
        if not fire.zones:
            continue
        zones = np.arange(first, first + len(fire.zones))
        first += zones.size
        at = np.stack([2 * zones, 2 * zones + 1], axis=1).ravel()
        among = stiff[np.ix_(at, at)]
        drive, rise = _driven(head, fire, plate.roof)
        found.append(
            Event(
                zones=zones, at=at, others=np.setdiff1d(np.arange(len(stiff)), at), drive=drive, stiff=stiff[at],
                stiff_past=past[at], among=among, inverse=inverse_of(among), rise=rise,
                reached=fire.reached,
            )
        )  # fmt: skip
    return tuple(found)


def _driven(head: Head, fire: Fire, roof: Roof) -> tuple[Floats, float]:
    """Drive and rise of a fire's event."""
    warm = fire.warmth
    if warm is None:
        grown = np.array([a.growth + a.effect.shrinkage for a in fire.answers])
        return _own(fire, roof), float(grown @ arm_of(head, np.array([z.x for z in fire.zones])))
    if not fire.cases:
        return warm.drive, warm.rise
    return np.minimum(_own(fire, roof) + PRESSED.value * (warm.press - warm.alone), warm.drive), warm.rise


def _own(fire: Fire, roof: Roof) -> Floats:
    """Stress over E that holds each spot's own shrinkage in an endless plate."""
    shrinkage = np.array([a.effect.shrinkage for a in fire.answers])
    even = fire.stiffness()[:, 0]
    if fire.cases[0].bar_width is not None:
        return np.repeat(even * shrinkage, 2)
    elements = np.array([endless(roof, (zone,)).sum() / 2 for zone in fire.zones])
    return np.repeat(np.maximum(even, elements) * shrinkage, 2)


def _by_treatment(fires: list[Fire], name: str, count: int) -> tuple[float, ...]:
    found = {k: v for fire in fires for k, v in zip(fire.numbers, getattr(fire, name), strict=True)}
    return tuple(found.get(k, 0.0) for k in range(count))


def _shear_volume(plate: _Elastic, zone: Zone, nu: float) -> float:
    """Volume that keeps a shear angle: that of a hole (Kirsch), four over one plus nu times its own."""
    cover = plate.roof.cover(zone)
    return float(4 / (1 + nu) * cover.sum() * plate.roof.dx * plate.roof.dy * plate.roof.sizes.roof)


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxed:
    """Result of one heat, draws on the leading axis.

    `set_state` (n, 11): shape after = shape before - set_state; `spots_part`, `kept_part` (n, 11) its two shares:
    what the spots' own shrinkage does, and what the clamp's bend leaves; `kinks` (n, spots) [rad], > 0 lowers the
    middle; `held` (n,) movement that the clamp holds, bolts and base included, as a bow of the deck [m], and
    `kept_share` (n,) what is kept of it, nan where next to nothing is held; `lines` (n, 4) how much deck edges, deck centre, cam
    face edges and cam face centre fall in the middle [m]; `hardness_before`, `hardness_after` (n, 2) lowest
    and highest [HB] at the hottest place, with the spread of the alloy and of the softening time in them; `heat` put in [J]; `warm` bulk temperature rise of the head once even [K];
    `peaks` (treatments,) surface temperatures reached [degC]; `powers` absorbed [W]; `left` what this heat and those
    before it have left in the roof, for the next one; `again` share of what a fresh roof would shrink by that was there before,
    0 to 1, and `again_each` by treatment; `caveats` in words.
    """

    set_state: Floats
    spots_part: Floats
    kept_part: Floats
    kinks: Floats
    kept_share: Floats
    held: Floats
    lines: Floats
    hardness_before: Floats
    hardness_after: Floats
    heat: float
    warm: float
    peaks: tuple[float, ...]
    powers: tuple[float, ...] = ()
    left: RoofState = FRESH
    again: float = 0.0
    again_each: Floats | float = 0.0
    caveats: tuple[str, ...] = ()


ROOF_WARMTH: Final = Cited(
    180.0,
    "K",
    "mean rise of the roof under one fire if no heat left it; held against 3D finite elements up to 153 K",
    "assumed",
)


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
    check_apart(head, treatments)
    alloy, casting = head.alloy, head.casting
    capacity = alloy.density * float(read(alloy.heat_capacity, ROOM.value)) * casting.length * casting.width
    together: dict[float, float] = {}
    for one, case in zip(treatments, standing_cases(head, section, treatments), strict=True):
        together[one.start] = together.get(one.start, 0.0) + case.power * one.dwell
    warm = max(together.values()) / (capacity * heated_wall(head))
    if warm > ROOF_WARMTH.value:
        told, most = (show_difference(rise, head.system) for rise in (warm, ROOF_WARMTH.value))
        raise OutsideModel(
            f"the roof as a whole would be {told} warm; {most} is the most that can be computed",
            where="spots",
            fix="Heat fewer places at once, or each for a shorter time.",
        )


def heat_given(head: Head, section: Section, treatments: tuple[Treatment, ...]) -> float:
    """Return the heat that treatments put into the head [J], zero where there are none.

    Raises:
        BadInput: as `check_model`.
        OutsideModel: as `check_model`.
    """
    if not treatments:
        return 0.0
    check_model(head, section, treatments)
    cases = standing_cases(head, section, treatments)
    return sum(case.power * one.dwell for one, case in zip(treatments, cases, strict=True))
