r"""The gap under a head that rests on its shims with slack middle nuts: shims and bow in one reading.

.. math:: g = s(x_m) + z(x_m) - (1 - \lambda)\, z(x_f) - \lambda\, z(x_r)

with s the height of the shims between front and rear, z the deck of the edge that is read. A roof still warm bows the
head up; what is left of that is put on the gap expected.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

import numpy as np

from straighten.heat.cooling import MIDDLE, evening_time, thermal_bow
from straighten.heat.field import ROOM, read
from straighten.readings.gauges import BLADE, FEEL, UNEVENNESS, rectangular
from straighten.shape.modes import deck_rows
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.heat import Treatment
    from straighten.plan.records import PassSetup

    Floats = NDArray[np.float64]

Place = Literal["middle", "exhaust", "inlet", "centre"]
PLACES: Final[tuple[Place, ...]] = ("middle", "exhaust", "inlet", "centre")
_ETAS: Final[dict[Place, tuple[float, ...]]] = {
    "middle": (-1.0, 1.0),
    "exhaust": (-1.0,),
    "inlet": (1.0,),
    "centre": (0.0,),
}
SEATING: Final = Cited(
    8e-6,
    "m",
    "how far a head lies off its shims at one end: oil, burrs, layers; standard deviation",
    "assumed",
)
SIDE_UNTOLD: Final = Cited(
    10e-6,
    "m",
    "a gap read at an edge that is not told, against the mean of both; standard deviation",
    "assumed",
)
WARMTH_DOUBT: Final = Cited(
    0.3, "", "of the bow that a warm roof gives, standard deviation of its estimate", "assumed"
)
WARMEST: Final = Cited(
    15e-6, "m", "doubt of the warm bow from which a reading has to wait: more than blade and shims", "assumed"
)


class Gaps(NamedTuple):
    """A gap between two blades [m]: `low` goes (0: none does), `high` does not (infinite: every blade goes)."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SlackReading:
    """What was read after a stage: brackets by place, and how long after the last flame [s]; None: once it was cool."""

    gaps: tuple[tuple[Place, Gaps], ...]
    after: float | None = None


def gap_of(head: Head, setup: PassSetup, states: Floats, place: Place) -> Floats:
    """Return the gap in the middle of a head that rests on its shims [m], `(n,)`.

    Args:
        head: shim stations and length.
        setup: the shims.
        states: shapes `(n, 11)` [m].
        place: an edge, the centre line, or "middle": the mean of both edges.

    Source: Kinematics; derived.
    Valid: All four stacks carry (end nuts nipped), the base is flat where head and blade rest.
    """
    assert setup.clamp is not None  # noqa: S101 - the head rests on shims
    length, shims = head.casting.length, setup.clamp.shims
    share = (length / 2 - head.front_shim) / (head.rear_shim - head.front_shim)
    stations = np.array([0.5, head.front_shim / length, head.rear_shim / length])
    held = np.array([1.0, share - 1.0, -share])
    etas = _ETAS[place]
    row = np.mean([held @ deck_rows(stations, eta) for eta in etas], axis=0)
    inlet = np.mean([(1 + eta) / 2 for eta in etas])
    front = (1 - inlet) * shims[0] + inlet * shims[1]
    rear = (1 - inlet) * shims[2] + inlet * shims[3]
    gap: Floats = (1 - share) * front + share * rear + states @ row
    return gap


def reading_sd(place: Place) -> float:
    """Return the standard deviation of a gap read on slack nuts [m]: blade, face, seating, and the side where it is untold.

    Source: JCGM 100:2008, 5.1.2 (from memory); parts as their own `Cited`.
    Valid: A clean base; readings of several stages share their seating, which is not counted.
    """
    blade = math.hypot(rectangular(BLADE.value), FEEL.value)
    parts = (blade, UNEVENNESS.value, SEATING.value * math.sqrt(0.5))
    return math.hypot(*parts, SIDE_UNTOLD.value if place == "middle" else 0.0)


def reading_under(bounds: Sequence[float], gap: Floats, sd: float) -> Floats:
    """Return the probability that a reading lies under each bound [m] for gaps expected `(n,)` [m], `(bounds, n)`.

    Source: normal reading; derived.
    Valid: Any gap; where no blade goes the lower bound, zero, is open.
    """
    from scipy.special import ndtr

    open_below = np.array([-np.inf if bound <= 0 else bound for bound in bounds])
    under: Floats = np.asarray(ndtr((open_below[:, None] - gap) / sd))
    return under


def warm_bow(head: Head, spots: Sequence[Treatment], heat: float, after: float) -> float:
    """Return how much the roof's warmth still bows the head up [m].

    Args:
        head: casting and alloy.
        spots: treatments of the stage, with their clock.
        heat: put in by all of them together [J].
        after: time since the last flame went out [s].

    Source: `heat.cooling`: roof and deck even out with one time constant; derived.
    Valid: Treatments of about the same heat.
    """
    casting, even = head.casting, evening_time(head)
    depth = casting.height / 2 if casting.plates is not None and casting.plates.solid else casting.roof
    roof = head.alloy.density * float(read(head.alloy.heat_capacity, ROOM.value))
    roof *= casting.length * casting.width * depth
    ends = np.array([spot.start + spot.dwell for spot in spots])
    left = float(np.exp(-(ends.max() - ends + after) / even).mean()) if spots else 0.0
    return MIDDLE.value * thermal_bow(head, heat / roof) * left


def wait_for(head: Head, spots: Sequence[Treatment], heat: float, bow: float) -> float:
    """Return how long after the last flame the warm bow is down to `bow` [s]."""
    first = warm_bow(head, spots, heat, 0.0)
    return evening_time(head) * math.log(first / bow) if first > bow else 0.0
