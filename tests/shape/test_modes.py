"""The modes that a shape is made of: where they stand highest, and which way."""

import numpy as np
import pytest

from straighten.shape.modes import CAM, DECK, INDEX, STATE, cam_rows, deck_rows, skew_mode, track
from straighten.shape.seats import spot_of
from tests.shape.builders import head

ALONG = np.linspace(0, 1, 1001)


def test_the_skew_stands_one_high_in_the_front_half():
    # u (1 - u) (1 - 2 u) is steepest where 6 u^2 - 6 u + 1 = 0: sqrt 3 / 18 at u = (3 - sqrt 3) / 6; derived
    top = (3 - np.sqrt(3)) / 6
    assert skew_mode(top) == pytest.approx(1.0, rel=1e-12)
    assert skew_mode(1 - top) == pytest.approx(-1.0, rel=1e-12)
    assert np.abs(skew_mode(ALONG)).max() <= 1.0
    assert skew_mode([0.0, 0.5, 1.0]) == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize(("rows", "name"), [(deck_rows, "deck_skew"), (cam_rows, "cam_skew")])
def test_a_skewed_line_is_as_high_as_its_number_says(rows, name):
    state = np.zeros(len(STATE))
    state[INDEX[name]] = 3e-5
    line = rows(ALONG, 0.0) @ state
    assert line.max() == pytest.approx(3e-5, rel=1e-5)
    assert ALONG[line.argmax()] < 0.5


def test_deck_and_cam_line_share_out_the_numbers_of_a_shape():
    names = np.array(STATE)
    assert all(name.startswith("cam_") for name in names[CAM])
    assert not any(name.startswith("cam_") for name in names[DECK])
    assert [*names[DECK], *names[CAM]] == list(STATE)


@pytest.mark.parametrize(("part", "name"), [("deck", "inlet edge"), ("cam", "single")])
def test_readings_a_thumb_apart_meet_the_same_metal_and_others_do_not(part, name):
    # 15 mm, assumed: half a thumb either way
    run = track(part, name, head())
    places = [spot_of(run, share) for share in ALONG]
    assert len(set(places)) == pytest.approx(run.length / 15e-3, abs=2)


def test_lines_that_cross_meet_the_same_metal_where_they_cross():
    middle, diagonal = (track("deck", name, head()) for name in ("centre", "front exhaust to rear inlet"))
    assert spot_of(middle, 0.5) == spot_of(diagonal, 0.5)
    assert spot_of(middle, 0.3) != spot_of(diagonal, 0.3)
