"""The ladder of stages in words: what is heated, the gap to be read then, and what follows from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.units import show

if TYPE_CHECKING:
    from straighten.sheet.card import Card, RungIf, RungLine
    from straighten.units import System


def do_words(do: int, after: int) -> str:
    """Return what to do in a few words: the next stage, one further on, stop, or read again.

    Args:
        do: number of a stage, 0 to stop, -1 to read again.
        after: number of the stage just done.
    """
    if do > 0:
        return f"stage {do}" if do == after + 1 else f"skip to stage {do}"
    return "STOP, release cold and measure" if do == 0 else "READ AGAIN, then stop"


def reserve_words(card: Card) -> str:
    """Return the places in reserve with their numbers."""
    system = card.system
    return ", ".join(
        f"({spot.order}) {spot.side} at {show(spot.station, system, big=True)} for {spot.dwell:.0f} s"
        for spot in card.reserve
    )


def rung_words(rung: RungLine, system: System) -> str:
    """Return what a stage heats and the gap that should be read after it."""
    places = ", ".join(map(str, rung.places)) or "nothing"
    about = f"about {show(rung.gap.middle, system)}"
    goes = "" if rung.goes is None else f", {show(rung.goes, system)} should go"
    stops = "" if rung.stops is None else f", {show(rung.stops, system)} should not"
    return f"stage {rung.number}: heat {places}; gap then {about}{goes}{stops}"


def if_words(rung: RungLine, system: System) -> list[str]:
    """Return the IF lines of a stage from the widest gap down; the first that holds counts."""
    return [_if(line, rung, system) for line in rung.lines]


def _if(line: RungIf, rung: RungLine, system: System) -> str:
    then = do_words(line.do, rung.number)
    if line.goes is None:
        return f"{'IF not' if len(rung.lines) > 1 else 'Whatever is read'}: {then}"
    return f"IF {show(line.goes, system)} goes: {then}"


def first_of(rung: RungLine, goes: float) -> int:
    """Return what the first line that holds says for the largest blade that goes [m]."""
    near = 1e-7
    return next(line.do for line in rung.lines if line.goes is None or goes >= line.goes - near)
