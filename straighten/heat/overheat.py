"""Heat held against the ceiling: targets lowered to it, set-ups that pass it named, and what was done cut down to it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from straighten.head.ceiling import heat_ceiling
from straighten.head.flames import TIMES
from straighten.heat.case import DOUBT, heated_wall
from straighten.heat.torch import ROOM, peak_for_power
from straighten.heat.treatment import HeatSpot
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straighten.head.records import Head, Torch
    from straighten.heat.treatment import Treatment

WARMTH: Final = Cited(
    60.0, "K", "the whole head at the end of a pass: 16 spots of 10 kJ in 7 kg warm it by 25 K", "derived"
)
_HALVINGS: Final = 24


def target_of(head: Head, spot: Treatment) -> float:
    """Return the surface temperature a spot is meant to reach [degC]: asked for, or worked out from its power.

    Source: `peak_for_power`.
    Valid: metal at room temperature before it.
    """
    if spot.peak is not None:
        return spot.peak
    if isinstance(spot, HeatSpot):
        return peak_for_power(head.alloy, heated_wall(head), spot, spot.power or 0.0)
    from straighten.heat.flame import peak_reached

    return peak_reached(head.alloy, heated_wall(head), spot, ROOM.value)


def hottest_over(head: Head, spots: Sequence[Treatment]) -> float | None:
    """Return the hottest target above the heat ceiling [degC], or None where all keep it.

    Source: `heat_ceiling`.
    Valid: as `target_of`.
    """
    hottest = max((target_of(head, spot) for spot in spots), default=ROOM.value)
    return hottest if hottest > heat_ceiling(head.alloy).highest else None


def refused_peak(head: Head, spots: Sequence[Treatment]) -> float | None:
    """Return the hottest target that is refused [degC]: any asked for above the ceiling, a worked-out one clearly above it.

    Source: `heat_ceiling`; a peak worked out from a power is known to `DOUBT`.
    Valid: as `target_of`.
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

    Source: `heat_ceiling`, `peak_for_power`.
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
