"""The state of a tightening, as a record and as text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from straighten.sheet.layout import block, page, wrap
from straighten.units import show, show_likely, show_torque

if TYPE_CHECKING:
    from straighten.units import System

Triple = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLine:
    """One logged round: torque [N m], blades [m], gap that the model now gives it: 10, 50, 90 % [m]."""

    torque: float
    goes: float
    does_not: float | None
    believed: Triple


@dataclass(frozen=True, slots=True, kw_only=True)
class TighteningReport:
    """Verdict, next torque [N m] or None, closing torque [N m], the rounds so far, what was learned.

    `ratio` stiffness times friction over what was believed before the log; `stiffness`, `friction`: 10, 50, 90 %;
    `parted` true where a weighed load tells the two apart; `deck_before`, `deck_after` bow expected after the pass
    as planned, before and with the log [m].
    """

    name: str
    system: System
    verdict: str
    words: str
    next_torque: float | None
    closing: Triple
    steps: tuple[StepLine, ...]
    ratio: Triple
    stiffness: Triple
    friction: Triple
    parted: bool
    deck_before: Triple
    deck_after: Triple

    def to_plain(self) -> dict[str, Any]:
        """Return the report as JSON scalars with the unit in every key."""
        return {
            "schema": "straighten/tighten/1",
            "name": self.name,
            "verdict": self.verdict,
            "words": self.words,
            "next_torque_Nm": self.next_torque,
            "closing_torque_Nm": list(self.closing),
            "steps": [
                {
                    "torque_Nm": s.torque,
                    "goes_mm": 1e3 * s.goes,
                    "stops_mm": None if s.does_not is None else 1e3 * s.does_not,
                    "believed_gap_mm": [1e3 * v for v in s.believed],
                }
                for s in self.steps
            ],
            "stiffness_times_friction": list(self.ratio),
            "stiffness": list(self.stiffness),
            "friction": list(self.friction),
            "stiffness_and_friction_parted": self.parted,
            "deck_after_before_log_mm": [1e3 * v for v in self.deck_before],
            "deck_after_with_log_mm": [1e3 * v for v in self.deck_after],
        }


def tightening_text(report: TighteningReport) -> str:
    """Return the report as text: what to do first."""
    low, middle, high = report.closing
    steps = [
        f"{show_torque(s.torque, report.system)}: {show(s.goes, report.system)} goes"
        + ("" if s.does_not is None else f", {show(s.does_not, report.system)} does not")
        + f"; believed {show_likely(*s.believed, report.system)}"
        for s in report.steps
    ]
    parting = (
        "the weighed load tells stiffness and friction apart"
        if report.parted
        else "torque and gap alone tell only their product; a jacked or weighed load would part them"
    )
    learned = [
        (
            f"stiffness times friction x {report.ratio[1]:.2f} of what was believed "
            f"(likely {report.ratio[0]:.2f} to {report.ratio[2]:.2f}); {parting}"
        ),
        (
            f"stiffness x {report.stiffness[1]:.2f} ({report.stiffness[0]:.2f} to {report.stiffness[2]:.2f}), "
            f"friction {report.friction[1]:.3f} ({report.friction[0]:.3f} to {report.friction[2]:.3f})"
        ),
        (
            f"deck after the pass: {show_likely(*report.deck_before, report.system)} before this log; "
            f"{show_likely(*report.deck_after, report.system)} with it"
        ),
    ]
    return page(
        [
            f"HEAD {report.name}   {report.verdict.upper()}\n" + wrap(report.words),
            block(
                "GAP CLOSES AT", [f"{show_torque(middle, report.system)}, likely {low:.0f} to {high:.0f} Nm"]
            ),
            block("LOGGED", steps),
            block("LEARNED", learned),
        ]
    )
