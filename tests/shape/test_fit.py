"""Shape from all readings at once: it comes back, it mirrors, it says what it does not know, and it is quick."""

from __future__ import annotations

import itertools
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straighten.readings.records import Bracket, Line, Readings, cams_of
from straighten.shape import fit_shape, worth_of_more
from straighten.shape.fit import _new_line, _rest_shift
from straighten.shape.modes import INDEX, STATE, prior_sd
from tests.shape.builders import STATIONS, blank_line, head, read, state, survey, twin_cam_head

shapes = st.fixed_dictionaries(
    {
        "deck_bow": st.floats(0.08, 0.6),
        "deck_skew": st.floats(-0.08, 0.08),
        "deck_side": st.floats(-0.05, 0.05),
        "twist": st.floats(-0.05, 0.05),
        "cam_bow": st.floats(0.08, 0.6),
        "cam_skew": st.floats(-0.05, 0.05),
    }
)


@settings(max_examples=25, deadline=None)
@given(shapes)
def test_a_shape_read_on_even_metal_comes_back_within_half_a_blade_step(numbers: dict[str, float]) -> None:
    truth = state(**numbers)
    found = fit_shape(survey(truth), head())
    for name in ("deck_bow", "cam_bow", "deck_side"):
        off = abs(found.value(name) - truth[INDEX[name]])
        assert off < 0.065e-3  # blades step by 0.1 mm at most; the towers end short of the head
        assert found.sd(name) < 0.035e-3


def mirrored(readings: Readings) -> Readings:
    """The same head turned end for end: stations from the other end, diagonals change names."""
    length = head().casting.length
    names = {"front exhaust to rear inlet": "front inlet to rear exhaust"}
    names |= {b: a for a, b in names.items()}

    def turned(line: Line) -> Line:
        brackets = tuple(replace(b, station=length - b.station) for b in reversed(line.brackets))
        return replace(line, name=names.get(line.name, line.name), brackets=brackets)

    return replace(readings, lines=tuple(turned(line) for line in readings.lines))


@settings(max_examples=10, deadline=None)
@given(shapes)
def test_a_head_turned_end_for_end_mirrors_the_answer(numbers: dict[str, float]) -> None:
    readings = survey(state(**numbers))
    found, other = fit_shape(readings, head()), fit_shape(mirrored(readings), head())
    sign = np.ones(len(STATE))
    sign[[INDEX["deck_skew"], INDEX["cam_skew"], INDEX["twist"]]] = -1
    assert other.mean == pytest.approx(sign * found.mean, abs=2e-6)
    assert other.covariance == pytest.approx(np.outer(sign, sign) * found.covariance, abs=1e-11)


def test_a_crowned_deck_and_a_low_cam_line_come_back_with_their_sign() -> None:
    found = fit_shape(survey(state(deck_bow=-0.25, cam_bow=-0.2)), head())
    assert found.value("deck_bow") == pytest.approx(-0.25e-3, abs=0.03e-3)
    assert found.value("cam_bow") == pytest.approx(-0.2e-3, abs=0.04e-3)


def test_two_cams_tell_their_difference() -> None:
    on = twin_cam_head()
    found = fit_shape(survey(state(deck_bow=0.3, cam_bow=0.3, cam_side=0.06), on), on)
    assert found.value("cam_side") == pytest.approx(0.06e-3, abs=0.03e-3)
    assert {c.name for c in found.limits} >= {"exhaust cam line overall", "inlet cam line tower to tower"}


def test_without_readings_the_prior_stands() -> None:
    found = fit_shape(Readings(), head())
    assert found.mean == pytest.approx(np.zeros(11))
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(prior_sd())
    assert (found.deck_readings, found.cam_readings) == (0, 0)


def test_finer_brackets_and_more_lines_never_widen_the_bow() -> None:
    full = survey(state(deck_bow=0.3, cam_bow=0.3))
    sds = [fit_shape(replace(full, lines=full.lines[:n]), head()).sd("deck_bow") for n in range(1, 6)]
    assert all(a >= b * 0.999 for a, b in itertools.pairwise(sds))
    fine = tuple(replace(line, brackets=tuple(halved(b) for b in line.brackets)) for line in full.lines)
    assert fit_shape(replace(full, lines=fine), head()).sd("deck_bow") <= sds[-1]


def halved(bracket: Bracket) -> Bracket:
    return bracket if bracket.blank else replace(bracket, high=bracket.low + (bracket.high - bracket.low) / 2)


def test_what_a_blank_or_a_line_is_worth_is_what_it_then_brings() -> None:
    truth = state(deck_bow=0.3, cam_bow=0.3)
    full = survey(truth)
    for missing in ("inlet edge", "single"):
        less = replace(full, lines=tuple(line for line in full.lines if line.name != missing))
        found = fit_shape(less, head())
        promised = next(
            w for w in worth_of_more(less, head(), found) if missing in w.title or missing == "single"
        )
        brought = fit_shape(full, head()).sd(promised.of)
        assert promised.before == found.sd(promised.of)
        assert promised.after == pytest.approx(brought, rel=0.35)
        assert "would narrow" in promised.sentence(head())


@pytest.mark.parametrize(
    ("bow", "deck", "cam"), [(0.3, "bridged", "balanced"), (-0.3, "balanced", "bridged")]
)
def test_an_edge_is_laid_over_a_hollow_line_and_balanced_on_one_that_rocks(bow, deck, cam) -> None:
    # a middle that stands high leaves the deck hollow and the cam line crowned: common practice, no source
    shape = fit_shape(survey(state(deck_bow=bow, cam_bow=bow)), head())
    for part, mode in (("deck", deck), ("cam", cam)):
        name = "inlet edge" if part == "deck" else next(iter(cams_of(head())))
        assert _new_line(part, name, head(), shape).mode == mode
    across = _new_line("deck", "front exhaust to rear inlet", head(), shape)
    assert len(across.brackets) == (1 if deck == "bridged" else 2)
    length = head().casting.length
    places = [b.station for b in across.brackets]
    if deck == "bridged":
        assert places == pytest.approx([length / 2])  # the diagonals of a rectangle halve each other
    else:
        assert places[0] + places[1] == pytest.approx(length)  # the same blade at both ends


def test_the_most_valuable_reading_comes_first_and_a_middle_is_worth_more_than_an_end() -> None:
    line = read(blank_line("deck", "centre", "bridged", STATIONS), state(deck_bow=0.3), head())
    edges = [
        read(blank_line("deck", n, "bridged", STATIONS), state(deck_bow=0.3), head())
        for n in ("exhaust edge", "inlet edge")
    ]
    blanked = [
        replace(
            e,
            brackets=tuple(
                Bracket(station=b.station) if n in (0, 2) else b for n, b in enumerate(e.brackets)
            ),
        )
        for e in edges
    ]
    readings = Readings(lines=(line, *blanked))
    worth = [w for w in worth_of_more(readings, head(), fit_shape(readings, head())) if w.station is not None]
    assert worth[0].station == pytest.approx(0.210)
    gains = [w.gain for w in worth]
    assert gains == sorted(gains, reverse=True)
    assert all(0 <= g < 1 for g in gains)


def test_forty_brackets_become_a_shape_in_under_a_hundred_milliseconds() -> None:
    truth = state(deck_bow=0.3, deck_skew=0.02, twist=0.02, cam_bow=0.3)
    stations = tuple(np.linspace(0.02, 0.40, 9))
    lines = [
        read(blank_line("deck", n, "bridged", stations), truth, head())
        for n in ("exhaust edge", "centre", "inlet edge")
    ]
    lines += [
        line for line in survey(truth).lines if line.name not in ("exhaust edge", "centre", "inlet edge")
    ]
    lines.append(
        read(
            blank_line("deck", "across", "bridged", tuple(np.linspace(0.01, 0.14, 6)), across_at=0.210),
            truth,
            head(),
        )
    )
    readings = Readings(lines=tuple(lines))
    assert readings.count == 40
    fit_shape(readings, head())  # imports are not counted
    times = []
    for _ in range(5):
        start = time.perf_counter()
        fit_shape(readings, head())
        times.append(time.perf_counter() - start)
    assert min(times) < 0.1


def test_the_deck_and_every_line_are_told_by_three_definitions() -> None:
    found = fit_shape(survey(state(deck_bow=0.3, cam_bow=0.3)), head())
    said = found.straightness_sentences("mm")
    assert len(said) == 1 + 5 + 1
    assert said[0].startswith("deck flatness: end-point 0.3")
    assert all("least squares" in s and "minimum zone" in s for s in said)
    for line in found.lines:
        three = line.straightness
        assert three.minimum_zone <= min(three.end_point, three.least_squares) + 1e-12


def test_a_centre_line_hollower_than_both_edges_is_remarked_on() -> None:
    plain, dished = (
        fit_shape(survey(state(deck_bow=0.2, deck_belly=b, cam_bow=0.2)), head()) for b in (0.0, 0.12)
    )
    assert not any("centre line is hollow" in c for c in plain.caveats)
    assert any("centre line is hollow" in c and "more than both edges" in c for c in dished.caveats)


def test_an_edge_that_finds_other_rests_than_the_ends_is_told_of_where_the_line_is_hollow_alone() -> None:
    # a crowned line rocks: it is not read by an edge over its ends, so there is nothing to tell; common practice, no source
    line = next(line for line in survey(state(deck_bow=0.3)).lines if line.mode == "bridged")
    hollow, crowned = (state(deck_bow=sign * 0.3, deck_peak=0.15, deck_skew=0.1) for sign in (1, -1))
    assert _rest_shift(line, head(), state(deck_bow=0.3)) == pytest.approx(0.0, abs=1e-6)
    assert _rest_shift(line, head(), crowned) == 0.0
    waved = state(
        deck_bow=0.02, deck_skew=0.2
    )  # the front half stands high: the edge lies on it and on the far end
    assert max(_rest_shift(line, head(), waved), _rest_shift(line, head(), -waved)) > 5e-5
    assert _rest_shift(line, head(), hollow) < 5e-5


@pytest.mark.parametrize("count", [1, 2, 6, 9])
def test_every_gap_between_the_rests_tells_of_its_own_part_and_a_blank_tells_nothing(count) -> None:
    # six deck modes: a count of what is unknown would not grow with the readings
    stations = tuple(np.linspace(0.05, 0.37, count))
    line = read(blank_line("deck", "centre", "bridged", stations), state(deck_bow=0.3), head())
    blank = replace(line, name="inlet edge", brackets=tuple(Bracket(station=s) for s in stations))
    found = fit_shape(Readings(lines=(line, blank)), head())
    assert (found.deck_readings, found.cam_readings) == (count, 0)
    cam = read(blank_line("cam", "single", "bridged", head().towers[1:-1]), state(cam_bow=-0.3), head())
    found = fit_shape(Readings(lines=(cam,)), head())
    assert (found.deck_readings, found.cam_readings) == (0, len(head().towers) - 2)
