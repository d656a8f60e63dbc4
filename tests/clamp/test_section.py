"""The casting as a beam."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from straighten.clamp import section_of
from straighten.clamp.section import SHEAR_SPREAD, TORSION_SPREAD
from straighten.errors import BadInput
from straighten.head.records import Plates, Web
from tests.clamp.benches import plain_head, pump_head

BOX = Plates(
    deck=0.012, roof=0.010, side_walls=0.008, end_walls=0.010,
    webs=tuple(Web(station=0.2 + x, thickness=0.01) for x in (-0.133, -0.066, 0.0, 0.066, 0.133)),
)  # fmt: skip


def box_head(plates=BOX, **others):
    return plain_head(0.4, 0.15, 0.09, plates=plates, stations=(0.167, 0.233), modulus=72.4e9, **others)


def test_box_in_pure_bending_is_as_stiff_as_its_elements():
    """CalculiX, ends turned as planes: EI 4.1367e11 N mm2, neutral axis 43.0 mm, EA 3.3256e8 N."""
    section = section_of(box_head())
    assert abs(section.EI / 413_667 - 1) < 0.005
    assert section.neutral_axis == pytest.approx(43.0e-3, abs=0.2e-3)
    assert section.area * 72.4e9 == pytest.approx(
        3.3256e8, rel=0.01
    )  # not fitted: the web share was set on EI


def test_solid_bar_is_the_rectangle():
    """CalculiX gives EI 2.3168e10 N mm2 and EA 1.7376e8 N for 60 x 40 mm."""
    section = section_of(
        plain_head(0.4, 0.06, 0.04, plates=Plates(solid=True), stations=(0.2,), modulus=72.4e9)
    )
    assert abs(section.EI / 23_168 - 1) < 1e-9
    assert section.area * 72.4e9 == pytest.approx(1.7376e8, rel=1e-9)
    assert section.neutral_axis == pytest.approx(0.02)
    assert section.give_pull < 0.02 / section.kGA  # the local give of a solid bar is next to nothing


def test_closed_box_twists_after_bredt():
    """Square tube of even wall: J = a3 t."""
    tube = Plates(deck=0.005, roof=0.005, side_walls=0.005)
    head = plain_head(0.4, 0.105, 0.105, plates=tube, stations=(0.2,), modulus=70e9)
    section = section_of(head)
    assert section.GJ / section.shear_modulus == pytest.approx(0.1**3 * 0.005, rel=1e-9)


def test_plates_carry_no_spread_and_a_weighed_head_says_what_is_assumed():
    exact, weighed = section_of(box_head()), section_of(pump_head())
    assert exact.bending_spread == 0
    assert weighed.bending_spread > 0
    assert SHEAR_SPREAD.value > weighed.bending_spread
    assert any("assumed" in line for line in weighed.assumed)


def test_a_weighed_box_comes_out_within_its_spread():
    """The box's own mass, its plates forgotten: the guess may be off by two of its deviations at most."""
    head = box_head(weightless=False)
    true = section_of(head)
    forgotten = replace(head, casting=replace(head.casting, plates=None, mass=true.weight / 9.80665))
    guess = section_of(forgotten)
    for name, spread in (
        ("EI", guess.bending_spread),
        ("kGA", SHEAR_SPREAD.value),
        ("GJ", TORSION_SPREAD.value),
    ):
        ratio = getattr(guess, name) / getattr(true, name)
        assert abs(ratio - 1) < 2.5 * spread, name


def test_a_heavier_casting_is_stiffer():
    head = pump_head()
    sections = [
        section_of(replace(head, casting=replace(head.casting, mass=m))) for m in (4.0, 6.0, 9.0, 14.0)
    ]
    for name in ("EI", "kGA", "GJ"):
        values = [getattr(s, name) for s in sections]
        assert values == sorted(values), name


@pytest.mark.parametrize("mass", [0.5, 40.0])
def test_a_mass_that_cannot_be_is_refused(mass):
    head = pump_head()
    with pytest.raises(BadInput) as fault:
        section_of(replace(head, casting=replace(head.casting, mass=mass)))
    assert fault.value.where == "casting.mass"
    assert fault.value.fix


def test_neither_plates_nor_mass_gives_a_wider_guess_that_says_what_would_tell():
    head = pump_head()
    weighed = section_of(head)
    guessed = section_of(replace(head, casting=replace(head.casting, mass=None, plates=None)))
    assert guessed.bending_spread > weighed.bending_spread
    assert abs(math.log(guessed.EI / weighed.EI)) < guessed.bending_spread
    assert any("load weighed on the clamp" in line for line in guessed.assumed)


def test_a_weighed_head_that_fills_its_outline_is_a_solid_bar():
    head = pump_head()
    full = head.alloy.density * 0.42 * 0.15 * 0.092
    section = section_of(replace(head, casting=replace(head.casting, mass=0.99 * full)))
    assert section.inertia == pytest.approx(0.15 * 0.092**3 / 12)
    assert section.bending_spread > 0  # guessed from the scale all the same
