"""Readings to measurement equations: what each blade should find, as a function of the eleven numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.shape.blocks import Block, Equations, Swept
from straighten.shape.lines import track_of
from straighten.shape.seats import bar_block, edge_block
from straighten.shape.sweeps import plate_block, swept_line, swept_plate

if TYPE_CHECKING:
    from straighten.head.records import Head
    from straighten.readings.records import Gauges, Line, Readings


def equations_of(readings: Readings, head: Head) -> Equations:
    """Return the measurement equations of a survey; blanks are left out."""
    blocks: list[Block] = []
    swept: list[Swept] = []
    for line in readings.lines:
        if line.mode in ("dial", "height"):
            swept.extend(swept_line(line, head))
        else:
            blocks.extend(line_block(line, head, readings.gauges))
    if readings.plate is not None:
        if readings.plate.mode == "dial":
            swept.extend(swept_plate(readings.plate))
        else:
            blocks.extend(plate_block(readings.plate, head, readings.gauges))
    return Equations(blocks=tuple(blocks), swept=tuple(swept))


def line_block(line: Line, head: Head, gauges: Gauges) -> list[Block]:
    """Return the equations of one line read with blades or a bar; empty where all of it is blank."""
    places = tuple(n for n, b in enumerate(line.brackets) if not b.blank)
    if not places:
        return []
    run = track_of(line, head)
    return [bar_block(line, run, places) if line.mode == "bar" else edge_block(line, run, gauges, places)]
