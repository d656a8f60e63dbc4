"""Waits after the heat."""

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from straighten.clamp import section_of
from straighten.head.records import Base
from straighten.heat import clock, wait_after_soak, wait_after_spots
from straighten.heat.cooling import (
    CONVECTION,
    bulk_rise,
    clamped_body,
    cooling_time,
    evening_time,
    head_body,
    spot_start,
    thermal_bow,
)
from tests.heat.heads import bar, box
from tests.heat.upright import film_upright

HEAT = 4 * 9916.0


def test_roof_and_deck_even_out_in_half_a_minute():
    # 3D finite elements of the box: the hump falls to e^-1 in about 25 s after the torch; seen
    assert evening_time(box()) == pytest.approx(25.0, rel=0.15)
    assert evening_time(bar()) < 10.0


def test_a_reading_is_honest_once_the_hump_is_under_half_a_blade_step():
    head, section = box(), section_of(box())
    wait = wait_after_spots(head, section, HEAT, 5e-5)
    assert wait.unclamp >= wait.honest > 2 * evening_time(head)
    assert wait_after_spots(head, section, HEAT, 1e-5).honest > wait.honest
    assert wait_after_spots(head, section, 4 * HEAT, 5e-5).honest > wait.honest


def test_after_spots_one_waits_as_long_as_the_hump_of_the_elements_takes_to_fall_under_half_a_step():
    # 0.17 to 0.26 mm at torch off, a third of it after every 25 s: 3D finite elements of the box; seen; 5 um are half a step
    low, high = (25.0 * np.log(hump / 5e-6) for hump in (0.17e-3, 0.26e-3))
    wait = wait_after_spots(box(), section_of(box()), HEAT, 1e-5)
    assert 0.85 * low < wait.honest < 1.15 * high
    assert wait.unclamp == wait.honest  # nothing else holds a head back that is 6 K warm


def test_hump_of_the_box_at_torch_off_is_of_the_elements_size():
    # 0.17 to 0.26 mm (edge and centre line) in 3D elements for four spots; seen
    wait = wait_after_spots(box(), section_of(box()), HEAT, 5e-5)
    assert "26 K" in wait.why
    assert 0.17e-3 < 2 * thermal_bow(box(), 26.0) < 0.27e-3


def test_thermal_bow_is_the_closed_form():
    # alpha dT L^2 / (8 h): 22e-6, 10 K, 450, 120 mm: 0.0464 mm; derived
    head = box()
    casting = replace(head.casting, length=0.45, height=0.12)
    head = replace(head, casting=casting, alloy=replace(head.alloy, expansion=((20, 22e-6),)))
    assert thermal_bow(head, 10.0) == pytest.approx(0.046406e-3, rel=1e-4)


def test_heat_makes_the_whole_head_a_little_warm():
    assert bulk_rise(box(), section_of(box()), HEAT) == pytest.approx(6.4, rel=0.03)


def test_an_oven_load_takes_hours_to_hand_warm():
    alone = wait_after_soak(box(), section_of(box()), 230.0, 5e-5)
    plate = Base(kind="plate", thickness=0.05, width=0.2, length=0.6, material="steel")
    heavy = wait_after_soak(box(base=plate), section_of(box()), 230.0, 5e-5)
    assert 3600 < alone.unclamp < heavy.unclamp < 12 * 3600
    assert heavy.honest >= heavy.unclamp


def test_a_box_out_of_the_oven_is_hand_warm_when_the_heat_balance_says_so():
    # 400 x 150 x 90 mm, 963 J/(kg K): m c dT/dt = -A (5 (T - 20) + 0.3 sigma (T^4 - 293^4)), by a library's integrator
    head, section = box(), section_of(box())
    area = 2 * (0.4 * 0.15 + 0.4 * 0.09 + 0.15 * 0.09)
    store = section.weight / 9.80665 * 963.0

    def pace(_, heat):
        return -area * (5.0 * (heat - 20) + 0.3 * 5.670374e-8 * ((heat + 273.15) ** 4 - 293.15**4)) / store

    def warm(_, heat):
        return heat[0] - 40.0

    found = solve_ivp(pace, (0.0, 1e5), [230.0], events=warm, rtol=1e-8)
    by_hand = float(found.t_events[0][0])
    assert by_hand == pytest.approx(2.43 * 3600, rel=0.01)
    assert wait_after_soak(head, section, 230.0, 5e-5).unclamp == pytest.approx(by_hand, rel=1e-3)


@pytest.mark.parametrize("surface", [40.0, 100.0, 230.0])
def test_still_air_takes_no_more_off_the_whole_head_than_off_its_upright_faces(surface):
    # Churchill and Chu for the same height; a lying face underneath loses half of that or less: Incropera (from memory)
    upright = film_upright(0.09, surface)
    assert 0.5 * upright < CONVECTION.value < upright


def test_a_reading_waits_until_one_sided_cooling_bows_the_head_by_half_a_step():
    # 5 W/(m2 K) and 1.71 of radiation at 20 degC: 0.0195 K from top to foot per K over the room through a fifth of the
    # section, 155 W/(m K); that bows 400 mm at 90 mm by 0.0931 um; half of 1 um at 5.37 K; by hand
    head, section = box(), section_of(box())
    wait = wait_after_soak(head, section, 230.0, 1e-6)
    assert wait.honest == pytest.approx(cooling_time(clamped_body(head, section), 230.0, 25.37), rel=1e-3)
    assert wait.honest > wait.unclamp


def test_a_head_warmed_by_a_spot_has_lost_part_of_it_when_the_next_one_burns():
    # 200 K to begin with; tau = C / (h A), h = 5 + 4 x 0.3 sigma 293.15^3 = 6.71 W/(m2 K), A = 0.219 m2; after one tau
    # 200 / e = 74 K are left, to five degrees; by hand
    head, section = box(), section_of(box())
    store = head_body(head, section).capacity
    tau = store / (6.714 * 0.219)
    starts = spot_start(head, section, np.array([0.0, 1.0, tau]), np.array([200 * store, 0.0, 0.0]))
    assert starts == pytest.approx([20.0, 220.0, 95.0])


def test_clock_time_is_rounded_up_to_the_minute_and_that_of_a_long_wait_to_five():
    start = datetime(2026, 3, 1, 14, 2)  # noqa: DTZ001 - shop time
    assert clock(start, 76.0) == datetime(2026, 3, 1, 14, 4)  # noqa: DTZ001
    assert clock(start, 180.0) == datetime(2026, 3, 1, 14, 5)  # noqa: DTZ001
    assert clock(start, 10 * 3600 + 181) == datetime(2026, 3, 2, 0, 10)  # noqa: DTZ001


@pytest.mark.parametrize("heat", [2e4, 2e5, 8e5])
def test_no_reading_is_called_honest_before_the_head_is_out_of_the_clamp(heat):
    """Common practice, no source: measured free on the plate, never in the jig."""
    wait = wait_after_spots(box(), section_of(box()), heat, 1e-5)
    assert wait.honest >= wait.unclamp
