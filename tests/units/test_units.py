"""Quantities as people write them, against exact definitions of the units."""

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from straighten.errors import BadInput
from straighten.units import (
    Plausible,
    likely_slip,
    parse,
    show,
    show_difference,
    show_duration,
    show_likely,
    show_range,
    show_torque,
    turned,
)


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        # source: scipy.constants (CODATA and the international yard and pound of 1959)
        ("8 thou", "gap", 8 * constants.mil),
        (".004 in", "gap", 0.004 * constants.inch),
        ("1/2 in", "length", constants.inch / 2),
        ("75 ft-lb", "torque", 75 * constants.foot * constants.pound_force),
        ("75 FT LBS", "torque", 75 * constants.foot * constants.pound_force),
        ("75 lb.ft", "torque", 75 * constants.foot * constants.pound_force),
        ("75 lb-ft", "torque", 75 * constants.foot * constants.pound_force),
        ("300 lb-in", "torque", 300 * constants.inch * constants.pound_force),
        ("300 in-lb", "torque", 300 * constants.inch * constants.pound_force),
        ("4 kgm", "torque", 4 * constants.kilogram_force),
        ("4 kgf-m", "torque", 4 * constants.kilogram_force),
        ("25 lb", "mass", 25 * constants.pound),
        ("30 ksi", "stress", 30e3 * constants.psi),
        ("0.2 mm", "gap", 0.2e-3),
        ("0,10 mm", "gap", 0.1e-3),
        ("12 µm", "gap", 12e-6),
        ("11.5 kg", "mass", 11.5),
        ("40 N·m", "torque", 40.0),
        ("45 min", "duration", 2700.0),
    ],
)
def test_written_quantities(text, kind, si):
    assert parse(text, kind) == pytest.approx(si, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "celsius"), [("450 F", 232.2222), ("32 F", 0.0), ("-40 F", -40.0), ("523.15 K", 250.0)]
)
def test_temperatures(text, celsius):
    # source: scipy.constants.convert_temperature
    value, scale = text.split()
    assert parse(text, "temperature") == pytest.approx(celsius, abs=1e-4)
    assert parse(text, "temperature") == pytest.approx(
        constants.convert_temperature(float(value), scale, "C"), abs=1e-9
    )


@pytest.mark.parametrize(
    ("bare", "kind", "system", "si"),
    [(10, "gap", "inch", 10 * constants.mil), (10, "length", "inch", 10 * constants.inch), (0.1, "gap", "mm", 1e-4),
     (30, "torque", "inch", 30 * constants.foot * constants.pound_force), (450, "temperature", "inch", 232.2222)],
)  # fmt: skip
def test_bare_numbers_take_the_unit_of_their_file(bare, kind, system, si):
    assert parse(bare, kind, system) == pytest.approx(si, rel=1e-6)


@pytest.mark.parametrize(
    "found",
    [
        "",
        "mm",
        "about 3",
        "3 furlongs",
        "1,420 mm",
        "1/0 in",
        "nan mm",
        "inf",
        "1e999 mm",
        True,
        None,
        [1],
        "3" * 50,
    ],
)
def test_what_makes_no_sense_is_refused_in_one_sentence(found):
    with pytest.raises(BadInput) as told:
        parse(found, "length")
    assert len(str(told.value)) < 250


@given(st.floats(1e-6, 2e-3))
def test_a_printed_gap_is_off_by_no_more_than_half_its_last_digit(value):
    first, second = show(value).rstrip(")").split(" (")
    assert parse(first, "gap") == pytest.approx(value, abs=0.005e-3 + 1e-12)
    assert parse(second, "gap") == pytest.approx(value, abs=0.25 * constants.mil + 1e-12)


@given(st.sampled_from([25.4e-3, 1e-3]), st.floats(0.05e-3, 0.2e-3))
def test_a_slip_of_the_unit_is_named_with_the_value_meant(factor, meant):
    told = likely_slip(meant / factor, 0.04e-3, 0.25e-3)
    assert told.startswith("did you mean")
    assert show(meant) in told


def test_both_systems_stand_side_by_side():
    assert show_range(0.1e-3, 0.2e-3, "inch") == "4 to 8 thou (0.10 to 0.20 mm)"
    assert show_torque(40.0) == "40 Nm (30 ft-lb)"
    assert show_duration(5400) == "1 h 30 min"
    assert show_duration(42) == "45 s"


def test_a_value_in_range_is_given_back():
    assert Plausible(0.0, 1.0).check(0.5, "length") == 0.5
    assert math.isclose(parse("0.5 m", "length"), 0.5)


@given(st.lists(st.floats(-2e-3, 2e-3), min_size=3, max_size=60), st.sampled_from(["mm", "inch"]))
def test_a_prediction_in_words_never_claims_less_room_than_its_draws(draws, system):
    low, middle, high = np.quantile(draws, [0.1, 0.5, 0.9])
    said = show_likely(low, middle, high, system)
    if high - low < 1e-9:
        assert said == f"about {show(middle, system)}"
        return
    own, tail, end, second = re.fullmatch(
        r"likely (.*), 1 in 10 (more|less) than (-?[\d.]+) \((.*)\)", said
    ).groups()
    assert tail == ("more" if abs(high) >= abs(low) else "less")
    assert f" {end} " in f" {own} "
    for text in (own, second):
        first, last, unit, about = re.fullmatch(
            r"(-?[\d.]+) to (-?[\d.]+) (mm|thou), about (-?[\d.]+)", text
        ).groups()
        one, step = (1e-3, 0.01) if unit == "mm" else (constants.mil, 0.5)
        ends = [float(n) * one for n in (first, last)]
        assert ends[0] <= low + 1.1e-9
        assert ends[1] >= high - 1.1e-9
        inside = sum(ends[0] - 1.1e-9 <= draw <= ends[1] + 1.1e-9 for draw in draws)
        assert inside >= sum(low <= draw <= high for draw in draws)
        assert low - ends[0] < step * one + 1e-12
        assert ends[1] - high < step * one + 1e-12
        assert abs(float(about) * one - middle) <= 0.5 * step * one + 1e-12
        for number in (first, last, about):
            assert abs(float(number) / step - round(float(number) / step)) < 1e-9


def test_a_prediction_is_said_as_at_the_bench():
    thou = constants.mil
    assert show_likely(2 * thou, 3 * thou, 5 * thou, "inch").startswith(
        "likely 2 to 5 thou, about 3, 1 in 10 more than 5 ("
    )
    assert show_likely(-5 * thou, -3 * thou, -1 * thou, "inch").startswith(
        "likely -5 to -1 thou, about -3, 1 in 10 less than -5"
    )
    assert show_likely(0.1e-3, 0.1e-3, 0.1e-3) == "about 0.10 mm (4 thou)"
    assert show_likely(0.101e-3, 0.11e-3, 0.119e-3).startswith("likely 0.10 to 0.12 mm, about 0.11")


@pytest.mark.parametrize(
    ("text", "inches"), [('1/64"', 1 / 64), ("1/8in", 1 / 8), ("1 1/2 in", 1.5), ('16 1/2"', 16.5)]
)
def test_a_rule_s_fractions_are_read_with_the_unit_close_by_and_a_whole_number_before(text, inches):
    assert parse(text, "length") == pytest.approx(inches * 25.4e-3, rel=1e-12)


def test_a_difference_of_temperature_is_told_without_the_shift_of_the_scale():
    """1 K is 1.8 F, exactly."""
    assert (show_difference(50.0), show_difference(50.0, "inch")) == ("50 K", "90 F")


def test_a_likely_range_in_inches_stays_as_it_was_said():
    told = f"Held short of straight: {show_likely(5e-5, 7e-5, 9e-5, 'inch')}"
    assert "(0.05 to 0.09 mm, about 0.07)" in told
    assert turned(told, "inch") == told
