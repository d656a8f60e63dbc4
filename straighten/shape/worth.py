r"""What a blank costs and what one more line would bring: the bow's standard deviation with and without it.

With covariance C of the state, rows A of the readings that might be taken and their covariance V (blade, unevenness,
rests, and the step of the blades as d / sqrt 12), the covariance afterwards is

.. math:: C' = C - C A^T (A C A^T + V)^{-1} A C

whatever the readings turn out to be.

Source: linear Gaussian update -- derived; step uncertainty JCGM 100:2008 (GUM), F.2.2.1 -- seen in public pages.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from straighten.head.records import Head
from straighten.readings.gaps import next_thicker, next_thinner
from straighten.readings.gauges import resolution
from straighten.readings.names import deck_stations
from straighten.readings.records import DIAGONALS, LONG_LINES, Bracket, Line, Mode, Part, Readings, cams_of
from straighten.shape.equations import line_block
from straighten.shape.fit import Shape
from straighten.shape.modes import INDEX, track
from straighten.units import show

RANGE_80 = 1.2816  # half-width of the central 80 % of a normal distribution, in standard deviations


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """What a reading or line not taken would bring.

    `title` of the line; `station` of a blank [m] or None for a whole line; `of` "deck_bow" or "cam_bow"; `before`,
    `after` its standard deviation [m].
    """

    title: str
    station: float | None
    of: str
    before: float
    after: float

    @property
    def gain(self) -> float:
        """How much smaller the standard deviation would be, as a share of what it is."""
        return 1 - self.after / self.before if self.before else 0.0

    def sentence(self, head: Head) -> str:
        """Say what the reading would bring, in half-widths of the 80 % range."""
        what = "deck bow" if self.of == "deck_bow" else "cam bow"
        where = (
            self.title
            if self.station is None
            else f"{self.title} at {show(self.station, head.system, big=True)}"
        )
        verb = "Reading" if self.station is None else "Filling in"
        before, after = (show(RANGE_80 * sd, head.system) for sd in (self.before, self.after))
        return f"{verb} {where} would narrow the {what} from +/- {before} to +/- {after}."


def worth_of_more(readings: Readings, head: Head, shape: Shape) -> tuple[Worth, ...]:
    """Return what every blank and every line not read would bring, the most valuable first.

    Valid: Shapes near the mean: an edge is taken to sit on the line as it would on the mean shape.
    """
    found = [
        _worth(line, station, head, (readings, shape)) for line, station in _options(readings, head, shape)
    ]
    return tuple(sorted((w for w in found if w is not None), key=lambda w: -w.gain))


def _options(readings: Readings, head: Head, shape: Shape) -> Iterator[tuple[Line, float | None]]:
    for line in readings.lines:
        if line.mode in ("bridged", "balanced", "rocked"):
            for bracket in line.brackets:
                if bracket.blank:
                    yield replace(line, brackets=(bracket,)), bracket.station
    read = {(line.part, line.name) for line in readings.lines if not all(b.blank for b in line.brackets)}
    wanted: list[tuple[Part, str]] = [("deck", name) for name in (*LONG_LINES, *DIAGONALS)]
    wanted += [("cam", name) for name in cams_of(head)]
    for part, name in wanted:
        if (part, name) not in read:
            yield _new_line(part, name, head, shape), None


def _new_line(part: Part, name: str, head: Head, shape: Shape) -> Line:
    """Return a line as it would be read: bridged where it is hollow, balanced where it rocks."""
    run = track(part, name, head)
    middle = np.array([run.first, (run.first + run.last) / 2, run.last])
    heights = run.towards * (run.rows(middle) @ shape.mean)
    mode: Mode = "bridged" if heights[1] >= (heights[0] + heights[2]) / 2 else "balanced"
    stations = head.towers if part == "cam" else deck_stations(head)
    if name in DIAGONALS:
        stations = (head.casting.length / 2,) if mode == "bridged" else (stations[0], stations[-1])
    return Line(part=part, name=name, mode=mode, brackets=tuple(Bracket(station=s) for s in stations))


def _worth(line: Line, station: float | None, head: Head, survey: tuple[Readings, Shape]) -> Worth | None:
    readings, shape = survey
    filled = replace(line, brackets=tuple(replace(b, low=0.0, high=math.inf) for b in line.brackets))
    blocks = line_block(filled, head, readings.gauges)
    if not blocks:
        return None
    block = blocks[0]
    way = block.seats.pick(shape.mean)
    rows, rests = block.seats.rows[way], block.seats.rests[way]
    gaps = np.maximum(rows @ shape.mean + block.seats.offset[way], 0.0)
    steps = np.array([_step(float(gap), head) for gap in gaps])
    noise = np.diag(block.noise**2 + resolution(1.0) ** 2 * steps**2) + rests @ rests.T
    noise += np.outer(block.edge, block.edge)
    joint = rows @ shape.covariance
    after = shape.covariance - joint.T @ np.linalg.solve(joint @ rows.T + noise, joint)
    of = "deck_bow" if line.part == "deck" else "cam_bow"
    place = INDEX[of]
    return Worth(
        title=line.title,
        station=station,
        of=of,
        before=shape.sd(of),
        after=math.sqrt(max(after[place, place], 0.0)),
    )


def _step(gap: float, head: Head) -> float:
    """Return the step of the blades around a gap [m]."""
    blades = tuple(sorted(head.gauge_blades))
    thicker = next_thicker(gap, blades)
    if math.isinf(thicker):
        return gap
    return thicker - next_thinner(thicker, blades)
