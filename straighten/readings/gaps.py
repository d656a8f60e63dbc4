"""Understand a gap as it is typed at the bench: "0.10-0.15", "goes .004", "8 thou", a blank, a zero.

A bare number is the largest blade that goes, in the unit of the file: millimetres, or thou in an inch file.
What cannot be a gap is challenged with the likely slip, never silently turned into something else.
"""

from __future__ import annotations

import math
import re
from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from typing import Literal

from straighten.errors import BadInput
from straighten.head.records import Head
from straighten.readings.records import Bracket, Mode
from straighten.units import INCH, THOU, Plausible, System, parse, show

THINNEST = 0.01e-3  # no blade is thinner [m]
LARGEST: dict[Mode, float] = {"bridged": 2.5e-3, "balanced": 2.5e-3, "rocked": 5e-3, "bar": 1.0e-3}
_LIKES: dict[System, str] = {
    "mm": '"0.10-0.15", "goes 0.10", "stops 0.05", "8 thou"',
    "inch": '"4-6", "goes 4", "stops 2", "0.20 mm"',
}
SAME_BLADE = 0.6e-6  # two thicknesses this close are the same blade, rounded differently [m]

_BLANKS = {"", "-", "--", "?", "blank", "skip", "n/a", "none read"}
_NOTHING = {"0", "nothing", "nothing goes", "no gap", "tight", "none"}
_NUMBER = r"[0-9]*[.,]?[0-9]+|[0-9]+\s*/\s*[0-9]+"
_UNIT = r"(?:thou|mil|mm|um|inch(?:es)?|in|\")"
_SIZE = rf"(?:{_NUMBER})\s*{_UNIT}?"
_RANGE = re.compile(rf"^({_NUMBER})\s*({_UNIT})?\s*(?:-|–|to|\.\.)\s*({_NUMBER})\s*({_UNIT})?$")
_WORDS = re.compile(
    rf"^(?:(?:goes|go|>=?)\s*(?P<goes>{_SIZE}))?\s*[,;]?\s*(?:and\s+)?"
    rf"(?:(?:stops|stop|not|no go|no-go|<)\s*(?P<stops>{_SIZE}))?$"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class GapWords:
    """How gaps are to be read: unit system, blades owned [m] in rising order, mode of the line, `most` where no line is read [m]."""

    system: System
    blades: tuple[float, ...]
    mode: Mode = "bridged"
    most: float | None = None

    @classmethod
    def of(cls, head: Head, system: System, mode: Mode = "bridged") -> GapWords:
        """Return how a line of a head is read."""
        return cls(system=system, blades=tuple(sorted(head.gauge_blades)), mode=mode)

    @property
    def largest(self) -> float:
        """Largest gap that is believed [m]: `most`, else by the mode."""
        return LARGEST.get(self.mode, 2.5e-3) if self.most is None else self.most


def read_gap(found: object, station: float, words: GapWords) -> Bracket:
    """Return the bracket that a typed gap means.

    Args:
        found: number or text; a bare number is the largest blade that goes.
        station: where it was read [m].
        words: unit system, blades and mode.

    Raises:
        BadInput: not a gap, upside down, or of a size that points to a slip of the unit.

    Example:
        >>> words = GapWords(system="mm", blades=(5e-5, 1e-4, 1.5e-4))
        >>> gap = read_gap("goes .004 in", 0.2, words)
        >>> round(gap.low * 1e3, 4), round(gap.high * 1e3, 4)
        (0.1016, 0.15)
    """
    if found is None:
        return Bracket(station=station)
    if isinstance(found, str):
        text = " ".join(found.strip().lower().split())
        if text in _BLANKS:
            return Bracket(station=station)
        if text in _NOTHING:
            return bracket_of(0.0, None, station, words)
        goes, stops = _split(text, found, words.system)
        return bracket_of(_size(goes, words), _size(stops, words), station, words)
    return bracket_of(_size(found, words), None, station, words)


def bracket_of(goes: float | None, stops: float | None, station: float, words: GapWords) -> Bracket:
    """Return the bracket of a blade that goes and one that does not [m], the missing half from the blades owned.

    Raises:
        BadInput: the bracket is upside down.
    """
    if goes is None and stops is None:
        return Bracket(station=station)
    if goes is not None and stops is not None:
        if goes >= stops:
            raise BadInput(
                f"the bracket is upside down: {show(goes, words.system)} goes but "
                f"{show(stops, words.system)} does not",
                fix="First the largest blade that goes, then the smallest that does not.",
            )
        return Bracket(station=station, low=goes, high=stops)
    if stops is not None:
        return Bracket(station=station, low=next_thinner(stops, words.blades), high=stops)
    low = goes if goes is not None else 0.0
    return Bracket(station=station, low=low, high=next_thicker(low, words.blades), stated_high=False)


def gap_text(bracket: Bracket, system: System) -> str:
    """Print a bracket as it was read."""
    if bracket.low is None or bracket.high is None:
        return "blank"
    low = "nothing goes" if bracket.low <= 0 else f"{show(bracket.low, system)} goes"
    if math.isinf(bracket.high):
        return f"{low}, no thicker blade tried"
    return f"{low}, {show(bracket.high, system)} does not"


def next_thicker(size: float, blades: tuple[float, ...]) -> float:
    """Return the next thicker blade owned [m]; past the thickest, the next one stacked on it.

    Infinite where the thickest blade itself goes (nobody said that blades were stacked) and where nothing is left.
    """
    singles = sorted(blades)
    place = bisect_right(singles, size + SAME_BLADE)
    if place < len(singles):
        return singles[place]
    if not singles or size <= singles[-1] + SAME_BLADE:
        return math.inf
    stacked = bisect_right(singles, size - singles[-1] + SAME_BLADE)
    return singles[-1] + singles[stacked] if stacked < len(singles) else math.inf


def next_thinner(size: float, blades: tuple[float, ...]) -> float:
    """Return the next thinner blade owned [m]; 0 where there is none."""
    singles = sorted(blades)
    place = bisect_left(singles, size - SAME_BLADE)
    return singles[place - 1] if place else 0.0


def _split(text: str, found: str, system: System) -> tuple[object, object]:
    """Return what goes and what stops, as texts or None."""
    if match := _RANGE.match(text):
        first, unit, second, last = match.groups()
        unit = unit or last or ""
        return f"{first} {unit}".strip(), f"{second} {last or unit}".strip()
    if (match := _WORDS.match(text)) and (match["goes"] or match["stops"]):
        return match["goes"], match["stops"]
    if re.fullmatch(_SIZE, text):
        return text, None
    shown = found if len(found) <= 40 else found[:37] + "..."
    fix = f"Write {_LIKES[system]}, 0 where no blade goes, or leave it blank."
    raise BadInput(f"found {shown!r}, a gap is due", fix=fix)


def _size(found: object, words: GapWords) -> float | None:
    """Return one blade size [m], or challenge it."""
    if found is None:
        return None
    text = found.strip() if isinstance(found, str) else found
    if isinstance(text, str) and re.fullmatch(_NUMBER, text) and "/" not in text:
        text = _plain_number(text)
    size = parse(text, "gap", words.system)
    if size == 0 or THINNEST <= size <= words.largest:
        return size
    raise _challenge(found, text, size, words)


def _plain_number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def _challenge(found: object, number: object, size: float, words: GapWords) -> BadInput:
    limits = f"{show(THINNEST, words.system)} to {show(words.largest, words.system)}"
    if size < 0:
        less = f"found {found!r}: a gap cannot be less than nothing"
        return BadInput(less, fix=f"Allowed: 0, or {limits}.")
    what = "thinner than any blade" if size < THINNEST else "more than any head shows"
    meant = _meant(number, words) if isinstance(number, int | float) else ""
    return BadInput(
        f"found {found!r}, that is {_fine(size, words.system)}: {what}; allowed: 0, or {limits}",
        fix=f"Did you mean {meant}?" if meant else 'Write it with its unit, such as "8 thou" or "0.2 mm".',
    )


def _fine(size: float, system: System) -> str:
    """Print a size [m] that may be far too small or large for a blade."""
    return f"{size / THOU:.4g} thou" if system == "inch" else f"{size * 1e3:.4g} mm"


def likely_gap(found: object, words: GapWords) -> str:
    """Return what a bare number that cannot be a gap was likely to mean, such as "4 thou"; "" where nothing fits.

    Example:
        >>> likely_gap("10", GapWords(system="mm", blades=(1e-4, 2.5e-4)))
        '10 thou'
    """
    number = _plain_number(found.strip().replace(",", ".")) if isinstance(found, str) else found
    meant = _meant(number, words) if isinstance(number, int | float) else ""
    return meant.split(",", maxsplit=1)[0]


def _meant(number: float, words: GapWords) -> str:
    """Name the reading of a bare number that makes it a gap: a blade owned before any other."""
    units = (("thou", THOU), ("in", INCH), ("mm", 1e-3), ("um", 1e-6))
    fitting = [(name, number * unit) for name, unit in units if THINNEST <= number * unit <= words.largest]
    if not fitting:
        return ""
    owned = [c for c in fitting if any(abs(c[1] - b) < 2e-6 for b in words.blades)]
    name, size = (owned or fitting)[0]
    return f"{number:g} {name}, {show(size, words.system)}"


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
