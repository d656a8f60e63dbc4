"""What a torch puts in and how hot the surface becomes: power and peak from one another, from a crayon, and what is refused."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.errors import BadInput, OutsideModel
from straighten.head.ceiling import heat_ceiling
from straighten.head.equipment import COLDEST, RADII, TIMES
from straighten.head.records import CrayonTime
from straighten.heat.field import (
    ROOM,
    Flame,
    MovingFlame,
    heated_wall,
    slab_of,
    surface_rise,
    through_thickness,
)
from straighten.heat.treatment import HeatSpot
from straighten.sources import Cited
from straighten.units import show_temperature

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Alloy, Head, Torch
    from straighten.heat.field import Slab
    from straighten.heat.treatment import HeatStroke, Treatment

    Floats = NDArray[np.float64]
    Still = HeatSpot | Torch | Flame  # what is held still: its radius and dwell


_ROUNDS: Final = 6


def power_for_peak(
    alloy: Alloy, thickness: float, spot: Still, peak: float, start: float = ROOM.value
) -> float:
    """Return the absorbed power [W] that brings the surface to `peak` [degC] at the end of the dwell.

    `thickness` of the heated wall [m]; `spot` gives flux radius and dwell; `start` of the metal [degC].

    Source: the plate's field is linear in the power; derived.
    """
    unit = Flame(power=1.0, radius=spot.radius, dwell=spot.dwell)
    return (peak - start) / surface_rise(unit, slab_of(alloy, thickness, peak, start))


def peak_for_power(
    alloy: Alloy, thickness: float, spot: Still, power: float, start: float = ROOM.value
) -> float:
    """Return the surface temperature [degC] that an absorbed power [W] reaches at the end of the dwell.

    Source: `surface_rise` with properties at the peak it gives, by repetition; derived. Other figures as `power_for_peak`.
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

    `thickness` of the wall it was tried on [m]; `radius` of the flux [m]; `start` of the metal [degC].

    Raises:
        BadInput: the crayon melts below the metal's own temperature, or no time passed.

    Source: `power_for_peak`; a temperature crayon tells its melting point to about 1 % (common practice, no source).
    Valid: the torch held still over one place.
    """
    if trial.temperature <= start or trial.seconds <= 0:
        raise BadInput(
            f"a crayon of {trial.temperature:.0f} C after {trial.seconds:.1f} s tells no heat",
            where="torch.trial",
            fix="Give the crayon's melting point and the seconds until it melted.",
        )
    unit = Flame(power=1.0, radius=radius, dwell=trial.seconds)
    return power_for_peak(alloy, thickness, unit, trial.temperature, start)


def power_bracket(
    alloy: Alloy, thickness: float, radius: float, melted: CrayonTime, unmelted: CrayonTime | None = None
) -> tuple[float, float]:
    """Return the least and the most power [W] that a pair of crayons, or the first glisten of the surface, allows.

    `melted` the crayon that melted and when; `unmelted` a hotter one that had not. Where it is None the surface
    had not begun to glisten when the first melted, so it was under first melting. Others as `power_from_trial`.

    Raises:
        BadInput: the pair is the wrong way round.

    Source: `power_from_trial` at both ends; derived. A pair of crayons is usual (common practice, no source).
    """
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
    if torch.power is not None:
        return torch.power
    if torch.trial is not None:
        return power_from_trial(alloy, thickness, torch.radius, torch.trial)
    return power_for_peak(alloy, thickness, torch, torch.peak)


def surface_peak_per_watt(slab: Slab, stroke: HeatStroke) -> float:
    """Return the largest rise of the heated face on the stroke's line per absorbed power [K/W]."""
    flame = MovingFlame.of(stroke, 1.0)
    hottest = 0.0
    for share in (0.5, 0.75, 0.9, 1.0):
        now = flame.starts[-1] + share * flame.time
        px, py, area, weight = flame.laid(slab, np.asarray(now))
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

    `wall` thickness under the torch [m]; `start` temperature of the head before [degC].

    Raises:
        OutsideModel: as `check_peak`.
    """
    if stroke.power is None:
        peak = float(stroke.peak or 0.0)
        check_peak(alloy, peak)
        return (peak - start) / surface_peak_per_watt(slab_of(alloy, wall, peak, start), stroke), peak
    peak = peak_reached(alloy, wall, stroke, start)
    check_peak(alloy, peak)
    return stroke.power, peak


def peak_reached(alloy: Alloy, wall: float, stroke: HeatStroke, start: float) -> float:
    """Return the surface peak that a stroke of known power reaches [degC], whether it makes sense or not.

    Source: `surface_peak_per_watt` with heat properties at the peak it gives, by repetition; derived.
    """
    peak = start + 400.0
    for _ in range(_ROUNDS - 1):
        slab = slab_of(alloy, wall, min(peak, 2 * alloy.solidus), start)
        peak = start + (stroke.power or 0.0) * surface_peak_per_watt(slab, stroke)
    return peak


DOUBT: Final = Cited(
    30.0, "K", "a peak worked out from the power is no better than this; under it a caveat stands", "assumed"
)
SLIP: Final = Cited(10.0, "", "times out of `TIMES`: a slip of the pen, whatever was done", "assumed")
MOST_AT_ONCE: Final = Cited(
    160, "", "treatments in one heat: more would cover any roof several times over", "assumed"
)
MOST_PASSES: Final = Cited(20, "", "passes of one stroke", "assumed")


def check_sense(head: Head, treatments: tuple[Treatment, ...]) -> None:
    """Refuse what no torch does, whoever asks.

    Raises:
        BadInput: none or too many, off the roof, sizes out of `RADII`, times `SLIP` times out of `TIMES`, peak and power both
            or neither. `check_time` and `check_peak` refuse times and peaks beyond the model.
    """
    if not treatments:
        raise BadInput("no heat spots", where="spots", fix="Name at least one spot or stroke.")
    if len(treatments) > MOST_AT_ONCE.value:
        raise BadInput(
            f"{len(treatments)} spots and strokes in one heat; {MOST_AT_ONCE.value} are the most",
            where="spots",
            fix="Give several heats.",
        )
    for one in treatments:
        _check_one(head, one)


def _check_one(head: Head, one: Treatment) -> None:
    if (one.peak is None) == (one.power is None):
        raise BadInput("give either the surface peak or the absorbed power of a spot", where="spots")
    passes = getattr(one, "passes", 1)
    if not 1 <= passes <= MOST_PASSES.value:
        raise BadInput(f"{passes} passes of a stroke; allowed is 1 to {MOST_PASSES.value}", where="strokes")
    refuse_slip(one.dwell / passes)
    for value, limits, words, unit, factor in (
        (one.radius, RADII.value, "flux radius", "mm", 1e3),
        (one.power if one.power is not None else 1.0, (0.1, 50e3), "absorbed power", "W", 1.0),
    ):
        low, high = limits
        if not low <= value <= high:
            raise BadInput(
                f"{words} {factor * value:.4g} {unit}; allowed is {factor * low:g} to {factor * high:g} {unit}",
                where="spots",
            )
    ends = ends_of(head, one)
    if any(not 0 <= x <= head.casting.length or abs(y) > head.casting.width / 2 for x, y in ends):
        raise BadInput(
            "a spot or stroke lies off the roof",
            where="spots",
            fix=f"Stations 0 to {1e3 * head.casting.length:.0f} mm, up to {500 * head.casting.width:.0f} mm off the middle.",
        )


def refuse_slip(seconds: float) -> None:
    """Refuse a time under the torch that nobody held: what was really done is recorded.

    Raises:
        BadInput: `SLIP` times out of `TIMES`.
    """
    shortest, longest = TIMES.value
    if not shortest / SLIP.value <= seconds <= SLIP.value * longest:
        raise BadInput(
            f"time under the torch {seconds:.4g} s; allowed is {shortest:g} to {longest:g} s", where="spots"
        )


def check_time(one: Treatment) -> None:
    """Refuse a time under the torch that the model does not know.

    Raises:
        OutsideModel: out of `TIMES`, a pass.
    """
    (shortest, longest), time = TIMES.value, one.dwell / getattr(one, "passes", 1)
    if not shortest <= time <= longest:
        raise OutsideModel(
            f"{time:.4g} s under the torch; {shortest:g} to {longest:g} s can be computed",
            where="spots",
            fix="Heat more places, each for a shorter time." if time > longest else "",
        )


def ends_of(head: Head, one: Treatment) -> list[tuple[float, float]]:
    """Return station and distance from the middle line of a spot, or of both ends of a stroke [m]."""
    if isinstance(one, HeatSpot):
        return [(one.station, head.spot_rows if one.across is None else one.across)]
    return [(one.station, one.across_from), (one.last, one.across_to)]


def check_peak(alloy: Alloy, peak: float) -> None:
    """Refuse a surface peak [degC] that melts the metal, or that does nothing to it.

    Raises:
        OutsideModel: the surface would melt, or stays colder than `COLDEST`.

    Source: first melting (`head.ceiling`) with `DOUBT`; `COLDEST`. What may be asked for: `safety.refused_peak`.
    """
    ceiling = heat_ceiling(alloy)
    if peak > ceiling.melting + DOUBT.value:
        raise OutsideModel(
            f"the surface would reach {show_temperature(peak)}; {ceiling.reason}",
            where="spots",
            fix="Shorten the dwell or hold the torch farther away.",
        )
    if peak < COLDEST.value:
        raise OutsideModel(
            f"the surface would reach {show_temperature(peak)} only; below {show_temperature(COLDEST.value)} a torch leaves nothing behind",
            where="spots",
            fix="Hold the torch longer or nearer.",
        )


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
    return peak_reached(head.alloy, heated_wall(head), spot, ROOM.value)


def limited(head: Head) -> Head:
    """Return the head with its torch's target at or under the heat ceiling, and what was asked kept beside it.

    A torch of known power reaches its peak by its dwell: where that peak, on a head warmed by the pass, would pass the
    ceiling, the dwell is shortened and the peak is aimed at instead.

    Valid: heads with a torch; others come back as they are.
    """
    if head.torch is None:
        return head
    torch, highest = head.torch, heat_ceiling(head.alloy).highest
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
    held = Flame(power=torch.power or 0.0, radius=torch.radius, dwell=dwell)
    return peak_for_power(head.alloy, heated_wall(head), held, held.power)


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
    highest = heat_ceiling(head.alloy).highest
    return tuple(replace(s, peak=highest, power=None) if target_of(head, s) > highest else s for s in spots)


INSIDE: Final = Cited(
    0.5, "flux radii", "flames that burn at once nearer than this are one flame of another size", "assumed"
)


def check_apart(head: Head, treatments: Sequence[Treatment]) -> None:
    """Refuse flames that burn at once inside one another.

    Raises:
        OutsideModel: nearer than `INSIDE`.
    """
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
