"""Which sets of heat spots a pass may use: from the middle outward, both sides alike, fresh places only."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.heat.places import allowed_places, choose

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straighten.head.records import Head
    from straighten.heat import HeatSpot

SLACK = 1e-4  # m: a spot this near to the middle leans to neither end


def spot_sets(head: Head, used: Sequence[HeatSpot] = ()) -> list[tuple[HeatSpot, ...]]:
    """Return the sets of spots to weigh, growing from the middle outward; empty where no fresh place is left.

    Sets that heat one end more than the other are kept only where no even set exists.

    Args:
        head: torch, webs, bolts and keep-off zones.
        used: spots of earlier passes.

    Source:
        Room `heat`, places.

    Valid:
        One torch.
    """
    if head.torch is None:
        return []
    fresh = sum(place.used == 0 for place in allowed_places(head, head.torch, used))
    grown = {choose(head, head.torch, count, used) for count in range(1, fresh + 1)}
    whole = sorted((s for s in grown if s and all(spot.heated_before == 0 for spot in s)), key=len)
    even = [s for s in whole if _lean(s, head.casting.length / 2) == 0 and _sides_alike(s, head)]
    return even or whole


def _lean(spots: Sequence[HeatSpot], middle: float) -> int:
    return sum((s.station > middle + SLACK) - (s.station < middle - SLACK) for s in spots)


def _sides_alike(spots: Sequence[HeatSpot], head: Head) -> bool:
    if head.spot_rows == 0:
        return True
    return sum(1 if s.side == "inlet" else -1 for s in spots) == 0
