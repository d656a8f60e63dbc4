"""Say a survey back to the person, line by line: what was understood at each place, and the bow between the places read."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from straighten.readings.gaps import gap_text
from straighten.readings.names import rule_text
from straighten.units import INCH, System, show

if TYPE_CHECKING:
    from straighten.readings.records import Bracket, Line, Readings

NO_BOW = 5e-6  # m: half of what is shown; less would be told as a bow of nothing


def said_back(readings: Readings) -> tuple[str, ...]:
    """Return one sentence per line of readings: where, how it was read, and what was understood at each place."""
    sentences = [_line(line, readings.system) for line in readings.lines]
    if readings.plate is not None:
        plate = readings.plate
        told = [f"{p.place}: {_value(p.reading, plate.mode, readings.system)}" for p in plate.places]
        stands = f", standing on {', '.join(plate.stands_on)}" if plate.stands_on else ""
        sentences.append(f"Deck on the plate, {plate.mode}{stands}: {'; '.join(told)}")
    return tuple(sentences)


def _line(line: Line, system: System) -> str:
    ends = ("exhaust", "inlet") if line.across_at is not None else ("front", "rear")
    touching = ends[0] if line.touching == "start" else ends[1]
    how = f"rocked, {touching} end touching" if line.mode == "rocked" else line.mode
    if line.mode == "bar":
        return f"{line.title}, bar: {_value(line.brackets[0], 'bar', system)}"
    unit = "mm" if system == "mm" else "in"
    places = [f"{rule_text(b.station, system)} {unit}: {_value(b, line.mode, system)}" for b in line.brackets]
    return f"{line.title}, {how}: {'; '.join(places)}"


def _value(bracket: Bracket, mode: str, system: System) -> str:
    if bracket.blank:
        return "blank"
    if mode in ("dial", "height"):
        middle = bracket.middle
        return f"{middle * 1e3:+.2f} mm" if system == "mm" else f"{middle / INCH * 1e3:+.1f} thou"
    told = gap_text(bracket, system)
    if mode == "bar":
        return told.replace(" goes", " under size sticks").replace(" does not", " under size passes")
    return told


def as_seen(readings: Readings, system: System) -> tuple[str, ...]:
    """Return one sentence for each line read with blades along the head, in the order they were read."""
    told = (_bow_told(line, system) for line in readings.lines if line.across_at is None)
    return tuple(sentence for sentence in told if sentence)


def seen_bow(line: Line) -> float | None:
    """Return the bow [m] between the outermost places read, > 0 where the middle stands high; None where none shows.

    Bridged the widest gap counts, under an edge that rests on both ends. Balanced the mean of the outer gaps counts, less
    the least between them, which is nothing where no blade goes: there the edge rests.
    """
    read = _read(line)
    if line.mode == "bridged" and read:
        return -max(b.middle for b in read)
    if line.mode == "balanced" and len(read) > 2:
        least = min(b.middle if b.low else 0.0 for b in read[1:-1])
        return (read[0].middle + read[-1].middle) / 2 - least
    return None


def _read(line: Line) -> list[Bracket]:
    return [b for b in line.brackets if not b.blank and math.isfinite(b.middle)]


def _bow_told(line: Line, system: System) -> str:
    bow, read = seen_bow(line), _read(line)
    if bow is None:
        return ""
    first, last = (show(b.station, system, big=True) for b in (read[0], read[-1]))
    place = f"at {first}" if first == last else f"between {first} and {last}"
    if not any(b.low for b in read):
        thinnest = show(max(b.high or 0.0 for b in read), system)
        return f"{line.title}: reads straight, {thinnest} goes nowhere {place}"
    if abs(bow) < NO_BOW:
        return f"{line.title}: reads straight {place}"
    if line.mode == "bridged":
        widest = max(read, key=lambda b: b.middle)
        return f"{line.title}: hollow by {show(-bow, system)}, widest at {show(widest.station, system, big=True)}"
    way = "high" if bow >= 0 else "low"
    return f"{line.title}: middle {way} by {show(abs(bow), system)} {place}"
