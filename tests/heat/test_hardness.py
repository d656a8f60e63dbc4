"""Loss of temper against published ageing."""

import numpy as np
import pytest

from straighten.head.alloys import alloy_named
from straighten.heat.cooling import (
    ACTIVATION,
    ACTIVATION_SPREAD,
    equivalent_time,
    hardness_after,
    pace_spread,
    temper_lost,
    yield_at,
)
from straighten.heat.heating import ageing

HOUR = 3600.0


@pytest.mark.parametrize(
    ("activation", "hours"),
    [(130e3, (85, 17.1, 1.07, 0.32)), (137.5e3, (102, 18.6, 0.99, 0.28)), (150e3, (138, 21.5, 0.87, 0.22))],
)
def test_temperature_corrected_time(activation, hours):
    # (t/T) exp(-Q/RT) of 4 h at 250 degC at 200, 225, 275, 300 degC: Shercliff & Ashby 1990 (form from memory); derived
    for t, expected in zip((200, 225, 275, 300), hours, strict=True):
        found = 4 / float(equivalent_time(t, 1.0, activation))
        assert found == pytest.approx(expected, rel=0.025)


def test_time_at_the_reference_heat_counts_once():
    # 250 degC is the reference of the equivalent time: so many seconds there are so many; derived
    time = np.array([0.0, 0.5, 2.0, 7.0, 30.0])
    aged = ageing(np.full((time.size, 1, 1), 250.0), time)
    np.testing.assert_allclose(aged[:, 0, 0], time, rtol=1e-12)


@pytest.mark.parametrize(("fahrenheit", "hours"), [(390, 16), (425, 4)])
def test_6xxx_t6_falls_to_its_specified_yield_where_published(fahrenheit, hours):
    # 6061-T6 and 6063-T6: under the minimum after 16 h at 390 F and 4 h at 425 F, never in 64 h at 350 F (California
    # State University senior project 2015, abstract seen); the minimum is about 0.87 of typical, and a factor of two in
    # time is the model's own spread. The law was put through these points, so this guards it and proves nothing; the two
    # tests that follow hold it against what it was not put through
    at = (fahrenheit - 32) / 1.8
    left = lambda h: 1 - (1 - 0.32) * float(temper_lost(equivalent_time(at, h * HOUR)))  # noqa: E731
    assert left(hours / 2) > 0.87 > left(hours * 2)


def test_over_ageing_is_as_eager_as_the_diffusion_it_waits_for():
    # the law's two points tell 137.5 kJ/mol; magnesium and silicon diffuse in aluminium with 120 to 136 kJ/mol: diffusion
    # tables, from memory; within the spread of the points, and used for no constant
    assert 120e3 - ACTIVATION_SPREAD.value / 2 < ACTIVATION.value < 136e3 + ACTIVATION_SPREAD.value / 2


def test_at_350_f_a_t6_keeps_its_yield_for_two_and_a_half_days():
    lost = float(temper_lost(equivalent_time((350 - 32) / 1.8, 64 * HOUR)))
    assert 1 - 0.68 * lost > 0.87


@pytest.mark.parametrize(("temperature", "hours"), [(155, 5), (165, 10), (175, 8)])
def test_the_standard_ages_do_not_soften(temperature, hours):
    # ASTM B917 T6 for 356: 155 degC 3-5 h; LM25-TF 155-175 degC 8-12 h; seen
    assert (
        float(hardness_after(alloy_named("356-T6"), 90.0, equivalent_time(temperature, hours * HOUR))) > 88.5
    )


@pytest.mark.parametrize("hours", [2, 3, 4])
def test_two_to_four_hours_at_250_turn_t6_into_the_stabilised_temper(hours):
    # HB ratio 0.68-0.72, +/- 0.08: LM25 data pages, TB7 against TF; seen, ratios derived
    alloy, aged = alloy_named("LM25"), equivalent_time(250.0, hours * HOUR)
    assert float(hardness_after(alloy, 100.0, aged)) / 100 == pytest.approx(0.70, abs=0.08)
    assert 60 < float(hardness_after(alloy, 100.0, aged)) < 80


def test_overaged_alloys_lose_little_more():
    # T7 head alloys are overaged at 205-260 degC: under 10 % more at 200 degC, 4 h; from memory
    alloy = alloy_named("356-T7")
    assert float(hardness_after(alloy, 72.0, equivalent_time(200.0, 4 * HOUR))) > 0.9 * 72


def test_an_overaged_alloy_goes_on_where_a_t6_one_stands_after_its_stabilising():
    # T7 and TB7 stabilise at 250 degC for 2 to 4 h: LM25 data page, seen; the same metal has the same future
    t6, t7 = alloy_named("356-T6"), alloy_named("356-T7")
    for temperature, hours in ((250.0, 2.0), (250.0, 6.0), (300.0, 1.0)):
        more = equivalent_time(temperature, hours * HOUR)
        after_2, after_4 = (
            float(hardness_after(t6, 1.0, h * HOUR + more) / hardness_after(t6, 1.0, h * HOUR))
            for h in (2.0, 4.0)
        )
        assert after_2 < float(hardness_after(t7, 1.0, more)) < after_4


def test_metal_without_a_temper_keeps_its_hardness():
    assert float(hardness_after(alloy_named("319-F"), 75.0, equivalent_time(260.0, 5 * HOUR))) == 75.0


@pytest.mark.parametrize("name", ["A356-T6", "351-T6", "319-T5", "A356-Cu-T7", "AlSi7Mg-F", "unknown"])
def test_hot_yield_goes_from_the_short_curve_to_the_soaked_one_by_time_at_temperature(name):
    # bars tested at once, and bars conditioned 100 h: the two columns of Modern Casting, July 2018, Table 2 (seen)
    alloy = alloy_named(name)
    for t in (150.0, 200.0, 250.0, 300.0):
        at = [float(yield_at(alloy, t, equivalent_time(t, h * HOUR))) for h in (1e-3, 0.1, 1, 4, 24, 100)]
        short, soaked = (np.interp(t, *zip(*c, strict=True)) for c in (alloy.yield_short, alloy.yield_soaked))
        assert at == sorted(at, reverse=True)
        assert at[0] == pytest.approx(short, rel=0.02)
        assert at[-1] == pytest.approx(soaked, rel=1e-6)


@pytest.mark.parametrize(("temperature", "seconds"), [(250, 60), (300, 10), (330, 4), (350, 2)])
def test_seconds_under_a_torch_stay_near_short_exposure(temperature, seconds):
    alloy = alloy_named("351-T6")
    short, soaked = (
        np.interp(temperature, *zip(*c, strict=True)) for c in (alloy.yield_short, alloy.yield_soaked)
    )
    found = float(yield_at(alloy, temperature, equivalent_time(temperature, seconds)))
    assert found > short - 0.1 * (short - soaked)


def test_hours_in_the_oven_are_near_the_soaked_curve():
    # 4 h at 250 degC: 6061-T6 keeps 0.55 after 2 h (EN 1999-1-2), head decks 0.30 conditioned (Modern Casting 2018); seen
    alloy = alloy_named("351-T6")
    found = float(yield_at(alloy, 250.0, equivalent_time(250.0, 4 * HOUR)))
    assert 89e6 <= found < 89e6 + 0.2 * (194e6 - 89e6)


def test_the_pace_is_known_worse_away_from_where_it_was_read():
    """69 to 206 kJ/mol through the same two points (derived): at 390 to 425 F the doubt of the time alone is left."""
    assert pace_spread(209.0) == pytest.approx(0.5)
    assert pace_spread(150.0) > 1.0
    assert pace_spread(500.0) > 2.0
    # the two crossings apart by the least and the most that doublings of time allow
    cold, hot = (390 - 32) / 1.8 + 273.15, (425 - 32) / 1.8 + 273.15
    low, high = (8.314 * np.log(ratio) / (1 / cold - 1 / hot) for ratio in (2.0, 8.0))
    assert low == pytest.approx(69e3, rel=0.02)
    assert high == pytest.approx(206e3, rel=0.02)
    # two evenly spread crossings: log ratio has a deviation of ln 2 / sqrt 6
    assert (high - low) / np.log(4) * np.log(2) / 6**0.5 == pytest.approx(28e3, rel=0.03)
