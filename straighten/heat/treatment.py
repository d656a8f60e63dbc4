"""The heat as a person gives it: spots under a torch, or a soak in an oven."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from straighten.head.records import Side


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatSpot:
    """One place under the torch.

    `station` from the front end [m]; `side`; `radius` where the flux is down to exp(-2) [m]; `dwell` [s]; `peak`
    surface temperature when the torch leaves [degC], or absorbed `power` [W] (one of the two); `heated_before` how
    often this place has been heated; `start` when the torch comes on [s]: spots with one start burn at once;
    `across` distance from the middle line [m], the head's own spot row where None.
    """

    station: float
    side: Side
    radius: float
    dwell: float
    peak: float | None = None
    power: float | None = None
    heated_before: int = 0
    start: float = 0.0
    across: float | None = None


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
