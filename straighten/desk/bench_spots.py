"""The guided session from heat spot to heat spot: flame on, flame off, how long it was held."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.desk import bench_pass_words as words
from straighten.desk.bench_asking import NAY, confirmed, given_or_skipped, read_as
from straighten.errors import BadInput
from straighten.units import parse

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Sequence

    from straighten.desk.bench_records import Answer, Ask
    from straighten.heat import Treatment
    from straighten.sheet.card import Card


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
        lit = yield from given_or_skipped(ask)
        if lit is None:
            continue
        read = _held(spot.dwell)
        held, at = yield from read_as(words.held(card, (number, order), lit.at, spot.dwell), read)
        ended = at
        if held:
            from straighten.heat import held_for

            done.append(held_for(spot, held))
    return tuple(done), ended


def _held(planned: float) -> Callable[[Answer], tuple[float, str]]:
    def read(given: Answer) -> tuple[float, str]:
        word = given.typed.strip()
        if word.lower() == NAY:
            return 0.0, given.at
        seconds = planned if confirmed(given) else parse(word, "duration", given.system)
        from straighten.heat.case import LONGEST_DONE

        if not 0 < seconds <= LONGEST_DONE.value:
            raise BadInput(
                f"found {word[:40]!r}; up to {LONGEST_DONE.value:g} s can have been held", fix="Or: skip."
            )
        return seconds, given.at

    return read
