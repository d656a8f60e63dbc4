"""Tightening logs and passes in one posterior: the log's likelihood times the draws' weights is Bayes' rule, whatever the order."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from straighten.belief.blades import TighteningLog, with_tightenings
from straighten.belief.learn import learn
from straighten.belief.posterior import effective_draws
from straighten.clamp import ClampSetup
from straighten.clamp.tightening import torque_cap
from straighten.clamp.tightening_log import Reading, Weighed, log_likelihood, replay
from straighten.head import head_from_text
from straighten.heat import nominal
from straighten.plan.candidates import bolt_sets
from straighten.readings import read_survey

FOLDER = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"
HEAD = head_from_text((FOLDER / "head.toml").read_text(encoding="utf-8"), "example")
CLAMP = ClampSetup(shims=(0.15e-3,) * 4, bolts=bolt_sets(HEAD)[-1], gap=0.0)
TORQUES = (6.0, 9.0, 12.0)


@pytest.fixture(scope="module")
def belief():
    return learn(HEAD, (read_survey(FOLDER / "survey-1.toml", HEAD),), (), count=512)


def logged(belief, stiffness, friction):
    """What the blades find on a head that is stiffer or rougher than the tables, its bow as believed."""
    state = (belief.draws.weights @ belief.draws.states)[None]
    truth = replace(nominal(), stiffness=np.array([stiffness]), friction=np.array([friction]))
    sham = [Reading(torque=t, goes=0.0, does_not=None) for t in TORQUES]
    blades = np.array(sorted(HEAD.gauge_blades))
    readings = []
    for torque, gap in zip(TORQUES, replay(HEAD, state, CLAMP, truth, sham).gap[0], strict=True):
        goes = blades[blades <= gap].max(initial=0.0)
        readings.append(Reading(torque=torque, goes=float(goes), does_not=float(blades[blades > gap].min())))
    return TighteningLog(stage=0, setup=CLAMP, readings=tuple(readings))


def product(belief):
    logs = np.log(belief.draws.response.stiffness * belief.draws.response.friction)
    mean = float(belief.draws.weights @ logs)
    return mean, float(np.sqrt(belief.draws.weights @ (logs - mean) ** 2))


def test_torque_and_gap_narrow_the_product_of_stiffness_and_friction_about_the_truth(belief):
    after = with_tightenings(HEAD, belief, (logged(belief, 1.25, 0.16),))
    mean, sd = product(after)
    assert sd < 0.6 * product(belief)[1]
    assert abs(mean - np.log(1.25 * 0.16)) < 2.5 * sd


def test_the_weights_are_prior_times_likelihood(belief):
    # Bayes' rule on draws (derived)
    log = logged(belief, 1.0, 0.14)
    played = replay(HEAD, belief.history[0], CLAMP, belief.draws.response, log.readings)
    by_hand = belief.draws.weights * np.exp(log_likelihood(played, log.readings))
    assert with_tightenings(HEAD, belief, (log,)).draws.weights == pytest.approx(
        by_hand / by_hand.sum(), abs=1e-12
    )


def test_a_round_over_the_most_torque_teaches_nothing(belief):
    """Common practice, no source: a bolt past three quarters of its proof load may have yielded."""
    log = logged(belief, 1.1, 0.15)
    past = Reading(torque=1.5 * torque_cap(HEAD, CLAMP).torque, goes=0.0, does_not=4e-5)
    over = replace(log, readings=(*log.readings, past), load=Weighed(load=9e4, doubt=5e3, after=4))
    one, two = (with_tightenings(HEAD, belief, (each,)) for each in (log, over))
    assert one.draws.weights == pytest.approx(two.draws.weights, abs=1e-12)


def test_two_logs_teach_the_same_in_either_order(belief):
    one, two = logged(belief, 1.1, 0.12), logged(belief, 1.1, 0.17)
    first, second = (with_tightenings(HEAD, belief, pair) for pair in ((one, two), (two, one)))
    assert first.draws.weights == pytest.approx(second.draws.weights, abs=1e-12)


def test_a_log_that_no_draw_explains_is_kept_with_a_caveat(belief):
    slack = [Reading(torque=t, goes=0.30e-3, does_not=0.35e-3) for t in (6.0, 12.0, 30.0)]
    after = with_tightenings(HEAD, belief, (TighteningLog(stage=0, setup=CLAMP, readings=tuple(slack)),))
    assert any("does not fit" in caveat for caveat in after.caveats)
    assert effective_draws(after.draws.weights) == pytest.approx(after.effective)
