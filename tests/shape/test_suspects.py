"""Readings that do not fit: each slip is named, a dip is a dip, and a sound survey stays in peace."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from straighten.readings.gaps import next_thicker
from straighten.readings.records import Bracket, Line, Readings
from straighten.shape import fit_shape
from straighten.shape.suspects import line_alternatives, swapped
from straighten.units import THOU
from tests.shape.builders import STATIONS, blank_line, head, limit, read, state, survey

TRUTH = state(deck_bow=-0.3, deck_skew=0.09, cam_bow=-0.25)


def spoilt(truth: np.ndarray, name: str, change: object) -> Readings:
    readings = survey(truth)
    return replace(
        readings, lines=tuple(change(line) if line.name == name else line for line in readings.lines)
    )


def kinds(readings: Readings) -> list[tuple[str, str]]:
    return [(s.title, s.kind) for s in fit_shape(readings, head()).suspects]


@pytest.mark.parametrize("bow", [-0.5, -0.2, 0.12, 0.3, 0.6])
def test_a_sound_survey_has_no_suspects(bow: float) -> None:
    found = fit_shape(survey(state(deck_bow=bow, deck_skew=0.03, twist=0.02, cam_bow=bow)), head())
    assert found.suspects == ()
    assert found.misfits == ()


@pytest.mark.parametrize("entered", ["bridged", "balanced"])
@pytest.mark.parametrize("touching", ["start", "end"])
def test_a_rocked_line_entered_otherwise_is_found_and_named(entered: str, touching: str) -> None:
    rocked = read(blank_line("deck", "centre", "rocked", STATIONS, touching=touching), TRUTH, head())
    readings = spoilt(TRUTH, "centre", lambda _: replace(rocked, mode=entered, touching="start"))
    assert kinds(readings) == [("deck, centre", "rocked")]
    sentence = fit_shape(readings, head()).suspects[0].sentence
    assert "twice the bow" in sentence
    assert "read it again" in sentence


def test_the_end_gap_of_a_rocking_diagonal_written_as_its_middle_is_named() -> None:
    truth = state(deck_bow=-0.3, cam_bow=-0.25)
    doubled = Line(part="deck", name="front exhaust to rear inlet", mode="bridged",
                   brackets=(Bracket(station=0.210, low=0.55e-3, high=0.60e-3),))  # fmt: skip
    readings = spoilt(truth, "front exhaust to rear inlet", lambda _: doubled)
    assert kinds(readings) == [("deck, front exhaust to rear inlet", "rocked gap in the middle")]


def test_swapped_ends_are_named() -> None:
    assert kinds(spoilt(TRUTH, "inlet edge", lambda line: swapped(line, head()))) == [
        ("deck, inlet edge", "swapped ends")
    ]


def test_one_gap_in_inches_in_a_millimetre_survey_is_named() -> None:
    def slip(line: Line) -> Line:
        gap = line.brackets[2]
        typed = Bracket(station=gap.station, low=0.04e-3, high=0.06e-3)
        assert gap.low == pytest.approx(0.9e-3, abs=0.15e-3)
        return replace(line, brackets=(*line.brackets[:2], typed, *line.brackets[3:]))

    truth = state(deck_bow=1.0, cam_bow=0.9)
    found = fit_shape(spoilt(truth, "centre", slip), head())
    assert [(s.title, s.kind, s.place) for s in found.suspects] == [("deck, centre", "inches for mm", 2)]


def test_a_whole_line_in_thou_is_named() -> None:
    def slip(line: Line) -> Line:
        lows = [round(b.low / THOU) * 1e-3 for b in line.brackets]
        highs = [next_thicker(low, head().gauge_blades) for low in lows]
        pairs = zip(line.brackets, lows, highs, strict=True)
        return replace(line, brackets=tuple(replace(b, low=low, high=high) for b, low, high in pairs))

    truth = state(deck_bow=0.06, cam_bow=0.06)
    found = kinds(spoilt(truth, "centre", slip))
    assert found
    assert found[0] == ("deck, centre", "thou for mm")


def test_what_is_named_is_left_out_not_corrected() -> None:
    rocked = read(blank_line("deck", "centre", "rocked", STATIONS), TRUTH, head())
    readings = spoilt(TRUTH, "centre", lambda _: replace(rocked, mode="balanced"))
    without = replace(readings, lines=tuple(line for line in readings.lines if line.name != "centre"))
    assert fit_shape(readings, head()).mean == pytest.approx(fit_shape(without, head()).mean)


def test_a_line_that_was_read_twice_is_not_named_again() -> None:
    rocked = read(blank_line("deck", "centre", "rocked", STATIONS), TRUTH, head())
    readings = spoilt(TRUTH, "centre", lambda _: replace(rocked, mode="balanced", sure=True))
    assert ("deck, centre", "rocked") not in kinds(readings)


def test_a_local_dip_is_told_with_place_and_size_and_kept_out_of_the_bow() -> None:
    truth = state(deck_bow=0.3, cam_bow=0.3)

    def sunk(line: Line) -> Line:
        gap = line.brackets[1]
        deep = replace(gap, low=gap.low + 0.15e-3, high=gap.high + 0.15e-3)
        return replace(line, brackets=(line.brackets[0], deep, *line.brackets[2:]))

    found = fit_shape(spoilt(truth, "exhaust edge", sunk), head())
    (dip,) = found.misfits
    assert (dip.title, dip.place, dip.part) == ("deck, exhaust edge", 1, "deck")
    assert dip.off == pytest.approx(0.12e-3, abs=0.04e-3)
    assert "local dip" in dip.sentence
    assert found.value("deck_bow") == pytest.approx(0.3e-3, abs=0.02e-3)
    assert not limit(found, "deck per length").holds  # the local limit catches it
    assert limit(found, "deck per length").value == pytest.approx(dip.off, rel=0.2)


@pytest.mark.parametrize(("bow", "place", "deep"), [(0.3, 3, 0.3), (0.25, 0, 0.3)])
def test_a_deep_dip_in_one_place_is_no_slip_of_a_whole_line(bow: float, place: int, deep: float) -> None:
    # four of five readings agree with the rest: one dip says all; turned round, the line would be off in two places
    def sunk(line: Line) -> Line:
        gaps = list(line.brackets)
        gap = gaps[place]
        gaps[place] = replace(gap, low=gap.low + deep * 1e-3, high=gap.high + deep * 1e-3)
        return replace(line, brackets=tuple(gaps))

    found = fit_shape(spoilt(state(deck_bow=bow, cam_bow=bow), "centre", sunk), head())
    assert found.suspects == ()
    (dip,) = found.misfits
    assert (dip.title, dip.place) == ("deck, centre", place)
    assert dip.off > 0


def test_the_far_gap_of_a_rocked_edge_lies_where_its_line_ends() -> None:
    # a cam line ends at its last tower, a deck line at the head's end, one across at its width: geometry
    on, gap = head(), (Bracket(station=0.1, low=0.3e-3, high=0.35e-3),)
    for part, name, end, more in (
        ("cam", "single", on.towers[-1], {}),
        ("deck", "centre", on.casting.length, {}),
        ("deck", "across", on.casting.width, {"across_at": 0.2}),
    ):
        line = Line(part=part, name=name, mode="bridged", brackets=gap, **more)
        meant = {a.kind: a.line for a in line_alternatives(line, on, "mm")}["rocked gap in the middle"]
        assert [b.station for b in meant.brackets] == [end]
        assert meant.mode == "rocked"
