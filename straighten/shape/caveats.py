"""What the reader of a shape should be told about how it was measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from straighten.shape.lines import track_of
from straighten.shape.modes import INDEX
from straighten.shape.straightness import resting_gaps
from straighten.sources import Cited
from straighten.units import show

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.readings.records import Line, Readings

    Array = NDArray[np.float64]

TOLD_FROM = 10e-6  # an edge that rests elsewhere is told from this change of a gap on [m]


BELLY = Cited(
    0.06e-3,
    "m",
    "a centre line that bows this much more than both edges is a dished section or a slip",
    "assumed",
)
_SURE = 2.5  # standard deviations


def survey_caveats(readings: Readings, head: Head, mean: Array, covariance: Array) -> tuple[str, ...]:
    """Return the sentences that go with a shape."""
    return (
        *_gauge_caveats(readings, head),
        *_seat_caveats(readings, head, mean),
        *_section_caveats(readings, mean, covariance),
    )


def _section_caveats(readings: Readings, mean: Array, covariance: Array) -> Iterator[str]:
    """Yield a word on a centre line that bows otherwise than both edges."""
    place = INDEX["deck_belly"]
    belly, sd = float(mean[place]), float(np.sqrt(covariance[place, place]))
    if abs(belly) > max(BELLY.value, _SURE * sd):
        more = "more" if belly > 0 else "less"
        yield (
            f"The centre line is hollow by {show(abs(belly), readings.system)} {more} than both edges: the deck between "
            "the edges has sunk or swollen, or a line was misread. Read across the deck to tell."
        )


def _gauge_caveats(readings: Readings, head: Head) -> Iterator[str]:
    gauges, system = readings.gauges, readings.system
    if gauges.edge_error is not None:
        known = f", known to {show(gauges.edge_uncertainty, system)}" if gauges.edge_uncertainty else ""
        proud = "proud" if gauges.edge_error >= 0 else "hollow"
        yield (
            f"The straightedge's own error is taken off: its middle {show(abs(gauges.edge_error), system)} "
            f"{proud}{known}."
        )
        if gauges.edge_length is not None and gauges.edge_length < 0.97 * head.casting.length:
            yield "The straightedge is shorter than the head: its readings are taken as if it reached both ends."
    if gauges.plate_error is not None:
        known = f", known to {show(gauges.plate_uncertainty, system)}" if gauges.plate_uncertainty else ""
        yield f"The plate's own error is taken off: {show(abs(gauges.plate_error), system)} in its middle{known}."


def _seat_caveats(readings: Readings, head: Head, mean: Array) -> Iterator[str]:
    if any(line.mode == "rocked" for line in readings.lines):
        yield (
            "A rocked gap is taken with the edge lying on the middle: the end gapes by twice the bow. Pressed down "
            "hard on a round bow the edge lies nearer its end and the gap grows, up to four times the bow: "
            "balance the edge if you can."
        )
    bars = [line for line in readings.lines if line.mode == "bar" and not all(b.blank for b in line.brackets)]
    if bars and not any(line.part == "cam" and line.mode != "bar" for line in readings.lines):
        yield "A bar through the bores tells how much the cam line is bent, not which way."
    for line in readings.lines:
        shift = _rest_shift(line, head, mean)
        if shift > TOLD_FROM:
            yield (
                f"{line.title}: the straightedge does not rest on the very ends of this shape; its gaps are up to "
                f"{show(shift, readings.system)} larger than taken here."
            )


def _rest_shift(line: Line, head: Head, mean: Array) -> float:
    """Return how much a bridged edge that finds its own rests would change the gaps [m]."""
    if line.mode != "bridged":
        return 0.0
    run = track_of(line, head)
    height = -run.towards * (run.rows(run.supports) @ mean)
    gaps = resting_gaps(run.supports, height)
    share = (run.supports - run.first) / (run.last - run.first)
    ends = (1 - share) * height[0] + share * height[-1] - height
    return float(np.max(np.abs(gaps - ends))) if ends[ends.size // 2] > 0 else 0.0
