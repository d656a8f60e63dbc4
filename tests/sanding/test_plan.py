"""The sanding plan's metal: what the finer papers and earlier sandings take is not there for the first paper."""

from dataclasses import replace

import numpy as np
import pytest

from straighten.plan.loss import metal_to_sand
from straighten.sanding.lap import grade, roughness, scratch_allowance
from straighten.sanding.learning import Target, learn_rate
from straighten.sanding.plan import Wanted, sanding_plan
from straighten.shape import fit_shape
from tests.desk.test_finishing import HEAD, survey

SHAPE = fit_shape(survey(bow=1.0e-4), HEAD)


def with_metal(left):
    """Return the head with so much that may come off its deck [m]."""
    return replace(HEAD, limits=replace(HEAD.limits, left=left))


@pytest.mark.parametrize("left", [0.150e-3, 0.142e-3])
def test_a_plan_fits_where_bow_and_finer_papers_fit_together(left):
    # metal off the deck adds up, whichever paper takes it; derived
    plan = sanding_plan(with_metal(left), SHAPE, Wanted(goal="clean-up"))
    wanted = plan.face.depth_for("clean-up", 0.0) + 6 * roughness(
        125e-6
    )  # P120's scratches, six times Ra deep
    expected = float(np.mean(wanted <= left))
    assert 0.1 < expected < 0.9
    assert plan.fits == pytest.approx(expected, abs=1e-9)
    assert plan.allowed == pytest.approx(left)


def test_the_first_paper_leaves_the_finer_ones_their_metal():
    # with so much less to begin with and nothing kept back it may go as far; derived
    plan = sanding_plan(with_metal(0.08e-3), SHAPE, Wanted(goal="clean-up"))
    assert plan.allowance > 0.01e-3
    less = Target(goal="clean-up", left=0.0, allowed=0.08e-3 - plan.allowance)
    same = learn_rate(plan.ground, [], less, plan.grits[0])
    assert plan.sanding.stop == same.stop
    assert plan.sanding.safe_strokes == pytest.approx(same.safe_strokes, rel=1e-9)


def test_it_is_the_first_paper_s_scratches_that_must_go():
    # peak to valley six times Ra; each finer paper clears those before it (common practice, no source)
    coarse, middle, fine = grade(120), grade(180), grade(280)
    assert scratch_allowance((coarse, middle, fine)) == pytest.approx(6 * roughness(coarse.size))
    assert scratch_allowance((middle, fine)) < scratch_allowance((coarse, fine))
    assert scratch_allowance((fine,)) == 0.0


@pytest.mark.parametrize("bow", [1.0e-4, 2.0e-4, -1.5e-4])
def test_the_metal_that_decides_a_job_is_what_the_sanding_plan_takes(bow):
    # geometry of a parabola under a straightedge is the plan's; the judgement counts by flatness and limit alone
    head = with_metal(1.0e-3)
    plan = sanding_plan(head, fit_shape(survey(bow=bow), head), Wanted())
    told = metal_to_sand(head, np.array([plan.height[1]]))[0]
    assert told == pytest.approx(plan.depth[1] + plan.allowance, abs=20e-6)
