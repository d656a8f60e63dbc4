"""Thermal growth and softening of clamp and head against the fire parts of the Eurocodes.

Sources: EN 1999-1-2, 3.3.1.1 elongation of aluminium (seen in transcription, spot values derived); EN 1993-1-2, 3.4.1.1
elongation of carbon steel, Table 3.1 (modulus) and Table D.1 (bolts) (from memory; nought at 20 degC checked).
"""

from __future__ import annotations

import pytest

from straighten.clamp.section import curve_at
from straighten.clamp.springs import (
    BOLT_SOFTENING,
    STEEL_SOFTENING,
    aluminium_elongation,
    locked_bolt_stress,
    steel_elongation,
)  # fmt: skip

SOURCE = "EN 1999-1-2, 3.3.1.1, thermal elongation of aluminium"
MARK = "derived"  # spot values of the formula, which was seen
STEEL = {
    "source": "EN 1993-1-2, 3.4.1.1, Table 3.1 and Table D.1, carbon steel and bolts",
    "mark": "from memory",
}


@pytest.mark.parametrize(
    ("temperature", "elongation"),
    [
        (20, 4.0e-6),
        (100, 1.900e-3),
        (150, 3.150e-3),
        (200, 4.450e-3),
        (250, 5.800e-3),
        (300, 7.200e-3),
        (400, 1.015e-2),
    ],
)
def test_elongation_of_aluminium(temperature, elongation, published):
    found = aluminium_elongation(temperature) * 1e3
    published("elongation", found, elongation * 1e3, unit="1e-3", abs=1e-6, case=f"{temperature} C")


def test_elongation_of_steel(published):
    assert steel_elongation(20.0) == pytest.approx(0.0, abs=1e-12)
    published("elongation, 250 C", steel_elongation(250.0) * 1e3, 3.0084, unit="1e-3", abs=1e-4, **STEEL)


def test_aluminium_outgrows_steel_by_2_79_per_mille_at_250():
    grown = aluminium_elongation(250.0) - aluminium_elongation(20.0) - steel_elongation(250.0)
    assert grown == pytest.approx(2.788e-3, abs=1e-6)


def test_a_locked_bolt_reaches_the_proof_stress_of_class_8_8_by_heat_alone():
    added = locked_bolt_stress(
        aluminium_elongation(250.0) - aluminium_elongation(20.0), steel_elongation(250.0)
    )
    assert added == pytest.approx(585e6, rel=0.01)
    assert added > 580e6
    softer = locked_bolt_stress(aluminium_elongation(250.0) - aluminium_elongation(20.0), 12e-6 * 230, 200e9)
    assert softer == pytest.approx(607e6, rel=0.01)


def test_modulus_and_bolt_strength_when_hot(published):
    published("modulus of steel, 200 C", curve_at(STEEL_SOFTENING.value, 200.0), 0.9, rel=1e-6, **STEEL)
    published("modulus of steel, 250 C", curve_at(STEEL_SOFTENING.value, 250.0), 0.85, rel=1e-6, **STEEL)
    published("strength of bolts, 200 C", curve_at(BOLT_SOFTENING.value, 200.0), 0.935, rel=1e-6, **STEEL)


def test_bolts_lose_strength_evenly_between_100_and_300_degrees():
    # EN 1993-1-2 Table D.1 (from memory): 0.968 at 100, 0.903 at 300, to a thousandth on a straight line in between
    for temperature in (100.0, 125.0, 150.0, 175.0, 200.0, 250.0, 300.0):
        even = 0.968 - (0.968 - 0.903) * (temperature - 100.0) / 200.0
        assert curve_at(BOLT_SOFTENING.value, temperature) == pytest.approx(even, abs=1e-3)
