"""Learning the removal rate: more strokes, more metal; checks narrow the belief; the limit is kept."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straighten.sanding.face import ALL_CLEAN, SHARE, face_of
from straighten.sanding.lap import grade
from straighten.sanding.learning import Target, learn_rate, outlook_after, sheets_for
from straighten.sanding.rate import (
    NAMES,
    Check,
    depth_for,
    factors_of,
    grain_factor,
    ground_of,
    hollows_left,
    rim_falls,
    sheet_work,
    strokes_for,
    volume_for,
    work_done,
)
from straighten.shape.modes import INDEX, STATE

MEAN = np.zeros(len(STATE))
MEAN[INDEX["deck_bow"]] = 1.2e-4
COVARIANCE = np.diag(np.full(len(STATE), 6e-6) ** 2)
GROUND = ground_of(face_of(MEAN, COVARIANCE), area=0.033, load=68.0, hardness=84.0)
TARGET = Target(goal="clean-up", left=0.0, allowed=0.3e-3, allowance=0.01e-3)
U = np.random.default_rng(1).standard_normal((64, len(NAMES)))
FACTORS = factors_of(GROUND, U)


@given(st.floats(1, 5e4))
@settings(max_examples=20, deadline=None)
def test_strokes_and_work_are_inverse(strokes):
    whole = np.floor(strokes / 150)
    work = whole * sheet_work(np.asarray(150.0), FACTORS) + sheet_work(
        np.asarray(strokes - 150 * whole), FACTORS
    )
    np.testing.assert_allclose(strokes_for(work, FACTORS), strokes, rtol=1e-5, atol=1e-4)


@given(st.floats(1e-6, 3e-4))
@settings(max_examples=20, deadline=None)
def test_depth_and_volume_are_inverse(depth):
    volume = volume_for(np.full(64, depth), GROUND, FACTORS)
    np.testing.assert_allclose(depth_for(volume, GROUND, FACTORS), depth, rtol=1e-3, atol=5e-8)


def test_metal_off_is_linear_in_load_and_stroke_on_a_clean_face():
    """Preston's law: past clean-up the depth grows as the volume over the area (derived)."""
    height = FACTORS.height
    one = volume_for(height, GROUND, FACTORS)
    two = volume_for(height + 1e-5, GROUND, FACTORS)
    np.testing.assert_allclose((two - one) / GROUND.area, 1e-5, rtol=1e-6)


def test_a_stroke_takes_off_wear_times_load_times_way_over_hardness():
    # V = K W s / H: K 1e-2 for fresh paper, 68 N, 0.5 m there and back, 84 HB = 824 MPa (Archard 1953, from memory)
    middle = factors_of(GROUND, np.zeros((1, len(NAMES))))
    assert middle.volume_rate[0] == pytest.approx(1e-2 * 68.0 * 0.5 / (84 * 9.80665e6), rel=1e-9)


def test_finer_grain_takes_less_and_the_less_the_higher_its_power():
    # below 100 um the wear goes with a power of the grain, above it no more: size effect (from memory)
    np.testing.assert_allclose(grain_factor(50e-6, np.array([1.0, 2.0, 3.0])), [1 / 2, 1 / 4, 1 / 8])
    np.testing.assert_allclose(grain_factor(25e-6, np.array([1.0, 2.0])), [1 / 4, 1 / 16])
    assert grain_factor(200e-6, np.array([2.0])) == 1.0


def test_as_many_strokes_on_finer_paper_are_believed_to_have_taken_less():
    # nothing looked at: the volume off goes with the grain alone; P400 is 35 um
    coarse, fine = (
        learn_rate(GROUND, [Check(strokes=1500, grit=grade(n), sheets=10)], TARGET, grade(120))
        for n in (120, 400)
    )
    off = [volume_for(sanding.depth, GROUND, sanding.factors) for sanding in (coarse, fine)]
    np.testing.assert_allclose(off[1], off[0] * 0.35**fine.factors.grain, rtol=0.02)


@given(st.integers(10, 3000), st.integers(1, 20))
@settings(max_examples=20, deadline=None)
def test_more_fresh_sheets_never_take_less(strokes, sheets):
    assert np.all(work_done(strokes, sheets + 1, FACTORS) >= work_done(strokes, sheets, FACTORS) - 1e-9)


def checks_of(factors_u, counts, grit):
    """Return what a sanding with these very factors would show, without error."""
    factors = factors_of(GROUND, factors_u[None, :])
    from straighten.sanding.rate import read_curve

    found, volume = [], np.zeros(1)
    for count in counts:
        volume = volume + factors.volume_rate * grain_factor(grit.size, factors.grain) * work_done(
            count, sheets_for(count), factors
        )
        depth = depth_for(volume, GROUND, factors)
        share = float(read_curve(factors.curves[:, SHARE], depth / factors.height, beyond=0.0)[0])
        falls = tuple(float(fall) for fall in rim_falls(factors, depth)[:, 0])
        gaps = tuple((float(gap) - 5e-6, float(gap) + 5e-6) for gap in hollows_left(factors, depth)[:, 0])
        found.append(
            Check(
                strokes=count, grit=grit, sheets=sheets_for(count), cleaned=share, falls=falls, gaps=gaps,
                gap=max(gaps), deepest=float(depth[0]),
            )
        )  # fmt: skip
    return found, float(depth[0])


@pytest.mark.parametrize("rate", [-1.2, 0.0, 1.2])
def test_the_true_depth_is_found_and_the_range_narrows(rate):
    u = np.resize([rate, 0.3, -0.2, 0.1, 0.2, -0.3, 0.2, 0.1], len(NAMES))
    u[8:] = 0.0
    grit = grade(120)
    prior = learn_rate(GROUND, [], TARGET, grit)
    count = int(1500 / np.exp(0.98 * rate))
    checks, depth = checks_of(u, [count], grit)
    after = learn_rate(GROUND, checks, TARGET, grit)
    low, middle, high = after.quantiles(after.depth)
    assert low < depth < high
    assert middle == pytest.approx(depth, rel=0.15)
    before_range, after_range = (s.quantiles(s.strokes) for s in (prior, after))
    assert after_range[2] / after_range[0] < 0.35 * before_range[2] / before_range[0]


def test_order_of_two_like_checks_does_not_matter_to_the_rate():
    """Bayes' rule: the same data, the same belief; draws are quasi-random, so to a percent or two."""
    grit = grade(120)
    checks, _ = checks_of(np.zeros(len(NAMES)), [600, 600], grit)
    once = learn_rate(GROUND, checks, TARGET, grit)
    again = learn_rate(GROUND, [replace(c) for c in checks], TARGET, grit)
    assert once.quantiles(once.strokes) == again.quantiles(again.strokes)


@pytest.mark.parametrize("allowed", [0.03e-3, 0.06e-3, 0.12e-3, 0.3e-3])
def test_no_run_is_planned_whose_99_percent_removal_passes_the_limit(allowed):
    grit = grade(120)
    target = replace(TARGET, allowed=allowed)
    for checks in ([], checks_of(np.zeros(len(NAMES)), [300], grit)[0]):
        sanding = learn_rate(GROUND, checks, target, grit)
        outlook = outlook_after(GROUND, sanding, sanding.next_strokes, grit)
        if sanding.next_strokes:
            assert outlook.deepest <= allowed - target.allowance
        else:
            assert sanding.state == "removal limit"


def test_metal_kept_for_the_finer_papers_is_not_there_for_this_one():
    # 0.08 mm with 0.02 kept back is 0.06 mm; derived
    grit = grade(120)
    for checks in ([], checks_of(np.zeros(len(NAMES)), [300], grit)[0]):
        kept_back, less = (
            learn_rate(GROUND, checks, replace(TARGET, allowed=allowed, allowance=allowance), grit)
            for allowed, allowance in ((0.08e-3, 0.02e-3), (0.06e-3, 0.0))
        )
        assert kept_back.safe_strokes == pytest.approx(less.safe_strokes, rel=1e-9)
        assert kept_back.next_strokes == less.next_strokes


def test_a_face_seen_clean_ends_it():
    grit = grade(120)
    check = Check(strokes=2000, grit=grit, sheets=14, cleaned=1.0)
    assert learn_rate(GROUND, [check], TARGET, grit).state == "flat enough"


def test_a_smaller_limit_never_allows_more_strokes():
    grit = grade(120)
    counts = [
        learn_rate(GROUND, [], replace(TARGET, allowed=limit), grit).next_strokes
        for limit in (0.04e-3, 0.08e-3, 0.16e-3, 0.32e-3)
    ]
    assert counts == sorted(counts)


@pytest.mark.parametrize("goal", ["limit", "clean-up"])
@pytest.mark.parametrize("allowed", [0.04e-3, 0.06e-3, 0.08e-3, 0.12e-3, 0.3e-3])
def test_a_first_run_that_ends_by_a_look_stays_inside_the_limit_by_that_look(goal, allowed):
    """No count is needed for it: however fast the paper, the share or the micrometer ends the run in time."""
    target = replace(TARGET, goal=goal, left=0.05e-3 if goal == "limit" else 0.0, allowed=allowed)
    sanding = learn_rate(GROUND, [], target, grade(120))
    if sanding.stop.share >= ALL_CLEAN:
        assert sanding.state == "removal limit" or sanding.next_strokes <= sanding.safe_strokes
        return
    outlook = outlook_after(GROUND, sanding, 50_000, grade(120))
    assert outlook.deepest <= allowed - target.allowance


def test_a_tighter_limit_lets_the_looks_of_the_first_run_go_no_deeper():
    grit, deepest = grade(120), []
    for limit in (0.06e-3, 0.09e-3, 0.12e-3, 0.3e-3):
        sanding = learn_rate(GROUND, [], replace(TARGET, allowed=limit), grit)
        if sanding.stop.share < ALL_CLEAN:
            deepest.append(outlook_after(GROUND, sanding, 50_000, grit).deepest)
    assert len(deepest) >= 2
    assert deepest == sorted(deepest)


def test_heights_at_six_places_tell_more_than_their_mean():
    u = np.zeros(len(NAMES))
    check = checks_of(u, [1500], grade(120))[0][0]
    mean = float(np.mean([fall for fall in check.falls[:4] if fall is not None]))
    sixfold = learn_rate(GROUND, [replace(check, gaps=(), gap=None, cleaned=None)], TARGET, grade(120))
    alone = replace(check, gaps=(), gap=None, cleaned=None, falls=(), dropped=mean)
    single = learn_rate(GROUND, [alone], TARGET, grade(120))
    spread = [np.ptp(s.quantiles(s.depth)) for s in (sixfold, single)]
    assert spread[0] < 1.1 * spread[1]


def test_a_gap_on_every_line_tells_more_than_the_largest_alone():
    check = checks_of(np.zeros(len(NAMES)), [1500], grade(120))[0][0]
    bare = replace(check, falls=(), cleaned=None)
    five, one = (learn_rate(GROUND, [c], TARGET, grade(120)) for c in (bare, replace(bare, gaps=())))
    spread = [np.ptp(np.log(s.quantiles(s.strokes))) for s in (five, one)]
    assert spread[0] < spread[1]


@pytest.mark.parametrize("left", [0.02e-3, 0.05e-3, 0.09e-3])
def test_down_to_a_limit_means_that_the_deepest_hollow_left_is_the_limit(left):
    # the straightedge's gap is what the limit is held to: ISO 12781 by lines; common practice, no source
    sanding = learn_rate(GROUND, [], replace(TARGET, goal="limit", left=left), grade(120))
    hollow = hollows_left(sanding.factors, sanding.to_go).max(axis=0)
    assert np.median(hollow) == pytest.approx(left, abs=3e-6)
