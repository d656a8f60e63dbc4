"""The bow is called what the person read between his own places; a parabola and a subtraction by hand are the judges."""

import pytest

from straighten.readings.records import Bracket, Line, Readings
from straighten.readings.text import as_seen, seen_bow

THOU = 25.4e-6  # exact, ISO 31-1


def line(mode, gaps, part="cam", name="single", stations=(0.02, 0.111, 0.21, 0.309, 0.4)):
    brackets = tuple(Bracket(station=x, low=g, high=g) for x, g in zip(stations, gaps, strict=True))
    return Line(part=part, name=name, mode=mode, brackets=brackets)


def test_a_cam_line_read_as_17_and_a_half_thou_is_called_that():
    gaps = [17.5 * THOU, 4.3 * THOU, 0.0, 4.4 * THOU, 17.5 * THOU]
    (told,) = as_seen(Readings(lines=(line("balanced", gaps),)), "inch")
    assert (
        told
        == "cam line: middle high by 17.5 thou (0.44 mm) between 0.79 in (20.0 mm) and 15.75 in (400.0 mm)"
    )


def test_where_no_blade_goes_the_edge_rests():
    """17 to 18 thou under both ends, nothing under the middle: 17.5 thou, not less half the thinnest blade."""
    ends, touching = (17 * THOU, 18 * THOU), (0.0, 1.5 * THOU)
    read = tuple(
        Bracket(station=x, low=low, high=high)
        for x, (low, high) in zip((0.02, 0.21, 0.4), (ends, touching, ends), strict=True)
    )
    line = Line(part="cam", name="single", mode="balanced", brackets=read)
    assert as_seen(Readings(lines=(line,)), "inch")[0].startswith("cam line: middle high by 17.5 thou")


def test_a_hollow_deck_is_called_its_widest_gap():
    (told,) = as_seen(
        Readings(lines=(line("bridged", [5e-5, 2e-4, 3.1e-4, 2e-4, 5e-5], "deck", "centre"),)), "mm"
    )
    assert told == "deck, centre: hollow by 0.31 mm (12 thou), widest at 210.0 mm (8.27 in)"


def test_ends_that_differ_count_with_their_mean():
    assert seen_bow(line("balanced", [2e-4, 1e-4, 5e-5, 1e-4, 4e-4])) == pytest.approx(2.5e-4)


@pytest.mark.parametrize("mode", ["dial", "height"])
def test_what_no_blade_read_is_not_told_here(mode):
    assert as_seen(Readings(lines=(line(mode, [0.0] * 5),)), "mm") == ()


@pytest.mark.parametrize(
    ("mode", "brackets", "told"),
    [
        ("balanced", [(0.0, 4e-5)] * 3, "reads straight, 0.04 mm (1.5 thou) goes nowhere between"),
        ("bridged", [(0.0, 4e-5)] * 3, "reads straight, 0.04 mm (1.5 thou) goes nowhere between"),
        ("balanced", [(5e-5, 6e-5)] * 3, "reads straight between"),
    ],
)
def test_a_bow_of_nothing_is_called_straight(mode, brackets, told):
    read = tuple(
        Bracket(station=x, low=low, high=high)
        for x, (low, high) in zip((0.02, 0.21, 0.4), brackets, strict=True)
    )
    (said,) = as_seen(Readings(lines=(Line(part="cam", name="single", mode=mode, brackets=read),)), "mm")
    assert said == f"cam line: {told} 20.0 mm (0.79 in) and 400.0 mm (15.75 in)"


def test_a_line_read_at_one_place_names_that_place_once():
    read = (Bracket(station=0.1882, low=0.0, high=4e-5),)
    (said,) = as_seen(
        Readings(lines=(Line(part="deck", name="centre", mode="bridged", brackets=read),)), "mm"
    )
    assert said.endswith("0.04 mm (1.5 thou) goes nowhere at 188.2 mm (7.41 in)")
