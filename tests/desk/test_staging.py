"""Stages in one clamping: the ladder of the card against the command, and simulated heads that answer as they please."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from straighten.belief import blades
from straighten.belief.blades import StageLog, with_staged_passes, with_stages
from straighten.clamp import section_of
from straighten.desk.dossier import default_dossier
from straighten.desk.job import Job
from straighten.desk.kept import all_done, closed_stages, stage_of, stage_to_plain
from straighten.desk.pass_card import card_of
from straighten.desk.staging import _reported, _stage_wait, with_ladder
from straighten.heat import nominal, relax_spots
from straighten.heat.cooling import evening_time, thermal_bow
from straighten.plan.forecast import NOISE_SIZE
from straighten.plan.loss import MOST_OVERSHOOT
from straighten.plan.rungs import is_odd
from straighten.plan.slack import Gaps, SlackReading, gap_of, wait_for, warm_bow
from straighten.plan.stages import STOP, Ahead, after_stage, choose, shares_of
from straighten.shape.modes import INDEX
from straighten.sobol import sobol_normal

JOB = Job(default_dossier())
PLAN = JOB.next_pass
STAGES, HEAD = PLAN.stages, JOB.head
BLADES = (0.0, *HEAD.gauge_blades, np.inf)


def read_as(gap, place="middle"):
    """Return the bracket of owned blades about a gap."""
    at = int(np.searchsorted(BLADES, gap))
    return SlackReading(gaps=((place, Gaps(BLADES[at - 1], BLADES[at])),))


def after_first(reading):
    log = StageLog(number=1, done=STAGES.stage(1), reading=reading, heat=2e4)
    return _reported(JOB.dossier, STAGES, JOB.belief, log)


def test_the_stages_are_pairs_mild_first_five_at_the_most():
    """Three heats, the first mild, both sides alike: common practice, no source."""
    assert 2 <= len(STAGES.ends) <= 5
    for number in range(1, len(STAGES.ends) + 1):
        spots = STAGES.stage(number).spots
        assert 2 <= len(spots) <= 4
        assert sorted(s.station for s in spots if s.side == "inlet") == sorted(
            s.station for s in spots if s.side == "exhaust"
        )
    assert len(STAGES.stage(1).spots) <= max(len(PLAN.setup.spots) / 2, 2)  # a pair is never parted
    planned = {replace(s, start=0.0) for s in PLAN.setup.spots}
    assert {replace(s, start=0.0) for s in STAGES.setup.spots[: STAGES.planned]} == planned


def test_the_gap_on_slack_nuts_is_shims_and_bow():
    """A parabola of height h over shims t at stations x from the ends: t + h (1 - 4 x (1 - x)); by hand."""
    state = np.zeros((1, 11))
    state[0, INDEX["deck_bow"]] = 0.2e-3
    share = HEAD.front_shim / HEAD.casting.length
    shims = PLAN.setup.clamp.shims[0]
    by_hand = shims + 0.2e-3 * (1 - 4 * share * (1 - share))
    for place in ("middle", "exhaust", "inlet", "centre"):
        assert gap_of(HEAD, PLAN.setup, state, place)[0] == pytest.approx(by_hand, abs=1e-6)
    state[0, INDEX["deck_side"]] = 0.05e-3  # inlet edge higher, exhaust edge lower
    inlet, exhaust = (gap_of(HEAD, PLAN.setup, state, place)[0] for place in ("inlet", "exhaust"))
    assert inlet > by_hand > exhaust
    assert gap_of(HEAD, PLAN.setup, state, "middle")[0] == pytest.approx((inlet + exhaust) / 2)


@pytest.mark.parametrize("line", PLAN.rungs[0].lines)
def test_the_card_says_the_same_as_the_command_for_the_same_reading(line):
    card = with_ladder(card_of(JOB, PLAN, _at()), JOB, PLAN)
    goes = line.goes or 0.0
    report, _ = after_first(SlackReading(gaps=(("middle", Gaps(goes, BLADES[BLADES.index(goes) + 1])),)))
    first = next(told for told in card.ladder[0].lines if told.goes is None or goes >= told.goes - 1e-7)
    assert first.do == line.do == report.do


def _at():
    from datetime import UTC, datetime

    return datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def test_a_wide_gap_goes_on_and_a_small_one_does_less():
    reached = [0.0, *shares_of(HEAD, STAGES.setup.spots)]
    size = {STOP: 0.0, **{n: reached[n] - reached[n - 1] for n in range(1, len(reached))}}
    for rung in PLAN.rungs:
        doing = [size[line.do] for line in rung.lines if line.do >= 0]
        assert doing == sorted(doing, reverse=True)
    assert PLAN.rungs[0].lines[1].do == 2  # under the gap that asks to be read again
    assert STOP in [line.do for rung in PLAN.rungs for line in rung.lines]
    assert PLAN.rungs[-1].lines[-1].do <= 0


def test_a_gap_no_head_gives_is_read_again_and_teaches_nothing():
    report, belief = after_first(read_as(0.9e-3))
    assert report.words.startswith("READ AGAIN")
    assert report.ladder == ()
    assert report.doubted
    _, unread = after_first(
        None
    )  # a slip must not move what is believed of the head: common practice, no source
    assert belief.draws.weights == pytest.approx(unread.draws.weights)


def test_a_gap_as_odd_twice_ends_the_stages_and_a_sound_one_goes_on():
    slip = StageLog(number=1, done=STAGES.stage(1), reading=read_as(0.9e-3), heat=2e4, doubted=True)
    once = replace(JOB.dossier, stages=(slip,))
    twice, _ = _reported(once, STAGES, JOB.belief, replace(slip, doubted=False))
    assert twice.doubted
    assert twice.do == STOP
    sound = replace(slip, reading=read_as(PLAN.rungs[0].gap[1]), doubted=False)
    then, belief = _reported(once, STAGES, JOB.belief, sound)
    fresh, first = after_first(sound.reading)
    assert then == fresh
    assert belief.draws.weights == pytest.approx(first.draws.weights)
    kept = with_stages(HEAD, JOB.belief, (slip,))
    assert kept.draws.weights == pytest.approx(after_first(None)[1].draws.weights)


def test_a_gap_wider_than_expected_never_stops_what_the_expected_one_goes_on_with():
    """Less came down, so there is more to do: a few odd draws in the tail do not turn that round; by hand."""
    left = Ahead(
        numbers=(2,), loss=np.array([[1.0, 0.5], [0.4, 0.6]]), past=np.array([[0.0, 0.0], [0.0, 0.9]]), inside=np.zeros((2, 2))
    )  # fmt: skip
    before = np.array([0.99, 0.01])
    tail = np.array([[0.0, 1.0], [0.98, 0.02]])
    assert [then.do for then in choose(left, before, tail, np.array([False, False]))] == [STOP, 2]
    assert [then.do for then in choose(left, before, tail, np.array([True, True]))] == [STOP, 2]
    mild = replace(left, past=np.zeros((2, 2)))
    assert [then.do for then in choose(mild, before, tail, np.array([False, False]))] == [STOP, 2]
    assert [then.do for then in choose(mild, before, tail, np.array([True, True]))] == [2, 2]
    spent = replace(
        mild, loss=np.array([[0.4, 0.5], [0.6, 0.6]])
    )  # nothing is gained at the expected gap either
    assert choose(spent, before, tail, np.array([True, True]))[0].do == STOP


def truth(factor):
    """A head whose spots shrink by a hidden factor; else as the physics and the belief's middle have it."""
    mean = {
        name: float(JOB.belief.draws.weights @ getattr(JOB.belief.draws.response, name))
        for name in ("softening", "stiffness")
    }
    one = nominal()
    return replace(
        one,
        shrinkage=factor * one.shrinkage,
        softening=mean["softening"] + one.softening,
        stiffness=mean["stiffness"] * one.stiffness,
    )


def heated(states, response, done, now):
    before = replace(STAGES.setup, spots=done)
    whole = replace(STAGES.setup, spots=(*done, *now))
    return after_stage(HEAD, (states, response), whole, before, np.zeros((1, NOISE_SIZE)))


@cache
def driven(factor):
    """The stages of a head that answers so much more than believed: its shape, what the last one says, the belief, what was done."""
    response = truth(factor)
    start = (JOB.belief.draws.weights @ JOB.belief.draws.states)[None]
    states, dossier, do, number = start, JOB.dossier, 1, 0
    while do > 0:
        number += 1
        stage = STAGES.stage(number) if number == do else replace(STAGES.stage(number), spots=())
        behind = tuple(s for log in dossier.stages for s in log.done.spots)
        states = heated(states, response, behind, stage.spots) if stage.spots else states
        reading = read_as(gap_of(HEAD, stage, states, "middle")[0]) if stage.spots else None
        log = StageLog(number=number, done=stage, reading=reading)
        report, belief = _reported(dossier, STAGES, JOB.belief, log)
        dossier = replace(dossier, stages=(*dossier.stages, log))
        do = report.do
    return states, report, belief, dossier.stages


@pytest.mark.parametrize(
    "factor",
    [
        0.3,
        0.6,
        1.0,
        pytest.param(
            1.6, marks=pytest.mark.xfail(strict=True, reason="a chance of 0.037 is left, 0.025 are allowed")
        ),
    ],
)  # at 3.0 one stage alone takes such a head near the limit
def test_the_stages_end_before_a_head_is_likely_to_go_past(factor):
    assert driven(factor)[1].past <= MOST_OVERSHOOT.value


@pytest.mark.parametrize("factor", [0.3, 0.6, 1.0, 1.6, 3.0])
def test_a_slow_head_gets_every_stage_and_a_quick_one_is_stopped_before_it_goes_past(factor):
    states, report, belief, stages = driven(factor)
    start = (JOB.belief.draws.weights @ JOB.belief.draws.states)[None]
    bow = INDEX["deck_bow"]
    given = sum(len(log.done.spots) for log in stages)
    assert -HEAD.limits.cam_line.value < states[0, bow] < start[0, bow]
    if factor < 1:
        assert given == len(STAGES.setup.spots)
    if factor == 3.0:
        assert given < len(STAGES.setup.spots)
    low, _, high = report.deck_now
    assert low - 20e-6 < states[0, bow] < high + 20e-6
    shrinks = float(belief.draws.weights @ np.log(belief.draws.response.shrinkage))
    believed = float(JOB.belief.draws.weights @ np.log(JOB.belief.draws.response.shrinkage))
    if factor in (0.3, 3.0):  # nearer to one the blades' steps hide it
        assert (shrinks > believed) == (factor > 1)


def test_three_gaps_tell_more_than_one():
    one, three = (
        read_as(0.34e-3),
        SlackReading(gaps=tuple((p, read_as(0.34e-3).gaps[0][1]) for p in ("exhaust", "inlet", "centre"))),
    )
    spread = [r.deck_now[2] - r.deck_now[0] for r in (after_first(one)[0], after_first(three)[0])]
    assert spread[1] < spread[0]


def test_a_warm_roof_reads_high_by_the_closed_form():
    """alpha dT L^2 / 8 H, twice for heat in the middle, dying away with the time in which roof and deck even out."""
    stage = STAGES.stage(1)
    spots = stage.spots[-1:]
    first = warm_bow(HEAD, spots, 2e4, 0.0)
    assert warm_bow(HEAD, spots, 2e4, evening_time(HEAD)) == pytest.approx(first / np.e)
    casting = HEAD.casting
    # 2700 kg/m3 and 0.41 T + 903 J/(kg K) at 20 degC: EN 1999-1-2, 3.2.2 and 3.3.1.2, seen
    capacity = 2700 * 911.2 * casting.length * casting.width * casting.roof
    assert first == pytest.approx(2 * thermal_bow(HEAD, 2e4 / capacity), rel=0.05)
    assert wait_for(HEAD, spots, 2e4, first / np.e) == pytest.approx(evening_time(HEAD))
    cold, warm = (
        after_first(replace(read_as(0.34e-3), after=after))[0].deck_now[1] for after in (None, 60.0)
    )
    assert warm < cold


def test_the_card_lets_the_roof_cool_until_its_bow_hides_under_half_a_blade_step():
    """By hand: twice the thermal bow of the hottest stage, to e^-1 with the time of roof and deck; no more than the full ten s."""
    casting, half_a_step = HEAD.casting, np.diff(sorted(HEAD.gauge_blades)).min() / 2
    capacity = 2700 * 911.2 * casting.length * casting.width * casting.roof
    first = max(
        2 * thermal_bow(HEAD, relax_spots(HEAD, section_of(HEAD), None, stage.spots, nominal()).heat / capacity)
        * np.mean([np.exp((s.start - stage.spots[-1].start) / evening_time(HEAD)) for s in stage.spots])
        for stage in (STAGES.stage(n) for n in range(1, len(STAGES.ends) + 1))
    )  # fmt: skip
    due = evening_time(HEAD) * np.log(first / half_a_step)
    assert 0.95 * due <= _stage_wait(HEAD, STAGES) < 1.05 * due + 10


def test_a_stage_costs_one_clamp_a_stage_on_a_thousand_draws(monkeypatch):
    """Less than a second: at the most two heats and one clamp a stage, each on no more than 1024 draws."""
    sizes = []
    counted = blades.after_stage

    def watched(head, draws, *rest):
        sizes.append(len(draws[0]))
        return counted(head, draws, *rest)

    monkeypatch.setattr(blades, "after_stage", watched)
    logs = [
        StageLog(number=n, done=STAGES.stage(n), reading=read_as(PLAN.rungs[n - 1].gap[1])) for n in (1, 2)
    ]
    with_stages(HEAD, JOB.belief, logs)
    assert sizes == [1024, 1024]


def test_draws_are_renewed_when_few_carry_the_weight():
    logs = [
        StageLog(number=n, done=STAGES.stage(n), reading=read_as(PLAN.rungs[n - 1].gap[0]))
        for n in range(1, len(STAGES.ends) + 1)
    ]
    found = with_stages(HEAD, JOB.belief, logs)
    assert found.draws.weights.sum() == pytest.approx(1.0)
    assert found.effective > 40
    assert found.history[-1] is found.draws.states


def test_what_the_stages_told_counts_in_the_pass_that_is_logged():
    """A pass whose last survey is missing is still known by its stages: the narrower, the more was read."""
    logs = tuple(
        StageLog(number=n, done=STAGES.stage(n), reading=read_as(PLAN.rungs[n - 1].gap[1])) for n in (1, 2)
    )
    states = JOB.belief.draws.states
    whole = all_done(logs)
    after = JOB.belief.history[-1] - 0.1e-3 * (np.arange(11) == 0)
    belief = replace(JOB.belief, history=(states, after), draws=replace(JOB.belief.draws, states=after))
    then = closed_stages(replace(JOB.dossier, stages=logs))
    assert then.staged[0].number == 0
    assert len(whole.spots) == sum(len(log.done.spots) for log in logs)
    known = with_staged_passes(HEAD, belief, 1, then.staged)
    assert known.effective < belief.effective
    assert then.stages == ()


def test_a_stage_comes_back_from_the_book_as_it_was():
    log = StageLog(
        number=2,
        done=STAGES.stage(2),
        heat=2e4,
        reading=SlackReading(gaps=(("inlet", Gaps(0.3e-3, np.inf)),), after=90.0),
    )

    class Kept:
        record = stage_to_plain(log)

    assert stage_of(Kept) == log


def test_a_reading_in_twenty_is_no_odd_one_and_one_far_out_is():
    # a shop meets a one in twenty every month, and reading again costs minutes; five deviations out is a slip; derived
    gap = 0.3e-3 + 0.02e-3 * sobol_normal(1024, 1, 3)[:, 0]
    weights = np.full(gap.size, 1 / gap.size)
    for sign in (-1, 1):
        near, far = (0.3e-3 + sign * k * 0.02e-3 for k in (1.645, 5.0))
        assert not is_odd(Gaps(near - 5e-6, near + 5e-6), gap, weights, 2e-6)
        assert is_odd(Gaps(far - 5e-6, far + 5e-6), gap, weights, 2e-6)


def test_between_stages_there_is_time_to_cool_slacken_read_and_tighten():
    # ten minutes for a roof to give its heat to the head, and for four bolts and a blade: common practice, no source
    spots = STAGES.setup.spots
    for end in STAGES.ends[:-1]:
        pause = spots[end].start - spots[end - 1].start - spots[end - 1].dwell
        assert 600 - 1e-6 <= pause < 900
