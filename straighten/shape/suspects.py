r"""Which reading does not fit, and what it may have been: the survey explained with and without each slip.

Every explanation gives the whole survey a probability (the evidence of the fit). A slip is named where it makes the
survey far more probable than the entry does, and more probable than a local dip at one reading. What is named is
left out of the shape: nothing is corrected behind the person's back.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from straighten.shape.alternatives import Alternative, line_alternatives, reading_alternatives
from straighten.shape.blocks import Equations, Swept
from straighten.shape.equations import equations_of, line_block
from straighten.shape.lines import track_of
from straighten.shape.moments import Posterior, posterior_of
from straighten.shape.records import Misfit, Suspect
from straighten.shape.slips import misfit_sentence, slip_sentence
from straighten.shape.sweeps import swept_line
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Iterator

    from straighten.head.records import Head
    from straighten.readings.records import Line, Readings
    from straighten.shape.blocks import Block

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
    posterior: Posterior
    suspects: tuple[Suspect, ...]
    misfits: tuple[Misfit, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entry:
    """One line with its equations, or a plate or sweep that has no line of its own (`line` None)."""

    line: Line | None
    blocks: tuple[Block, ...]
    swept: tuple[Swept, ...] = ()


@lru_cache(maxsize=64)  # a survey is asked for by its shape, by the belief and by what surprises
def examine(readings: Readings, head: Head) -> Examined:
    """Return what a survey says once the readings that do not fit are named and left out.

    Args:
        readings: the survey.
        head: the head.

    Source:
        Comparison of explanations by their evidence (Bayes factor) -- derived.
    """
    entries = list(_entries(readings, head))
    suspects: list[Suspect] = []
    misfits: list[Misfit] = []
    found = _fit(entries)
    for _ in range(_ROUNDS):
        if found.off.size == 0 or found.off.max() < QUIET.value:
            break
        left = _one_less(entries, found, readings, head)
        if left is None:
            break
        entries, fault = left
        if isinstance(fault, Suspect):
            suspects.append(fault)
        else:
            misfits.append(fault)
        found = _fit(entries)
    return Examined(
        equations=_joined(entries), posterior=found, suspects=tuple(suspects), misfits=tuple(misfits)
    )


def _entries(readings: Readings, head: Head) -> Iterator[_Entry]:
    for line in readings.lines:
        if line.mode in ("dial", "height"):
            yield _Entry(line=None, blocks=(), swept=tuple(swept_line(line, head)))
        else:
            yield _entry(line, readings, head)
    rest = equations_of(replace(readings, lines=()), head)
    yield _Entry(line=None, blocks=rest.blocks, swept=rest.swept)


def _entry(line: Line, readings: Readings, head: Head) -> _Entry:
    return _Entry(line=line, blocks=tuple(line_block(line, head, readings.gauges)))


def _joined(entries: list[_Entry]) -> Equations:
    return Equations(
        blocks=tuple(b for e in entries for b in e.blocks), swept=tuple(s for e in entries for s in e.swept)
    )


def _fit(entries: list[_Entry]) -> Posterior:
    return posterior_of(_joined(entries))


def _with(entries: list[_Entry], number: int, entry: _Entry) -> list[_Entry]:
    return [*entries[:number], entry, *entries[number + 1 :]]


def _one_less(
    entries: list[_Entry], found: Posterior, readings: Readings, head: Head
) -> tuple[list[_Entry], Suspect | Misfit] | None:
    """Return the survey without its worst fault and that fault; None where all of it may stand."""
    spots = _spots(entries)
    worst = [spots[n] for n in np.argsort(-found.off)[:_LOOKED_AT] if found.off[n] >= QUIET.value]
    named = _best_slip(entries, found, worst, (readings, head))
    dip = _best_dip(entries, worst, readings, head)
    number, place = worst[0]
    if named is not None and named[0] - found.evidence > NAMED.value and (dip is None or named[0] > dip):
        weight, number, other = named
        line = entries[number].line
        if line is not None:
            fault = Suspect(
                title=line.title,
                place=other.place,
                kind=other.kind,
                weight=weight - found.evidence,
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


def _spots(entries: list[_Entry]) -> list[tuple[int, int]]:
    """Return entry and place in its line of every bracketed reading, in the order of the fit."""
    return [(n, place) for n, e in enumerate(entries) for b in e.blocks for place in b.places]


def _less(line: Line, place: int | None, readings: Readings, head: Head) -> _Entry:
    """Return a line without one reading, or without any."""
    kept = (
        ()
        if place is None
        else tuple(replace(b, low=None, high=None) if n == place else b for n, b in enumerate(line.brackets))
    )
    return _entry(replace(line, brackets=kept), readings, head)


def _best_slip(
    entries: list[_Entry], found: Posterior, worst: list[tuple[int, int]], bench: tuple[Readings, Head]
) -> tuple[float, int, Alternative] | None:
    """Return evidence, entry and alternative of the best other explanation."""
    readings, head = bench
    best: tuple[float, int, Alternative] | None = None
    for number, other in _others(entries, found, worst, bench):
        tried = _with(entries, number, _entry(other.line, readings, head))
        evidence = _fit(tried).evidence
        if best is None or evidence > best[0]:
            best = evidence, number, other
    return best


def _others(
    entries: list[_Entry], found: Posterior, worst: list[tuple[int, int]], bench: tuple[Readings, Head]
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


def _worst_lines(entries: list[_Entry], found: Posterior) -> list[int]:
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
    tried = []
    for number, place in worst:
        line = entries[number].line
        if line is not None:
            tried.append(
                _fit(_with(entries, number, _less(line, place, readings, head))).evidence - _DIP_PRICE
            )
    return max(tried, default=None)


def _misfit(
    line: Line, place: int, found: Posterior, number: int, survey: tuple[list[_Entry], Readings, Head]
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
        deviations=float(found.off[number]),
        sentence=misfit_sentence(line, bracket, off, readings.system),
    )
