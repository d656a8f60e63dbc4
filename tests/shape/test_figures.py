"""Pictures: what is drawn is what was read and what is believed, and the same survey gives the same bytes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from straighten.readings.records import Readings
from straighten.shape import fit_shape
from straighten.shape.profiles import cam_profile, deck_surface
from straighten.sheet.figures import draw_figure
from straighten.sheet.figures.shape import ShapePicture
from tests.shape.builders import STATIONS, blank_line, dial, head, read, state, survey, twin_cam_head

if TYPE_CHECKING:
    from straighten.head.records import Head

TRUTH = state(deck_bow=0.3, twist=0.02, cam_bow=0.25)


def test_the_map_shows_the_middle_hollow_and_every_deck_reading() -> None:
    readings = survey(TRUTH)
    surface = deck_surface(readings, head(), fit_shape(readings, head()))
    middle = surface.height[surface.height.shape[0] // 2, surface.height.shape[1] // 2]
    assert middle > 0.85 * surface.height.max() > 0
    assert np.ptp(surface.height) == pytest.approx(0.3e-3, rel=0.2)
    assert len(surface.marks) == sum(len(line.brackets) for line in readings.lines if line.part == "deck")
    half = (
        head().casting.width / 2
    )  # edges are read near the rim, the centre in the middle, nothing beside the head
    assert {round(mark.across / half, 1) for mark in surface.marks} >= {-0.9, 0.0, 0.9}
    assert max(abs(mark.across) for mark in surface.marks) <= half + 1e-9
    # the map is as large as the deck, and every mark lies on it
    assert (surface.station[0], surface.station[-1]) == pytest.approx((0.0, head().casting.length))
    assert (surface.across[0], surface.across[-1]) == pytest.approx((-half, half))
    assert all(surface.station[0] <= mark.station <= surface.station[-1] for mark in surface.marks)


@pytest.mark.parametrize("bow", [0.25, -0.25])
def test_the_brackets_lie_on_the_true_cam_line_as_heights(bow: float) -> None:
    readings = survey(state(deck_bow=bow, cam_bow=bow))
    profile = cam_profile(readings, head(), fit_shape(readings, head()))
    u = np.array(head().towers) / head().casting.length
    true = bow * 1e-3 * 4 * u * (1 - u)
    over_ends = true - true[0]
    assert [bar.station for bar in profile.bars] == pytest.approx(list(head().towers))
    for bar, height in zip(profile.bars, over_ends, strict=True):
        assert bar.low - 0.03e-3 <= height <= bar.high + 0.03e-3
    assert (profile.low <= profile.height).all()
    assert (profile.height <= profile.high).all()


def drawn(on: Head, form: str = "svg") -> bytes:
    readings = survey(TRUTH, on)
    return draw_figure(ShapePicture(readings=readings, head=on, shape=fit_shape(readings, on)), form)


def test_a_figure_has_a_map_and_one_panel_per_cam() -> None:
    for on, cams in ((head(), 1), (twin_cam_head(), 2)):
        text = drawn(on).decode("utf-8").lower()
        assert text.count("over the line through its end towers</text>") == cams
        assert text.count("deck over its minimum zone plane") == 1
        assert "hollow +" in text


def test_the_figure_says_over_which_ends_it_counts_the_bow() -> None:
    """A parabola's bow over end towers at 20 and 400 of 420 mm is (380 / 420)^2 of that over its ends (geometry)."""
    readings = survey(TRUTH)
    profile = cam_profile(readings, head(), fit_shape(readings, head()))
    share = (head().towers[-1] - head().towers[0]) / head().casting.length
    assert profile.height.max() == pytest.approx(share**2 * 0.25e-3, rel=0.15)
    said = ShapePicture(readings=readings, head=head(), shape=fit_shape(readings, head())).message
    assert "middle over the head's ends" in said
    assert "drawn over its end towers" in said


@pytest.mark.parametrize("form", ["svg", "png"])
def test_the_same_survey_gives_the_same_bytes(form: str) -> None:
    first, second = drawn(head(), form), drawn(head(), form)
    assert first == second
    assert len(first) > 10_000


def test_dial_readings_are_drawn_set_and_tilted_onto_the_believed_line() -> None:
    towers = head().towers
    u = np.array(towers) / head().casting.length
    line = dial("cam", "single", list(0.25e-3 * 4 * u * (1 - u) + 0.4e-3 - 0.1e-3 * u), towers)
    readings = Readings(lines=(line,))
    profile = cam_profile(readings, head(), fit_shape(readings, head()))
    middles = [(bar.low + bar.high) / 2 for bar in profile.bars]
    believed = np.interp(towers, profile.station, profile.height)
    assert middles == pytest.approx(believed, abs=0.01e-3)


def test_what_was_left_out_is_marked_as_such() -> None:
    truth = state(deck_bow=-0.3, cam_bow=-0.25)
    rocked = read(blank_line("deck", "centre", "rocked", STATIONS), truth, head())
    whole = survey(truth)
    lines = tuple(replace(rocked, mode="balanced") if line.name == "centre" else line for line in whole.lines)
    readings = replace(whole, lines=lines)
    marks = deck_surface(readings, head(), fit_shape(readings, head())).marks
    assert {mark.left_out for mark in marks if mark.across == 0 and mark.station != 0.210} == {True}
    assert not any(mark.left_out for mark in marks if abs(mark.across) > 0.06)
