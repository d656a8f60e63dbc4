"""The guided session through the heat: spot by spot, or stage by stage with the gap read after each."""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from straighten.desk import bench_pass_words as words
from straighten.desk.bench_otherwise import burnt_otherwise
from straighten.desk.bench_records import (
    NAY,
    Answer,
    Ask,
    Facts,
    Work,
    agreed,
    begun,
    confirmed,
    done_or_skipped,
    read_as,
)
from straighten.desk.kept import all_done
from straighten.errors import BadInput
from straighten.plan.stages import MOST_ODD, READ_AGAIN, Stages
from straighten.readings.gaps import GapWords, read_gap
from straighten.sheet.card import Card

if TYPE_CHECKING:
    from straighten.desk.dossier import Dossier
    from straighten.heat import Treatment
    from straighten.plan.records import PassSetup


def spotted(
    dossier: Dossier, card: Card, places: Sequence[tuple[int, Treatment]], number: int
) -> Generator[Ask, Answer, tuple[tuple[Treatment, ...], str]]:
    """Lead through the places, each with its number on the card; return what was heated and when the last flame went out."""
    done: list[Treatment] = []
    ended = ""
    before: Treatment | None = None
    for order, spot in places:
        pause = 0.0 if before is None else max(spot.start - before.start - before.dwell, 0.0)
        before = spot
        ask = words.light(card, (number, order), (ended, pause))
        lit = yield from begun(ask)
        if lit is None:
            continue
        held = words.held(card, (number, order), lit.at, spot.dwell)
        burnt, ended = yield from read_as(held, _held(dossier, spot))
        done += burnt
    return tuple(done), ended


def _held(dossier: Dossier, spot: Treatment) -> Callable[[Answer], tuple[tuple[Treatment, ...], str]]:
    """Return a reader of one spot as it was heated, none where it was not, and when the flame went out."""

    def read(given: Answer) -> tuple[tuple[Treatment, ...], str]:
        if given.typed.strip().lower() == NAY:
            return (), given.at
        if confirmed(given):
            return (spot,), given.at
        from straighten.heat.torch import refuse_slip

        try:
            burnt = burnt_otherwise(dossier.head, spot, given)
            refuse_slip(burnt.dwell)
        except BadInput as fault:
            raise BadInput(fault.problem, fix=f"{fault.fix} Or: skip.".strip()) from None
        return (burnt,), given.at

    return read


def in_stages(
    facts: Facts, dossier: Dossier, card: Card, stages: Stages
) -> Generator[Ask, Answer, Work | tuple[PassSetup, str]]:
    """Lead through the next stage; return it as work to enter, or at the end what was done and when the heat ended."""
    told, number = facts.stage, facts.passes + 1
    if told is None:
        return (yield from _stage(dossier, (card, stages), number, 1))
    done, do = int(told["stage"]), int(told["do"])
    if do == READ_AGAIN and facts.odd < MOST_ODD:
        ask = words.stage_gap(card, (number, done), str(told["at"]), again=True)
        gap = yield from read_as(ask, _gap(dossier))
        if gap is not None:
            return Work(deed="stage", typed=gap, again=True)
    if do <= 0:
        return all_done(dossier.stages), str(told["at"])
    if do > done + 1:
        return Work(deed="stage")
    yield from done_or_skipped(words.tighten_again(card, (number, do), str(told["words"])))
    return (yield from _stage(dossier, (card, stages), number, do))


def _stage(
    dossier: Dossier, plan: tuple[Card, Stages], number: int, which: int
) -> Generator[Ask, Answer, Work | tuple[PassSetup, str]]:
    card, stages = plan
    ready = words.ready_to_heat(card, number)
    yield from agreed(ready if which == 1 else replace(ready, key=f"{ready.key}/{which}"))
    places = _numbered(card, stages, stages.treatments(which))
    done, ended = yield from spotted(dossier, card, places, number)
    if not ended:  # every place was left out
        ended = card.made_at
    if broken := _broken(dossier, replace(stages.setup, spots=done), tuple(spot for _, spot in places)):
        return broken, ended
    gap = yield from read_as(words.stage_gap(card, (number, which), ended), _gap(dossier))
    if gap is None and which == 1:  # not read: the rest goes as one pass, as on the card
        rest = _numbered(card, stages, range(stages.ends[0], stages.planned))
        more, last = yield from spotted(dossier, card, rest, number)
        return replace(stages.setup, spots=(*done, *more)), last or ended
    return Work(deed="stage", setup=replace(stages.setup, spots=done), typed=gap or "")


def _broken(dossier: Dossier, done: PassSetup, planned: tuple[Treatment, ...]) -> PassSetup | None:
    """Return all that was done where a stage broke a limit: then it is heated no further and teaches nothing."""
    from straighten.desk.notes import broken_limits

    if done.spots == planned or not broken_limits(dossier.head, done):
        return None
    before = all_done(dossier.stages).spots if dossier.stages else ()
    return replace(done, spots=(*before, *done.spots))


def _numbered(card: Card, stages: Stages, which: range) -> list[tuple[int, Treatment]]:
    """Return treatments with the numbers under which they stand on the card."""
    on_card = {(line.station, line.side): line.order for line in (*card.spots, *card.reserve)}
    spots = [stages.setup.spots[k] for k in which]
    near = [
        (min(on_card, key=lambda at, s=spot: (at[1] != s.side, abs(at[0] - s.station))), spot)  # type: ignore[misc]
        for spot in spots
    ]
    return [(on_card[place], spot) for place, spot in near]


def _gap(dossier: Dossier) -> Callable[[Answer], str | None]:
    """Return a reader of the gap as typed, its unit written with it; None where it is skipped."""

    def read(given: Answer) -> str | None:
        word = given.typed.strip()
        if word.lower() == NAY:
            return None
        gauge = GapWords(system=given.system, blades=dossier.head.gauge_blades)
        if read_gap(word, dossier.head.casting.length / 2, gauge).blank:
            raise BadInput("a gap is due here, like 0.30-0.35; skip leaves it unread")
        return f"{given.system}:{word}"

    return read
