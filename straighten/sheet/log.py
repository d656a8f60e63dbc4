"""What a logged pass taught, as a record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from straighten.units import System

Triple = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineChange:
    """One line before the pass, as expected after it, and now: 10, 50, 90 % each [m]."""

    line: str
    before: Triple
    expected: Triple
    now: Triple


@dataclass(frozen=True, slots=True, kw_only=True)
class LogReport:
    """A logged pass.

    `factors` name -> (before, after), each 10, 50, 90 %; `effective` number of draws behind them; `taken` what was not
    told of the pass and stands as on the card; `flags` results that were not thought possible, and doubts, in words;
    `broke` limits that the pass broke: nothing is learned from it then.
    """

    name: str
    system: System
    pass_number: int
    entry: int
    measured: bool
    lines: tuple[LineChange, ...]
    factors: dict[str, tuple[Triple, Triple]]
    effective: float
    taken: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()
    broke: tuple[str, ...] = ()

    def to_plain(self) -> dict[str, Any]:
        """Return the report as JSON scalars with the unit in every key."""
        return {
            "schema": "straighten/log/1",
            "name": self.name,
            "pass_number": self.pass_number,
            "entry": self.entry,
            "measured": self.measured,
            "lines": [
                {
                    "line": line.line,
                    "before_mm": [1e3 * v for v in line.before],
                    "expected_mm": [1e3 * v for v in line.expected],
                    "now_mm": [1e3 * v for v in line.now],
                }
                for line in self.lines
            ],
            "factors": {name: {"before": list(b), "after": list(a)} for name, (b, a) in self.factors.items()},
            "effective_draws": self.effective,
            "taken_as_on_the_card": list(self.taken),
            "flags": list(self.flags),
            "broke": list(self.broke),
            "learned_from": self.measured and not self.broke,
        }
