"""What the first range of a heat spot's effect is made of, and what each thing measured takes out of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from straighten.sources import Cited

if TYPE_CHECKING:
    from straighten.head.records import Head

_ELEMENTS: Final = "3D elements of a hollow box, own run"
PER_RADIUS: Final = Cited(
    1.9, "", f"log effect per log of the flux radius: +-15 % is +-33 % ({_ELEMENTS})", "seen"
)
PER_ROOF: Final = Cited(
    0.186, "1/mm", f"log effect per millimetre of roof: 7 against 9 mm is +45 % ({_ELEMENTS})", "seen"
)
PER_PEAK: Final = Cited(
    0.0083, "1/K", f"log effect per kelvin of the peak: +-20 K is +-18 % ({_ELEMENTS})", "seen"
)
CURVE: Final = Cited(
    0.33,
    "log-sd",
    f"nobody knows which of the two hot yield curves a casting under a torch follows: a factor of two ({_ELEMENTS})",
    "seen",
)
MODEL: Final = Cited(
    0.20, "log-sd", "castings are no boxes: what the model misses from head to head", "assumed"
)
RADIUS_TOLD: Final = Cited(0.15, "", "log-sd of a flame's radius judged by eye", "assumed")
ROOF_GUESSED: Final = Cited(1.0, "mm", "standard deviation of a roof nobody measured", "assumed")
ROOF_MEASURED: Final = Cited(
    0.3, "mm", "of a roof read in a plug well or with a gauge: cast walls vary", "assumed"
)
PEAK_BY_HAND: Final = Cited(20.0, "K", "standard deviation of a peak held by hand and crayon", "assumed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """One part of the first range: what it is `of`, its `spread` now (log standard deviation), the spread `then` once it is measured, how to `measure` it (empty where nothing is to be done), and the `source`."""

    of: str
    spread: float
    then: float
    measure: str
    source: str


def spot_doubts(head: Head) -> tuple[Doubt, ...]:
    """Return the parts of the first range of a spot's effect, in quadrature the whole.

    Args:
        head: torch, roof and alloy as its file tells them.

    Source: 3D elements' own exponents; what is told by eye, hand or gauge as marked.
    Valid: one head before its first pass; passes narrow what they all share.
    """
    torch, alloy = head.torch, head.alloy
    radius = RADIUS_TOLD.value if torch is None or torch.radius_spread is None else torch.radius_spread
    roof = ROOF_GUESSED.value if head.casting.roof_assumed else ROOF_MEASURED.value
    solid = head.casting.plates is not None and head.casting.plates.solid
    known_curve = alloy.yield_short == alloy.yield_soaked
    return (
        Doubt(of="hot yield curve", spread=0.0 if known_curve else CURVE.value, then=CURVE.value, measure="", source=str(CURVE)),
        Doubt(
            of="alloy and temper", spread=alloy.spread, then=min(alloy.spread, _NAMED), source=f"{alloy.name}: spread of its yield",
            measure="name the alloy and temper cast or stamped on the head" if alloy.name.startswith("unknown") else "",
        ),
        Doubt(
            of="flame's radius", spread=PER_RADIUS.value * radius, then=PER_RADIUS.value * min(radius, _BY_RINGS),
            measure="crayon rings on the roof: [[torch.rings]]" if torch is not None and torch.radius_spread is None else "", source=str(PER_RADIUS),
        ),
        Doubt(
            of="roof's thickness", spread=0.0 if solid else PER_ROOF.value * roof, then=PER_ROOF.value * min(roof, ROOF_MEASURED.value),
            measure="the roof in a plug well or with a gauge: casting.roof_thickness" if head.casting.roof_assumed and not solid else "",
            source=str(PER_ROOF),
        ),
        Doubt(of="peak by hand", spread=PER_PEAK.value * PEAK_BY_HAND.value, then=PER_PEAK.value * PEAK_BY_HAND.value, measure="", source=str(PER_PEAK)),
        Doubt(of="what the model misses", spread=MODEL.value, then=MODEL.value, measure="", source=str(MODEL)),
    )  # fmt: skip


_BY_RINGS: Final = 0.125  # log-sd of a radius fitted to six rings of one hold of 4 s: 0.09 to 0.125, tested
_NAMED: Final = 0.12  # log-sd of the yield of a named alloy and temper, the middle of the table


def spread_of(doubts: tuple[Doubt, ...]) -> float:
    """Return the log standard deviation of all doubts together.

    Source: independent parts.
    Valid: any.
    """
    return math.hypot(*(doubt.spread for doubt in doubts))


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureNext:
    """A thing to measure: `what`, and the log standard deviation of a spot's effect `before` and `after`."""

    what: str
    before: float
    after: float

    @property
    def sentence(self) -> str:
        """Return it as a person reads it; a range is what lies within the factor of eight cases in ten."""
        low, high = (math.exp(1.2816 * spread) for spread in (self.after, self.before))
        return f"Measure this next: {self.what}. It narrows the first range of a spot's effect from a factor of {high:.2f} to {low:.2f} either way."


def measure_next(head: Head) -> tuple[MeasureNext, ...]:
    """Return what is worth measuring before the first heat, the most telling first.

    Source: `spot_doubts`.
    Valid: heads with a torch; none otherwise.
    """
    if head.torch is None:
        return ()
    doubts = spot_doubts(head)
    now = spread_of(doubts)
    found = [
        MeasureNext(
            what=doubt.measure,
            before=now,
            after=spread_of(tuple(replace(d, spread=d.then) if d is doubt else d for d in doubts)),
        )
        for doubt in doubts
        if doubt.measure
    ]
    return tuple(sorted(found, key=lambda step: step.after))
