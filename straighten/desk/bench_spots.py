"""The guided session from heat spot to heat spot: flame on, flame off, how long it was held."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from straighten.desk import bench_pass_words as words
from straighten.desk.bench_asking import NAY, confirmed, read_as
from straighten.errors import BadInput
from straighten.heat import held_for
from straighten.units import parse

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Sequence

    from straighten.desk.bench_records import Answer, Ask
    from straighten.heat import Treatment
    from straighten.sheet.card import Card

_LONGEST_HELD = 600.0  # s over one spot, as in a set-up file


def spotted(
    card: Card, places: Sequence[tuple[int, Treatment]], number: int
) -> Generator[Ask, Answer, tuple[tuple[Treatment, ...], str]]:
    """Lead through the places, each with its number on the card; return what was heated and when the last flame went out."""
    done: list[Treatment] = []
    ended = ""
    before: Treatment | None = None
    for order, spot in places:
        pause = 0.0 if before is None else max(spot.start - before.start - before.dwell, 0.0)
        before = spot
        ask = words.light(card, (number, order), (ended, pause))
        lit = yield from _lit(ask)
        if lit is None:
            continue
        read = _held(spot.dwell)
        held, at = yield from read_as(words.held(card, (number, order), lit.at, spot.dwell), read)
        ended = at
        if held:
            done.append(held_for(spot, held))
    return tuple(done), ended


def _lit(ask: Ask) -> Generator[Ask, Answer, Answer | None]:
    """Ask until the flame is on, or the spot is skipped (None)."""
    while True:
        given = yield ask
        if confirmed(given):
            return given
        if given.typed.strip().lower() == NAY:
            return None
        ask = replace(ask, echo=f"{given.typed.strip()[:40]!r} is not understood: {ask.hint}")


def _held(planned: float) -> Callable[[Answer], tuple[float, str]]:
    def read(given: Answer) -> tuple[float, str]:
        word = given.typed.strip()
        if word.lower() == NAY:
            return 0.0, given.at
        seconds = planned if confirmed(given) else parse(word, "duration", given.system)
        if not 0.2 <= seconds <= _LONGEST_HELD:
            raise BadInput(f"found {word[:40]!r}; 0.2 to {_LONGEST_HELD:.0f} s can be held", fix="Or: skip.")
        return seconds, given.at

    return read
