"""What the torch puts in: absorbed power from a crayon, from a surface temperature aimed at, or given."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from straighten.errors import BadInput
from straighten.head.ceiling import heat_ceiling
from straighten.heat.curves import read
from straighten.heat.field import Flame, Slab, surface_rise
from straighten.sources import Cited

if TYPE_CHECKING:
    from straighten.head.records import Alloy, CrayonTime, Torch
    from straighten.heat.treatment import HeatSpot

ROOM: Final = Cited(20.0, "degC", "temperature at which the alloy tables begin", "assumed")
SHARE_OF_RISE: Final = Cited(
    0.25,
    "",
    "heat properties are taken at a quarter of the surface's rise; meets the peak of 542 degC that 3D finite "
    "elements give for 2479 W, 12 mm and 4 s on a 10 mm roof",
    "fitted",
)
_ROUNDS = 6


def slab_of(alloy: Alloy, thickness: float, peak: float, start: float = ROOM.value) -> Slab:
    """Return the roof as a plate whose heat properties are those of the heated metal.

    Args:
        alloy: the casting alloy.
        thickness: of the heated wall [m].
        peak: surface temperature at the end of the dwell [degC].
        start: temperature of the metal before [degC].

    Source: properties at start + 0.25 (peak - start), see `SHARE_OF_RISE` (fitted).
    Valid: peaks from 150 degC to the solidus; the field is then within 2 % of one with varying properties.
    """
    at = start + SHARE_OF_RISE.value * (peak - start)
    capacity = alloy.density * float(read(alloy.heat_capacity, at))
    return Slab(thickness=thickness, conductivity=float(read(alloy.conductivity, at)), capacity=capacity)


def power_for_peak(
    alloy: Alloy, thickness: float, spot: HeatSpot, peak: float, start: float = ROOM.value
) -> float:
    """Return the absorbed power [W] that brings the spot's surface to `peak` [degC] at the end of the dwell.

    Args:
        alloy: the casting alloy.
        thickness: of the heated wall [m].
        spot: gives flux radius and dwell.
        peak: [degC].
        start: temperature of the metal before [degC].

    Source: the plate's field is linear in the power; derived.
    Valid: as `slab_rise`.
    """
    unit = Flame(power=1.0, radius=spot.radius, dwell=spot.dwell)
    return (peak - start) / surface_rise(unit, slab_of(alloy, thickness, peak, start))


def peak_for_power(
    alloy: Alloy, thickness: float, spot: HeatSpot, power: float, start: float = ROOM.value
) -> float:
    """Return the surface temperature [degC] that an absorbed power [W] reaches at the end of the dwell.

    Args:
        alloy: the casting alloy.
        thickness: of the heated wall [m].
        spot: gives flux radius and dwell.
        power: absorbed [W].
        start: temperature of the metal before [degC].

    Source: `surface_rise` with properties at the peak it gives, by repetition; derived.
    Valid: as `slab_rise`.
    """
    flame = Flame(power=power, radius=spot.radius, dwell=spot.dwell)
    peak = start + 400.0
    for _ in range(_ROUNDS):
        peak = start + surface_rise(flame, slab_of(alloy, thickness, peak, start))
    return peak


def power_from_trial(
    alloy: Alloy, thickness: float, radius: float, trial: CrayonTime, start: float = ROOM.value
) -> float:
    """Return the absorbed power [W] of a torch that melted a crayon on this surface after some seconds.

    Args:
        alloy: the casting alloy.
        thickness: of the wall it was tried on [m].
        radius: flux radius [m].
        trial: crayon temperature [degC] and seconds.
        start: temperature of the metal before [degC].

    Raises:
        BadInput: the crayon melts below the metal's own temperature, or no time passed.

    Source: `power_for_peak`; a temperature crayon tells its melting point to about 1 % (common practice, no source).
    Valid: the torch held still over one place.
    """
    from straighten.heat.treatment import HeatSpot

    if trial.temperature <= start or trial.seconds <= 0:
        raise BadInput(
            f"a crayon of {trial.temperature:.0f} C after {trial.seconds:.1f} s tells no heat",
            where="torch.trial",
            fix="Give the crayon's melting point and the seconds until it melted.",
        )
    spot = HeatSpot(station=0.0, side="inlet", radius=radius, dwell=trial.seconds)
    return power_for_peak(alloy, thickness, spot, trial.temperature, start)


def power_bracket(
    alloy: Alloy, thickness: float, radius: float, melted: CrayonTime, unmelted: CrayonTime | None = None
) -> tuple[float, float]:
    """Return the least and the most power [W] that a pair of crayons, or the first glisten of the surface, allows.

    Args:
        alloy: the casting alloy.
        thickness: of the wall it was tried on [m].
        radius: flux radius [m].
        melted: the crayon that melted and when.
        unmelted: the hotter crayon that had not melted at its time; where None the surface had not begun to glisten
            at the time of the first, so it was under first melting.

    Raises:
        BadInput: the pair is the wrong way round.

    Source: `power_from_trial` at both ends; derived. A pair of crayons is usual (common practice, no source).
    Valid: the torch held still over one place.
    """
    from straighten.head.records import CrayonTime

    glisten = CrayonTime(temperature=heat_ceiling(alloy).melting, seconds=melted.seconds)
    low = power_from_trial(alloy, thickness, radius, melted)
    high = power_from_trial(alloy, thickness, radius, unmelted or glisten)
    if high <= low:
        raise BadInput(
            "the crayon that did not melt tells less heat than the one that did",
            where="torch.trial",
            fix="Give the cooler crayon as the melted one.",
        )
    return low, high


def absorbed_power(alloy: Alloy, thickness: float, torch: Torch) -> float:
    """Return the power [W] a person's torch puts into this roof: given, from its trial, or from the peak aimed at.

    Source: as the person states it; `power_from_trial`, `power_for_peak` (derived).
    Valid: flame held still, neutral.
    """
    from straighten.heat.treatment import HeatSpot

    if torch.power is not None:
        return torch.power
    if torch.trial is not None:
        return power_from_trial(alloy, thickness, torch.radius, torch.trial)
    spot = HeatSpot(station=0.0, side="inlet", radius=torch.radius, dwell=torch.dwell)
    return power_for_peak(alloy, thickness, spot, torch.peak)
