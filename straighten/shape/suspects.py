"""Other ways in which a line of readings may have come about: another seat of the edge, swapped ends, a wrong unit."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np

from straighten.head.records import Head
from straighten.readings.gaps import LARGEST, THINNEST, gap_text, next_thicker
from straighten.readings.records import Bracket, Line, Readings
from straighten.shape.equations import equations_of
from straighten.shape.modes import track_of
from straighten.shape.moments import Fit, fit_of
from straighten.shape.seats import Block, Equations, Swept
from straighten.sources import Cited
from straighten.units import THOU, System, show

Slip = Literal[
    "rocked",
    "bridged",
    "balanced",
    "swapped ends",
    "thou for mm",
    "inches for mm",
    "mm for thou",
    "inches for thou",
    "rocked gap in the middle",
]
THINNER_THAN_OWNED = 0.8  # a size below this share of the thinnest blade owned was never gauged
_SCALES: dict[System, tuple[tuple[Slip, float], ...]] = {
    "mm": (("thou for mm", THOU * 1e3), ("inches for mm", 25.4)),
    "inch": (("mm for thou", 1 / (THOU * 1e3)), ("inches for thou", 1e3)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A line or a reading that another way of reading explains far better than what was entered.

    `title` of the line; `place` number of the reading in its line from 0, None = the whole line; `kind` of slip; `sentence`
    for the reader.
    """

    title: str
    place: int | None
    kind: Slip
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Misfit:
    """A reading that does not fit the others: a local dip, a swelling, or a slip without a name.

    `title`, `place` as in `Suspect`; `xi`, `eta` where it is (eta 0 for cams); `off` how far outside its bracket the
    others put it, > 0 where the gap is larger than they say [m].
    """

    title: str
    place: int
    part: Literal["deck", "cam"]
    xi: float
    eta: float
    off: float
    sentence: str


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
    yield from _other_units(line, filled, head, system)


def reading_alternatives(line: Line, place: int, head: Head, system: System) -> Iterator[Alternative]:
    """Yield the other ways in which one reading of a line may have been meant."""
    if line.mode in ("bridged", "rocked", "balanced"):
        yield from (replace(other, place=place) for other in _other_units(line, [place], head, system))


def _other_units(line: Line, places: list[int], head: Head, system: System) -> Iterator[Alternative]:
    for kind, factor in _SCALES[system]:
        if line_scaled := _scaled_line(line, places, factor, head):
            yield Alternative(kind=kind, line=line_scaled)


def _seats(line: Line) -> Iterator[Alternative]:
    for touching in ("start", "end"):
        if (line.mode, line.touching) != ("rocked", touching):
            yield Alternative(kind="rocked", line=replace(line, mode="rocked", touching=touching))
    seats: tuple[Literal["bridged", "balanced"], ...] = ("bridged", "balanced")
    for mode in seats:
        if line.mode != mode:
            yield Alternative(kind=mode, line=replace(line, mode=mode))


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


SURE = "Does it read the same twice? Say so in the survey: sure = true under that line."
TWICE = "It reads the same twice: it is left out of the bow and counts in flatness."
_MEANINGS = {
    "rocked": "reads as if the straightedge had rocked: one end touching, so the gap at the other end is twice the bow",
    "bridged": "reads as if the straightedge had rested on both ends (bridged)",
    "balanced": "reads as if the straightedge had been balanced, the same blade at both ends",
    "swapped ends": "reads as if front and rear had been swapped",
    "thou for mm": "reads as if thou had been written for millimetres",
    "inches for mm": "reads as if inches had been written for millimetres",
    "mm for thou": "reads as if millimetres had been written for thou",
    "inches for thou": "reads as if inches had been written for thou",
    "rocked gap in the middle": "reads as the end gap of a rocking straightedge, which is twice the bow the other way",
}


def slip_sentence(line: Line, other: Alternative, system: System) -> str:
    """Say which line or reading is meant, what it may have been, and what to do."""
    which = line.title
    if other.place is not None:
        which = f"{which}, reading at {show(line.brackets[other.place].station, system, big=True)}"
    return f"{which}: entered as {line.mode}, but it {_MEANINGS[other.kind]}. It is left out; read it again. {SURE}"


def misfit_sentence(line: Line, bracket: Bracket, off: float, system: System) -> str:
    """Say which reading does not fit, by how much, and what that may be."""
    more = "more" if off > 0 else "less"
    cause = "a local dip or a slip" if off > 0 else "a local swelling, dirt under the edge, or a slip"
    do = TWICE if line.sure else f"It is left out of the bow; read it again. {SURE}"
    return (
        f"{line.title}, reading at {show(bracket.station, system, big=True)} ({gap_text(bracket, system)}): "
        f"{show(abs(off), system)} {more} than all the others say: {cause}. {do}"
    )


QUIET = Cited(1.5, "standard deviations", "below this nothing is looked into", "assumed")
NAMED = Cited(
    5.0, "log of odds", "a slip is named from 150 times better; one reading in a hundred slips", "assumed"
)
MISFIT = Cited(
    3.5, "standard deviations", "one sound reading in several thousand lies further off", "derived"
)
_DIP_PRICE = 5.0  # a dip explains any one reading: log of its rarity and of its freedom
_LOOKED_AT = 2  # lines and readings tried in each round, the worst first
_ROUNDS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """The survey after its slips: what is kept, what it says, what was left out."""

    equations: Equations
    posterior: Fit
    suspects: tuple[Suspect, ...]
    misfits: tuple[Misfit, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entry:
    """One line with its equations, or a plate that has no line of its own (`line` None)."""

    line: Line | None
    blocks: tuple[Block, ...]
    swept: tuple[Swept, ...]


@lru_cache(maxsize=64)  # a survey is asked for by its shape, by the belief and by what surprises
def examine(readings: Readings, head: Head) -> Examined:
    """Return what a survey says once the readings that do not fit are named and left out.

    Source: Comparison of explanations by their evidence (Bayes factor) -- derived.
    """
    entries = list(_entries(readings, head))
    faults: list[Suspect | Misfit] = []
    found = _fit(entries)
    for _ in range(_ROUNDS):
        if found.off.size == 0 or found.off.max() < QUIET.value:
            break
        left = _one_less(entries, found, readings, head)
        if left is None:
            break
        entries, fault = left
        faults.append(fault)
        found = _fit(entries)
    return Examined(
        equations=_joined(entries),
        posterior=found,
        suspects=tuple(f for f in faults if isinstance(f, Suspect)),
        misfits=tuple(f for f in faults if isinstance(f, Misfit)),
    )


def _entries(readings: Readings, head: Head) -> Iterator[_Entry]:
    for line in readings.lines:
        yield _entry(line, readings, head)
    rest = equations_of(replace(readings, lines=()), head)
    yield _Entry(line=None, blocks=rest.blocks, swept=rest.swept)


def _entry(line: Line, readings: Readings, head: Head) -> _Entry:
    alone = equations_of(replace(readings, lines=(line,), plate=None), head)
    return _Entry(line=line, blocks=alone.blocks, swept=alone.swept)


def _joined(entries: list[_Entry]) -> Equations:
    return Equations(
        blocks=tuple(b for e in entries for b in e.blocks), swept=tuple(s for e in entries for s in e.swept)
    )


def _fit(entries: list[_Entry]) -> Fit:
    return fit_of(_joined(entries))


def _with(entries: list[_Entry], number: int, entry: _Entry) -> list[_Entry]:
    return [*entries[:number], entry, *entries[number + 1 :]]


def _one_less(
    entries: list[_Entry], found: Fit, readings: Readings, head: Head
) -> tuple[list[_Entry], Suspect | Misfit] | None:
    """Return the survey without its worst fault and that fault; None where all of it may stand."""
    # entry and place in its line of every bracketed reading, in the order of the fit
    spots = [(n, place) for n, e in enumerate(entries) for b in e.blocks for place in b.places]
    worst = [spots[n] for n in np.argsort(-found.off)[:_LOOKED_AT] if found.off[n] >= QUIET.value]
    named = _best_slip(entries, found, worst, (readings, head))
    dip = _best_dip(entries, worst, readings, head)
    number, place = worst[0]
    if named is not None and named[0] - found.evidence > NAMED.value and (dip is None or named[0] > dip):
        _, number, other = named
        line = entries[number].line
        if line is not None:
            fault = Suspect(
                title=line.title,
                place=other.place,
                kind=other.kind,
                sentence=slip_sentence(line, other, readings.system),
            )
            return _with(entries, number, _less(line, other.place, readings, head)), fault
    if found.off.max() < MISFIT.value:
        return None
    line = entries[number].line
    if line is None:
        return None
    misfit = _misfit(line, place, found, int(np.argmax(found.off)), (entries, readings, head))
    return _with(entries, number, _less(line, place, readings, head)), misfit


def _less(line: Line, place: int | None, readings: Readings, head: Head) -> _Entry:
    """Return a line without one reading, or without any."""
    kept = (
        ()
        if place is None
        else tuple(replace(b, low=None, high=None) if n == place else b for n, b in enumerate(line.brackets))
    )
    return _entry(replace(line, brackets=kept), readings, head)


def _best_slip(
    entries: list[_Entry], found: Fit, worst: list[tuple[int, int]], bench: tuple[Readings, Head]
) -> tuple[float, int, Alternative] | None:
    """Return evidence, entry and alternative of the best other explanation."""
    tried = (
        (_fit(_with(entries, number, _entry(other.line, *bench))).evidence, number, other)
        for number, other in _others(entries, found, worst, bench)
    )
    return max(tried, key=lambda one: one[0], default=None)


def _others(
    entries: list[_Entry], found: Fit, worst: list[tuple[int, int]], bench: tuple[Readings, Head]
) -> Iterator[tuple[int, Alternative]]:
    readings, head = bench
    for number in _worst_lines(entries, found):
        line = entries[number].line
        if line is not None and not line.sure:
            for other in line_alternatives(line, head, readings.system):
                yield number, other
    for number, place in worst:
        line = entries[number].line
        if line is not None and not line.sure and len(entries[number].blocks[0].places) > 1:
            for other in reading_alternatives(line, place, head, readings.system):
                yield number, other


def _worst_lines(entries: list[_Entry], found: Fit) -> list[int]:
    """Return the lines that the rest of the survey believes least, by what leaving each out wins per reading."""
    gain = {}
    for number, entry in enumerate(entries):
        count = sum(len(b.places) for b in entry.blocks)
        if entry.line is None or count == 0:
            continue
        without = _fit(_with(entries, number, replace(entry, blocks=())))
        gain[number] = (without.evidence - found.evidence) - 1.2 * count
    return sorted(gain, key=lambda n: -gain[n])[:_LOOKED_AT]


def _best_dip(
    entries: list[_Entry], worst: list[tuple[int, int]], readings: Readings, head: Head
) -> float | None:
    """Return the evidence of the survey with a local dip at its worst reading."""
    tried = (
        _fit(_with(entries, number, _less(line, place, readings, head))).evidence - _DIP_PRICE
        for number, place in worst
        if (line := entries[number].line) is not None
    )
    return max(tried, default=None)


def _misfit(
    line: Line, place: int, found: Fit, number: int, survey: tuple[list[_Entry], Readings, Head]
) -> Misfit:
    entries, readings, head = survey
    bracket = line.brackets[place]
    expected = float(found.expected[number])
    blocks = _joined(entries).blocks
    low, high = (
        np.concatenate([getattr(b, key) - b.seats.offset[b.seats.pick(found.mean)] for b in blocks])[number]
        for key in ("low", "high")
    )
    off = float(low - expected if expected < low else high - expected)
    run = track_of(line, head)
    share = bracket.station / run.length
    xi, eta = (share, 0.0) if line.part == "cam" else (float(v) for v in run.points(share))
    return Misfit(
        title=line.title,
        place=place,
        part=line.part,
        xi=xi,
        eta=eta,
        off=off,
        sentence=misfit_sentence(line, bracket, off, readings.system),
    )
