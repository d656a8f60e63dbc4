"""A survey as a person reads it: the blank file to fill in for a head, and what was read said back line by line."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Final

from straighten.head.records import Head
from straighten.readings.gaps import gap_text
from straighten.readings.names import deck_stations, rule_text
from straighten.readings.records import DIAGONALS, LONG_LINES, Bracket, Line, Readings, cams_of
from straighten.units import INCH, System, show

_HEAD = """\
# Survey of {name}. Fill in what you read; leave "" where you read nothing.
# A gap may be written {gaps}, or 0 where
# no blade goes. The blade that does not go is taken from your own blades if you leave it out.
# bridged : the straightedge rests on both ends, gap in between (deck hollow)
# balanced: it rocks; the same blade held under both ends levels it, gaps at the ends (deck crowned, cam line high)
# rocked  : it rocks and is pressed down at one end: the gap at the other end is twice the bow
units = "{units}"                      # "mm" or "inch": a bare gap is then in {gap}
head = "{name}"
date = ""
who = ""
# room = {room:<19}       # head and straightedge should have stood there a night, until both are as warm as the
#                                  # room: one face of {warm}

[intake]
cracks = "not checked"             # "none found", "found" or "not checked"
magnesium = "unknown"              # "yes", "no", "unknown"
skimmed = "unknown"                # faced before?
welded = "unknown"
history = ""

[gauges]                           # leave out what you do not know; the usual tolerances stand in
# blade_tolerance = {blade}
# straightedge_middle_proud = {proud}      # its own error, if it was measured; minus = hollow
# straightedge_uncertainty = {doubt}
"""
_LIKE: Final[Mapping[System, Mapping[str, str]]] = {
    "mm": {
        "gap": "millimetres", "gaps": '0.10 (largest blade that goes), "0.10-0.15", "goes 0.10", "stops 0.05", "4 thou"',
        "room": '"19 C"', "warm": "a 500 mm edge 1 C warmer bows it by 9 um",
        "blade": '"0.005 mm"', "proud": '"0.01 mm"', "doubt": '"0.003 mm"',
    },
    "inch": {
        "gap": "thou (and stations in inches)",
        "gaps": '4 (largest blade that goes), "4-6", "goes 4", "stops 2", "0.10 mm"',
        "room": '"66 F"', "warm": "a 20 in edge 2 F warmer bows it by 0.4 thou",
        "blade": '"0.2 thou"', "proud": '"0.4 thou"', "doubt": '"0.1 thou"',
    },
}  # fmt: skip
_TAIL = """\

# [plate]                          # deck down on a surface plate: blades under the places, 0 = nothing goes
# front_exhaust = 0
# front_inlet = 0
# rear_exhaust = 0
# rear_inlet = ""

[[hardness]]                       # Brinell; a place softer than the others counts more than the level
place = "deck"
side = "exhaust"
values = []

[[hardness]]
place = "deck"
side = "centre"
values = []

[[hardness]]
place = "deck"
side = "inlet"
values = []

[heights]                          # deck face to cam face; leave out what you did not measure
# front_exhaust = {height}
# front_inlet = {height}
# rear_exhaust = {height}
# rear_inlet = {height}
"""


def template_survey(head: Head) -> str:
    """Return a commented, blank survey file for a head, its own stations and towers written in."""
    lines = [_HEAD.format(name=head.name.replace('"', "'"), units=head.system, **_LIKE[head.system])]
    lines += _lines(head)
    lines.append(_TAIL.format(height=rule_text(head.casting.height, head.system)))
    return "\n".join(lines)


def blank_survey(name: str) -> str:
    """Return a survey file of a head that nobody has described yet: what is told of it, and hardness."""
    return "\n".join([
        _HEAD.format(name=name.replace('"', "'"), units="mm", **_LIKE["mm"]),
        "# The lines to read come with the head. Fill in head.toml, delete this file, and straighten new\n"
        "# NAME writes it anew with them; or straighten measure NAME asks for the gaps.\n",
    ])  # fmt: skip


def _lines(head: Head) -> Iterator[str]:
    stations = deck_stations(head)
    for name in LONG_LINES:
        yield from _deck(name, [rule_text(s, head.system) for s in stations])
    for name in DIAGONALS:
        yield from _deck(name, [rule_text(stations[2], head.system)])
    towers = [rule_text(t, head.system) for t in head.towers]
    for name in cams_of(head):
        yield "[[cam]]"
        yield f'line = "{name}"'
        yield 'mode = "balanced"                  # in the bare bores; also "bridged", "rocked", "dial", "height", "bar"'
        yield f"# towers from the front: {', '.join(towers)}"
        yield _gaps(towers)


def _deck(name: str, stations: list[str]) -> Iterator[str]:
    yield "[[deck]]"
    yield f'line = "{name}"'
    yield 'mode = "bridged"                   # or "balanced", or "rocked" with touching = "front"'
    yield f"stations = [{', '.join(stations)}]"
    yield _gaps(stations)


def _gaps(places: list[str]) -> str:
    blanks = ", ".join('""' for _ in places)
    return f"gaps = [{blanks}]\n"


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
