"""What the reader of a shape should be told about how it was measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from straighten.shape.lines import track_of
from straighten.shape.straightness import resting_gaps
from straighten.units import show

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.readings.records import Line, Readings
    from straighten.shape.equations import Equations

    Array = NDArray[np.float64]

TOLD_FROM = 10e-6  # an edge that rests elsewhere is told from this change of a gap on [m]


def survey_caveats(readings: Readings, head: Head, equations: Equations, mean: Array) -> tuple[str, ...]:
    """Return the sentences that go with a shape, the survey's own first."""
    del equations
    return (*readings.caveats, *_gauge_caveats(readings, head), *_seat_caveats(readings, head, mean))


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
