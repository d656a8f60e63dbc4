"""The go / no-go report as plain text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.sheet.layout import block, page, wrap
from straighten.units import show, show_range

if TYPE_CHECKING:
    from straighten.sheet.check import CheckReport

_VERDICTS = {
    "straighten": "GO: STRAIGHTEN",
    "sand only": "NO-GO FOR HEAT: SAND ONLY",
    "inside limits": "INSIDE ITS LIMITS: FINISH",
    "hand it on": "NO-GO: HAND IT ON",
    "measure again": "NOT YET: MEASURE AGAIN",
}


def check_text(report: CheckReport) -> str:
    """Return the report as text, verdict and reason first."""
    shape = [
        f"{line.words}: {show(line.value, report.system)}, range {show_range(line.low, line.high, report.system)}"
        for line in report.shape
    ]
    top = "\n".join(
        [
            f"HEAD {report.name}   {_VERDICTS[report.verdict]}",
            wrap(report.reason),
            wrap(f"Decided by {report.decided_by}"),
            *([wrap(report.direction)] if report.direction else []),
            *([wrap(f"To go on all the same, with your reason: {report.go_on}")] if report.go_on else []),
        ]
    )
    return page(
        [
            top,
            block("DOES NOT FIT", report.suspects),
            block("SHAPE", shape),
            block("STRAIGHTNESS AND FLATNESS", report.straightness),
            block("LIMITS", report.limits),
            block("LOOKED AT", report.findings),
            block("KEEP IN MIND", report.caveats),
            block("WORTH READING TOO", report.worth),
            block("UNDERSTOOD", report.understood),
        ]
    )
