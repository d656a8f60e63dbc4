"""How far the tools may be trusted: worked cases of the GUM, printed tolerance tables."""

from __future__ import annotations

import math

import pytest

from straighten.readings import gauges
from straighten.readings.records import Gauges


def test_anything_within_limits_has_half_width_over_root_three() -> None:
    # JCGM 100:2008 (GUM) 4.3.7 (seen): a = 0.05 gives 0.028868
    assert gauges.rectangular(0.05) == pytest.approx(0.028868, abs=5e-7)


def test_a_step_has_itself_over_root_twelve() -> None:
    # JCGM 100:2008 (GUM) F.2.2.1 (seen): u = 0.29 d; d = 0.01 gives 0.0028868
    assert gauges.resolution(0.01) == pytest.approx(0.0028868, abs=5e-8)
    assert gauges.resolution(1) == pytest.approx(0.29, abs=0.005)


@pytest.mark.parametrize(("length_mm", "grade_0_um"), [(500, 7), (1000, 12)])
def test_the_default_straightedge_is_grade_0_of_din_874_1(length_mm: float, grade_0_um: float) -> None:
    # DIN 874-1, flat straightedges: 2 + L/100 um (from memory)
    assert gauges.edge_noise(Gauges(), length_mm * 1e-3) == pytest.approx(grade_0_um * 1e-6 / math.sqrt(3))


@pytest.mark.parametrize(("length_mm", "grade_1_um"), [(500, 15), (800, 18), (1000, 20)])
def test_the_default_plate_is_grade_1_of_din_876(length_mm: float, grade_1_um: float) -> None:
    # DIN 876 grade 1, longest side L: 10 + L/100 um (seen in two pages with the printed table)
    assert gauges.plate_noise(Gauges(), length_mm * 1e-3) == pytest.approx(grade_1_um * 1e-6 / math.sqrt(3))


def test_a_blade_in_the_hand_is_good_to_its_tolerance_and_the_feel_of_one_hand() -> None:
    # feel: hands differ, 5 to 15 um (common practice, no source)
    least, most = (math.hypot(5e-6 / math.sqrt(3), feel) for feel in (5e-6, 15e-6))
    assert least < gauges.blade_noise(Gauges()) < most
    assert gauges.blade_noise(Gauges(blade=10e-6)) > gauges.blade_noise(Gauges())


def test_a_measured_error_counts_with_its_own_uncertainty() -> None:
    measured = Gauges(edge_error=10e-6, edge_uncertainty=2e-6, plate_error=5e-6, plate_uncertainty=1e-6)
    assert gauges.edge_noise(measured, 0.5) == 2e-6
    assert gauges.plate_noise(measured, 0.5) == 1e-6
    assert gauges.edge_noise(Gauges(edge_tolerance=6e-6), 0.5) == pytest.approx(6e-6 / math.sqrt(3))
