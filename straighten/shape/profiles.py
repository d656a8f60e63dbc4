"""Heights to be drawn: the deck as a surface with its readings, a cam line as a curve with its band and brackets."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from straighten.head.records import Head
from straighten.quantiles import Floats
from straighten.readings.gaps import gap_text
from straighten.readings.records import Line, Readings, cam_title
from straighten.shape.equations import line_block
from straighten.shape.fit import RANGE_80, Shape
from straighten.shape.modes import Track, deck_rows, track, track_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A bracket as heights over the line through the ends [m] at a station [m]; `left_out` where it did not fit."""

    station: float
    low: float
    high: float
    left_out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """One line over the straight line through its outermost supports.

    `station` `(m,)`, `height` mean, `low`, `high` 80 % band `(m,)` [m]; `bars` the brackets.
    """

    title: str
    station: Floats
    height: Floats
    low: Floats
    high: Floats
    bars: tuple[Bar, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A reading on the deck: station and place across from the middle [m], what was read, whether it was left out."""

    station: float
    across: float
    text: str
    left_out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DeckMap:
    """The deck over its minimum zone plane: `station` `(m,)`, `across` `(n,)`, `height` `(n, m)` [m], with `marks`."""

    station: Floats
    across: Floats
    height: Floats
    marks: tuple[Mark, ...]


def deck_surface(readings: Readings, head: Head, shape: Shape) -> DeckMap:
    """Return the believed deck over its minimum zone plane, hollow places positive, and where it was read."""
    xi, eta = np.linspace(0, 1, 61), np.linspace(-1, 1, 25)
    every_xi, every_eta = (grid.ravel() for grid in np.meshgrid(xi, eta))
    level, along, across = shape.deck.minimum_zone_plane
    height = deck_rows(every_xi, every_eta) @ shape.mean - level - along * every_xi - across * every_eta
    return DeckMap(
        station=xi * head.casting.length,
        across=eta * head.casting.width / 2,
        height=height.reshape(eta.size, xi.size),
        marks=tuple(_marks(readings, head, shape)),
    )


def _marks(readings: Readings, head: Head, shape: Shape) -> Iterator[Mark]:
    for line in readings.lines:
        if line.part == "cam":
            continue
        run = track_of(line, head)
        for place, bracket in enumerate(line.brackets):
            if bracket.blank:
                continue
            xi, eta = run.points(bracket.station / run.length)
            yield Mark(
                station=float(xi) * head.casting.length,
                across=float(eta) * head.casting.width / 2,
                text=gap_text(bracket, readings.system)
                if line.mode != "dial"
                else f"{bracket.middle * 1e3:+.2f}",
                left_out=left_out(line, place, shape),
            )


def left_out(line: Line, place: int, shape: Shape) -> bool:
    """Return whether a reading was left out of the shape."""
    whole = any(s.title == line.title and s.place in (None, place) for s in shape.suspects)
    return whole or any(m.title == line.title and m.place == place for m in shape.misfits)


def cam_profile(readings: Readings, head: Head, shape: Shape, name: str = "single") -> Profile:
    """Return a cam line as believed, with its brackets turned into heights.

    A bracket becomes a height by the gap it would have on the believed line: what the bracket has more, the tower
    stands lower. `name` is one of `cams_of`.
    """
    run = track("cam", name, head)
    share = np.linspace(run.first, run.last, 61)
    rows = _over_ends(run, share)
    height = rows @ shape.mean
    reach = RANGE_80 * np.sqrt(np.einsum("ij,jk,ik->i", rows, shape.covariance, rows))
    bars = [
        bar
        for line in readings.lines
        if (line.part, line.name) == ("cam", name)
        for bar in _bars(line, head, readings, shape)
    ]
    return Profile(
        title=cam_title(name).capitalize(),
        station=share * run.length,
        height=height,
        low=height - reach,
        high=height + reach,
        bars=tuple(bars),
    )


def _over_ends(run: Track, share: Floats) -> Floats:
    ends = run.rows(np.array([run.first, run.last]))
    along = ((share - run.first) / (run.last - run.first))[:, None]
    return np.asarray(run.rows(share) - (1 - along) * ends[0] - along * ends[1])


def _bars(line: Line, head: Head, readings: Readings, shape: Shape) -> Iterator[Bar]:
    if line.mode in ("dial", "height"):
        yield from _dial_bars(line, head, shape)
        return
    if line.mode == "bar":
        return
    run = track_of(line, head)
    for block in line_block(line, head, readings.gauges):
        expected = block.seats.gaps(shape.mean[None])[0]
        for n, place in enumerate(block.places):
            bracket = line.brackets[place]
            share = bracket.station / run.length
            believed = float((_over_ends(run, np.array([share])) @ shape.mean)[0])
            low, high = bracket.low or 0.0, bracket.high or 0.0
            top = high if math.isfinite(high) else low + 0.1e-3
            yield Bar(
                station=bracket.station,
                low=believed + expected[n] - top,
                high=believed + expected[n] - low,
                left_out=left_out(line, place, shape),
            )


def _dial_bars(line: Line, head: Head, shape: Shape) -> Iterator[Bar]:
    """Yield dial readings set and tilted so that they lie on the believed line as well as they can."""
    run = track_of(line, head)
    kept = [b for b in line.brackets if not b.blank]
    if len(kept) < 2:
        return
    share = np.array([b.station for b in kept]) / run.length
    believed = _over_ends(run, share) @ shape.mean
    off = believed - np.array([b.middle for b in kept])
    free = np.stack([np.ones_like(share), share], axis=1)
    setting, *_ = np.linalg.lstsq(free, off, rcond=None)
    for bracket, shift in zip(kept, free @ setting, strict=True):
        yield Bar(
            station=bracket.station,
            low=(bracket.low or 0.0) + float(shift),
            high=(bracket.high or 0.0) + float(shift),
            left_out=False,
        )
