"""The go / no-go report as a record."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from straighten.units import System


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeLine:
    """One number of the shape: its key, words, middle and 80 % range [m]."""

    key: str
    words: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckReport:
    """Verdict first, then all that led to it; `crown`, `height_left` [m].

    `understood` the readings said back; `straightness` by the three definitions; `worth` what one more reading would
    bring, most valuable first.
    """

    name: str
    system: System
    verdict: str
    reason: str
    decided_by: str
    direction: str
    pattern: str
    shape: tuple[ShapeLine, ...]
    straightness: tuple[str, ...]
    limits: tuple[str, ...]
    findings: tuple[str, ...]
    suspects: tuple[str, ...]
    caveats: tuple[str, ...]
    worth: tuple[str, ...]
    understood: tuple[str, ...]
    crown: float
    height_left: float

    def to_plain(self) -> dict[str, Any]:
        """Return the report as JSON scalars with the unit in every key."""
        return {
            "schema": "straighten/check/1",
            "name": self.name,
            "verdict": self.verdict,
            "reason": self.reason,
            "decided_by": self.decided_by,
            "direction": self.direction,
            "pattern": self.pattern,
            "shape": {
                line.key: {"value_mm": 1e3 * line.value, "low_mm": 1e3 * line.low, "high_mm": 1e3 * line.high}
                for line in self.shape
            },
            "straightness": list(self.straightness),
            "limits": list(self.limits),
            "findings": list(self.findings),
            "suspects": list(self.suspects),
            "caveats": list(self.caveats),
            "worth_reading": list(self.worth),
            "understood": list(self.understood),
            "crown_mm": 1e3 * self.crown,
            "height_left_mm": 1e3 * self.height_left if math.isfinite(self.height_left) else None,
        }
