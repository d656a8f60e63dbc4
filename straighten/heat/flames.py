"""The flames owned: how each may be used, what the heat ceiling leaves of it, and how far what it does is in doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.head.ceiling import heat_ceiling
from straighten.head.equipment import TIMES
from straighten.heat.case import DOUBT
from straighten.heat.field import Flame, slab_rise
from straighten.heat.torch import RADIUS_TOLD, ROOM, absorbed_power, heated_wall, peak_for_power, slab_of
from straighten.heat.treatment import HeatSpot
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Alloy, Head, Torch
    from straighten.heat.treatment import Treatment

    Floats = NDArray[np.float64]

HAND: Final = Cited(
    1.5, "s", "least time from the target to the ceiling: a hand takes a flame off no faster", "assumed"
)
SHORTEST: Final = Cited(1.0, "s", "least dwell that a hand can repeat to a fifth", "assumed")
COOLEST: Final = Cited(250.0, "degC", "under it hardly any metal yields, whatever the dwell", "derived")
LARGEST_RADIUS: Final = Cited(
    30e-3, "m", "largest flame whose spots were held against 3D elements", "derived"
)
LONGEST: Final = Cited(
    20.0, "s", "longest dwell that is planned, held against 3D elements with a wide flame", "assumed"
)
SPREAD: Final = Cited(
    0.5,
    "",
    "least flux radius over the way heat spreads in the dwell; 3D elements held no slower flame",
    "fitted",
)
COOLER: Final = (60.0, 120.0)  # K under the target asked for: the mildest that a large tip can do
HELD: Final = (1.0, 1.12, 1.25, 1.5, 2.0)  # flux radii tried, over the least
_INSTANTS: Final = np.geomspace(0.5, TIMES.value[1], 160)


def recipes(head: Head) -> tuple[Torch, ...]:
    """Return every flame as it may be held: flux radius, dwell and target together, the mildest first.

    A flame of one power reaches the target sooner when it is held nearer; held farther than tried, one that
    takes longer than the heat needs to run away is left out. The target stays under the ceiling, and so far
    under it that the hand has `HAND` to take the flame off; a flame that cannot give that is left out.

    Source: closed-form field of a Gaussian flux on a plate, `heat_ceiling`, `HAND`.
    Valid: roof as thick as told; heat properties as `slab_of`.
    """
    found: list[Torch] = []
    for tip in (head.torch, *head.spare_tips):
        if tip is None:
            continue
        power = absorbed_power(head.alloy, heated_wall(head), tip)
        for times, cooler in (*((times, 0.0) for times in HELD), *((1.0, less) for less in COOLER)):
            radius = min(round(times * tip.radius, 4), tip.largest, LARGEST_RADIUS.value)
            target = tip.peak - cooler
            held = _held(head.alloy, heated_wall(head), (power, radius), target, farther=times > 1)
            if held is None or (cooler and held[1] > target + 1):
                continue
            one = replace(tip, radius=radius, dwell=held[0], peak=held[1], power=None)
            if one not in found:
                found.append(one)
    return tuple(sorted(found, key=strength_of))


def strength_of(flame: Torch | Treatment) -> float:
    """Return by what a flame's effect goes, to sort flames by [m2 s K]: area, dwell and heat over `COOLEST`."""
    return flame.radius**2 * flame.dwell * max((flame.peak or COOLEST.value) - COOLEST.value, 1.0)


REFERENCE_PEAK: Final = 540.0  # degC
LEAST_STRENGTH: Final = 1e-3  # of the reference: what does not heat at all is refused elsewhere
REFERENCE: Final = Cited(
    0.167, "m2 s K", "strength of 12 mm, 4 s, 540 C: where 3D elements were asked most", "derived"
)


def strength_over_reference(spots: Sequence[Treatment]) -> float:
    """Return the mean log strength of treatments over the reference, which scales `Response.growth`; 0 for none.

    Source: `strength_of`; one of known power counts as hot as the reference.
    Valid: treatments of about one strength.
    """
    known = [replace(spot, peak=REFERENCE_PEAK, power=None) if spot.peak is None else spot for spot in spots]
    logs = [math.log(max(strength_of(spot) / REFERENCE.value, LEAST_STRENGTH)) for spot in known]
    return sum(logs) / max(len(logs), 1)


@lru_cache(maxsize=256)
def _held(
    alloy: Alloy, wall: float, flame: tuple[float, float], target: float, *, farther: bool
) -> tuple[float, float] | None:
    """Return dwell [s] and the peak it reaches [degC], or None where the flame gives the hand no time or no heat."""
    power, radius = flame
    slab = slab_of(alloy, wall, target)
    on = Flame(power=power, radius=radius, dwell=2 * TIMES.value[1])
    surface = ROOM.value + slab_rise(on, slab, 0.0, 0.0, _INSTANTS)[:, 0, 0]
    ceiling = heat_ceiling(alloy).highest
    until = _when(surface, ceiling) - HAND.value
    dwell = min(_when(surface, min(target, ceiling)), until, LONGEST.value)
    if dwell < SHORTEST.value or (farther and dwell > (radius / SPREAD.value) ** 2 / slab.diffusivity):
        return None
    peak = float(np.interp(dwell, _INSTANTS, surface))
    return None if peak < COOLEST.value else (round(dwell, 1), round(peak))


def _when(surface: Floats, temperature: float) -> float:
    """Return when the surface first stands at a temperature [s]; infinite where it never does."""
    if surface[-1] < temperature:
        return np.inf
    return float(np.interp(temperature, surface, _INSTANTS))


WARMTH: Final = Cited(
    60.0, "K", "the whole head at the end of a pass: 16 spots of 10 kJ in 7 kg warm it by 25 K", "derived"
)
_HALVINGS: Final = 24


def target_of(head: Head, spot: Treatment) -> float:
    """Return the surface temperature a spot is meant to reach [degC]: asked for, or worked out from its power.

    Valid: metal at room temperature before it.
    """
    if spot.peak is not None:
        return spot.peak
    if isinstance(spot, HeatSpot):
        return peak_for_power(head.alloy, heated_wall(head), spot, spot.power or 0.0)
    from straighten.heat.flame import peak_reached

    return peak_reached(head.alloy, heated_wall(head), spot, ROOM.value)


def hottest_over(head: Head, spots: Sequence[Treatment]) -> float | None:
    """Return the hottest target above the heat ceiling [degC], or None where all keep it."""
    hottest = max((target_of(head, spot) for spot in spots), default=ROOM.value)
    return hottest if hottest > heat_ceiling(head.alloy).highest else None


def refused_peak(head: Head, spots: Sequence[Treatment]) -> float | None:
    """Return the hottest target that is refused [degC]: any asked for above the ceiling, a worked-out one clearly above it.

    Source: `heat_ceiling`; a peak worked out from a power is known to `DOUBT`.
    """
    asked = [spot for spot in spots if spot.peak is not None]
    worked = [target_of(head, spot) - DOUBT.value for spot in spots if spot.peak is None]
    hottest = max(
        (hottest_over(head, asked) or 0.0, *(p + DOUBT.value for p in worked if p > _highest(head))),
    )
    return hottest or None


def _highest(head: Head) -> float:
    return heat_ceiling(head.alloy).highest


def limited(head: Head) -> Head:
    """Return the head with its torch's target at or under the heat ceiling, and what was asked kept beside it.

    A torch of known power reaches its peak by its dwell: where that peak, on a head warmed by the pass, would pass the
    ceiling, the dwell is shortened and the peak is aimed at instead.

    Valid: heads with a torch; others come back as they are.
    """
    if head.torch is None:
        return head
    torch, highest = head.torch, _highest(head)
    if torch.power is None:
        if torch.peak <= highest:
            return head
        return replace(head, torch=replace(torch, peak=highest, asked=torch.peak))
    reached = _reached(head, torch, torch.dwell)
    if reached + WARMTH.value <= highest:
        return head
    asked = reached if reached > highest else None
    aimed = replace(torch, power=None, peak=min(reached, highest), asked=asked)
    return replace(head, torch=aimed if asked is None else replace(aimed, dwell=_dwell(head, torch, highest)))


def _reached(head: Head, torch: Torch, dwell: float) -> float:
    spot = HeatSpot(station=0.0, side="inlet", radius=torch.radius, dwell=dwell)
    return peak_for_power(head.alloy, heated_wall(head), spot, torch.power or 0.0)


def _dwell(head: Head, torch: Torch, highest: float) -> float:
    """Return the dwell at which the torch's power reaches the ceiling [s], found by halving."""
    low, high = TIMES.value[0], torch.dwell
    for _ in range(_HALVINGS):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if _reached(head, torch, middle) < highest else (low, middle)
    return low


def cut_down(head: Head, spots: Sequence[Treatment]) -> tuple[Treatment, ...]:
    """Return spots with every target over the ceiling cut down to it: what a place has been through, for the next pass.

    Source: metal over the ceiling is soft anyhow; its place counts as heated to the ceiling.
    Valid: places, not what the heat did to the shape.
    """
    highest = _highest(head)
    return tuple(replace(s, peak=highest, power=None) if target_of(head, s) > highest else s for s in spots)


_ELEMENTS: Final = "3D elements of a hollow box, own run"
PER_RADIUS: Final = Cited(
    1.9, "", f"log effect per log of the flux radius: +-15 % is +-33 % ({_ELEMENTS})", "seen"
)
PER_ROOF: Final = Cited(
    0.186, "1/mm", f"log effect per millimetre of roof: 7 against 9 mm is +45 % ({_ELEMENTS})", "seen"
)
PER_PEAK: Final = Cited(
    0.0083, "1/K", f"log effect per kelvin of the peak: +-20 K is +-18 % ({_ELEMENTS})", "seen"
)
CURVE: Final = Cited(
    0.33,
    "log-sd",
    f"nobody knows which of the two hot yield curves a casting under a torch follows: a factor of two ({_ELEMENTS})",
    "seen",
)
MODEL: Final = Cited(
    0.20, "log-sd", "castings are no boxes: what the model misses from head to head", "assumed"
)
ROOF_GUESSED: Final = Cited(1.0, "mm", "standard deviation of a roof nobody measured", "assumed")
ROOF_MEASURED: Final = Cited(
    0.3, "mm", "of a roof read in a plug well or with a gauge: cast walls vary", "assumed"
)
PEAK_BY_HAND: Final = Cited(20.0, "K", "standard deviation of a peak held by hand and crayon", "assumed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """One part of the first range: what it is `of`, its `spread` now (log standard deviation), the spread `then` once it is measured, how to `measure` it (empty where nothing is to be done), and the `source`."""

    of: str
    spread: float
    then: float
    measure: str
    source: str


def spot_doubts(head: Head) -> tuple[Doubt, ...]:
    """Return the parts of the first range of a spot's effect, in quadrature the whole.

    Source: 3D elements' own exponents; what is told by eye, hand or gauge as marked.
    Valid: one head before its first pass; passes narrow what they all share.
    """
    torch, alloy = head.torch, head.alloy
    radius = RADIUS_TOLD.value if torch is None or torch.radius_spread is None else torch.radius_spread
    roof = ROOF_GUESSED.value if head.casting.roof_assumed else ROOF_MEASURED.value
    solid = head.casting.plates is not None and head.casting.plates.solid
    known_curve = alloy.yield_short == alloy.yield_soaked
    return (
        Doubt(of="hot yield curve", spread=0.0 if known_curve else CURVE.value, then=CURVE.value, measure="", source=str(CURVE)),
        Doubt(
            of="alloy and temper", spread=alloy.spread, then=min(alloy.spread, _NAMED), source=f"{alloy.name}: spread of its yield",
            measure="name the alloy and temper cast or stamped on the head" if alloy.name.startswith("unknown") else "",
        ),
        Doubt(
            of="flame's radius", spread=PER_RADIUS.value * radius, then=PER_RADIUS.value * min(radius, _BY_RINGS),
            measure="crayon rings on the roof: [[torch.rings]]" if torch is not None and torch.radius_spread is None else "", source=str(PER_RADIUS),
        ),
        Doubt(
            of="roof's thickness", spread=0.0 if solid else PER_ROOF.value * roof, then=PER_ROOF.value * min(roof, ROOF_MEASURED.value),
            measure="the roof in a plug well or with a gauge: casting.roof_thickness" if head.casting.roof_assumed and not solid else "",
            source=str(PER_ROOF),
        ),
        Doubt(of="peak by hand", spread=PER_PEAK.value * PEAK_BY_HAND.value, then=PER_PEAK.value * PEAK_BY_HAND.value, measure="", source=str(PER_PEAK)),
        Doubt(of="what the model misses", spread=MODEL.value, then=MODEL.value, measure="", source=str(MODEL)),
    )  # fmt: skip


_BY_RINGS: Final = 0.125  # log-sd of a radius fitted to six rings of one hold of 4 s: 0.09 to 0.125, tested
_NAMED: Final = 0.12  # log-sd of the yield of a named alloy and temper, the middle of the table


def spread_of(doubts: tuple[Doubt, ...]) -> float:
    """Return the log standard deviation of all doubts together.

    Source: independent parts.
    """
    return math.hypot(*(doubt.spread for doubt in doubts))


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureNext:
    """A thing to measure: `what`, and the log standard deviation of a spot's effect `before` and `after`."""

    what: str
    before: float
    after: float

    @property
    def sentence(self) -> str:
        """Return it as a person reads it; a range is what lies within the factor of eight cases in ten."""
        low, high = (math.exp(1.2816 * spread) for spread in (self.after, self.before))
        return f"Measure this next: {self.what}. It narrows the first range of a spot's effect from a factor of {high:.2f} to {low:.2f} either way."


def measure_next(head: Head) -> tuple[MeasureNext, ...]:
    """Return what is worth measuring before the first heat, the most telling first.

    Valid: heads with a torch; none otherwise.
    """
    if head.torch is None:
        return ()
    doubts = spot_doubts(head)
    now = spread_of(doubts)
    found = [
        MeasureNext(
            what=doubt.measure,
            before=now,
            after=spread_of(tuple(replace(d, spread=d.then) if d is doubt else d for d in doubts)),
        )
        for doubt in doubts
        if doubt.measure
    ]
    return tuple(sorted(found, key=lambda step: step.after))
