"""Say in words what a reading may have been and how far off it lies."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.readings.gaps import gap_text
from straighten.units import show

if TYPE_CHECKING:
    from straighten.readings.records import Bracket, Line
    from straighten.shape.alternatives import Alternative
    from straighten.units import System

_MEANINGS = {
    "rocked": "reads as if the straightedge had rocked: one end touching, so the gap at the other end is twice the bow",
    "bridged": "reads as if the straightedge had rested on both ends (bridged)",
    "balanced": "reads as if the straightedge had been balanced, the same blade at both ends",
    "swapped ends": "reads as if front and rear had been swapped",
    "thou for mm": "reads as if thou had been written for millimetres",
    "inches for mm": "reads as if inches had been written for millimetres",
    "mm for thou": "reads as if millimetres had been written for thou",
    "inches for thou": "reads as if inches had been written for thou",
    "rocked gap in the middle": "reads as the end gap of a rocking straightedge, which is twice the bow the other way",
}


def slip_sentence(line: Line, other: Alternative, system: System) -> str:
    """Say which line or reading is meant, what it may have been, and what to do."""
    which = line.title
    if other.place is not None:
        which = f"{which}, reading at {show(line.brackets[other.place].station, system, big=True)}"
    return f"{which}: entered as {line.mode}, but it {_MEANINGS[other.kind]}. It is left out; read it again."


def misfit_sentence(line: Line, bracket: Bracket, off: float, system: System) -> str:
    """Say which reading does not fit, by how much, and what that may be."""
    more = "more" if off > 0 else "less"
    cause = "a local dip or a slip" if off > 0 else "a local swelling, dirt under the edge, or a slip"
    return (
        f"{line.title}, reading at {show(bracket.station, system, big=True)} ({gap_text(bracket, system)}): "
        f"{show(abs(off), system)} {more} than all the others say: {cause}. It is left out of the bow; read it again."
    )
