"""The deck as the paper meets it: minimum zone, bearing curve in closed form, where it shines first."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from straighten.sanding.face import (
    COLUMNS,
    DEPTHS,
    FALLS,
    MEAN,
    ROWS,
    SHARE,
    area_weights,
    depth_reaching,
    face_of_states,
    settle,
    zone_planes,
)
from straighten.sanding.plan import shine_of
from straighten.shape.flatness import flatness
from straighten.shape.modes import INDEX, STATE, deck_rows

HAIR = 3e-8  # moment over area of the plane laid between two levels that do balance [m]
SHAPES = st.lists(st.floats(-2e-4, 2e-4), min_size=7, max_size=7)


def state(**parts: float) -> np.ndarray:
    found = np.zeros(len(STATE))
    for name, value in parts.items():
        found[INDEX[name]] = value
    return found


@settings(max_examples=25, deadline=None)
@given(SHAPES)
def test_zone_agrees_with_the_linear_programme_of_iso_12781(parts):
    one = np.concatenate([parts, np.zeros(4)])
    face = face_of_states(one[None, :])
    exact = flatness(face.xi, face.eta, deck_rows(face.xi, face.eta) @ one).minimum_zone
    assert face.zone[0] >= exact - 1e-9
    assert face.zone[0] <= max(1.04 * exact, exact + 1.1e-6)


def test_zone_of_a_saddle_is_two_where_the_corners_are_one():
    """z = x y on a square: minimum zone 2 (derived)."""
    xi, eta = (v.ravel() for v in np.meshgrid(np.linspace(0, 1, 5), np.linspace(-1, 1, 5)))
    _, height = zone_planes(xi, eta, ((2 * xi - 1) * eta)[None, :])
    assert height[0] == pytest.approx(2.0, rel=5e-3)


def test_a_tilted_flat_face_has_no_zone():
    xi, eta = (v.ravel() for v in np.meshgrid(np.linspace(0, 1, 5), np.linspace(-1, 1, 5)))
    _, height = zone_planes(xi, eta, (3 + 2 * xi - eta)[None, :])
    assert height[0] == pytest.approx(0.0, abs=1e-9)


def test_bearing_curve_of_a_hollow_deck_in_closed_form():
    """A parabola's ends stand proud by h (2 u - 1)^2: cut mean d - 1/3 ... (derived by integration).

    Share cut 1 - sqrt(1 - d) and mean cut d - 2/3 (1 - (1 - d)^1.5) over h, at the depth d over h.
    """
    face = face_of_states(state(deck_bow=2e-4)[None, :])
    share = 1 - np.sqrt(1 - DEPTHS)
    mean = 1 / 3 - (1 - DEPTHS) + 2 / 3 * (1 - DEPTHS) ** 1.5
    assert face.height[0] == pytest.approx(2e-4, rel=1e-6)
    np.testing.assert_allclose(face.curves[0, MEAN], mean, atol=1.5e-3)
    np.testing.assert_allclose(face.curves[0, SHARE, 2:-3], share[2:-3], atol=0.06)
    np.testing.assert_allclose(face.curves[0, FALLS][:4], np.tile(DEPTHS, (4, 1)), atol=1e-6)
    np.testing.assert_allclose(face.curves[0, FALLS][4:, :-1], 0.0, atol=1e-6)  # the middles are the lowest


@settings(max_examples=15, deadline=None)
@given(SHAPES, st.floats(0.05, 0.95))
@example(
    [0, 1.6956360626256661e-4, 0, 0, 0, 1.3472106395904444e-4, 0], 0.0625
)  # three places carry so little
@example(
    [2e-4, -1.417589549099202e-5, 0, -2e-4, 0, -1.0872630408509286e-4, 0], 0.193
)  # whole steps go round in circles
def test_the_metal_worn_off_has_no_moment_about_the_middle(parts, share):
    """Wear goes with pressure, and a head under its own weight presses without a moment (Preston; statics, derived)."""
    face = face_of_states(np.concatenate([parts, np.zeros(4)])[None, :])
    laid = DEPTHS[np.abs(DEPTHS - share).argmin()]
    for depth, along, across in (
        (laid, 0.02, 0.02),
        (share, 0.05, 0.15),
    ):  # between two depths planes are mixed
        cut = face.removal(depth * face.height)[0] * area_weights()
        assert abs(cut @ (face.xi - 0.5)) <= along * cut.sum() + HAIR
        assert abs(cut @ face.eta) <= across * cut.sum() + HAIR


def test_the_head_lies_balanced_from_the_first_hair_on():
    """The same at the planes themselves, down to less than a millionth of the whole cut (statics, derived)."""
    parts = np.random.default_rng(7).choice([-2e-4, -7e-5, 0.0, 0.0, 1.1e-4, 2e-4], (300, 7))
    xi, eta = (
        v.ravel() for v in np.meshgrid(np.linspace(0, 1, COLUMNS), np.linspace(-1, 1, ROWS), indexing="ij")
    )
    metal, columns = parts @ deck_rows(xi, eta)[:, :7].T, np.stack([np.ones_like(xi), xi, eta], axis=1)
    metal = metal[np.ptp(metal, axis=1) > 0]
    cut = (
        np.maximum(metal[:, None] - settle(columns, metal, area_weights()) @ columns.T, 0.0) * area_weights()
    )
    whole = cut.sum(axis=2)
    assert (whole[:, 0] < 1e-6 * whole[:, -1]).all()
    for arm in (xi - 0.5, eta):
        assert (np.abs(cut @ arm) <= 1e-3 * whole + 1e-15).all()


def test_full_clean_up_lies_along_the_least_squares_plane():
    shape = state(deck_bow=1e-4, deck_skew=8e-5, twist=2e-5)
    face = face_of_states(shape[None, :])
    exact = flatness(face.xi, face.eta, deck_rows(face.xi, face.eta) @ shape).least_squares
    assert face.height[0] == pytest.approx(exact, rel=0.02)
    assert face.height[0] >= face.zone[0] - 1e-9


def test_full_clean_up_takes_the_zone_off_the_highest_place_and_nothing_off_the_lowest():
    face = face_of_states(np.stack([state(deck_bow=1e-4, twist=3e-5), state(deck_bow=-1e-4, deck_side=4e-5)]))
    cut = face.removal(face.height)
    np.testing.assert_allclose(cut.max(axis=1), face.height, rtol=1e-9)
    np.testing.assert_allclose(cut.min(axis=1), 0.0, atol=1e-12)


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"deck_bow": 2e-4}, "both ends"),
        ({"deck_bow": -2e-4}, "the middle, right across"),
        ({"deck_bow": 1.5e-4, "deck_side": -1.0e-4}, "the two ends of the exhaust edge"),
        ({"deck_bow": 1.5e-4, "deck_side": 1.0e-4}, "the two ends of the inlet edge"),
        ({"twist": 1e-4}, "the front inlet and the rear exhaust corner, crosswise (twist)"),
        ({"twist": -1e-4}, "the front exhaust and the rear inlet corner, crosswise (twist)"),
        ({"dish": -1e-4}, "the centre line from end to end"),
    ],
)
def test_where_it_shines_first_in_words(parts, words):
    assert shine_of(face_of_states(state(**parts)[None, :])).words == words


def test_map_turns_with_the_head():
    one = state(deck_bow=1e-4, deck_skew=5e-5, twist=2e-5)
    turned = state(deck_bow=1e-4, deck_skew=-5e-5, twist=2e-5)  # end for end and side for side
    here, there = (shine_of(face_of_states(s[None, :])).grid for s in (one, turned))
    np.testing.assert_allclose(here, there[::-1, ::-1], atol=3e-6)


def test_a_straight_curve_is_reached_where_it_is_read():
    # y = x comes to a value at that value, at once where the value is nought, at the end where it never does; by hand
    value = np.array([0.0, 0.003, 0.012, 0.3, 0.999, 2.0])
    straight = np.tile(DEPTHS, (value.size, 1))
    assert depth_reaching(straight, value) == pytest.approx([0.0, 0.003, 0.012, 0.3, 0.999, 1.0], abs=1e-12)
