"""The go / no-go report as a record."""

from __future__ import annotations

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
    """Verdict first, then all that led to it; `metal_left` that may still come off the deck [m].

    `understood` the readings said back; `straightness` by the three definitions; `worth` what one more reading would
    bring, most valuable first; `command` what to do next, `go_on` the command that goes past advice or "". The parts of
    the shape are empty where none was measured, or where the head is forbidden.
    """

    name: str
    system: System
    verdict: str
    reason: str
    decided_by: str
    findings: tuple[str, ...]
    command: str
    go_on: str
    metal_left: float
    judgement: dict[str, Any]
    direction: str = ""
    pattern: str = "not known"
    shape: tuple[ShapeLine, ...] = ()
    straightness: tuple[str, ...] = ()
    limits: tuple[str, ...] = ()
    suspects: tuple[str, ...] = ()
    caveats: tuple[str, ...] = ()
    worth: tuple[str, ...] = ()
    understood: tuple[str, ...] = ()

    def to_plain(self) -> dict[str, Any]:
        """Return the report as JSON scalars with the unit in every key."""
        return {
            "schema": "straighten/check/2",
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
            "metal_left_mm": 1e3 * self.metal_left,
            "command": self.command,
            "go_on": self.go_on,
            "judgement": self.judgement,
        }
