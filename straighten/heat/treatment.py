"""The heat as a person gives it: spots and strokes under a torch, or a soak in an oven."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
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
    def lasts(self) -> float:
        """How long it takes, pauses counted [s]."""
        return self.passes * self.time + (self.passes - 1) * self.pause


Treatment = HeatSpot | HeatStroke


def held_for(planned: Treatment, burned: float) -> Treatment:
    """Return a treatment as it was done: the torch burned for so long in all [s].

    Source: definition.
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
