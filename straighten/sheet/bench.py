"""What a pass page shows beside the card: where things sit on the head, places heated before, boxes to fill."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from straighten.sheet.card import Card, Range, SpotLine


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A bolt hole: station [m] and side."""

    station: float
    side: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OffLimits:
    """A place never to heat: station, radius [m], side, reason."""

    station: float
    side: str
    radius: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedPlace:
    """A place that an earlier pass heated: station [m], side, number of that pass."""

    station: float
    side: str
    pass_number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SketchData:
    """The head as it is drawn, lengths [m].

    `length`, `width`; `towers`, `webs` stations; `holes` of all bolts; `rows` distance of the spot rows from the
    middle line; `keep_off` places; `used` places.
    """

    length: float
    width: float
    towers: tuple[float, ...]
    webs: tuple[float, ...]
    holes: tuple[Hole, ...]
    rows: float
    keep_off: tuple[OffLimits, ...] = ()
    used: tuple[UsedPlace, ...] = ()

    def apart(self, spots: Iterable[SpotLine]) -> float:
        """Return how near a spot comes to a used place of its row [m]; infinite where no row has both."""
        return min(
            (
                abs(spot.station - place.station)
                for spot in spots
                for place in self.used
                if spot.side == place.side
            ),
            default=math.inf,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """One box to fill: station [m] and the gap expected [m]."""

    station: float
    expected: Range


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxRow:
    """One line to measure: the part it lies on, its title there, how the straightedge is to sit, its boxes."""

    part: str
    title: str
    how: str
    boxes: tuple[Box, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PassSheet:
    """A pass page: the card and what is drawn around it."""

    card: Card
    sketch: SketchData
    rows: tuple[BoxRow, ...]
