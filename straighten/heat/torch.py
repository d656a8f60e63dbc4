"""What the torch puts in: absorbed power from a crayon, from a surface temperature aimed at, or given.

A flame trial: crayon rings on the roof give the flame's flux radius and the power that the roof takes in.

The torch is held still for some seconds. Then every crayon has melted out to its own ring. Each ring says that the hottest
the roof ever was there is the crayon's melting point. Radius and power are those that fit the rings and the radius told by
eye, each weighed by its own error; the closed-form field is linear in the power.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.errors import BadInput
from straighten.head.ceiling import heat_ceiling
from straighten.head.equipment import RADII, TIMES
from straighten.heat.field import Flame, Slab, read, slab_rise, surface_rise
from straighten.sources import Cited
from straighten.units import show, show_temperature

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Alloy, CrayonRing, CrayonTime, Head, Torch
    from straighten.heat.treatment import HeatSpot

    Floats = NDArray[np.float64]

RADIUS_TOLD: Final = Cited(0.15, "", "log-sd of a flame's radius judged by eye", "assumed")
ROOM: Final = Cited(20.0, "degC", "temperature at which the alloy tables begin", "assumed")
SHARE_OF_RISE: Final = Cited(
    0.25,
    "",
    "heat properties are taken at a quarter of the surface's rise; meets the peak of 542 degC that 3D finite "
    "elements give for 2479 W, 12 mm and 4 s on a 10 mm roof",
    "fitted",
)
_ROUNDS: Final = 6


def heated_wall(head: Head) -> float:
    """Return the thickness of the metal under the torch [m]: the roof, or a solid casting's whole height.

    Valid: spots on the cam side.
    """
    plates = head.casting.plates
    return head.casting.height if plates is not None and plates.solid else head.casting.roof


def slab_of(alloy: Alloy, thickness: float, peak: float, start: float = ROOM.value) -> Slab:
    """Return the roof as a plate whose heat properties are those of the heated metal.

    `thickness` of the heated wall [m]; `peak` surface temperature at the end of the dwell [degC]; `start`
    temperature of the metal before [degC].

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

    `thickness` of the heated wall [m]; `peak` [degC]; `start` temperature of the metal before [degC].

    Source: the plate's field is linear in the power; derived.
    """
    unit = Flame(power=1.0, radius=spot.radius, dwell=spot.dwell)
    return (peak - start) / surface_rise(unit, slab_of(alloy, thickness, peak, start))


def peak_for_power(
    alloy: Alloy, thickness: float, spot: HeatSpot, power: float, start: float = ROOM.value
) -> float:
    """Return the surface temperature [degC] that an absorbed power [W] reaches at the end of the dwell.

    `thickness` of the heated wall [m]; `power` absorbed [W]; `start` temperature of the metal before [degC].

    Source: `surface_rise` with properties at the peak it gives, by repetition; derived.
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

    `thickness` of the wall it was tried on [m]; `radius` flux radius [m]; `trial` crayon temperature [degC]
    and seconds; `start` temperature of the metal before [degC].

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

    `thickness` of the wall it was tried on [m]; `radius` flux radius [m]; `melted` the crayon that melted and
    when; `unmelted` the hotter crayon that had not melted at its time; where None the surface had not begun
    to glisten at the time of the first, so it was under first melting.

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

    Valid: flame held still, neutral.
    """
    from straighten.heat.treatment import HeatSpot

    if torch.power is not None:
        return torch.power
    if torch.trial is not None:
        return power_from_trial(alloy, thickness, torch.radius, torch.trial)
    spot = HeatSpot(station=0.0, side="inlet", radius=torch.radius, dwell=torch.dwell)
    return power_for_peak(alloy, thickness, spot, torch.peak)


MARK: Final = Cited(1.0e-3, "m", "error of a ring read with a rule", "assumed")
CRAYON: Final = Cited(
    0.01, "", "a temperature crayon tells its melting point to 1 %", "common practice, no source"
)
CLOCK: Final = Cited(0.3, "s", "error of seconds counted by hand", "assumed")
FIELD: Final = Cited(0.02, "", "of all rises of one hold: constant heat properties, see `slab_of`", "fitted")
POWER_GUESS: Final = Cited(1.5, "log-sd", "power before the trial: 0.2 to 10 kW", "assumed")
ODD: Final = Cited(3.5, "", "standard deviations at which a ring is called odd", "assumed")
_LATER: Final = np.concatenate(
    [[1.0], 1.0 + np.geomspace(0.02, 6.0, 24)]
)  # of the dwell: a ring grows on for a while
_FIT_ROUNDS: Final = 25
_STEP: Final = 1e-3
_SETTLED: Final = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameFit:
    """What the rings say: flux `radius` [m] and absorbed `power` [W] with log standard deviations `radius_spread`, `power_spread`; `odd` numbers of rings that do not fit, from 1."""

    radius: float
    power: float
    radius_spread: float
    power_spread: float
    odd: tuple[int, ...]


def tried(head: Head) -> Head:
    """Return the head with power and radius of every tip worked out from its trial, where there was one.

    Raises:
        BadInput: a trial that tells no heat.
    """
    tips = tuple(_tip_tried(head, tip) for tip in head.spare_tips)
    torch = None if head.torch is None else _tip_tried(head, head.torch)
    return replace(head, torch=torch, spare_tips=tips)


def _tip_tried(head: Head, torch: Torch) -> Torch:
    if torch.rings:
        fit = fit_rings(head.alloy, heated_wall(head), torch.radius, torch.rings)
        return replace(
            torch, radius=fit.radius, power=fit.power, radius_spread=fit.radius_spread,
            largest=max(fit.radius, torch.largest),
        )  # fmt: skip
    if torch.power is not None or torch.trial is None:
        return torch
    power = power_from_trial(head.alloy, heated_wall(head), torch.radius, torch.trial)
    if torch.unmelted is not None:
        low, high = power_bracket(head.alloy, heated_wall(head), torch.radius, torch.trial, torch.unmelted)
        power = math.sqrt(low * high)
    return replace(torch, power=power)


def fit_rings(
    alloy: Alloy, thickness: float, told: float, rings: Sequence[CrayonRing], start: float = ROOM.value
) -> FlameFit:
    """Return the flame that left the rings.

    `thickness` of the roof it was tried on [m]; `told` flux radius judged by eye [m], known to `RADIUS_TOLD`;
    `rings` crayon, ring and seconds of each mark; one is enough for the power, two far apart for the radius;
    `start` temperature of the roof before [degC].

    Raises:
        BadInput: no ring, a crayon under the roof's own temperature, or rings that no flame leaves together.

    Source: Gauss-Newton on the logs of radius and power; field of `slab_rise`; derived.
    Valid: torch still and upright over a wide bay, roof at room temperature.
    """
    _check(rings, start)
    holds = sorted({ring.seconds for ring in rings})
    sway = [
        math.hypot(0.5 * CLOCK.value / seconds, FIELD.value) for seconds in holds
    ]  # of all rises of one hold
    prior = np.array([math.log(told), math.log(1500.0), *(0.0 for _ in holds)])
    weight = 1 / np.array([RADIUS_TOLD.value, POWER_GUESS.value, *sway])
    metal, at = (alloy, thickness, start), prior.copy()
    for _ in range(_FIT_ROUNDS):
        residual, slope = _whitened(metal, rings, at)
        normal = slope.T @ slope + np.diag(weight**2)
        move = np.clip(np.linalg.solve(normal, slope.T @ -residual + weight**2 * (prior - at)), -0.3, 0.3)
        at = at + move
        if np.abs(move).max() < _SETTLED:
            break
    residual, slope = _whitened(metal, rings, at)
    spread = np.sqrt(np.diag(np.linalg.inv(slope.T @ slope + np.diag(weight**2))))
    odd = tuple(n for n, r in enumerate(residual.tolist(), start=1) if abs(r) > ODD.value)
    if odd or not RADII.value[0] <= math.exp(at[0]) <= RADII.value[1]:
        raise BadInput(
            f"no flame leaves these rings together; {_named(rings, odd)} fits worst",
            where="torch.rings",
            fix="Measure each ring's radius from the middle of the flame, not its width; try once more on cold metal.",
        )
    return FlameFit(
        radius=math.exp(at[0]), power=math.exp(at[1]), radius_spread=float(spread[0]), power_spread=float(spread[1]), odd=odd
    )  # fmt: skip


def _check(rings: Sequence[CrayonRing], start: float) -> None:
    if not rings:
        raise BadInput("no crayon ring", where="torch.rings", fix="Give at least one.")
    for number, ring in enumerate(rings, start=1):
        if ring.temperature <= start + 20 or ring.seconds < TIMES.value[0] or not 0 <= ring.radius <= 0.1:
            raise BadInput(
                f"ring {number}: {show_temperature(ring.temperature)} out to {show(ring.radius, big=True)} after "
                f"{ring.seconds:g} s tells no heat",
                where="torch.rings",
                fix=f"Give the crayon's melting point, the ring's radius under 100 mm, and {TIMES.value[0]:g} seconds or more.",
            )


def _named(rings: Sequence[CrayonRing], odd: tuple[int, ...]) -> str:
    return f"ring {odd[0]} of {len(rings)}" if odd else "their size"


def _whitened(
    metal: tuple[Alloy, float, float], rings: Sequence[CrayonRing], at: Floats
) -> tuple[Floats, Floats]:
    """Return rise missed by each ring over its error `(rings,)`, and its slopes along log radius, log power and each hold's sway."""
    rise, along = _hottest(metal, rings, at)
    crayons = np.array([r.temperature for r in rings])
    error = np.hypot(along * MARK.value, CRAYON.value * crayons)
    wider, _ = _hottest(metal, rings, at + _STEP * (np.arange(at.size) == 0))
    holds = np.unique([r.seconds for r in rings])
    same = np.array([r.seconds for r in rings])[:, None] == holds
    slopes = np.column_stack([(wider - rise) / _STEP, rise, same * rise[:, None]])
    return (rise - (crayons - metal[2])) / error, slopes / error[:, None]


def _hottest(
    metal: tuple[Alloy, float, float], rings: Sequence[CrayonRing], at: Floats
) -> tuple[Floats, Floats]:
    """Return the highest rise at each ring [K] and how fast it falls outward [K/m]."""
    alloy, thickness, start = metal
    radius, power = np.exp(at[:2])
    sway = dict(zip(sorted({r.seconds for r in rings}), np.exp(at[2:]).tolist(), strict=True))
    slab = slab_of(alloy, thickness, max(r.temperature for r in rings), start)
    rises, falls = [], []
    for ring in rings:
        flame = Flame(power=float(power) * sway[ring.seconds], radius=float(radius), dwell=ring.seconds)
        field = slab_rise(flame, slab, [ring.radius, ring.radius + 1e-4], 0.0, ring.seconds * _LATER)[:, :, 0]
        here, beyond = field.max(axis=0)
        rises.append(here)
        falls.append((here - beyond) / 1e-4)
    return np.array(rises), np.array(falls)
