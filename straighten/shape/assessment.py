"""What a survey says against or for the work, as records: findings of three kinds, the pattern of the bend, the limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from straighten.shape.limits import LimitCheck
    from straighten.sources import Cited

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
