"""Dial and height readings: a value with its sign, between half a division on either side."""

from __future__ import annotations

from typing import Literal

from straighten.errors import BadInput
from straighten.readings.records import Bracket
from straighten.units import Plausible, System, parse, show

DIVISION = 0.01e-3  # of a common indicator [m]
_DIAL = Plausible(-5e-3, 5e-3)
_HEIGHT = (10e-3, 400e-3)


def dial_value(
    cell: object, station: float, half: float, kind: Literal["gap", "length"], system: System
) -> Bracket:
    """Return a dial ("gap") or height ("length") reading as a bracket, blank where nothing was read.

    Args:
        cell: number or text; plus = stands proud.
        station: where it was read [m].
        half: half a division [m].
        kind: "gap" for an indicator, "length" for a height.
        system: unit system of bare numbers.

    Raises:
        BadInput: no number, or more than any head shows.
    """
    if isinstance(cell, str) and cell.strip() in ("", "-", "?"):
        return Bracket(station=station)
    value = parse(cell, kind, system)
    if kind == "gap":
        _DIAL.check(value, "dial reading")
    elif not _HEIGHT[0] <= value <= _HEIGHT[1]:
        raise BadInput(f"height {show(value, system, big=True)}; allowed is 10 to 400 mm")
    return Bracket(station=station, low=value - half, high=value + half)
