"""What a logged pass taught, as a record and as text."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar

from straighten.sheet.layout import block, page, wrap
from straighten.sheet.plain import LEFT_OUT, MM, Answer, Triple, called
from straighten.units import System, show, show_likely

_SHOWN = {
    "shrinkage": "what a heat spot shrinks",
    "kept": "share of the bend that stays",
    "stiffness": "stiffness of the casting",
    "cam_ratio": "cam line against deck",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LineChange:
    """One line before the pass, as expected after it, and now: 10, 50, 90 % each [m]."""

    line: str
    before: Triple = field(metadata=MM)
    expected: Triple = field(metadata=MM)
    now: Triple = field(metadata=MM)


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorChange:
    """A factor before and after the pass: 10, 50, 90 % each."""

    before: Triple
    after: Triple


@dataclass(frozen=True, slots=True, kw_only=True)
class LogReport(Answer):
    """A logged pass.

    `factors` by name; `effective` number of draws behind them; `taken` what was not told of the pass and stands as on
    the card; `flags` results that were not thought possible, and doubts, in words; `broke` limits that the pass broke:
    nothing is learned from it then.
    """

    schema: ClassVar[str] = "log/1"
    name: str
    system: System = field(metadata=LEFT_OUT)
    pass_number: int
    entry: int
    measured: bool
    lines: tuple[LineChange, ...] = ()
    factors: dict[str, FactorChange] = field(default_factory=dict)
    effective: float = field(default=0.0, metadata=called("effective_draws"))
    taken: tuple[str, ...] = field(default=(), metadata=called("taken_as_on_the_card"))
    flags: tuple[str, ...] = ()
    broke: tuple[str, ...] = ()

    def to_plain(self) -> dict[str, Any]:
        """Return the report as JSON scalars, with whether the pass taught anything."""
        return Answer.to_plain(self) | {"learned_from": self.measured and not self.broke}


def log_text(report: LogReport) -> str:
    """Return the report as text."""
    title = f"HEAD {report.name}   PASS {report.pass_number} logged as entry {report.entry}"
    if report.broke:
        told = "Nothing is learned from this pass. The next plan starts from the readings after it."
        return page([title, block("LIMITS BROKEN", report.broke), wrap(told)])
    if not report.measured:
        nothing = "No readings after it: nothing to learn yet. Measure, then plan again."
        return page([title, wrap(nothing), block("NOT TOLD", report.taken)])
    lines = [
        f"{line.line}: was {show(line.before[1], report.system)}, "
        f"expected {show_likely(*line.expected, report.system)}; now {show_likely(*line.now, report.system)}"
        for line in report.lines
    ]
    return page(
        [
            title,
            block("NOT TOLD", report.taken),
            block("BOW", lines),
            block("LEARNED", [_factor(words, report.factors[name]) for name, words in _SHOWN.items()]),
            block("LOOK AGAIN", report.flags),
        ]
    )


def _factor(words: str, change: FactorChange) -> str:
    low, middle, high = change.after
    return (
        f"{words}: x {middle:.2f} of the physics, likely {low:.2f} to {high:.2f} "
        f"(was {change.before[0]:.2f} to {change.before[2]:.2f})"
    )
