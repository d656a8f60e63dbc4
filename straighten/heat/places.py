"""Where the torch may go: bays between the webs, off bosses and keep-offs, from the middle outward; for spots and strokes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from straighten.head.records import SIDES
from straighten.heat.treatment import HeatSpot, HeatStroke, Treatment
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

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
NEXT: Final = Cited(1.5, "flux radii", "nearer to one another, places of one bay are one place", "assumed")
STEP: Final = 5e-3  # m: a stroke's line is looked at so often
ROOM_INSIDE: Final = 0.8  # flux radii that a row keeps from wells and walls
APART: Final = Cited(
    2.5, "flux radii", "between two spots of one row: their hot zones must not meet", "assumed"
)
_HAIR: Final = 1e-6  # m: places that just touch a limit are allowed on both sides alike
PAUSE: Final = Cited(60.0, "s", "from one spot to the next: the torch moves, the roof evens out", "assumed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place for a spot: `station` and `across` from the middle line [m], `side`."""

    station: float
    side: Side
    across: float


def refusal(head: Head, place: Place, radius: float) -> str | None:
    """Say why a place must not be heated, or return None.

    `radius` of the flame's flux [m].

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


def stroke_refusal(head: Head, stroke: HeatStroke) -> str | None:
    """Say why a stroke must not be drawn, or return None: every place on its line must be allowed."""
    last = stroke.station if stroke.station_to is None else stroke.station_to
    steps = max(
        2, math.ceil(math.hypot(last - stroke.station, stroke.across_to - stroke.across_from) / STEP) + 1
    )
    for k in range(steps):
        part = k / (steps - 1)
        place = Place(
            station=stroke.station + part * (last - stroke.station),
            side=stroke.side,
            across=stroke.across_from + part * (stroke.across_to - stroke.across_from),
        )
        if why := refusal(head, place, stroke.radius):
            return why
    return None


def rows_of(head: Head, radius: float) -> tuple[float, ...]:
    """Return the distances from the middle line at which rows of spots fit, the head's own row first.

    From it inward and outward in steps of `APART` flux radii, as far as wells on the middle line and side walls leave room.

    `radius` of the flame's flux [m].

    Valid: both sides alike.
    """
    if head.spot_rows <= 0:
        return (0.0,)
    plates = head.casting.plates
    wall = plates.side_walls if plates is not None else 0.0
    step, inner = APART.value * radius, MIDDLE.value + ROOM_INSIDE * radius
    outer = head.casting.width / 2 - wall - ROOM_INSIDE * radius
    found = [head.spot_rows]
    for sign in (-1, 1):
        y = head.spot_rows + sign * step
        while inner - _HAIR <= y <= outer + _HAIR:
            found.append(y)
            y += sign * step
    return tuple(found)


def allowed_places(head: Head, torch: Torch, rows: Sequence[float] = ()) -> tuple[Place, ...]:
    """Return the places that may be heated, from the middle outward.

    `head` webs (cam towers where none are given), bolts, keep-offs; `rows` distances from the middle line
    [m]; the head's own row where none are given.
    """
    found = [
        Place(station=x, side=side, across=y)
        for left, right in pairwise(_walls(head))
        for x in _in_bay(left, right, torch.radius)
        for y in (rows or (head.spot_rows,))
        for side in (SIDES if y > 0 else SIDES[:1])
    ]
    middle = head.casting.length / 2
    free = [p for p in found if refusal(head, p, torch.radius) is None]
    return tuple(sorted(free, key=lambda p: (round(abs(p.station - middle), 4), p.station, p.across, p.side)))


def fresh_share(place: Place, radius: float, earlier: Sequence[Treatment]) -> float:
    """Return how much of a place's own zone no earlier heat has been through, nought to one.

    `radius` of its zone [m], about the flux radius; `earlier` spots and strokes of earlier heats.

    Source: overlap of discs (derived); it ranks places, what a place holds is worked out by `keeping`.
    Valid: strokes count as spots along their line.
    """
    left = 1.0
    for one in earlier:
        away = _away(place, one)
        left = min(left, 1 - _overlap(away, radius, one.radius))
    return left


def _away(place: Place, one: Treatment) -> float:
    """Distance from a place to a spot or to a stroke's line [m]; the other side of the head is far."""
    if one.side != place.side:
        return math.inf
    if isinstance(one, HeatSpot):
        across = place.across if one.across is None else one.across
        return math.hypot(one.station - place.station, across - place.across)
    last = one.station if one.station_to is None else one.station_to
    run, rise = last - one.station, one.across_to - one.across_from
    size = max(run**2 + rise**2, 1e-12)
    part = ((place.station - one.station) * run + (place.across - one.across_from) * rise) / size
    part = min(max(part, 0.0), 1.0)
    return math.hypot(one.station + part * run - place.station, one.across_from + part * rise - place.across)


def _overlap(away: float, own: float, other: float) -> float:
    """Share of a disc that another one covers."""
    if away >= own + other:
        return 0.0
    if away <= other - own:
        return 1.0
    if away <= own - other:
        return (other / own) ** 2
    a = math.acos((away**2 + own**2 - other**2) / (2 * away * own))
    b = math.acos((away**2 + other**2 - own**2) / (2 * away * other))
    lens = own**2 * (a - math.sin(2 * a) / 2) + other**2 * (b - math.sin(2 * b) / 2)
    return lens / (math.pi * own**2)


def _walls(head: Head) -> list[float]:
    inner = [w.station for w in head.casting.webs] or list(head.towers)
    return sorted({0.0, *inner, head.casting.length})


def _in_bay(left: float, right: float, radius: float) -> tuple[float, ...]:
    """The middle of a bay, and the places between it and the walls where a bay is wide enough."""
    width, middle = right - left, (left + right) / 2
    if width < 2 * radius:
        return ()
    off = width / 2 - max(width / 5, (1 + WEB_CLEAR.value) * radius)
    return (middle,) if off < NEXT.value * radius - _HAIR else (middle, middle - off, middle + off)


def choose(
    head: Head, torch: Torch, count: int, earlier: Sequence[Treatment] = (), lean: int = 0
) -> tuple[HeatSpot, ...]:
    """Return `count` spots in the order to heat them: least heated first, from the middle outward, sides in turn.

    Spots come in pairs, one a side, unless twist wants more on one side.

    `count` of spots; fewer come back where there is no room; `lean` > 0 leaves out that many spots of the
    exhaust side, < 0 of the inlet side.

    Source: trade practice: both sides equal, from the middle outward, let each cool (common practice, no source).
    """
    chosen: list[Place] = []
    places = allowed_places(head, torch)
    for place in sorted(places, key=lambda p: -round(fresh_share(p, torch.radius, earlier), 1)):
        near = (p for p in chosen if p.side == place.side)
        if all(abs(p.station - place.station) > APART.value * torch.radius - _HAIR for p in near):
            chosen.append(place)
        if len(chosen) == count:
            break
    left_out: Side = "exhaust" if lean > 0 else "inlet"
    spare = [p for p in chosen if p.side == left_out][::-1][: abs(lean)]
    left = [p for p in chosen if p not in spare]
    middle = head.casting.length / 2
    return schedule(
        sorted(left, key=lambda p: (round(abs(p.station - middle), 4), p.station, p.across)), torch
    )


def schedule(places: Sequence[Place], torch: Torch) -> tuple[HeatSpot, ...]:
    """Return spots at places in their order, a pause between them, the side changed from one spot to the next.

    Source: trade practice (common practice, no source); `PAUSE` (assumed).
    Valid: one torch.
    """
    turned: list[Place] = []
    rest = list(places)
    while rest:
        last = turned[-1].side if turned else None
        row = [p for p in rest if p.station == rest[0].station]
        pick = next((p for p in row if p.side != last), row[0])
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
            start=number * (torch.dwell + PAUSE.value),
            across=p.across,
        )
        for number, p in enumerate(turned)
    )
