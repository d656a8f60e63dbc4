"""What is believed before anything is measured is no surer than what the trade and the elements leave open."""

import math

import numpy as np
import pytest

from straighten.belief.priors import PUBLISHED, priors_for
from straighten.head import head_from_text, template_head

EIGHT_IN_TEN = 1.2815515655446004  # of a normal distribution, either way


def prior(name, priors=PUBLISHED):
    return next(p for p in priors if p.name == name)


@pytest.mark.parametrize("ratio", [1.0, 1.7])
def test_the_cam_line_may_move_as_a_beam_does_or_as_in_one_job_of_the_trade(ratio):
    # a beam moves deck and cam line alike: derived; 1.7 in one job told: common practice, no source
    one = prior("cam_ratio")
    low, high = (one.centre * math.exp(sign * EIGHT_IN_TEN * one.spread) for sign in (-1, 1))
    assert low < ratio < high


def test_heads_differ_in_what_they_keep_as_much_as_the_rules_of_the_trade():
    # shims of half the bow mean that two thirds of the bend stay, of the whole bow that half does: common practice, no
    # source; the standard deviation of two values is their difference over the root of two
    assert prior("kept").spread >= math.log((2 / 3) / (1 / 2)) / math.sqrt(2)


def test_a_spot_is_known_no_better_than_its_parts():
    # radius by eye, roof told, peak by hand, what elements of a box do not know of castings: log standard deviations of
    # docs/theory/heat.md, from own 3D elements' exponents; the alloy's own yield comes on top
    text = template_head()
    head = head_from_text(text, "told")
    assert prior("shrinkage", priors_for(head)).spread == pytest.approx(
        math.hypot(0.29, 0.17, 0.20, 0.186 * (1.0 if head.casting.roof_assumed else 0.3), head.alloy.spread),
        rel=0.03,
    )


def test_friction_of_greased_threads_holds_what_the_standard_allows():
    # VDI 2230 class B, 0.08 to 0.16, and dry 0.14 to 0.24: from memory
    one = prior("friction")
    low, high = (one.centre * math.exp(sign * EIGHT_IN_TEN * one.spread) for sign in (-1, 1))
    assert low <= 0.11
    assert high >= 0.16
    assert np.log(0.24 / one.centre) / one.spread > 2  # and hardly more than that
