"""The tension that brings a gap: the quick way, the slow way, and where there is none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from straighten.clamp import ClampSetup, clamp_head, pull
from straighten.clamp.contact import Flexibility, Loads
from straighten.errors import OutsideModel
from tests.clamp.benches import draws, random_bench


@pytest.mark.parametrize("seed", range(12))
def test_bracketing_agrees_with_the_one_equation(seed, monkeypatch):
    rng = np.random.default_rng(900 + seed)
    head, state, setup = random_bench(rng)
    while setup.reverse:
        head, state, setup = random_bench(rng)
    setup = replace(
        setup, gap=float(rng.choice([0.0, 3e-5, 1e-4])), tension=None, bolts=tuple(range(len(head.bolts)))
    )
    states = state + rng.normal(size=(20, 11)) * 2e-5
    response = draws(np.exp(rng.normal(0, 0.3, 20)))
    quick = clamp_head(head, states, setup, response)
    monkeypatch.setattr(pull, "QUICK_SWAPS", 0)
    slow = clamp_head(head, states, setup, response)
    assert slow.bolt_tension == pytest.approx(quick.bolt_tension, rel=1e-5, abs=0.5)
    assert slow.gap == pytest.approx(quick.gap, abs=1e-9)


def pulled(opened: int, count: int) -> np.ndarray:
    """Three points that carry the head; the pull lifts the gauged fourth in so many of the draws, and lowers it in the rest."""
    flexibility = Flexibility(
        head=np.eye(4) * 1e-9,
        base=np.zeros((4, 4)),
        rigid=np.array([[1.0, 0.0, -0.07], [1.0, 0.0, 0.07], [0.0, 1.0, 0.0], [0.5, 0.5, 0.0]]),
        stiffness=np.ones(count),
    )
    per_newton = np.zeros((count, 4))
    per_newton[:, 3] = np.where(np.arange(count) < opened, 1e-8, -1e-8)
    rest = Loads(
        gaps=np.tile([0.0, 0.0, 0.0, 1e-4], (count, 1)), carried=np.tile([50.0, 50.0, 0.0], (count, 1))
    )
    lifts = Loads(gaps=per_newton, carried=np.zeros((count, 3)))
    wish = pull.Pull(unit=lifts, measured=np.array([3]), wanted=np.zeros(count))
    start = np.tile([True, True, True, False], (count, 1))
    return pull.pull_to_gap(flexibility, rest, wish, start)[0]


def test_a_pull_that_opens_the_gap_is_told():
    with pytest.raises(OutsideModel, match="does not close the gap"):
        pulled(opened=2, count=2)


def test_one_odd_draw_does_not_decide_for_all_and_is_held_over_any_bolt_s_load():
    tension = pulled(opened=2, count=20)
    assert tension[:2] == pytest.approx([pull.HELD] * 2)
    sunk = 37.5e-9  # under 25, 25 and 50 N at a nanometre a newton, half way between
    assert tension[2:] == pytest.approx([(1e-4 - sunk) / 1e-8] * 18)  # 10 nm a newton
    with pytest.raises(OutsideModel, match="does not close the gap"):
        pulled(opened=3, count=20)


def test_reverse_pulls_are_gauged_at_the_ends():
    rng = np.random.default_rng(77)
    head, state, setup = random_bench(rng)
    while not setup.reverse:
        head, state, setup = random_bench(rng)
    pulled = replace(setup, gap=2e-5, tension=None, shims=(3e-4,) * 4)
    assert isinstance(pulled, ClampSetup)
    clamped = clamp_head(head, state, pulled, draws([0.8, 1.2]))
    assert clamped.gap.mean(axis=1) == pytest.approx([2e-5, 2e-5], abs=1e-10)
    assert (clamped.bend < 0).all()
