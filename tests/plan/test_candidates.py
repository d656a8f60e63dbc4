"""Which set-ups are looked at, which of them a first pass may use, and which are shown; common practice, no source."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from straighten.clamp import ClampSetup
from straighten.head import head_from_text, template_head
from straighten.plan.alternatives import different
from straighten.plan.candidates import bolt_sets, finer_clamps, middle_bolts
from straighten.plan.weighing import gentle
from straighten.shape.modes import INDEX

HEAD = head_from_text(template_head(), "template")


def away(bolts, head=HEAD):
    """Distances of bolts from the middle [m]."""
    return sorted(round(abs(head.bolts[n].station - head.casting.length / 2), 4) for n in bolts)


def test_more_bolts_pull_by_the_next_ones_out_on_either_side():
    first, wider = bolt_sets(HEAD)
    assert set(first) == set(middle_bolts(HEAD))
    assert set(first) < set(wider)
    added = set(wider) - set(first)
    assert min(away(added)) > max(away(first))
    left = set(range(len(HEAD.bolts))) - set(wider)
    assert min(away(left)) > max(away(wider))  # none is passed over
    middle = HEAD.casting.length / 2
    sides = [np.sign(HEAD.bolts[n].station - middle) for n in added]
    assert sum(sides) == 0  # as many in front as behind


def test_bolts_that_are_far_out_do_not_pull_with_the_middle():
    # over a third of the length from the middle they hold the shims' ends down
    few = replace(
        HEAD, bolts=tuple(b for n, b in enumerate(HEAD.bolts) if away([n])[0] < 0.01 or away([n])[0] > 0.15)
    )
    assert bolt_sets(few) == [middle_bolts(few)]


def test_two_gaps_that_blades_owned_can_tell_are_tried_in_the_place_of_none():
    clamp = ClampSetup(shims=(2e-4,) * 4, bolts=middle_bolts(HEAD), gap=0.0)
    gaps = {one.gap for one in finer_clamps(HEAD, clamp, 0.0)} - {0.0}
    assert len(gaps) == 2
    for gap in gaps:
        assert any(gap == pytest.approx(blade) for blade in HEAD.gauge_blades)
        assert gap < clamp.shims[0]  # the head is bent yet


@pytest.mark.parametrize(
    ("over", "passes", "may"),
    [(0.02e-3, 0, True), (0.06e-3, 0, True), (0.15e-3, 0, False), (0.15e-3, 1, True)],
)
@pytest.mark.parametrize("direction", [1, -1])
def test_a_first_pass_bends_past_straight_by_a_quarter_of_the_bow_at_most(over, passes, may, direction):
    states = np.zeros((4, 11))
    states[:, INDEX["deck_bow"]] = direction * 0.3e-3
    draws = SimpleNamespace(states=states, weights=np.full(4, 0.25))
    ask = SimpleNamespace(draws=draws, done=SimpleNamespace(passes=passes))
    assert gentle(ask, SimpleNamespace(over_bend=np.full(4, over))) is may


def test_two_others_at_most_are_shown_beside_the_best():
    # three are as many as a person compares
    ranked = [
        SimpleNamespace(
            loss=0.1 * k, work=4.0 * k, left=5e-5, hardness=90.0, chances=SimpleNamespace(both=0.5)
        )
        for k in range(6)
    ]
    assert different(ranked[0], ranked) == ranked[1:3]
