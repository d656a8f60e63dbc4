"""Each way of reading has its own equation: what a blade finds on a known shape, and what comes back from it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straighten.readings.records import Bracket, Gauges, Line, OnPlate, PlateReading, Readings
from straighten.shape import fit_shape
from straighten.shape.equations import equations_of, plane_weights
from straighten.shape.modes import INDEX, STATE
from tests.shape.builders import blank_line, dial, gaps_of, head, read, state

ENDS = (0.0, 0.210, 0.420)


def middle_and_ends(mode: str, shape: np.ndarray, **more: object) -> np.ndarray:
    return gaps_of(blank_line("deck", "centre", mode, ENDS, **more), shape, head()) * 1e3


def test_bridged_over_a_hollow_the_middle_gapes_by_the_bow() -> None:
    assert middle_and_ends("bridged", state(deck_bow=0.3)) == pytest.approx([0, 0.3, 0])


def test_balanced_on_a_crown_both_ends_gape_by_the_bow() -> None:
    assert middle_and_ends("balanced", state(deck_bow=-0.3)) == pytest.approx([0.3, 0, 0.3])


@pytest.mark.parametrize(("touching", "expected"), [("start", [0, 0, 0.6]), ("end", [0.6, 0, 0])])
def test_rocked_on_a_crown_the_free_end_gapes_by_twice_the_bow(touching: str, expected: list[float]) -> None:
    # twice the bow: common practice, no source; here it follows from the edge lying on the middle
    assert middle_and_ends("rocked", state(deck_bow=-0.3), touching=touching) == pytest.approx(
        expected, abs=1e-12
    )


def test_pressed_down_hard_on_a_round_crown_the_free_end_gapes_by_up_to_four_times_the_bow() -> None:
    # the tangent at the end of 4 h u (1 - u) stands 4 h over its other end (derived)
    gaps = middle_and_ends("rocked", state(deck_bow=-0.3), lies_on=0.420 * 1e-6)
    assert gaps[2] == pytest.approx(4 * 0.3, rel=1e-5)


@settings(max_examples=30)
@given(st.floats(0.02, 0.98), st.floats(-0.6, 0.6))
def test_a_parabola_s_gap_at_any_place_is_the_textbook_one(u: float, bow: float) -> None:
    mode = "bridged" if bow > 0 else "balanced"
    gap = gaps_of(blank_line("deck", "centre", mode, (u * 0.42,)), state(deck_bow=bow), head())[0] * 1e3
    parabola = 4 * u * (1 - u)
    assert gap == pytest.approx(bow * parabola if bow > 0 else -bow * (1 - parabola), abs=2e-9)


def test_the_cam_line_reads_the_other_way_up() -> None:
    towers = head().towers
    # over towers at 20 and 400 mm of a 420 mm parabola: the bow between them
    chord = 0.3 * (1 - 4 * (20 / 420) * (400 / 420))
    high = gaps_of(blank_line("cam", "single", "balanced", towers), state(cam_bow=0.3), head()) * 1e3
    low = gaps_of(blank_line("cam", "single", "bridged", towers), state(cam_bow=-0.3), head()) * 1e3
    assert high[[0, 2, 4]] == pytest.approx([chord, 0, chord])
    assert low[[0, 2, 4]] == pytest.approx([0, chord, 0])


def test_a_bridged_edge_rests_where_the_line_stands_highest_not_on_its_very_ends() -> None:
    # pointed bow whose ends turn away: the rests move inwards and the middle gap grows (derived: hull of the profile)
    shape = state(deck_bow=0.05, deck_peak=-0.05)
    xi = np.linspace(0, 1, 17)
    height = 4 * xi * (1 - xi) * 0.05 - 0.05 * 16 * xi * (1 - xi) * (1 - 4 * xi * (1 - xi))
    left, right = height[:5].min(), height[-5:].min()
    assert middle_and_ends("bridged", shape)[1] == pytest.approx(0.05 - (left + right) / 2, abs=1e-9)


def test_a_diagonal_tells_bow_less_twist_and_the_other_bow_plus_twist() -> None:
    shape = state(deck_bow=0.2, twist=0.05)
    gaps = [
        gaps_of(blank_line("deck", name, "bridged", (0.210,)), shape, head())[0] * 1e3
        for name in ("front exhaust to rear inlet", "front inlet to rear exhaust")
    ]
    # z = twist eta (2 xi - 1): both ends of the first diagonal stand up by 0.9 twist, of the second down
    assert gaps == pytest.approx([0.2 - 0.9 * 0.05, 0.2 + 0.9 * 0.05], abs=1e-9)


def test_across_tells_the_dish() -> None:
    line = blank_line("deck", "across", "bridged", (0.075,), across_at=0.210)
    assert gaps_of(line, state(deck_bow=0.3, dish=0.04, deck_belly=0.02), head()) * 1e3 == pytest.approx(
        [0.06]
    )


def test_a_proud_straightedge_shows_less_and_is_given_back() -> None:
    shape, error = state(deck_bow=0.20, cam_bow=0.2), 0.02e-3
    gauges = Gauges(edge_error=error, edge_uncertainty=0.002e-3)
    line = blank_line("deck", "centre", "bridged", (0.105, 0.210, 0.315))
    assert (gaps_of(line, shape, head()) - gaps_of(line, shape, head(), gauges))[1] == pytest.approx(error)
    lines = tuple(
        read(blank_line("deck", n, "bridged", (0.02, 0.115, 0.210, 0.305, 0.4)), shape, head(), gauges)
        for n in ("exhaust edge", "centre", "inlet edge")
    )
    told = fit_shape(Readings(lines=lines, gauges=gauges), head())
    silent = fit_shape(Readings(lines=lines), head())
    assert told.value("deck_bow") - silent.value("deck_bow") == pytest.approx(error, rel=0.1)
    assert any("straightedge's own error is taken off" in c for c in told.caveats)


def test_an_edge_not_known_well_widens_the_bow() -> None:
    shape = state(deck_bow=0.20)
    line = read(blank_line("deck", "centre", "bridged", (0.02, 0.115, 0.210, 0.305, 0.4)), shape, head())
    sure, unsure = (
        fit_shape(Readings(lines=(line,), gauges=Gauges(edge_error=0.0, edge_uncertainty=u)), head()).sd(
            "deck_bow"
        )
        for u in (1e-6, 30e-6)
    )
    assert math.hypot(sure, 25e-6) < unsure < math.hypot(sure, 31e-6)


def test_a_dial_sweep_is_free_of_its_setting_and_tilt() -> None:
    stations = head().towers
    xi = np.array(stations) / 0.420
    z = 4 * xi * (1 - xi) * 0.25e-3 + xi * (1 - xi) * (1 - 2 * xi) * 18 / 3**0.5 * 0.03e-3
    fits = [
        fit_shape(Readings(lines=(dial("cam", "single", list(z + a + b * xi), stations),)), head())
        for a, b in ((0.0, 0.0), (0.7e-3, -0.4e-3))
    ]
    assert fits[0].mean == pytest.approx(fits[1].mean, abs=1e-9)
    assert abs(fits[0].value("cam_bow") - 0.25e-3) < 2 * fits[0].sd("cam_bow")
    assert fits[0].sd("cam_bow") < 0.03e-3


def test_plus_on_the_dial_is_proud_metal_so_a_hollow_deck_reads_minus() -> None:
    stations = (0.02, 0.115, 0.210, 0.305, 0.4)
    xi = np.array(stations) / 0.420
    hollow = dial("deck", "centre", list(-4 * xi * (1 - xi) * 0.3e-3), stations)
    found = fit_shape(Readings(lines=(hollow,)), head())
    centre = found.value("deck_bow") + found.value("deck_belly")
    assert centre == pytest.approx(0.3e-3, abs=0.03e-3)


def test_heights_from_deck_to_bore_root_tell_the_cam_bow_less_the_deck_s() -> None:
    stations = head().towers
    xi = np.array(stations) / 0.420
    line = dial("cam", "single", list(0.0921 + 4 * xi * (1 - xi) * 0.12e-3), stations, mode="height")
    found = fit_shape(Readings(lines=(line,)), head())
    difference = np.zeros(len(STATE))
    difference[[INDEX["cam_bow"], INDEX["deck_bow"], INDEX["deck_belly"]]] = 1, -1, -1
    assert difference @ found.mean == pytest.approx(0.12e-3, abs=0.03e-3)
    assert found.sd("cam_bow") > 0.2e-3  # neither bow by itself is known


def on_plate(mode: str, values: dict[str, float], stands_on: tuple[str, ...]) -> OnPlate:
    half = 0.005e-3
    return OnPlate(
        mode=mode,
        stands_on=stands_on,
        places=tuple(
            PlateReading(place=p, reading=Bracket(station=0.0, low=v - half, high=v + half))
            for p, v in values.items()
        ),
    )


def test_on_three_corners_the_fourth_gapes_by_four_lifts_on_two_the_free_ones_by_two() -> None:
    lift = state(twist=0.05)
    corner = {"front exhaust": 0.05, "front inlet": -0.05, "rear exhaust": -0.05, "rear inlet": 0.05}
    heights = np.array([*corner.values(), 0, 0, 0])
    three = plane_weights(("front inlet", "rear exhaust", "front exhaust"), ("rear inlet",)) @ heights
    two = plane_weights(("front inlet", "rear exhaust"), ("front exhaust", "rear inlet")) @ heights
    assert corner["rear inlet"] - three == pytest.approx([0.2])
    assert np.array([0.05, 0.05]) - two == pytest.approx([0.1, 0.1])
    plate = on_plate("feeler", {"rear inlet": 0.2e-3}, ("front inlet", "rear exhaust", "front exhaust"))
    found = fit_shape(Readings(plate=plate), head())
    assert found.value("twist") == pytest.approx(lift[INDEX["twist"]], abs=0.01e-3)


def test_corners_and_middle_by_dial_tell_twist_and_bow() -> None:
    shape = {"front exhaust": -0.04, "front inlet": 0.04, "rear exhaust": 0.04, "rear inlet": -0.04,
             "middle exhaust": -0.3, "middle inlet": -0.3, "middle": -0.3}  # fmt: skip
    plate = on_plate("dial", {p: v * 1e-3 for p, v in shape.items()}, ())
    found = fit_shape(Readings(plate=plate), head())
    assert found.value("twist") == pytest.approx(0.04e-3, abs=0.01e-3)
    assert found.value("deck_bow") == pytest.approx(0.3e-3, abs=0.03e-3)


@pytest.mark.parametrize("bow", [0.08, 0.2])
def test_a_bar_that_passes_brackets_the_minimum_zone_of_the_cam_line(bow: float) -> None:
    towers = np.array(head().towers) / 0.420
    height = bow * 4 * towers * (1 - towers)
    zone = height[2] - height[0]
    line = Line(
        part="cam",
        name="single",
        mode="bar",
        brackets=(Bracket(station=0.0, low=(zone - 0.01) * 1e-3, high=(zone + 0.01) * 1e-3),),
    )
    (block,) = equations_of(Readings(lines=(line,)), head()).blocks
    assert block.seats.gaps(np.stack([state(cam_bow=bow), state(cam_bow=-bow)])) * 1e3 == pytest.approx(
        np.full((2, 1), zone), abs=1e-9
    )
    found = fit_shape(Readings(lines=(line,)), head())
    assert abs(found.value("cam_bow")) == pytest.approx(bow * 1e-3, abs=0.05e-3)
    assert any("not which way" in c for c in found.caveats)


@pytest.mark.parametrize("mode", ["bridged", "balanced", "rocked"])
def test_a_blank_says_nothing(mode: str) -> None:
    full = read(
        blank_line("deck", "centre", mode, (0.115, 0.210, 0.305)),
        state(deck_bow=0.2 if mode == "bridged" else -0.2),
        head(),
    )
    more = replace(full, brackets=(*full.brackets, Bracket(station=0.05)))
    one, other = (fit_shape(Readings(lines=(line,)), head()) for line in (full, more))
    assert one.mean == pytest.approx(other.mean)


def test_a_short_straightedge_and_a_plate_s_own_error_are_told() -> None:
    gauges = Gauges(edge_error=-0.01e-3, edge_length=0.3, plate_error=0.01e-3, plate_uncertainty=0.002e-3)
    line = read(
        blank_line("deck", "centre", "bridged", (0.115, 0.210, 0.305)), state(deck_bow=0.2), head(), gauges
    )
    caveats = " ".join(fit_shape(Readings(lines=(line,), gauges=gauges), head()).caveats)
    for part in ("hollow", "shorter than the head", "plate's own error is taken off"):
        assert part in caveats


def test_a_proud_plate_shows_less_under_the_middle() -> None:
    plate = on_plate("feeler", {"middle": 0.2e-3}, ("front exhaust", "front inlet", "rear exhaust"))
    rows = [
        equations_of(Readings(plate=plate, gauges=g), head()).blocks[0].seats.offset[0, 0]
        for g in (Gauges(), Gauges(plate_error=0.01e-3))
    ]
    assert rows == pytest.approx([0, -0.01e-3])
