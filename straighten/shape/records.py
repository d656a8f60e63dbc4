"""What the readings say of a head, as plain records in SI: its shape, what does not fit, findings, the assessment."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from straighten.shape.modes import INDEX
from straighten.sources import Cited
from straighten.units import System, show

if TYPE_CHECKING:
    from straighten.shape.flatness import Flatness, Straightness
    from straighten.shape.limits import LimitCheck
    from straighten.shape.towers import Towers


Weight = Literal["forbidden", "unknown", "advised against", "fine"]
Pattern = Literal[
    "whole-body bow",
    "reverse bow",
    "skimmed while bent",
    "local collapse",
    "opposite bows",
    "straight",
    "not known",
]
Direction = Literal["middle down", "ends down", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that was looked at.

    `kind` ("crack", "hardness level", ...); `weight`: "forbidden" nothing passes it, "unknown" is asked for, "advised
    against" may be gone past with a reason, "fine" asks nothing; `holds` true where the work waits for the answer or
    the reason; `sentence`; `do` what to do about it, with a test that a garage has; `value` and `unit` of the number
    that counts, or None; `threshold` with its source, or None.
    """

    kind: str
    weight: Weight
    sentence: str
    holds: bool = False
    do: str = ""
    value: float | None = None
    unit: str = ""
    threshold: Cited[Any] | None = None

    @property
    def told(self) -> str:
        """The sentence with what to do about it."""
        return f"{self.sentence} {self.do}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """What one survey says of a head, before anything is known of heat.

    `findings` in bench order; `pattern` of deck and cam line together; `direction` the head is to be bent, with
    `direction_words`; `limits` every limit judged.
    """

    pattern: Pattern
    direction: Direction
    direction_words: str
    findings: tuple[Finding, ...]
    limits: tuple[LimitCheck, ...]

    def of(self, weight: Weight) -> tuple[Finding, ...]:
        """Return the findings of one kind, in bench order."""
        return tuple(f for f in self.findings if f.weight == weight)


Slip = Literal[
    "rocked",
    "bridged",
    "balanced",
    "swapped ends",
    "thou for mm",
    "inches for mm",
    "mm for thou",
    "inches for thou",
    "rocked gap in the middle",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A line or a reading that another way of reading explains far better than what was entered.

    `title` of the line; `place` number of the reading in its line from 0, None = the whole line; `kind` of slip;
    `weight` log of how many times better it explains the survey; `sentence` for the reader.
    """

    title: str
    place: int | None
    kind: Slip
    weight: float
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Misfit:
    """A reading that does not fit the others: a local dip, a swelling, or a slip without a name.

    `title`, `place` as in `Suspect`; `xi`, `eta` where it is (eta 0 for cams); `off` how far outside its bracket the
    others put it, > 0 where the gap is larger than they say [m].
    """

    title: str
    place: int
    part: Literal["deck", "cam"]
    xi: float
    eta: float
    off: float
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LineShape:
    """One line of the believed shape: straightness by three definitions [m], stations along the line [m]."""

    title: str
    straightness: Straightness

    def sentence(self, system: System) -> str:
        """Say the three straightness values of the line."""
        three = (self.straightness.end_point, self.straightness.least_squares, self.straightness.minimum_zone)
        return f"{self.title}: {_by_definitions(three, system)}"


def _by_definitions(three: tuple[float, float, float], system: System) -> str:
    end, squares, zone = (show(value, system) for value in three)
    return f"end-point {end}, least squares {squares}, minimum zone {zone}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """The shape of a head as the survey knows it.

    `mean` `(11,)` and `covariance` `(11, 11)` in the order of `STATE` [m, m2]; `evidence` log-probability of the
    readings; `deck` flatness and `lines` straightness of the mean shape [m]; `limits` every limit judged;
    `towers` what those of every cam line stand off it; `deck_read` the widest gap that the blades leave open on the deck [m], inf where a line was not read;
    `suspects`, `misfits` readings that were left out, with why; `deck_readings`, `cam_readings` how many count;
    `caveats` sentences for the reader.
    """

    mean: NDArray[np.float64]
    covariance: NDArray[np.float64]
    evidence: float
    deck: Flatness
    lines: tuple[LineShape, ...]
    limits: tuple[LimitCheck, ...]
    towers: tuple[Towers, ...]
    deck_read: float = math.inf
    suspects: tuple[Suspect, ...] = ()
    misfits: tuple[Misfit, ...] = ()
    deck_readings: int = 0
    cam_readings: int = 0
    caveats: tuple[str, ...] = ()

    def value(self, name: str) -> float:
        """Return the mean of one of `STATE` [m]."""
        return float(self.mean[INDEX[name]])

    def sd(self, name: str) -> float:
        """Return the standard deviation of one of `STATE` [m]."""
        return float(np.sqrt(self.covariance[INDEX[name], INDEX[name]]))

    def range(self, name: str, share: float = 0.8) -> tuple[float, float]:
        """Return the central interval [m] that holds one of `STATE` with the probability `share`."""
        reach = NormalDist().inv_cdf(0.5 + share / 2) * self.sd(name)
        return self.value(name) - reach, self.value(name) + reach

    def straightness_sentences(self, system: System) -> tuple[str, ...]:
        """Say flatness of the deck and straightness of every line by all three definitions (ISO 12781, ISO 12780)."""
        three = (self.deck.end_point, self.deck.least_squares, self.deck.minimum_zone)
        return (
            f"deck flatness: {_by_definitions(three, system)}",
            *(line.sentence(system) for line in self.lines),
        )

    def limit(self, name: str) -> LimitCheck:
        """Return one limit check by its name."""
        return next(check for check in self.limits if check.name == name)
