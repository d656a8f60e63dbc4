"""The clamp on problems whose answer stands in every handbook of strength of materials.

Sources: Timoshenko, Strength of Materials (beams on two supports, overhang, shear deflection); Young and Budynas,
Roark's Formulas for Stress and Strain; Cowper, J. Appl. Mech. 33 (1966) 335 for the shear coefficient: all from
memory. The figures are worked out from those formulas (derived) for E = 70 GPa, a bar 150 mm wide and 100 mm deep,
400 mm between supports, 10 kN.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from straighten.clamp import ClampSetup, section_of
from straighten.clamp.section import cowper, rectangle_torsion
from straighten.head.records import Plates
from tests.clamp.benches import all_bolts, bowed, clamp_section, draws, plain_head

SOURCE = "Beams on two supports: Timoshenko, Strength of Materials; Roark's Formulas for Stress and Strain"
MARK = "derived"  # worked out from the closed forms, which are from memory

E, WIDTH, DEPTH, SPAN, LOAD = 70e9, 0.150, 0.100, 0.400, 10e3
INERTIA = WIDTH * DEPTH**3 / 12
HIGH = (1e-3,) * 4  # shims so high that the base is never touched


def hold(head, setup, *, kGA=np.inf, state=None, **section):
    """Clamp without local give, and without shear where none is told, so that only beam theory is left."""
    beam = replace(section_of(head), give_pull=0.0, give_shim=0.0, kGA=kGA, **section)
    return clamp_section(head, beam, bowed(0.0) if state is None else state, setup, draws(1.0))


def bar(stations=(0.2,), **others):
    return plain_head(
        others.pop("length", SPAN),
        WIDTH,
        DEPTH,
        plates=Plates(solid=True),
        stations=stations,
        modulus=E,
        **others,
    )


def pulled(stations, load, **others):
    head = bar(stations, **others)
    pull = load / (2 * len(stations))
    return head, ClampSetup(shims=HIGH, bolts=all_bolts(head), gap=None, tension=pull)


def at(clamped, x, what="deflection"):
    return float(np.interp(x, clamped.station, getattr(clamped, what)[0]))


def test_centre_load_on_two_supports(published):
    clamped = hold(*pulled((0.2,), LOAD))
    assert clamped.bend[0] == pytest.approx(LOAD * SPAN**3 / (48 * E * INERTIA), rel=1e-9)
    published("centre load, deflection of the middle", clamped.bend[0] * 1e3, 0.0152381, unit="mm", rel=1e-5)
    published("centre load, moment P L / 4", at(clamped, 0.2, "moment"), LOAD * SPAN / 4, unit="Nm", rel=1e-9)
    stress = E * at(clamped, 0.2, "curvature") * DEPTH / 2e6
    published("centre load, stress of the skin", stress, 4.0, unit="MPa", rel=1e-9)


def test_centre_load_bends_to_eleven_sixteenths_at_the_quarter(published):
    clamped = hold(*pulled((0.2,), LOAD))
    published("centre load, quarter over middle", at(clamped, 0.1) / clamped.bend[0], 11 / 16, rel=1e-9)


def test_two_loads_at_a_quarter_from_each_end(published):
    clamped = hold(*pulled((0.1, 0.3), LOAD))
    expected = LOAD / 2 * 0.1 * (3 * SPAN**2 - 4 * 0.1**2) / (24 * E * INERTIA)
    assert clamped.bend[0] == pytest.approx(expected, rel=1e-9)
    published("two loads at the quarters, deflection", clamped.bend[0] * 1e3, 0.0104762, unit="mm", rel=1e-5)
    published("two loads at the quarters, moment", at(clamped, 0.2, "moment"), 500.0, unit="Nm", rel=1e-9)
    assert at(clamped, 0.2, "shear") == pytest.approx(0.0, abs=1e-6)


def test_weight_spread_evenly(published):
    head = bar()
    setup = ClampSetup(shims=HIGH, bolts=(0, 1), gap=None, tension=0.0)
    clamped = hold(head, setup, weight=LOAD)
    sag = 5e3 * LOAD * SPAN**3 / (384 * E * INERTIA)
    published("even load, 5 W L3 / 384 EI", clamped.bend[0] * 1e3, sag, unit="mm", rel=1e-9)
    assert at(clamped, 0.2, "moment") == pytest.approx(LOAD * SPAN / 8, rel=1e-9)


def test_overhanging_ends_pulled_down_raise_the_middle(published):
    over, length = 0.05, SPAN + 0.1
    head, setup = pulled((0.0, length), 2 * LOAD, length=length, shims=(over, over + SPAN))
    clamped = hold(head, setup)
    rise = LOAD * over * SPAN**2 / (8 * E * INERTIA)
    drop = LOAD * over**2 * (2 * over + 3 * SPAN) / (6 * E * INERTIA)
    assert rise * 1e3 == pytest.approx(0.01142857, rel=1e-6)
    assert drop * 1e3 == pytest.approx(0.00619048, rel=1e-6)
    published(
        "overhanging ends pulled, middle over the ends",
        clamped.bend[0] * 1e3,
        -0.01761905,
        unit="mm",
        abs=1e-8,
    )
    assert clamped.bend[0] == pytest.approx(-(rise + drop), rel=1e-9)
    assert at(clamped, over) == pytest.approx(-drop, rel=1e-9)


def test_shear_adds_a_fifth_at_this_span(published):
    shear_modulus = E / (2 * 1.33)
    stiff = 5 / 6 * shear_modulus * WIDTH * DEPTH
    bending = hold(*pulled((0.2,), LOAD)).bend[0]
    both = hold(*pulled((0.2,), LOAD), kGA=stiff).bend[0]
    assert both - bending == pytest.approx(LOAD * SPAN / (4 * stiff), rel=1e-9)
    published("centre load, deflection by shear", (both - bending) * 1e3, 0.003040, unit="mm", rel=1e-3)
    ratio = (DEPTH / SPAN) ** 2 * 2 * 1.33 / (5 / 6)
    assert (both - bending) / bending == pytest.approx(ratio, rel=1e-9)
    assert ratio == pytest.approx(0.1995, rel=1e-3)


@pytest.mark.parametrize("load", ["weight", "two loads"])
def test_shear_of_weight_and_of_two_loads(load, published):
    stiff = 5 / 6 * E / (2 * 1.33) * WIDTH * DEPTH
    if load == "weight":
        case = bar(), ClampSetup(shims=HIGH, bolts=(0, 1), gap=None, tension=0.0)
        others = {"weight": LOAD}
    else:
        case, others = pulled((0.1, 0.3), LOAD), {}
    shear = hold(*case, kGA=stiff, **others).bend[0] - hold(*case, **others).bend[0]
    assert shear == pytest.approx(LOAD * SPAN / (8 * stiff), rel=1e-9)
    published("deflection by shear", shear * 1e3, 0.001520, unit="mm", rel=1e-3, case=load)


def test_shear_coefficient_of_the_rectangle(published):
    paper = "Cowper, J. Appl. Mech. 33 (1966) 335, shear coefficient"
    published("rectangle, Poisson 0.33", cowper(0.33), 0.85093, abs=5e-6, source=paper, mark="from memory")


def test_torsion_constant_of_square_and_strip(published):
    # Timoshenko and Goodier, table of k1: 0.1406 for the square, 0.312 for 1:10 (from memory).
    table = {"source": "Timoshenko and Goodier, Theory of Elasticity, torsion of bars", "mark": "from memory"}
    published("k1 of the square", rectangle_torsion(1.0, 1.0), 0.1406, abs=5e-5, **table)
    published("k1 of the strip 1:10", rectangle_torsion(10.0, 1.0) / 10, 0.312, abs=5e-4, **table)


def test_force_that_presses_a_bow_flat(published):
    head = bar()
    setup = ClampSetup(shims=(0.0,) * 4, bolts=(0, 1), gap=0.0)
    clamped = hold(head, setup, state=bowed(0.25e-3))
    published("force that presses 0.25 mm flat", clamped.total_force[0], 164_062.5, unit="N", rel=1e-9)
    stress = E * at(clamped, 0.2, "curvature") * DEPTH / 2e6
    published("its stress", stress, 65.625, unit="MPa", rel=1e-9)


def test_four_point_pull_strains_the_skin_less_for_the_same_bend():
    head = bar((0.05, 0.35))
    setup = ClampSetup(shims=HIGH, bolts=all_bolts(head), gap=None, tension=1e4)
    clamped = hold(head, setup)
    a = 0.05
    stress = 24 * E * DEPTH / 2 * clamped.bend[0] / (3 * SPAN**2 - 4 * a**2)
    assert E * at(clamped, 0.2, "curvature") * DEPTH / 2 == pytest.approx(stress, rel=1e-9)


def test_one_centre_load_does_not_flatten_a_circular_bow():
    head = bar((0.1, 0.2, 0.3))
    setup = ClampSetup(shims=(0.0,) * 4, bolts=(2, 3), gap=0.0)
    clamped = hold(head, setup, state=bowed(0.3e-3))
    assert clamped.point_gap[0, 4:6] == pytest.approx([0.0625 * 0.3e-3] * 2, rel=1e-9)
    assert clamped.point_gap[0, 8:10] == pytest.approx([0.0625 * 0.3e-3] * 2, rel=1e-9)


def test_beam_over_a_plate_meets_it_at_the_force_of_the_formula():
    """Flat bar on 0.25 mm end shims: until 48 EI s / L3 the plate carries nothing, above that the excess."""
    head = bar()
    meets = 48 * E * INERTIA * 0.25e-3 / SPAN**3
    assert meets == pytest.approx(164_062.5, rel=1e-12)
    for pull in (0.5, 0.999, 1.001, 1.5):
        setup = ClampSetup(shims=(0.25e-3,) * 4, bolts=(0, 1), gap=None, tension=pull * meets / 2)
        pressed = hold(head, setup).base_force[0].sum()
        assert pressed == pytest.approx(max(pull - 1, 0) * meets, rel=1e-8, abs=1e-6)
