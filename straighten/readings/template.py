"""A survey file for one head, commented and blank, to be filled in at the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.readings.names import deck_stations, rule_text
from straighten.readings.records import DIAGONALS, LONG_LINES, cams_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from straighten.head.records import Head

_HEAD = """\
# Survey of {name}. Fill in what you read; leave "" where you read nothing.
# A gap may be written 0.10 (largest blade that goes), "0.10-0.15", "goes 0.10", "stops 0.05", "4 thou", or 0 where
# no blade goes. The blade that does not go is taken from your own blades if you leave it out.
# bridged : the straightedge rests on both ends, gap in between (deck hollow)
# balanced: it rocks; the same blade held under both ends levels it, gaps at the ends (deck crowned, cam line high)
# rocked  : it rocks and is pressed down at one end: the gap at the other end is twice the bow
units = "{units}"                      # "mm" or "inch": a bare gap is then in {gap}
head = "{name}"
date = ""
who = ""
# room = "19 C"                    # head and straightedge should have stood there a night: one face of a 500 mm edge
#                                  # 1 C warmer bows it by 9 um; wait until both are as warm as the room

[intake]
cracks = "not checked"             # "none found", "found" or "not checked"
magnesium = "unknown"              # "yes", "no", "unknown"
skimmed = "unknown"                # faced before?
welded = "unknown"
history = ""

[gauges]                           # leave out what you do not know; the usual tolerances stand in
# blade_tolerance = "0.005 mm"
# straightedge_middle_proud = "0.01 mm"      # its own error, if it was measured; minus = hollow
# straightedge_uncertainty = "0.003 mm"
"""
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
    gap = "millimetres" if head.system == "mm" else "thou (and stations in inches)"
    lines = [_HEAD.format(name=head.name.replace('"', "'"), units=head.system, gap=gap)]
    lines += _deck(head)
    lines += _cams(head)
    lines.append(_TAIL.format(height=rule_text(head.casting.height, head.system)))
    return "\n".join(lines)


def blank_survey(name: str) -> str:
    """Return a survey file of a head that nobody has described yet: what is told of it, and hardness."""
    return "\n".join([
        _HEAD.format(name=name.replace('"', "'"), units="mm", gap="millimetres"),
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
