"""The heat as a person gives it, where it may go, and the unknown factors of a head's response to it.

Spots and strokes go to bays between the webs, off bosses and keep-offs, from the middle outward.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp.bolts import FRICTION
from straighten.head.records import SIDES
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Head, Side, Torch


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatSpot:
    """One place under a torch that is held still.

    `station` from the front end [m]; `side`; `radius` where the flux is down to exp(-2) [m]; `dwell` [s]; `peak`
    surface temperature when the torch leaves [degC], or absorbed `power` [W] (one of the two); `start` when the torch
    comes on [s]: treatments with one start burn at once; `across` distance from the middle line [m], the head's own
    spot row where None.
    """

    station: float
    side: Side
    radius: float
    dwell: float
    peak: float | None = None
    power: float | None = None
    start: float = 0.0
    across: float | None = None

    @property
    def length(self) -> float:
        """None: the torch is held still [m]."""
        return 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatStroke:
    """A torch drawn over the roof at an even speed.

    From `station` and `across_from` off the middle line to `station_to` (the same station where None) and `across_to`
    [m], on one `side`, in `time` [s]; `radius`, `peak` or `power`, `start` as of a `HeatSpot`; `passes` over the same
    line, all in one direction, `pause` between them [s].
    """

    station: float
    side: Side
    across_from: float
    across_to: float
    radius: float
    time: float
    station_to: float | None = None
    peak: float | None = None
    power: float | None = None
    passes: int = 1
    pause: float = 0.0
    start: float = 0.0

    @property
    def dwell(self) -> float:
        """How long the torch burns over all passes [s]."""
        return self.passes * self.time

    @property
    def last(self) -> float:
        """Station where the line ends [m]."""
        return self.station if self.station_to is None else self.station_to

    @property
    def length(self) -> float:
        """Length of the line [m]."""
        return math.hypot(self.last - self.station, self.across_to - self.across_from)

    @property
    def lasts(self) -> float:
        """How long it takes, pauses counted [s]."""
        return self.passes * self.time + (self.passes - 1) * self.pause


Treatment = HeatSpot | HeatStroke
FARTHEST: Final = 10.0  # of the log of a factor: no step of a search meets a number that cannot be held


def held_for(planned: Treatment, burned: float) -> Treatment:
    """Return a treatment as it was done: the torch burned for so long in all [s], each pass of a stroke alike."""
    if isinstance(planned, HeatSpot):
        return replace(planned, dwell=burned)
    return replace(planned, time=burned / planned.passes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Soak:
    """The clamped head in an oven.

    Metal `temperature` [degC], `hold` at it [s], time to heat up and to cool down [s]; `aged_before` time that earlier
    soaks count for, corrected to 250 degC [s]: the metal keeps what it has lost.
    """

    temperature: float
    hold: float
    heat_up: float = 0.0
    cool_down: float = 0.0
    aged_before: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """Draws of the unknown factors, each of shape `(draws,)`.

    `stiffness` of the casting against its section estimate; `friction` coefficient of the clamp bolts [-];
    `shrinkage` inherent strain volume of a spot, own and kept of the clamp alike; `kept` share of the imposed bend that a
    hot spot or a soak keeps, beside that; `softening` how far metal under the torch follows the soaked yield curve, 0 that of
    short exposure, 1 the soaked one; `cam_ratio` set of the cam line over the deck's;
    `skew` lean of the set towards the front, as a share of the set [-]; `scatter` standard deviation of the log
    of one pass's set against its prediction [-]; `growth` exponent by which a spot's effect grows faster with the
    strength of the flame than the physics says [-].
    """

    stiffness: NDArray[np.float64]
    friction: NDArray[np.float64]
    shrinkage: NDArray[np.float64]
    kept: NDArray[np.float64]
    softening: NDArray[np.float64]
    cam_ratio: NDArray[np.float64]
    skew: NDArray[np.float64]
    scatter: NDArray[np.float64]
    growth: NDArray[np.float64]

    @property
    def draws(self) -> int:
        """Number of draws."""
        return int(self.stiffness.size)

    def take(self, which: NDArray[np.intp] | slice) -> Response:
        """Return the response of some of the draws."""
        return Response(**{f.name: getattr(self, f.name)[which] for f in fields(self)})

    def under(self, strength: float) -> Response:
        """Return the response under flames whose log strength over the reference is so: `growth` is worked in."""
        power = np.exp(np.clip(self.growth * strength, -FARTHEST, FARTHEST))
        return replace(self, shrinkage=self.shrinkage * power, growth=0 * self.growth)

    def of_spots(self) -> Response:
        """Return the response as spots feel it: a larger hot zone shrinks more and keeps more of the clamp alike."""
        return replace(self, kept=self.kept * self.shrinkage)


def nominal(draws: int = 1) -> Response:
    """Return the response of the plain physics: factors one, the middle friction, short exposure under the torch, no skew."""
    other = {"friction": FRICTION.value, "softening": 0.0, "skew": 0.0, "scatter": 0.0, "growth": 0.0}
    return Response(**{f.name: np.full(draws, other.get(f.name, 1.0)) for f in fields(Response)})


def both_curves() -> Response:
    """Return the nominal response with a trace of the soaked curve, so that `Relaxed.left` is known on both."""
    return replace(nominal(), softening=np.full(1, 1e-9))


WORKING: Final = Cited(
    0.71,
    "of the length",
    "3D elements: spots over the shims, the last tenth, hardly move the bow; the outer bays of four have their middle at 0.147",
    "derived",
)
BOSS: Final = Cited(
    12e-3,
    "m",
    "a bolt boss reaches this far from the bolt's axis; the flame's radius comes on top",
    "assumed",
)
BOLT_EDGE: Final = Cited(9e-3, "m", "bolts stand this far inside the long edges", "assumed")
WELLS: Final = Cited(
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

    `radius` of the flux [m].

    Source: trade practice of spot heating (common practice, no source); distances as the constants above.
    Valid: what the head file tells; seats, bridges and oil drillings must be named there as keep-offs.
    """
    length = head.casting.length
    if abs(place.station - length / 2) > WORKING.value * length / 2 + _HAIR:
        return "outside the middle seven tenths of the head, too near the shims"
    if head.spot_rows > 0 and place.across < WELLS.value:
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


def kept_off(head: Head, one: Treatment) -> str | None:
    """Say why a spot or a stroke must not be heated, or return None: every place on a stroke's line must be allowed."""
    if isinstance(one, HeatSpot):
        across = head.spot_rows if one.across is None else one.across
        return refusal(head, Place(station=one.station, side=one.side, across=across), one.radius)
    steps = max(2, math.ceil(one.length / STEP) + 1)
    for k in range(steps):
        part = k / (steps - 1)
        place = Place(
            station=one.station + part * (one.last - one.station),
            side=one.side,
            across=one.across_from + part * (one.across_to - one.across_from),
        )
        if why := refusal(head, place, one.radius):
            return why
    return None


def allowed_places(head: Head, torch: Torch) -> tuple[Place, ...]:
    """Return the places of the head's spot rows that may be heated, from the middle outward.

    Bays lie between webs, or cam towers where no webs are given.
    """
    inner = [w.station for w in head.casting.webs] or head.towers
    found = [
        Place(station=x, side=side, across=head.spot_rows)
        for left, right in pairwise(sorted({0.0, *inner, head.casting.length}))
        for x in _in_bay(left, right, torch.radius)
        for side in (SIDES if head.spot_rows > 0 else SIDES[:1])
    ]
    free = [p for p in found if refusal(head, p, torch.radius) is None]
    return tuple(sorted(free, key=lambda p: (_outward(head, p), p.side)))


def _outward(head: Head, place: Place) -> tuple[float, float, float]:
    return round(abs(place.station - head.casting.length / 2), 4), place.station, place.across


def fresh_share(place: Place, radius: float, earlier: Sequence[Treatment]) -> float:
    """Return how much of a place's own zone no earlier heat has been through, zero to one.

    `radius` of its zone [m], about the flux radius; `earlier` spots and strokes of earlier heats.

    Source: overlap of discs (derived); it ranks places, what a place holds is worked out by `spots`.
    Valid: strokes count as spots along their line.
    """
    return min((1 - _overlap(_away(place, one), radius, one.radius) for one in earlier), default=1.0)


def _away(place: Place, one: Treatment) -> float:
    """Distance from a place to a spot or to a stroke's line [m]; the other side of the head is far."""
    if one.side != place.side:
        return math.inf
    if isinstance(one, HeatSpot):
        across = place.across if one.across is None else one.across
        return math.hypot(one.station - place.station, across - place.across)
    run, rise = one.last - one.station, one.across_to - one.across_from
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

    Spots come in pairs, one a side, unless twist wants more on one side: `lean` > 0 leaves out that many spots of the
    exhaust side, < 0 of the inlet side. Fewer than `count` come back where there is no room.

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
    return schedule(sorted(left, key=lambda p: _outward(head, p)), torch)


def schedule(places: Sequence[Place], torch: Torch) -> tuple[HeatSpot, ...]:
    """Return spots at places in their order, a pause between them, the side changed from one spot to the next.

    Source: trade practice (common practice, no source); `PAUSE` (assumed).
    Valid: one torch.
    """
    turned: list[Place] = []
    rest, last = list(places), None
    while rest:
        row = [p for p in rest if p.station == rest[0].station]
        pick = next((p for p in row if p.side != last), row[0])
        turned.append(pick)
        rest.remove(pick)
        last = pick.side
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
