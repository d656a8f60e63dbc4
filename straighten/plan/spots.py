"""Which sets of heat spots a pass may use: from the middle outward, both sides alike, fresh places first."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from straighten.head.records import SIDES
from straighten.heat import HeatSpot

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straighten.head.records import Head

WORKING_LENGTH = 0.68  # spots outside the middle two thirds bend next to nothing
PAUSE = 60.0  # s from one spot to the next: the torch moves, the metal evens out
APART = 2.6  # flux radii between two spots of one row


def spot_stations(head: Head, used: Sequence[HeatSpot] = ()) -> tuple[float, ...]:
    """Return the stations [m] of one row where a pass may heat, nearest to the middle first.

    Bays lie between neighbouring webs (or cam towers where no webs are given); a bay wide enough takes two spots.
    Places that an earlier pass heated are left out, and so are keep-off zones.

    Args:
        head: casting, torch and keep-off zones.
        used: spots of earlier passes.
    """
    if head.torch is None:
        return ()
    radius, length = head.torch.radius, head.casting.length
    walls = [w.station for w in head.casting.webs] or list(head.towers)
    edges = sorted({0.0, *walls, length})
    fresh = [
        x
        for left, right in pairwise(edges)
        for x in _in_bay(left, right, radius)
        if abs(x - length / 2) <= WORKING_LENGTH * length / 2
        and not _kept_off(head, x)
        and not _used(x, used, radius)
    ]
    return tuple(sorted(fresh, key=lambda x: (round(abs(x - length / 2), 4), x)))


def _in_bay(left: float, right: float, radius: float) -> tuple[float, ...]:
    width = right - left
    if width < 2 * radius:
        return ()
    if width < 2 * radius + APART * radius:
        return ((left + right) / 2,)
    quarter = max(width / 4, radius)
    return (left + quarter, (left + right) / 2, right - quarter)


def _kept_off(head: Head, x: float) -> bool:
    assert head.torch is not None  # noqa: S101 - the caller has looked
    return any(abs(x - zone.station) < zone.radius + head.torch.radius for zone in head.keep_off)


def _used(x: float, used: Sequence[HeatSpot], radius: float) -> bool:
    return any(abs(x - spot.station) < 0.8 * radius for spot in used)


def spot_sets(head: Head, used: Sequence[HeatSpot] = ()) -> list[tuple[HeatSpot, ...]]:
    """Return the nested sets of spots to try: none, then pairs on both sides, from the middle outward.

    Neighbouring places closer than a few flux radii are not heated in one pass.

    Args:
        head: as above.
        used: spots of earlier passes.
    """
    assert head.torch is not None  # noqa: S101 - only torch plans ask
    chosen: list[float] = []
    sets: list[tuple[HeatSpot, ...]] = []
    for x in spot_stations(head, used):
        if all(abs(x - other) >= APART * head.torch.radius for other in chosen):
            chosen.append(x)
            if _balanced(chosen, head.casting.length):
                sets.append(_spots(head, chosen))
    return sets


def _balanced(stations: list[float], length: float) -> bool:
    """Whether as many spots lie in the front half as in the rear half, the middle left out."""
    lean = sum((x > length / 2 + 1e-4) - (x < length / 2 - 1e-4) for x in stations)
    return lean == 0


def _spots(head: Head, stations: list[float]) -> tuple[HeatSpot, ...]:
    torch = head.torch
    assert torch is not None  # noqa: S101
    order = [
        (x, side) for number, x in enumerate(stations) for side in (SIDES if number % 2 == 0 else SIDES[::-1])
    ]
    return tuple(
        HeatSpot(
            station=x, side=side, radius=torch.radius, dwell=torch.dwell,
            peak=None if torch.power is not None else torch.peak, power=torch.power, start=number * PAUSE,
        )
        for number, (x, side) in enumerate(order)
    )  # fmt: skip
