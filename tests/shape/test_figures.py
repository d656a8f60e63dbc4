"""Pictures: what is drawn is what was read and what is believed, and the same survey gives the same bytes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from straighten.errors import BadInput
from straighten.readings.records import Readings
from straighten.shape import fit_shape
from straighten.shape.profiles import cam_profile, deck_surface
from straighten.sheet.shape_figures import cam_figure, deck_figure, save_figure, shape_figure
from tests.shape.builders import STATIONS, blank_line, dial, head, read, state, survey, twin_cam_head

TRUTH = state(deck_bow=0.3, twist=0.02, cam_bow=0.25)


def test_the_map_shows_the_middle_hollow_and_every_deck_reading() -> None:
    readings = survey(TRUTH)
    surface = deck_surface(readings, head(), fit_shape(readings, head()))
    middle = surface.height[surface.height.shape[0] // 2, surface.height.shape[1] // 2]
    assert middle > 0.85 * surface.height.max() > 0
    assert np.ptp(surface.height) == pytest.approx(0.3e-3, rel=0.2)
    assert len(surface.marks) == sum(len(line.brackets) for line in readings.lines if line.part == "deck")


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


def test_a_figure_has_a_map_and_one_panel_per_cam() -> None:
    for on, panels in ((head(), 2), (twin_cam_head(), 3)):
        readings = survey(TRUTH, on)
        figure = shape_figure(readings, on, fit_shape(readings, on))
        titles = [ax.get_title() for ax in figure.axes]
        assert sum("cam line" in t.lower() for t in titles) == panels - 1
        assert any("Deck" in t for t in titles)


@pytest.mark.parametrize("ending", ["svg", "png"])
def test_the_same_survey_gives_the_same_bytes(tmp_path: Path, ending: str) -> None:
    readings = survey(TRUTH)
    shape = fit_shape(readings, head())
    paths = [tmp_path / f"{n}.{ending}" for n in range(2)]
    for path in paths:
        save_figure(shape_figure(readings, head(), shape), path)
    assert paths[0].read_bytes() == paths[1].read_bytes()
    assert paths[0].stat().st_size > 10_000


def test_deck_and_cam_can_be_drawn_by_themselves_and_other_endings_are_refused(tmp_path: Path) -> None:
    readings = survey(TRUTH)
    shape = fit_shape(readings, head())
    save_figure(deck_figure(readings, head(), shape), tmp_path / "deck.svg")
    assert "hollow" in (tmp_path / "deck.svg").read_text(encoding="utf-8")
    with pytest.raises(BadInput, match="svg"):
        save_figure(cam_figure(readings, head(), shape), tmp_path / "cam.gif")
    with pytest.raises(BadInput, match="cannot be written"):
        save_figure(cam_figure(readings, head(), shape), tmp_path / "missing" / "cam.svg")


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
