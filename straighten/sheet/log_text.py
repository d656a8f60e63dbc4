"""A logged pass as plain text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.sheet.layout import block, page, wrap
from straighten.units import show, show_likely

if TYPE_CHECKING:
    from straighten.sheet.log import LogReport

_SHOWN = {
    "shrinkage": "what a heat spot shrinks",
    "kept": "share of the bend that stays",
    "stiffness": "stiffness of the casting",
    "cam_ratio": "cam line against deck",
}


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
    factors = [
        f"{words}: x {after[1]:.2f} of the physics, likely {after[0]:.2f} to {after[2]:.2f} "
        f"(was {before[0]:.2f} to {before[2]:.2f})"
        for name, words in _SHOWN.items()
        for before, after in [report.factors[name]]
    ]
    return page(
        [
            title,
            block("NOT TOLD", report.taken),
            block("BOW", lines),
            block("LEARNED", factors),
            block("LOOK AGAIN", report.flags),
        ]
    )
