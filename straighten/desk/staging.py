"""Stages in one clamping: the ladder of a card, and what a stage that was done and read asks for next."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from straighten.belief.blades import (
    StageLog,
    heard,
    with_stages,
)
from straighten.belief.learn import Belief
from straighten.book import Book
from straighten.clamp import section_of
from straighten.desk.dossier import Dossier
from straighten.desk.job import Job, believed
from straighten.desk.kept import card_in_hand, record, reread, stage_to_plain, stages_from_plain
from straighten.desk.logging import read_done
from straighten.desk.pass_card import spot_line
from straighten.desk.words import broken_limits
from straighten.errors import BadInput, NoPlan, in_shell
from straighten.head.records import Head
from straighten.heat import RoofState
from straighten.heat.layout import heat_given
from straighten.plan.alternatives import PassPlan
from straighten.plan.forecast import roof_believed
from straighten.plan.loss import direction_of
from straighten.plan.records import PassSetup
from straighten.plan.rungs import Rung, is_odd, ladder
from straighten.plan.slack import (
    PLACES,
    WARMEST,
    WARMTH_DOUBT,
    Gaps,
    Place,
    SlackReading,
    gap_of,
    reading_sd,
    wait_for,
    warm_bow,
)
from straighten.plan.stages import READ_AGAIN, STOP, Next, Stages, ahead, choose, path_of, stage_noise
from straighten.quantiles import tenths
from straighten.readings.gaps import GapWords, read_gap
from straighten.shape.modes import INDEX
from straighten.sheet.card import Card, RungIf, RungLine
from straighten.sheet.learned import ReadGap, StageReport
from straighten.sheet.plain import Range
from straighten.units import System, parse, show_duration


@dataclass(frozen=True, slots=True, kw_only=True)
class StageAsked:
    """One stage as it is typed.

    `gaps` by place, read `after` the last flame. `done` is a file of what was done differently, `heated` the same as a
    set-up; then the gap may be unread. `skip` leaves the stage out, `again` reads the last one anew.
    """

    gaps: Mapping[str, str]
    system: System | None = None
    after: str | None = None
    done: Path | None = None
    heated: PassSetup | None = None
    skip: bool = False
    again: bool = False


def _stage_wait(head: Head, stages: Stages) -> float:
    """Return the wait after a stage until the warm bow is under half a blade step [s], the longest of all stages."""
    blades = sorted(head.gauge_blades)
    step = float(np.min(np.diff(blades)))
    every = [stages.stage(number) for number in range(1, len(stages.ends) + 1)]
    heats = [heat_given(head, section_of(head), s.spots) for s in every]
    waits = [wait_for(head, s.spots, heat, step / 2) for s, heat in zip(every, heats, strict=True) if s.spots]
    return 10.0 * math.ceil(max(waits, default=0.0) / 10.0)


def with_ladder(card: Card, job: Job, plan: PassPlan) -> Card:
    """Return the card with the ladder of a pass in stages on it, and the places in reserve numbered on from the planned ones."""
    if plan.stages is None:
        return card
    stages, spots = plan.stages, plan.stages.setup.spots
    beyond = enumerate(spots[stages.planned :], start=stages.planned + 1)
    reserve = tuple(spot_line(n, s, s.peak or 0.0) for n, s in beyond)
    lines = rung_lines(plan.rungs, stages, tuple(range(1, len(spots) + 1)))
    return replace(card, ladder=lines, reserve=reserve, stage_wait=_stage_wait(job.head, stages))


def rung_lines(rungs: tuple[Rung, ...], stages: Stages, numbers: tuple[int, ...]) -> tuple[RungLine, ...]:
    """Return rungs in the form of the card."""
    return tuple(
        RungLine(
            number=rung.number,
            places=tuple(numbers[k] for k in stages.treatments(rung.number)),
            gap=Range(*rung.gap),
            goes=rung.goes,
            stops=rung.stops,
            lines=tuple(RungIf(goes=line.goes, do=line.do) for line in rung.lines),
        )
        for rung in rungs
    )


def stages_in_hand(dossier: Dossier) -> Stages:
    """Return the stages of the card in hand."""
    plain = card_in_hand(dossier, "stage", "there are no stages").record.get("stages")
    if plain is None:
        raise BadInput(
            "the card in hand has no stages",
            where="stage",
            fix=f"Heat it as one pass, then: straighten log {in_shell(dossier.name)} survey.toml",
        )
    return stages_from_plain(plain)


def stage_done(book: Book, dossier: Dossier, asked: StageAsked) -> StageReport:
    """Record a stage as it was done and read, and return what to do next.

    Raises:
        NoPlan: the head must not be heated.
        BadInput: no stage is due, a gap that cannot be, a roof still too warm, a limit broken; nothing is recorded.
    """
    if forbidden := Job(dossier).forbidden:
        raise NoPlan(forbidden[0].told, where=dossier.name)
    stages = stages_in_hand(dossier)
    before = believed(replace(dossier, stages=()))
    log = _log_of(dossier, stages, asked)
    report, belief = _reported(dossier, stages, before, log)
    log = replace(log, doubted=report.doubted)
    told = {"do": report.do, "words": report.words, "ladder": report.to_plain()["ladder"]}
    record(book, dossier, "stage", stage_to_plain(log) | told)
    then = reread(book, dossier)
    return replace(report, judgement=Job(then, belief).judgement.to_plain())


def _log_of(dossier: Dossier, stages: Stages, asked: StageAsked) -> StageLog:
    behind = len(dossier.stages)
    if asked.again and not behind:
        raise BadInput("no stage was read yet, so none is read again", where="--again", fix="Leave it out.")
    number = behind if asked.again else behind + 1
    if number > len(stages.ends):
        raise BadInput(
            f"all {len(stages.ends)} stages of this card are done",
            where="stage",
            fix=f"Release it cold, measure, then: straighten log {in_shell(dossier.name)} survey.toml",
        )
    if asked.skip:
        return StageLog(number=number, done=replace(stages.stage(number), spots=()))
    done = dossier.stages[-1].done if asked.again else _done(dossier, stages.stage(number), asked)
    heat = heat_given(dossier.head, section_of(dossier.head), done.spots)
    log = StageLog(number=number, done=done, heat=heat, reading=_reading(dossier, asked))
    _refuse_warm(dossier.head, log)
    return log


def _done(dossier: Dossier, planned: PassSetup, asked: StageAsked) -> PassSetup:
    """Return what was done in a stage; a broken limit ends the stages, since the pass teaches nothing then."""
    if asked.heated is None and asked.done is None:
        return planned
    done, where = asked.heated or planned, "stage"
    if asked.done is not None:
        where = str(asked.done)
        done, _ = read_done(asked.done, dossier.head, planned)
    if broke := broken_limits(dossier.head, done):
        raise BadInput(
            broke[0],
            where=where,
            fix=f"Heat no further. Log the whole pass: straighten log {in_shell(dossier.name)} --done SETUP.toml",
        )
    return done


def _reading(dossier: Dossier, asked: StageAsked) -> SlackReading | None:
    head = dossier.head
    words = GapWords.of(head, asked.system or head.system)
    gaps: list[tuple[Place, Gaps]] = []
    for place in (place for place in PLACES if place in asked.gaps):
        found = read_gap(asked.gaps[place], head.casting.length / 2, words)
        if found.low is not None and found.high is not None:
            gaps.append((place, Gaps(found.low, found.high)))
    if not gaps and asked.heated is not None:
        return None
    if not gaps:
        raise BadInput(
            "no gap was read",
            where="stage",
            fix="Slacken the middle nuts and give --gap 0.30-0.35 (or --exhaust, --inlet, --centre); --skip leaves it out.",
        )
    after = None if asked.after is None else parse(asked.after, "duration", head.system)
    if after is not None and not 0 <= after < math.inf:
        raise BadInput(f"found {asked.after!r}, a time after the last flame is due", where="--after")
    return SlackReading(gaps=tuple(gaps), after=after)


def _refuse_warm(head: Head, log: StageLog) -> None:
    """Refuse a reading taken so warm that its correction is worth less than the reading."""
    if log.reading is None or log.reading.after is None or not log.done.spots:
        return
    most = WARMEST.value / WARMTH_DOUBT.value
    if warm_bow(head, log.done.spots, log.heat, log.reading.after) <= most:
        return
    wait = wait_for(head, log.done.spots, log.heat, most) - log.reading.after
    raise BadInput(
        "the roof is still so warm that the gap says little",
        where="--after",
        fix=f"Read it again {show_duration(max(wait, 10.0))} later.",
    )


def _reported(dossier: Dossier, stages: Stages, before: Belief, log: StageLog) -> tuple[StageReport, Belief]:
    """Return what a stage says, the judgement left out, and the belief after it.

    A gap that is very unlikely by the draws does not weigh. It is read again, and found twice it ends the stages.
    """
    head = dossier.head
    logs = (*(old for old in dossier.stages if old.number != log.number), log)
    past = roof_believed(head, before.draws, dossier.done)
    unread = with_stages(head, before, (*logs[:-1], replace(log, reading=None)), past)
    doubted, wide = _odd_and_wide(head, unread, log)
    belief = unread if doubted or log.reading is None else heard(head, unread, log)
    direction = direction_of(head, before.draws)
    real = stages.with_done([one.done for one in logs])
    draws = belief.draws
    noise = stage_noise(draws.weights.size)
    path = path_of(head, (draws.states, draws.response), real, log.number, noise, past)
    left = ahead(head, path, range(log.number + 1, len(real.ends) + 1), real, direction)
    then = choose(left, unread.draws.weights, draws.weights[None], np.array([wide]))[0]
    if doubted:
        twice = any(old.doubted for old in dossier.stages if old.number == log.number)
        past_now, inside_now = (float(draws.weights @ part[0]) for part in (left.past, left.inside))
        then = Next(do=STOP if twice else READ_AGAIN, past=past_now, inside=inside_now)
    rungs: tuple[RungLine, ...] = ()
    if then.do == log.number + 1:
        numbers = tuple(range(1, len(real.setup.spots) + 1))
        rungs = rung_lines(ladder(head, path, draws.weights, real, direction), real, numbers)
    elif then.do > 0:
        rungs = _rungs_from(head, belief, real, (log.number, then.do, direction), past)
    expected = gap_of(head, log.done, unread.draws.states, "middle")
    report = StageReport(
        name=dossier.name,
        system=head.system,
        number=log.number,
        stages=len(real.ends),
        skipped=not log.done.spots,
        read=()
        if log.reading is None
        else tuple(
            ReadGap(place=place, goes=found.low, stops=found.high) for place, found in log.reading.gaps
        ),
        warm=_warmth(head, log),
        expected=tenths(expected, unread.draws.weights),
        deck_before=tenths(before.draws.states[:, INDEX["deck_bow"]], before.draws.weights),
        deck_now=tenths(draws.states[:, INDEX["deck_bow"]], draws.weights),
        cam_now=tenths(draws.states[:, INDEX["cam_bow"]], draws.weights),
        doubted=doubted,
        do=then.do,
        past=then.past,
        inside=then.inside,
        ladder=rungs,
        caveats=belief.caveats[len(before.caveats) :],
    )
    return report, belief


def _odd_and_wide(head: Head, unread: Belief, log: StageLog) -> tuple[bool, bool]:
    """Return of the gaps read after a stage whether one is very unlikely by the draws before it, and whether all are wider than their middle."""
    if log.reading is None:
        return False, False
    states, weights, warm = unread.draws.states, unread.draws.weights, _warmth(head, log)
    odd, wide = False, True
    for place, found in log.reading.gaps:
        gap = gap_of(head, log.done, states, place) + warm
        odd |= is_odd(found, gap, weights, math.hypot(reading_sd(place), WARMTH_DOUBT.value * warm))
        wide &= found.low >= tenths(gap, weights)[1]
    return odd, wide


def _warmth(head: Head, log: StageLog) -> float:
    if log.reading is None or log.reading.after is None:
        return 0.0
    return warm_bow(head, log.done.spots, log.heat, log.reading.after)


def _rungs_from(
    head: Head, belief: Belief, stages: Stages, way: tuple[int, int, int], past: RoofState
) -> tuple[RungLine, ...]:
    """Return the ladder from a stage further on; those skipped on the way to it are left out."""
    number, do, direction = way
    numbers = list(range(1, len(stages.setup.spots) + 1))
    behind = [stages.stage(n) for n in range(1, number + 1)]
    left_out = [replace(stages.stage(n), spots=()) for n in range(number + 1, do)]
    del numbers[stages.treatments(number + 1).start : stages.treatments(do).start]
    stages = stages.with_done([*behind, *left_out])
    draws = belief.draws
    noise = stage_noise(draws.weights.size)
    path = path_of(head, (draws.states, draws.response), stages, do - 1, noise, past)
    return rung_lines(ladder(head, path, draws.weights, stages, direction), stages, tuple(numbers))
