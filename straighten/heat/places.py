"""Where the torch may go: bays between the webs, off bosses and keep-offs, fresh places first, from the middle outward."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from straighten.head.records import SIDES
from straighten.heat.treatment import HeatSpot
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from straighten.head.records import Head, Side, Torch

WORKING: Final = Cited(
    2 / 3,
    "of the length",
    "3D elements: spots over the shims kept nothing of the bend and hardly move it",
    "derived",
)
BOSS: Final = Cited(
    12e-3,
    "m",
    "a bolt boss reaches this far from the bolt's axis; the flame's radius comes on top",
    "assumed",
)
BOLT_EDGE: Final = Cited(9e-3, "m", "bolts stand this far inside the long edges", "assumed")
MIDDLE: Final = Cited(
    12e-3,
    "m",
    "plug wells and injector holes stand on the middle line of the cam side",
    "common practice, no source",
)
WEB_CLEAR: Final = Cited(
    0.8, "flux radii", "a web beside the flame drinks its heat: stay this far from its face", "assumed"
)
FRESH: Final = Cited(
    1.5,
    "flux radii",
    "closer to an old spot counts as the same place, which gives about 5 % of its first set",
    "derived",
)
APART: Final = Cited(
    2.5, "flux radii", "between two spots of one row: their hot zones must not meet", "assumed"
)
_HAIR: Final = 1e-6  # m: places that just touch a limit are allowed on both sides alike
PAUSE: Final = Cited(60.0, "s", "from one spot to the next: the torch moves, the roof evens out", "assumed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place for a spot: `station` and `across` from the middle line [m], `side`, `used` how often it was heated."""

    station: float
    side: Side
    across: float
    used: int = 0


def refusal(head: Head, place: Place, radius: float) -> str | None:
    """Say why a place must not be heated, or return None.

    Args:
        head: bolts, keep-offs, webs, length.
        place: where.
        radius: of the flame's flux [m].

    Source: trade practice of spot heating (common practice, no source); distances as the constants above.
    Valid: what the head file tells; seats, bridges and oil drillings must be named there as keep-offs.
    """
    length = head.casting.length
    if abs(place.station - length / 2) > WORKING.value * length / 2 + _HAIR:
        return "outside the middle two thirds of the head"
    if head.spot_rows > 0 and place.across < MIDDLE.value:
        return "on the middle line, where plug wells stand"
    for zone in head.keep_off:
        if zone.side == place.side and abs(zone.station - place.station) < zone.radius + radius - _HAIR:
            return zone.reason
    for web in head.casting.webs:
        if abs(web.station - place.station) < web.thickness / 2 + WEB_CLEAR.value * radius - _HAIR:
            return "over a web"
    bolt_row = head.casting.width / 2 - BOLT_EDGE.value
    for bolt in head.bolts:
        away = math.hypot(bolt.station - place.station, bolt_row - place.across)
        if bolt.side == place.side and away < BOSS.value + radius - _HAIR:
            return "on a bolt boss"
    return None


def allowed_places(head: Head, torch: Torch, used: Sequence[HeatSpot] = ()) -> tuple[Place, ...]:
    """Return the places that may be heated, fresh ones first, each group from the middle outward.

    Args:
        head: webs (cam towers where none are given), bolts, keep-offs.
        torch: flux radius.
        used: spots of earlier passes.

    Source: as `refusal`.
    Valid: as `refusal`.
    """
    found = [
        Place(station=x, side=side, across=head.spot_rows, used=_times_used(x, side, used, torch.radius))
        for left, right in pairwise(_walls(head))
        for x in _in_bay(left, right, torch.radius)
        for side in (SIDES if head.spot_rows > 0 else SIDES[:1])
    ]
    middle = head.casting.length / 2
    free = [p for p in found if refusal(head, p, torch.radius) is None]
    return tuple(sorted(free, key=lambda p: (p.used, round(abs(p.station - middle), 4), p.station, p.side)))


def _walls(head: Head) -> list[float]:
    inner = [w.station for w in head.casting.webs] or list(head.towers)
    return sorted({0.0, *inner, head.casting.length})


def _in_bay(left: float, right: float, radius: float) -> tuple[float, ...]:
    """The middle of a bay, and the places between it and the walls where a bay is wide enough."""
    width, middle = right - left, (left + right) / 2
    if width < 2 * radius:
        return ()
    off = width / 2 - max(width / 5, (1 + WEB_CLEAR.value) * radius)
    return (middle,) if off < FRESH.value * radius - _HAIR else (middle, middle - off, middle + off)


def _times_used(x: float, side: Side, used: Iterable[HeatSpot], radius: float) -> int:
    near = [s for s in used if s.side == side and abs(s.station - x) < FRESH.value * radius]
    return max((s.heated_before + 1 for s in near), default=0)


def choose(
    head: Head, torch: Torch, count: int, used: Sequence[HeatSpot] = (), lean: int = 0
) -> tuple[HeatSpot, ...]:
    """Return `count` spots in the order to heat them: fresh, from the middle outward, sides in turn.

    Spots come in pairs, one a side, unless twist wants more on one side.

    Args:
        head: the head.
        torch: flux radius, dwell, peak or power.
        count: of spots; fewer come back where there is no room.
        used: spots of earlier passes.
        lean: > 0 leaves out that many spots of the exhaust side, < 0 of the inlet side.

    Source: trade practice: both sides equal, from the middle outward, let each cool (common practice, no source).
    Valid: as `refusal`.
    """
    chosen: list[Place] = []
    for place in allowed_places(head, torch, used):
        near = (p for p in chosen if p.side == place.side)
        if all(abs(p.station - place.station) > APART.value * torch.radius - _HAIR for p in near):
            chosen.append(place)
        if len(chosen) == count:
            break
    left_out: Side = "exhaust" if lean > 0 else "inlet"
    spare = [p for p in chosen if p.side == left_out][::-1][: abs(lean)]
    return schedule([p for p in chosen if p not in spare], head, torch)


def schedule(places: Sequence[Place], head: Head, torch: Torch) -> tuple[HeatSpot, ...]:
    """Return spots at places in the order to heat them, a pause between them.

    From the middle outward, front and rear in turn, and the side changed from one spot to the next.

    Args:
        places: to be heated.
        head: its middle.
        torch: flux radius, dwell, peak or power.

    Source: trade practice (common practice, no source); `PAUSE` (assumed).
    Valid: one torch.
    """
    middle = head.casting.length / 2
    order = sorted(places, key=lambda p: (p.used, round(abs(p.station - middle), 4), p.station))
    turned: list[Place] = []
    rest = list(order)
    while rest:
        last = turned[-1].side if turned else None
        ring = [p for p in rest if _ring(p, middle) == _ring(rest[0], middle) and p.used == rest[0].used]
        pick = next((p for p in ring if p.side != last), ring[0])
        turned.append(pick)
        rest.remove(pick)
    return tuple(
        HeatSpot(
            station=p.station,
            side=p.side,
            radius=torch.radius,
            dwell=torch.dwell,
            peak=None if torch.power is not None else torch.peak,
            power=torch.power,
            heated_before=p.used,
            start=number * (torch.dwell + PAUSE.value),
            across=p.across,
        )
        for number, p in enumerate(turned)
    )


def _ring(place: Place, middle: float) -> float:
    return round(abs(place.station - middle), 3)
