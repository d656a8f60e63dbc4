"""The state of a tightening, as a record and as text."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from straighten.sheet.layout import block, page, wrap
from straighten.sheet.plain import LEFT_OUT, MM, TORQUE, Answer, Triple, called
from straighten.units import System, show, show_likely, show_torque


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLine:
    """One logged round: torque [N m], blades [m], gap that the model now gives it: 10, 50, 90 % [m]."""

    torque: float = field(metadata=TORQUE)
    goes: float = field(metadata=MM)
    stops: float | None = field(metadata=MM)
    believed: Triple = field(metadata=called("believed_gap_mm"))


@dataclass(frozen=True, slots=True, kw_only=True)
class TighteningReport(Answer):
    """Verdict, next torque [N m] or None, closing torque [N m], the rounds so far, what was learned.

    `ratio` stiffness times friction over what was believed before the log; `stiffness`, `friction`: 10, 50, 90 %;
    `parted` true where a weighed load tells the two apart; `deck_before`, `deck_after` bow expected after the pass
    as planned, before and with the log [m].
    """

    schema: ClassVar[str] = "tighten/1"
    name: str
    system: System = field(metadata=LEFT_OUT)
    verdict: str
    words: str
    next_torque: float | None = field(metadata=TORQUE)
    closing: Triple = field(metadata=called("closing_torque_Nm"))
    steps: tuple[StepLine, ...]
    ratio: Triple = field(metadata=called("stiffness_times_friction"))
    stiffness: Triple
    friction: Triple
    parted: bool = field(metadata=called("stiffness_and_friction_parted"))
    deck_before: Triple = field(metadata=called("deck_after_before_log_mm"))
    deck_after: Triple = field(metadata=called("deck_after_with_log_mm"))


def tightening_text(report: TighteningReport) -> str:
    """Return the report as text: what to do first."""
    low, middle, high = report.closing
    steps = [
        f"{show_torque(s.torque, report.system)}: {show(s.goes, report.system)} goes"
        + ("" if s.stops is None else f", {show(s.stops, report.system)} does not")
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
