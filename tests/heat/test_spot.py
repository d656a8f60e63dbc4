"""One spot: trends of the trade, refinement, memory, and what changes with temper, warmth and repetition."""

from dataclasses import replace
from time import perf_counter

import numpy as np
import pytest

from straighten.head.alloys import alloy_named
from straighten.heat import spot_case as times
from straighten.heat import spot_heating as discs
from straighten.heat.spot import work_spot, work_spots, worked
from straighten.heat.spot_case import SpotCase
from straighten.heat.torch import power_for_peak
from straighten.heat.treatment import HeatSpot
from tests.heat.heads import METAL


def case_of(alloy=METAL, radius=0.012, peak=540.0, dwell=4.0, thickness=0.01, **more):
    spot = HeatSpot(station=0.0, side="inlet", radius=radius, dwell=dwell)
    power = power_for_peak(alloy, thickness, spot, peak, more.get("start", 20.0))
    return SpotCase(
        alloy=alloy, thickness=thickness, power=power, radius=radius, dwell=dwell, peak=peak, **more
    )


def shrunk(**case):
    return work_spot(case_of(**case)).sound.shrinkage


def test_size_and_heat_of_a_spot_matter_more_than_its_last_degrees():
    # trade and 3D elements: the zone widens with the heat put in, the middle has long been at yield
    assert shrunk(radius=0.018) > 1.8 * shrunk(radius=0.012) > 3 * shrunk(radius=0.008)
    assert shrunk(dwell=8.0) > 1.3 * shrunk(dwell=4.0)
    assert shrunk(peak=540.0) < 1.5 * shrunk(peak=480.0)


def test_a_spot_that_stays_elastic_shrinks_nothing():
    strong = replace(METAL, yield_short=((20, 2e9),))
    assert shrunk(alloy=strong, peak=300.0) == 0.0


def test_volumes_of_box_elements_lie_near_the_discs():
    # inherent volume of the box's spots from the far kink of 3D elements: 1.5e-4 rad a spot = 20 mm3; a free disc, not
    # held by neighbours, a tenth more
    assert shrunk() == pytest.approx(22.5e-9, rel=0.05)


@pytest.mark.parametrize("what", ["shrinkage", "even", "lopsided"])
def test_twice_the_rings_layers_and_steps_move_the_answer_by_little(monkeypatch, what):
    coarse = getattr(work_spot(case_of()).sound, what)
    for module, name in ((discs, "RINGS"), (discs, "LAYERS"), (times, "HEATING"), (times, "COOLING")):
        monkeypatch.setattr(module, name, 2 * getattr(module, name))
    fine = getattr(worked((case_of(),))[0].sound, what)
    assert coarse == pytest.approx(fine, rel=0.02)


def test_lost_temper_takes_something_off():
    answer = work_spot(case_of(alloy=alloy_named("A356-T6")))
    assert 0.9 * answer.sound.shrinkage < answer.softened.shrinkage < answer.sound.shrinkage
    assert answer.soft_volume > 0
    # metal without a temper, and a person's own table, lose nothing
    for alloy in (METAL, alloy_named("LM25-TB7")):
        same = work_spot(case_of(alloy=alloy))
        assert same.sound == same.softened


def test_a_warm_head_shrinks_as_much_as_a_cold_one_for_the_same_rise():
    cold = work_spot(case_of()).sound.shrinkage
    warm = work_spot(case_of(start=60.0, peak=540.0)).sound.shrinkage
    assert warm == pytest.approx(cold, rel=0.25)
    assert case_of(start=60.0).power < case_of().power


def test_a_neighbour_that_burns_too_warms_the_disc():
    alone, pair = case_of(dwell=8.0), case_of(dwell=8.0, others=((0.06, 1.0),))
    assert 1.02 < work_spot(pair).sound.shrinkage / work_spot(alone).sound.shrinkage < 1.3


def test_a_known_spot_is_answered_from_memory():
    case = case_of(dwell=3.3)
    work_spot(case)
    start = perf_counter()
    for _ in range(100):
        work_spot(case)
    assert (perf_counter() - start) / 100 < 1e-3


def test_hot_and_soft_volumes_are_parts_of_the_plate():
    answer = work_spot(case_of(alloy=alloy_named("A356-T6")))
    assert 0 < answer.soft_volume < answer.hot_volume < np.pi * 0.03**2 * 0.01
    assert answer.heat == pytest.approx(4.0 * case_of(alloy=alloy_named("A356-T6")).power)


def test_a_tempered_bar_loses_some_of_its_temper_and_of_its_shrinkage():
    answer = work_spot(case_of(alloy=alloy_named("A356-T6"), thickness=0.04, bar_width=0.06))
    assert 0.8 * answer.sound.shrinkage < answer.softened.shrinkage < answer.sound.shrinkage
    assert answer.growth > 0


def test_spots_worked_together_get_the_answers_they_get_alone():
    tempered = alloy_named("A356-T6")
    cases = [
        case_of(
            alloy=metal,
            dwell=3.1 + 0.4 * k,
            radius=0.010 + 0.001 * k,
            start=20.0 + 9 * k,
            thickness=0.008 + 0.001 * k,
        )
        for k, metal in enumerate((tempered, METAL, tempered, METAL, tempered))
    ]
    for answer, case in zip(work_spots(cases), cases, strict=True):
        (alone,) = worked((case,))
        assert answer.heat == alone.heat
        for name in ("sound", "softened"):
            for value in ("shrinkage", "lift", "even", "lopsided"):
                mine, theirs = getattr(getattr(answer, name), value), getattr(getattr(alone, name), value)
                assert mine == pytest.approx(theirs, rel=1e-9)
        assert answer.growth == pytest.approx(alone.growth, rel=1e-9)
