"""Straightness by three definitions: exact data worked by hand, and what must hold for any profile."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from straighten.errors import BadInput
from straighten.shape.flatness import _least_squares, minimum_zone_line, resting_gaps, straightness

heights = st.lists(st.floats(-1, 1, allow_nan=False, width=32), min_size=3, max_size=24)


def three(x: object, z: object) -> tuple[float, float, float]:
    found = straightness(x, z)
    return found.end_point, found.least_squares, found.minimum_zone


@pytest.mark.parametrize(
    ("x", "z", "expected", "off"),
    [
        # cube on [-1, 1]: minimum zone by Chebyshev's third polynomial (derived)
        (np.linspace(-1, 1, 21), np.linspace(-1, 1, 21) ** 3, (0.768, 0.684, 0.5), 1e-9),
        # eight points worked by hand (derived): least squares slope 11/4200, minimum zone line 8/3 + x/300
        (np.arange(8) * 50, [0, 3, 5, 4, 6, 2, 1, 4], (44 / 7, 115 / 21, 16 / 3), 1e-12),
        # parabola of nine points: all three are its height (derived)
        (np.arange(9) * 50, 0.2 * (1 - (np.arange(9) / 4 - 1) ** 2), (0.2, 0.2, 0.2), 1e-12),
        # least squares can exceed end-point (derived)
        ([0, 100, 200, 300, 400], [0, 0.12, 0.20, 0.10, 0], (0.2, 0.204, 0.2), 1e-12),
    ],
)
def test_profiles_worked_by_hand(
    x: object, z: object, expected: tuple[float, float, float], off: float
) -> None:
    assert three(x, z) == pytest.approx(expected, abs=off)


def test_the_cube_has_its_closed_form_values_in_the_limit_of_many_points() -> None:
    coarse, fine = (three(x, x**3) for x in (np.linspace(-1, 1, 4001), np.linspace(-1, 1, 8001)))
    limit = [
        2 * f - c for c, f in zip(coarse, fine, strict=True)
    ]  # least squares nears its limit as 1 / points
    assert limit == pytest.approx(
        [4 / 27**0.5, 0.8, 0.5], abs=1e-6
    )  # 4/(3 sqrt 3), 4/5, 1/2 (derived, Chebyshev)


def test_the_reference_lines_of_the_eight_points_are_the_derived_ones() -> None:
    x, z = np.arange(8) * 50, np.array([0, 3, 5, 4, 6, 2, 1, 4])
    assert _least_squares(x, z)[0] == pytest.approx(11 / 4200, rel=1e-12)
    assert minimum_zone_line(x, z)[1:] == pytest.approx((1 / 300, 8 / 3), rel=1e-12)


def test_a_straightedge_rests_on_the_two_hull_points_about_the_middle() -> None:
    gaps = resting_gaps(np.arange(8) * 50, [0, 3, 5, 4, 6, 2, 1, 4])
    assert gaps[[0, 2, 4, 6, 7]] == pytest.approx([4, 0, 0, 6, 3.5])  # derived: it lies on x = 100 and 200
    assert (gaps >= 0).all()


@given(heights)
def test_the_minimum_zone_is_never_above_least_squares_or_end_point(z: list[float]) -> None:
    end, squares, zone = three(np.arange(len(z)), z)
    assert zone <= min(end, squares) + 1e-9


@given(heights)
def test_the_minimum_zone_is_the_linear_programme_s(z: list[float]) -> None:
    x, z = np.linspace(-1, 1, len(z)), np.array(z)
    rows = np.stack([np.ones_like(x), x, -np.ones_like(x)], axis=1)
    below = np.stack([-np.ones_like(x), -x, -np.ones_like(x)], axis=1)
    best = linprog(
        [0, 0, 1],
        A_ub=np.vstack([below, rows]),
        b_ub=np.concatenate([-z, z]),
        bounds=[(None, None)] * 2 + [(0, None)],
    )
    assert straightness(x, z).minimum_zone == pytest.approx(2 * best.fun, abs=1e-7)


@given(heights, st.floats(-0.5, 0.5), st.floats(-3, 3))
def test_no_straightness_changes_with_tilt_and_height(z: list[float], slope: float, up: float) -> None:
    x = np.arange(len(z))
    assert three(x, np.array(z) + slope * x + up) == pytest.approx(three(x, z), abs=1e-9)


@given(heights)
def test_no_straightness_changes_when_turned_over_or_end_for_end(z: list[float]) -> None:
    x = np.arange(len(z))
    assert three(x, -np.array(z)) == pytest.approx(three(x, z), abs=1e-12)
    assert three(x, z[::-1]) == pytest.approx(three(x, z), abs=1e-12)


@given(heights)
def test_all_points_lie_in_the_minimum_zone(z: list[float]) -> None:
    x = np.arange(len(z))
    width, slope, middle = minimum_zone_line(x, np.array(z))
    assert np.abs(np.array(z) - slope * x - middle).max() <= width / 2 + 1e-9


def test_two_thousand_points_take_less_than_fifty_milliseconds() -> None:
    x = np.linspace(-1, 1, 2000)
    profiles = (x**3, np.random.default_rng(1).normal(size=2000), 1 - x**2)
    for z in profiles:
        times = []
        for _ in range(5):
            start = time.perf_counter()
            straightness(x, z)
            times.append(time.perf_counter() - start)
        assert min(times) < 0.05


@pytest.mark.parametrize(
    ("x", "z"), [([0], [1]), ([1, 1], [0, 2]), ([0, 1], [0]), ([0, 1], [0, float("nan")])]
)
def test_what_is_no_profile_is_refused(x: list[float], z: list[float]) -> None:
    with pytest.raises(BadInput):
        straightness(x, z)
