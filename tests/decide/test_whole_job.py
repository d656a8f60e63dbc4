"""What a whole job comes to: against futures drawn one by one, and against what must hold for any head."""

from dataclasses import replace

import numpy as np
import pytest

from straighten.decide import whole_job
from straighten.decide.decision import STRENGTHS, _doubt_after
from straighten.plan.loss import MOST_OVERSHOOT
from tests.decide.test_decision import HEAD, outlook

LIMIT = HEAD.limits.cam_line.value


def test_one_pass_ends_as_drawn_futures_do():
    # source: total probability; 200 000 futures drawn one by one of the strength that ends most of them well
    seen = outlook(passes_left=1, cam=0.12e-3, cam_sd=2e-6)
    told = whole_job(HEAD, seen)
    rng = np.random.default_rng(6)
    bow = seen.cam + seen.cam_sd * rng.standard_normal(200_000)
    spread = np.hypot(_doubt_after(seen, 0), seen.scatter)
    luck = np.exp(spread * rng.standard_normal(bow.size))
    ends = [bow - strength * seen.full_set * luck for strength in STRENGTHS]
    kept = [end for end in ends if np.mean(end < -LIMIT) <= MOST_OVERSHOOT.value]
    # the middle and the outer tenths of where the best strength leaves the cam line
    nearest = min(kept, key=lambda end: abs(np.median(end)))
    assert told.after[0].cam.tenths == pytest.approx(np.quantile(nearest, [0.1, 0.5, 0.9]), abs=6e-6)
    assert told.past == pytest.approx(np.mean(nearest < -LIMIT), abs=0.01)


def test_a_pass_loses_some_heads_that_are_far_out():
    # source: total probability; what a pass loses is counted on jobs of the tests' workshop
    sure = outlook(cam_sd=1e-6, doubt=1e-3, scatter=1e-3, passes_left=1)
    near, far = (whole_job(HEAD, replace(sure, cam=n * LIMIT, full_set=n * LIMIT)).chance for n in (2.5, 3.5))
    assert near > 0.99
    assert far == pytest.approx(0.93, abs=0.005)


def test_more_passes_end_more_jobs_and_hardly_any_goes_past_straight():
    told = whole_job(HEAD, outlook(cam=0.3e-3, passes_left=4))
    done = [stage.done for stage in told.after]
    assert done == sorted(done)
    assert told.chance == pytest.approx(done[-1])
    assert told.past <= 2 * MOST_OVERSHOOT.value
    assert told.clampings[0] <= told.clampings[1] <= told.clampings[2] <= 4


@pytest.mark.parametrize("cam", [0.15e-3, 0.2e-3])
def test_a_larger_reach_ends_sooner_and_a_rougher_head_less_often(cam):
    usual = outlook(cam=cam, passes_left=4)
    weak, strong = (whole_job(HEAD, replace(usual, full_set=s * usual.full_set)) for s in (0.6, 2.0))
    assert strong.after[0].done >= weak.after[0].done
    assert strong.clampings[1] <= weak.clampings[1] + 0.5
    assert whole_job(HEAD, replace(usual, stays=0.9 * LIMIT)).chance < whole_job(HEAD, usual).chance


def test_a_flat_deck_that_may_not_be_sanded_ends_no_job_that_bends_it():
    # cam line and deck come down together: what straightens the one crowns the other (geometry)
    none_left = replace(HEAD, limits=replace(HEAD.limits, left=0.0))
    flat = outlook(cam=0.25e-3, deck_less_cam=-0.25e-3, full_set=0.2e-3, passes_left=4)
    assert whole_job(none_left, flat).chance < 0.05
    assert whole_job(none_left, replace(flat, deck_less_cam=0.0)).chance > 0.5


def test_how_flat_the_deck_ends_differs_from_head_to_head_where_it_is_moved():
    # 38 jobs of the tests' workshop: log-sd 0.4 about what was foretold; a deck that is not moved is as flat as it was read
    seen = outlook(cam=0.3e-3, cam_sd=2e-6)
    here, done = seen.likely_flat(np.array([seen.cam, 0.0])).T
    assert here == pytest.approx(np.full(9, here[0]))
    assert np.median(done) == pytest.approx(seen.flat(np.zeros(1))[0])
    assert np.log(done).std() == pytest.approx(0.4, rel=0.1)
    told = whole_job(HEAD, replace(seen, deck_less_cam=0.1e-3, passes_left=4))
    assert told.metal[2] - told.metal[0] > 20e-6
