"""Other ways in which a line of readings may have come about: another seat of the edge, swapped ends, a wrong unit."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from straighten.readings.gaps import LARGEST, THINNEST, next_thicker
from straighten.units import THOU

if TYPE_CHECKING:
    from collections.abc import Iterator

    from straighten.head.records import Head
    from straighten.readings.records import Bracket, Line
    from straighten.shape.records import Slip
    from straighten.units import System

THINNER_THAN_OWNED = 0.8  # a size below this share of the thinnest blade owned was never gauged
_SCALES: dict[System, tuple[tuple[Slip, float], ...]] = {
    "mm": (("thou for mm", THOU * 1e3), ("inches for mm", 25.4)),
    "inch": (("mm for thou", 1 / (THOU * 1e3)), ("inches for thou", 1e3)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """A line as it may have been meant, the kind of slip, and the reading it concerns (None = all of them)."""

    kind: Slip
    line: Line
    place: int | None = None


def line_alternatives(line: Line, head: Head, system: System) -> Iterator[Alternative]:
    """Yield the other ways in which a whole line may have been read."""
    if line.mode not in ("bridged", "rocked", "balanced"):
        return
    filled = [n for n, b in enumerate(line.brackets) if not b.blank]
    if len(filled) == 1:
        yield from _single(line, filled[0], head)
    elif filled:
        yield from _seats(line)
        yield Alternative(kind="swapped ends", line=swapped(line, head))
    for kind, factor in _SCALES[system]:
        if line_scaled := _scaled_line(line, filled, factor, head):
            yield Alternative(kind=kind, line=line_scaled)


def reading_alternatives(line: Line, place: int, head: Head, system: System) -> Iterator[Alternative]:
    """Yield the other ways in which one reading of a line may have been meant."""
    if line.mode not in ("bridged", "rocked", "balanced"):
        return
    for kind, factor in _SCALES[system]:
        if line_scaled := _scaled_line(line, [place], factor, head):
            yield Alternative(kind=kind, line=line_scaled, place=place)


def _seats(line: Line) -> Iterator[Alternative]:
    for touching in ("start", "end"):
        if (line.mode, line.touching) != ("rocked", touching):
            yield Alternative(kind="rocked", line=replace(line, mode="rocked", touching=touching))
    if line.mode != "bridged":
        yield Alternative(kind="bridged", line=replace(line, mode="bridged"))
    if line.mode != "balanced":
        yield Alternative(kind="balanced", line=replace(line, mode="balanced"))


def _single(line: Line, place: int, head: Head) -> Iterator[Alternative]:
    """Yield the far gap of a rocked edge, written down as the one gap of its line."""
    length = _length(line, head)
    moved = replace(line.brackets[place], station=length)
    yield Alternative(
        kind="rocked gap in the middle",
        line=replace(line, mode="rocked", touching="start", brackets=(moved,)),
        place=place,
    )


def _length(line: Line, head: Head) -> float:
    if line.part == "cam":
        return head.towers[-1]
    return head.casting.width if line.across_at is not None else head.casting.length


def swapped(line: Line, head: Head) -> Line:
    """Return a line with its readings counted from the other end."""
    if line.part == "cam":
        stations = [b.station for b in line.brackets]
        turned = [replace(b, station=s) for b, s in zip(reversed(line.brackets), stations, strict=True)]
        return replace(line, brackets=tuple(turned))
    length = _length(line, head)
    return replace(line, brackets=tuple(replace(b, station=length - b.station) for b in line.brackets))


def _scaled_line(line: Line, places: list[int], factor: float, head: Head) -> Line | None:
    """Return the line with some readings in another unit, or None where that makes no gap."""
    brackets = list(line.brackets)
    sizes = [size * factor for n in places if (size := brackets[n].low)]
    thinnest = THINNER_THAN_OWNED * min(head.gauge_blades, default=THINNEST)
    if not sizes or min(sizes) < thinnest or max(sizes) > LARGEST.get(line.mode, 2.5e-3):
        return None  # nobody reads a gap with a blade that is not there
    for n in places:
        brackets[n] = scaled(brackets[n], factor, head)
    return replace(line, brackets=tuple(brackets))


def scaled(bracket: Bracket, factor: float, head: Head) -> Bracket:
    """Return a reading in another unit; a missing half comes from the blades again."""
    if bracket.low is None or bracket.high is None:
        return bracket
    low = bracket.low * factor
    if bracket.stated_high and math.isfinite(bracket.high):
        return replace(bracket, low=low, high=bracket.high * factor)
    return replace(bracket, low=low, high=next_thicker(low, head.gauge_blades))
