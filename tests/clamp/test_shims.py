"""Stacks of whole blades: nearest, second nearest, what is owned, what is soft."""

from __future__ import annotations

from collections import Counter
from itertools import combinations_with_replacement, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straighten.clamp.shims import CORNER_SHARE, LAYER_PRICE, SOFT_PRICE, countering, stackings
from straighten.errors import BadInput
from straighten.head.records import ShimBlade

MM = 1e-3


def blades(*rows, material="steel"):
    return [ShimBlade(thickness=t * MM, count=n, material=material) for t, n in rows]


SHOP = blades((0.05, 4), (0.10, 4), (0.15, 2), (0.20, 4), (0.30, 4))


def used(stacking):
    return Counter((b.thickness, b.material) for stack in stacking.stacks for b in stack.blades)


def brute_force(targets, owned):
    """Look at every combination of every stack: the judge for small sets of blades."""
    kinds = [(b.thickness, b.material) for b in owned]
    counts = Counter({(b.thickness, b.material): b.count for b in owned})
    stacks = [s for n in range(4) for s in combinations_with_replacement(kinds, n) if not Counter(s) - counts]
    best = np.inf
    for four in product(stacks, repeat=4):
        if sum((Counter(s) for s in four), Counter()) - counts:
            continue
        errors = [sum(t for t, _ in s) - target for s, target in zip(four, targets, strict=True)]
        extra = [
            LAYER_PRICE.value * len(s) + SOFT_PRICE.value * sum(m != "steel" for _, m in s) for s in four
        ]
        price = 4 * np.mean(errors) ** 2 + (errors[0] - errors[1]) ** 2 + (errors[2] - errors[3]) ** 2
        price += sum(CORNER_SHARE.value * e**2 + x**2 for e, x in zip(errors, extra, strict=True))
        best = min(best, price)
    return best


@settings(max_examples=15, deadline=None)
@given(
    rows=st.lists(
        st.tuples(st.integers(1, 12), st.integers(1, 3)), min_size=1, max_size=2, unique_by=lambda r: r[0]
    ),
    soft=st.booleans(),
    target=st.lists(st.integers(0, 30), min_size=2, max_size=2),
)
def test_the_search_finds_the_true_optimum(rows, soft, target):
    owned = blades(*[(0.025 * t, n) for t, n in rows], material="brass" if soft else "steel")
    targets = [target[0] * 1e-5] * 2 + [target[1] * 1e-5] * 2
    found = stackings(targets, owned)[0]
    assert found.price == pytest.approx(brute_force(targets, owned), rel=1e-9, abs=1e-24)


@settings(max_examples=40, deadline=None)
@given(target=st.floats(0, 0.6), twist=st.floats(-0.1, 0.1))
def test_no_stack_is_over_three_layers_and_no_blade_is_used_twice(target, twist):
    height = max(target, abs(twist)) * MM
    owned = {(b.thickness, b.material): b.count for b in SHOP}
    for stacking in stackings(countering(height, twist * MM), SHOP):
        assert all(len(s.blades) <= 3 for s in stacking.stacks)
        assert all(n <= owned[kind] for kind, n in used(stacking).items())


def test_an_exact_height_is_laid_with_the_fewest_layers():
    best = stackings((0.20 * MM,) * 4, SHOP)[0]
    assert best.shims == pytest.approx((0.20 * MM,) * 4)
    assert all(len(s.blades) == 1 for s in best.stacks)
    assert best.over_bend_error == pytest.approx(0.0, abs=1e-12)


def test_blades_run_out_and_thinner_ones_fill_in():
    best = stackings((0.15 * MM,) * 4, SHOP)[0]
    assert best.shims == pytest.approx((0.15 * MM,) * 4)
    assert used(best)[(0.15 * MM, "steel")] == 2  # two owned, the other corners get 0.10 + 0.05


def twist_error(stacking):
    """Half the difference of the diagonals' errors [m]."""
    a, b, c, d = (s.error for s in stacking.stacks)
    return (a - b - c + d) / 4


def test_between_two_blades_the_mean_is_met_by_unlike_ends_with_equal_sides():
    best, second = stackings((0.17 * MM,) * 4, SHOP)
    assert abs(best.over_bend_error) < 0.006 * MM
    assert best.shims[0] == pytest.approx(best.shims[1])
    assert best.shims[2] == pytest.approx(best.shims[3])
    assert twist_error(best) == pytest.approx(0.0, abs=1e-12)
    assert second.price >= best.price
    assert second.shims != pytest.approx(best.shims)


def test_hard_steel_goes_before_soft_metal_unless_it_is_far_off():
    both = [*blades((0.20, 4)), *blades((0.21, 4), material="brass")]
    near = stackings((0.21 * MM,) * 4, both)[0]
    assert not any(s.soft for s in near.stacks)
    assert near.over_bend_error == pytest.approx(-0.01 * MM)
    far = stackings((0.25 * MM,) * 4, [*blades((0.20, 4)), *blades((0.25, 4), material="brass")])[0]
    assert all(s.soft for s in far.stacks)
    assert "creeps" in far.stacks[0].words()


def test_counter_twist_lifts_the_two_low_corners():
    heights = countering(0.20 * MM, 0.05 * MM)
    assert heights == pytest.approx((0.15 * MM, 0.25 * MM, 0.25 * MM, 0.15 * MM))
    best = stackings(heights, SHOP)[0]
    assert best.shims == pytest.approx(heights)
    with pytest.raises(BadInput):
        countering(0.05 * MM, 0.10 * MM)


def test_a_height_out_of_reach_is_answered_with_its_error():
    best = stackings((2.0 * MM,) * 4, blades((0.1, 4)))[0]
    assert best.over_bend_error == pytest.approx(-1.9 * MM)
    assert all(len(s.blades) == 1 for s in best.stacks)


def test_without_blades_the_head_lies_bare():
    best = stackings((0.1 * MM,) * 4, [])
    assert len(best) == 1
    assert best[0].shims == (0, 0, 0, 0)
    assert best[0].stacks[0].words() == "front exhaust: no shim"


@pytest.mark.parametrize(
    "targets", [(0.1 * MM,) * 3, (-0.1 * MM,) * 4, (1.0,) * 4, (0.1 * MM, 0.1 * MM, 0.1 * MM, -0.1 * MM)]
)
def test_absurd_heights_are_refused(targets):
    with pytest.raises(BadInput):
        stackings(targets, SHOP)


def test_a_shop_with_inch_blades_is_answered_quickly_and_closely():
    inch = blades(*[(0.0254 * k, 2) for k in range(1, 26)])
    best = stackings((0.287 * MM,) * 4, inch)[0]
    assert abs(best.over_bend_error) < 0.013 * MM
    assert abs(twist_error(best)) < 0.007 * MM
