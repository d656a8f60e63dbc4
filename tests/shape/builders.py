"""Heads and surveys for the tests of shape: an invented pump head, and what blades would find on a given shape."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np

from straighten.head import head_from_text, template_head
from straighten.head.records import Head
from straighten.readings.gaps import next_thicker, next_thinner
from straighten.readings.records import Bracket, Gauges, Line, Readings
from straighten.shape.equations import line_block
from straighten.shape.fit import Shape
from straighten.shape.limits import LimitCheck
from straighten.shape.modes import INDEX, STATE

LONG = ("exhaust edge", "centre", "inlet edge")
DIAGONALS = ("front exhaust to rear inlet", "front inlet to rear exhaust")
STATIONS = (0.020, 0.115, 0.210, 0.305, 0.400)


@cache
def head() -> Head:
    return head_from_text(template_head(), "template")


def twin_cam_head() -> Head:
    return replace(head(), cam_lines=2)


def state(**numbers_mm: float) -> np.ndarray:
    """A state from some of its numbers in millimetres."""
    found = np.zeros(len(STATE))
    for name, value in numbers_mm.items():
        found[INDEX[name]] = value * 1e-3
    return found


def limit(shape: Shape, name: str) -> LimitCheck:
    """Return one limit check of a shape by its name."""
    return next(check for check in shape.limits if check.name == name)


def gaps_of(line: Line, shape: np.ndarray, on: Head, gauges: Gauges | None = None) -> np.ndarray:
    """Exact gaps of a line on a shape, all its places filled in."""
    filled = replace(line, brackets=tuple(replace(b, low=0.0, high=math.inf) for b in line.brackets))
    (block,) = line_block(filled, on, gauges or Gauges())
    return block.seats.gaps(shape[None])[0]


def blank_line(part: str, name: str, mode: str, stations: tuple[float, ...], **more: object) -> Line:
    return Line(part=part, name=name, mode=mode, brackets=tuple(Bracket(station=s) for s in stations), **more)


def read(line: Line, shape: np.ndarray, on: Head, gauges: Gauges | None = None) -> Line:
    """The line as blades would read it on a perfectly even face."""
    blades = tuple(sorted(on.gauge_blades))
    brackets = []
    for bracket, gap in zip(line.brackets, gaps_of(line, shape, on, gauges), strict=True):
        low = max((b for b in blades if b <= gap), default=0.0)
        brackets.append(replace(bracket, low=low, high=next_thicker(low, blades), stated_high=False))
    assert next_thinner(blades[1], blades) == blades[0]
    return replace(line, brackets=tuple(brackets))


def survey(shape: np.ndarray, on: Head | None = None, gauges: Gauges | None = None) -> Readings:
    """Three long lines, two diagonals and the cam lines, each laid as it would sit: bridged or balanced."""
    on = on or head()
    lines = []
    for part, name in (
        *(("deck", n) for n in (*LONG, *DIAGONALS)),
        *(("cam", n) for n in (("single",) if on.cam_lines == 1 else ("exhaust", "inlet"))),
    ):
        stations = STATIONS if name in LONG else (0.005, 0.415) if part == "deck" else on.towers
        bridged = gaps_of(blank_line(part, name, "bridged", (on.casting.length / 2,)), shape, on)[0] >= 0
        if name in DIAGONALS and bridged:
            stations = (0.210,)
        lines.append(
            read(blank_line(part, name, "bridged" if bridged else "balanced", stations), shape, on, gauges)
        )
    return Readings(lines=tuple(lines), gauges=gauges or Gauges())


def dial(
    part: str, name: str, values: list[float], stations: tuple[float, ...], mode: str = "dial", **more: object
) -> Line:
    half = 0.005e-3
    brackets = tuple(
        Bracket(station=s, low=v - half, high=v + half) for s, v in zip(stations, values, strict=True)
    )
    return Line(part=part, name=name, mode=mode, brackets=brackets, **more)
