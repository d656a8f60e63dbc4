"""The heat as a person gives it, spots and strokes under a torch or a soak in an oven, and the unknown factors of a head's response to it."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp.bolts import FRICTION

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Side


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
    def length(self) -> float:
        """Length of the line [m]."""
        last = self.station if self.station_to is None else self.station_to
        return math.hypot(last - self.station, self.across_to - self.across_from)

    @property
    def lasts(self) -> float:
        """How long it takes, pauses counted [s]."""
        return self.passes * self.time + (self.passes - 1) * self.pause


Treatment = HeatSpot | HeatStroke
FARTHEST: Final = (
    10.0  # of the log of a factor: a search that steps far off meets no number that cannot be held
)


def held_for(planned: Treatment, burned: float) -> Treatment:
    """Return a treatment as it was done: the torch burned for so long in all [s].

    Valid: a stroke's passes alike.
    """
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
    """Return the response that takes the physics at its word: multipliers one, the middle friction, short exposure under the torch, no skew."""
    one = np.ones(draws)
    return Response(
        stiffness=one,
        friction=FRICTION.value * one,
        shrinkage=one,
        kept=one,
        softening=0 * one,
        cam_ratio=one,
        skew=0 * one,
        scatter=0 * one,
        growth=0 * one,
    )


def both_curves() -> Response:
    """Return the nominal response with a trace of the soaked curve, so that what a heat leaves is known on both.

    Valid: where `Relaxed.left` is asked for.
    """
    return replace(nominal(), softening=np.full(1, 1e-9))
