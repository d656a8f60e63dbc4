"""Gaps as they are typed at the bench: understood, or challenged with what was likely meant."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from straighten.errors import BadInput
from straighten.readings.gaps import (
    GapWords,
    bracket_of,
    gap_text,
    likely_gap,
    next_thicker,
    next_thinner,
    read_gap,
)
from straighten.units import INCH, THOU

# the blades of a common metric set; it starts at 0.05 mm in steps of 0.05 (common practice, no source)
METRIC = (*(n * 0.05e-3 for n in range(1, 11)), 1.0e-3)
MM = GapWords(system="mm", blades=METRIC)
THOUS = GapWords(system="inch", blades=tuple(n * THOU for n in range(2, 21)))


@pytest.mark.parametrize(
    ("typed", "low", "high"),
    [
        pytest.param(0.10, 0.10, 0.15, id="number"),
        ("0.10", 0.10, 0.15),
        (".1", 0.10, 0.15),
        ("0,10", 0.10, 0.15),
        ("0.10 mm", 0.10, 0.15),
        ("4 thou", 0.1016, 0.15),
        (".004 in", 0.1016, 0.15),
        ("goes .004 in", 0.1016, 0.15),
        ('goes .004"', 0.1016, 0.15),
        ("0.10-0.15", 0.10, 0.15),
        ("0.10 - 0.20", 0.10, 0.20),
        ("0.10 to 0.12", 0.10, 0.12),
        ("0.10 mm-0.12 mm", 0.10, 0.12),
        ("4-6 thou", 0.1016, 0.1524),
        ("goes 0.10 stops 0.12", 0.10, 0.12),
        ("goes 0.10, stops 0.12", 0.10, 0.12),
        ("GOES 0.10 not 0.12", 0.10, 0.12),
        ("stops 0.15", 0.10, 0.15),
        ("< 0.05", 0.0, 0.05),
        ("> 0.1", 0.10, 0.15),
        pytest.param(0, 0.0, 0.05, id="nought"),
        ("0", 0.0, 0.05),
        ("nothing goes", 0.0, 0.05),
        ("0-0.05", 0.0, 0.05),
    ],
)
def test_what_a_hand_writes_in_millimetres(typed: object, low: float, high: float) -> None:
    found = read_gap(typed, 0.1, MM)
    assert (found.low * 1e3, found.high * 1e3) == pytest.approx((low, high))


@pytest.mark.parametrize(
    ("typed", "low", "high"),
    [
        pytest.param(4, 4, 5, id="number"),
        ("4", 4, 5),
        ("4-6", 4, 6),
        ("0.10 mm", 3.937, 4),
        (".004 in", 4, 5),
        ("4.5", 4.5, 5),
    ],
)
def test_a_bare_number_in_an_inch_survey_is_thou(typed: object, low: float, high: float) -> None:
    found = read_gap(typed, 0.1, THOUS)
    assert (found.low / THOU, found.high / THOU) == pytest.approx((low, high), abs=1e-3)


@pytest.mark.parametrize("typed", ["", " ", "-", "?", None, "blank"])
def test_blanks_are_blanks(typed: object) -> None:
    assert read_gap(typed, 0.1, MM).blank


@pytest.mark.parametrize(
    ("typed", "words", "meant"),
    [
        pytest.param(10, MM, "10 thou", id="number"),
        ("10", MM, "10 thou"),
        ("15", MM, "15 thou"),
        (".004", MM, "0.004 in"),
        (0.008, MM, "0.008 in"),
        (150, MM, "150 um"),
        (".004", THOUS, "0.004 in"),
        (0.1, THOUS, "0.1 mm"),
        (150, THOUS, "150 um"),
    ],
)
def test_a_slip_of_the_unit_is_challenged_with_what_was_likely_meant(
    typed: object, words: GapWords, meant: str
) -> None:
    with pytest.raises(BadInput, match="Did you mean") as fault:
        read_gap(typed, 0.1, words)
    assert meant in fault.value.fix
    assert likely_gap(typed, words) == meant


@pytest.mark.parametrize(
    "typed",
    [
        "0.15-0.10",
        "goes 0.15 stops 0.10",
        "0.10-0.10",
        "-0.1",
        "twelve",
        "0.1 furlong",
        "0.1 0.2",
        True,
        "1,234",
        "9" * 60,
        [0.1],
        math.nan,
    ],
)
def test_what_is_no_gap_is_refused(typed: object) -> None:
    with pytest.raises(BadInput):
        read_gap(typed, 0.1, MM)


def test_an_upside_down_bracket_says_so() -> None:
    with pytest.raises(BadInput, match="upside down"):
        read_gap("0.15-0.10", 0.1, MM)


@given(st.sampled_from(METRIC), st.sampled_from(METRIC))
def test_any_two_blades_make_a_bracket_or_are_upside_down(a: float, b: float) -> None:
    if a < b:
        found = bracket_of(a, b, 0.0, MM)
        assert (found.low, found.high) == (a, b)
    else:
        with pytest.raises(BadInput):
            bracket_of(a, b, 0.0, MM)


@given(st.floats(0, 2.4e-3))
def test_the_blade_list_supplies_the_missing_half(gap: float) -> None:
    high, low = next_thicker(gap, METRIC), next_thinner(gap, METRIC)
    assert low < gap + 1e-6 < high + 2e-6
    assert high > gap
    assert math.isinf(high) or high in METRIC or any(abs(high - 1e-3 - b) < 1e-12 for b in METRIC)


def test_where_the_thickest_blade_goes_nothing_is_said_of_thicker_ones() -> None:
    assert math.isinf(read_gap(1.0, 0.1, MM).high)
    assert read_gap(1.2, 0.1, MM).high == pytest.approx(
        1.25e-3
    )  # stacked already: the next one on the same blade
    assert "no thicker blade" in gap_text(read_gap(1.0, 0.1, MM), "mm")


def test_rocked_gaps_may_be_twice_as_large() -> None:
    rocked = GapWords(system="mm", blades=METRIC, mode="rocked")
    assert read_gap(3.0, 0.1, rocked).low == pytest.approx(3e-3)
    with pytest.raises(BadInput):
        read_gap(3.0, 0.1, MM)


def test_what_was_understood_is_said_in_both_units() -> None:
    assert (
        gap_text(read_gap("0.10-0.15", 0.1, MM), "mm") == "0.10 mm (4 thou) goes, 0.15 mm (6 thou) does not"
    )
    assert gap_text(read_gap(0, 0.1, MM), "mm").startswith("nothing goes")
    assert INCH == 25.4e-3
