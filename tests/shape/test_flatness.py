"""Flatness by three definitions: a twist worked by hand, and what must hold for any face."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from straighten.errors import BadInput
from straighten.shape.flatness import flatness

GRID = tuple(v.ravel() for v in np.meshgrid(np.linspace(-1, 1, 5), np.linspace(-1, 1, 3)))
faces = st.lists(st.floats(-1, 1, allow_nan=False, width=32), min_size=15, max_size=15).map(np.array)


def three(x: object, y: object, z: object) -> tuple[float, float, float]:
    found = flatness(x, y, z)
    return found.end_point, found.least_squares, found.minimum_zone


def test_a_pure_twist_of_corners_one_high_is_two_by_every_definition() -> None:
    x, y = np.array([-1, -1, 1, 1.0]), np.array([-1, 1, -1, 1.0])
    assert three(x, y, x * y) == pytest.approx((2, 2, 2), abs=1e-12)  # derived


def programmed(x: np.ndarray, y: np.ndarray, z: np.ndarray) -> float:
    """The zone by a general solver of linear programmes (HiGHS), the places centred for its sake."""
    rows = np.stack([np.ones_like(x), (x - x.mean()) / np.ptp(x), (y - y.mean()) / np.ptp(y)], axis=1)
    one = np.ones((x.size, 1))
    whole = linprog(
        [0, 0, 0, 1],
        A_ub=np.vstack([np.hstack([-rows, -one]), np.hstack([rows, -one])]),
        b_ub=np.concatenate([-z, z]),
        bounds=[(None, None)] * 3 + [(0, None)],
    )
    return 2 * float(whole.fun)


@settings(max_examples=40)
@given(faces)
def test_the_minimum_zone_is_never_above_the_others_and_is_the_linear_programme_s(z: np.ndarray) -> None:
    x, y = GRID
    end, squares, zone = three(x, y, z)
    assert zone <= min(end, squares) + 1e-7
    assert zone == pytest.approx(programmed(x, y, z), abs=1e-7)


def crowded(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    return rng.integers(0, 4, 30).astype(float), rng.integers(0, 3, 30).astype(float)


def scattered(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    return rng.uniform(0, 400, 40), rng.uniform(-70, 70, 40)


def nearly_in_line(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    x = rng.uniform(0, 1, 25)
    return x, 1e-3 * rng.normal(size=25) - 2 * x


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("places", [crowded, scattered, nearly_in_line])
@pytest.mark.parametrize("heights", ["any", "steps", "bow", "roof", "twist"])
def test_the_zone_is_the_linear_programme_s_where_points_and_heights_tie(
    places: Callable[[np.random.Generator], tuple[np.ndarray, np.ndarray]], heights: str, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    x, y = places(rng)
    u, v = x / np.ptp(x), y / np.ptp(y)
    z = {
        "any": rng.normal(size=x.size),
        "steps": rng.integers(-2, 3, x.size).astype(float),
        "bow": u**2,
        "roof": np.abs(v),
        "twist": u * v,
    }[heights]
    assert flatness(x, y, z).minimum_zone == pytest.approx(programmed(x, y, z), abs=1e-9)


@settings(max_examples=40)
@given(faces, st.floats(-0.5, 0.5), st.floats(-0.5, 0.5))
def test_flatness_does_not_change_with_tilt_turning_or_turning_over(
    z: np.ndarray, a: float, b: float
) -> None:
    x, y = GRID
    plain = three(x, y, z)
    assert three(x, y, z + a * x + b * y + 1) == pytest.approx(plain, abs=1e-7)
    assert three(x, y, -z) == pytest.approx(plain, abs=1e-7)
    assert three(-x, y, z) == pytest.approx(plain, abs=1e-7)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_two_thousand_points_take_less_than_fifty_milliseconds(seed: int) -> None:
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0, 400, 2000), rng.uniform(0, 150, 2000)
    z = [rng.normal(size=2000), x * y * 1e-5, (x / 400) ** 3][seed - 1]
    times = []
    for _ in range(5):
        start = time.perf_counter()
        flatness(x, y, z)
        times.append(time.perf_counter() - start)
    assert min(times) < 0.05


def test_a_flat_face_is_flat_and_a_line_of_points_is_no_face() -> None:
    x, y = GRID
    assert three(x, y, 3 + x - y) == pytest.approx((0, 0, 0), abs=1e-12)
    with pytest.raises(BadInput):
        flatness([0, 1, 2], [0, 1, 2], [0, 0, 1])


@settings(max_examples=40)
@given(faces, st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(-3, 3))
def test_the_highest_and_the_lowest_place_are_equally_far_from_the_plane_of_the_zone(
    z: np.ndarray, a: float, b: float, far: float
) -> None:
    # the plane halves the zone (ISO 12781-1, from memory), wherever the origin lies
    x, y = GRID[0] + far, GRID[1] - far
    found = flatness(x, y, z + a * x + b * y)
    level, along, across = found.minimum_zone_plane
    off = z + a * x + b * y - level - along * x - across * y
    assert off.max() == pytest.approx(found.minimum_zone / 2, abs=1e-7)
    assert off.min() == pytest.approx(-found.minimum_zone / 2, abs=1e-7)
