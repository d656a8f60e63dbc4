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


def _in_bay(left: float, right: float, radius: float) -> tuple[float, ...]:
    """The middle of a bay and its thirds: a choice of where along the head it falls, not places for one heat.

    Nearer to a web a slow flame loses to it what no 3D elements of ours have told.
    """
    width, middle = right - left, (left + right) / 2
    return () if width < 2 * radius else (middle, middle - width / 6, middle + width / 6)


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
