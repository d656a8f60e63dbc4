"""The bow of each line as the person saw it: between his own places, before anything is reckoned on to the ends."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from straighten.units import show

if TYPE_CHECKING:
    from straighten.readings.records import Bracket, Line, Readings
    from straighten.units import System


def as_seen(readings: Readings, system: System) -> tuple[str, ...]:
    """Return one sentence for each line read with blades along the head, in the order they were read."""
    told = (_line(line, system) for line in readings.lines if line.across_at is None)
    return tuple(sentence for sentence in told if sentence)


def seen_bow(line: Line) -> float | None:
    """Return the bow [m] between the outermost places read, > 0 where the middle stands high; None where none shows.

    Bridged the widest gap counts, under an edge that rests on both ends. Balanced the mean of the outer gaps counts, less
    the least between them.
    """
    read = _read(line)
    if line.mode == "bridged" and read:
        return -max(b.middle for b in read)
    if line.mode == "balanced" and len(read) > 2:
        return (read[0].middle + read[-1].middle) / 2 - min(b.middle for b in read[1:-1])
    return None


def _read(line: Line) -> list[Bracket]:
    return [b for b in line.brackets if not b.blank and math.isfinite(b.middle)]


def _line(line: Line, system: System) -> str:
    bow, read = seen_bow(line), _read(line)
    if bow is None:
        return ""
    if line.mode == "bridged":
        widest = max(read, key=lambda b: b.middle)
        return f"{line.title}: hollow by {show(-bow, system)}, widest at {show(widest.station, system, big=True)}"
    first, last = (show(b.station, system, big=True) for b in (read[0], read[-1]))
    way = "high" if bow >= 0 else "low"
    return f"{line.title}: middle {way} by {show(abs(bow), system)} between {first} and {last}"
