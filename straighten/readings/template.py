"""A survey file for one head, commented and blank, to be filled in at the bench."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from straighten.head.records import Head
from straighten.readings.names import deck_stations, rule_text
from straighten.readings.records import DIAGONALS, LONG_LINES, cams_of
from straighten.units import System

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
    lines += _deck(head)
    lines += _cams(head)
    lines.append(_TAIL.format(height=rule_text(head.casting.height, head.system)))
    return "\n".join(lines)


def blank_survey(name: str) -> str:
    """Return a survey file of a head that nobody has described yet: what is told of it, and hardness."""
    return "\n".join([
        _HEAD.format(name=name.replace('"', "'"), units="mm", **_LIKE["mm"]),
        "# The lines to read come with the head. Fill in head.toml, delete this file, and straighten new\n"
        "# NAME writes it anew with them; or straighten measure NAME asks for the gaps.\n",
    ])  # fmt: skip


def _deck(head: Head) -> Iterator[str]:
    stations = deck_stations(head)
    for name in LONG_LINES:
        yield from _line(name, [rule_text(s, head.system) for s in stations])
    for name in DIAGONALS:
        yield from _line(name, [rule_text(stations[2], head.system)])


def _line(name: str, stations: list[str]) -> Iterator[str]:
    blanks = ", ".join('""' for _ in stations)
    yield "[[deck]]"
    yield f'line = "{name}"'
    yield 'mode = "bridged"                   # or "balanced", or "rocked" with touching = "front"'
    yield f"stations = [{', '.join(stations)}]"
    yield f"gaps = [{blanks}]\n"


def _cams(head: Head) -> Iterator[str]:
    towers = ", ".join(rule_text(t, head.system) for t in head.towers)
    blanks = ", ".join('""' for _ in head.towers)
    for name in cams_of(head):
        yield "[[cam]]"
        yield f'line = "{name}"'
        yield 'mode = "balanced"                  # in the bare bores; also "bridged", "rocked", "dial", "height", "bar"'
        yield f"# towers from the front: {towers}"
        yield f"gaps = [{blanks}]\n"
