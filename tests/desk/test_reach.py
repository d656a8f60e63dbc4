"""A head that these tools do not bring straight is told which one thing would, by what a head that owns it is told."""

from dataclasses import replace

import pytest

from straighten.desk.deciding import USUAL_OVEN, reach_turns
from straighten.desk.dossier import default_dossier
from straighten.desk.job import Job
from tests.shape.builders import state, survey

CROWNED = state(deck_bow=-0.25, cam_bow=-0.25)


@pytest.fixture(scope="module")
def crowned():
    dossier = default_dossier()
    readings = survey(CROWNED, dossier.head)
    return replace(dossier, told=(readings,), surveys=(readings,))


def test_a_crowned_head_without_an_oven_is_told_what_one_would_bring(crowned):
    job = Job(crowned)
    assert job.judgement.next_step == "hand it on"  # spots on the cam side pull the middle further down
    (line,) = reach_turns(job)
    owner = Job(replace(crowned, head=replace(crowned.head, oven=USUAL_OVEN)))
    assert owner.judgement.next_step == "heat"
    assert owner.next_pass.setup.clamp.reverse
    assert line.startswith("With an oven of 230 C")
    assert f"{100 * owner.whole.chance:.0f} % to end straight" in line
    assert owner.whole.chance > 0.5


def test_a_head_that_ends_straight_with_these_tools_is_told_of_no_others(crowned):
    assert reach_turns(Job(default_dossier())) == ()


@pytest.mark.parametrize("deck", [-0.30, 0.34])
def test_a_straight_cam_line_under_a_deep_deck_is_offered_no_tool_to_bend_it(crowned, deck):
    """What flattens the deck bends the cam line: both come down together (geometry)."""
    readings = survey(state(deck_bow=deck, cam_bow=0.0), crowned.head)
    job = Job(replace(crowned, told=(readings,), surveys=(readings,)))
    assert job.judgement.decided.kind == "deck too deep to sand"
    assert reach_turns(job) == ()
