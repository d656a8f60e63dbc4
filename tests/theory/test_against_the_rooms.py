"""Each derived expression, with numbers put in, against the function of the program that computes it."""

import math

import numpy as np
import pytest
import sympy as sp

from straighten.belief.posterior import sample_posterior
from straighten.head.records import NortonCreep
from straighten.heat.cooling import GAS_CONSTANT, KELVIN
from straighten.heat.disc import Mesh, _outer_spring
from straighten.heat.held import (
    Fibres,
    Held,
    Yielded,
    creep,
    creep_pace,
    relaxation_pace,
    relief,
    stresses,
    threshold,
)
from straighten.heat.plates import Sizes, Zone, mutual
from straighten.heat.roof import roof_of
from straighten.sanding.engine import Cylinder, Run, cam_retard, ratio_after, volume_lost
from straighten.sanding.face import DEPTHS, MEAN, face_of_states
from straighten.sanding.rate import BRINELL, Factors, preston, sheet_work
from straighten.shape.flatness import flatness, minimum_zone_line, straightness
from straighten.shape.modes import INDEX, STATE
from tests.heat.heads import METAL
from tests.heat.test_strained import hole
from tests.theory.derived.creep import derive_over_threshold, derive_relaxation
from tests.theory.derived.engine import derive_compression, derive_strokes, derive_timing
from tests.theory.derived.plate import derive_hole, derive_ring
from tests.theory.derived.straightness import derive_parabola, derive_twist
from tests.theory.derived.update import derive_update

YOUNG = 70e9


def one_fibre_pair(stress):
    """Two fibres bent to a stress, held at that bend: what relaxes in them is one number."""
    height = np.array([-0.05, 0.05])
    fibres = Fibres(height=height, area=np.full(2, 1e-3), shear_area=np.zeros(2) + 1e-3)
    return Held(
        curvature=np.array([[stress / (YOUNG * 0.05)]]), angle=np.zeros((1, 1)), weight=np.ones(1),
        springs=np.zeros(1), give=np.zeros(1), tighten=np.zeros(1), fibres=fibres, young=YOUNG, shear=26e9, soft=1.0,
    )  # fmt: skip


def relaxed(stress, pace, duration):
    held, none = one_fibre_pair(stress), np.zeros((1, 1, 2))
    ended = creep(held, Yielded(strain=none, slide=none, load=np.ones(1)), pace, duration)
    return float(np.abs(stresses(held, ended.strain, ended.slide)[0]).max())


@pytest.mark.parametrize(("exponent", "hours"), [(3.0, 1), (4.5, 5), (7.0, 20)])
def test_creep_at_a_held_bend_is_the_closed_form(exponent, hours):
    law = derive_relaxation()
    stress, time = 120e6, hours * 3600.0
    factor = 1e-8 / (100e6) ** exponent
    ours = relaxed(stress, lambda s: factor * s**exponent, time)
    derived = law.left.subs({law.s0: stress, law.A: factor, law.n: exponent, law.E: YOUNG, law.t: time})
    assert ours == pytest.approx(float(derived), rel=1e-4)  # no step takes more than 8 % off a stress


def test_creep_grows_with_temperature_by_arrhenius():
    law = derive_relaxation()
    given = NortonCreep(factor=1e-40, exponent=4.0, temperature=200.0, activation=142e3)
    ratio = creep_pace(given, 230.0)(np.array(1e8)) / creep_pace(given, 200.0)(np.array(1e8))
    numbers = {
        law.Q: 142e3,
        law.R: GAS_CONSTANT.value,
        law.T1: 200.0 + KELVIN,
        law.T2: 230.0 + KELVIN,
    }
    assert float(ratio) == pytest.approx(float(law.faster.subs(numbers)), rel=1e-12)


@pytest.mark.parametrize(("temperature", "hours"), [(180.0, 2.0), (200.0, 5.0), (230.0, 3.0)])
def test_relief_over_a_threshold_is_the_linear_law_in_its_pseudo_time(temperature, hours):
    law = derive_over_threshold()
    stress, base = 110e6, threshold(temperature)
    share = relief(temperature, hours * 3600.0)
    pace, end = relaxation_pace(temperature, hours * 3600.0, YOUNG)
    assert end == pytest.approx(float(law.end.subs({law.r: share})), rel=1e-12)
    left = float(law.left.subs({law.s0: stress, law.b: base, law.phi: end}))
    assert relaxed(stress, pace, end) == pytest.approx(left, rel=1e-5)


def test_the_plate_around_a_spot_holds_it_as_a_ring_without_end():
    law = derive_ring()
    mesh = Mesh(radius=np.linspace(0, 0.05, 11)[None], height=np.zeros((1, 1)), weight=np.full((1, 1), 0.009))
    modulus = METAL.modulus[0][1]
    derived = law.spring.subs({law.E: modulus, law.nu: METAL.poisson, law.h: 0.009, law.a: 0.05})
    assert _outer_spring(mesh, METAL).item() == pytest.approx(float(derived), rel=1e-12)


def test_a_spot_moves_the_metal_around_it_by_its_inherent_volume():
    # a wide sheet of elements; zones have a size and the sheet has edges, which is worth some hundredths
    law = derive_ring()
    sheet = Sizes(length=0.6, width=0.6, roof=0.01, wall=0.0, deck=0.0, height=0.0, webs=(), poisson=0.33)
    zones = tuple(Zone(x=x, y=0.0, x_end=x, y_end=0.0, radius=0.015) for x in (0.26, 0.34))
    stress = -mutual(roof_of(sheet), zones)[2:4, 0:2].sum(axis=1)  # of growth
    strain = stress[0] - 0.33 * stress[1]
    derived = sp.diff(law.moved / law.V, law.r).subs({law.nu: 0.33, law.h: 0.01, law.r: 0.08})
    assert strain == pytest.approx(float(derived), rel=0.15)


def test_half_of_a_discs_growth_and_more_is_kept_from_it():
    law = derive_ring()
    assert sp.simplify(law.squeezed - (1 + law.nu) / 2) == 0


def test_a_hole_keeps_what_kirsch_derived():
    law = derive_hole()
    assert (law.along, law.across) == (3, -1)
    even, lopsided = hole(200)
    assert even == pytest.approx(float(law.even.subs({law.nu: 0.33})), rel=0.01)
    assert lopsided == pytest.approx(float(law.lopsided.subs({law.nu: 0.33})), rel=0.01)


def test_a_parabola_is_as_straight_as_its_bow_is_small_by_every_definition():
    law = derive_parabola()
    x = np.linspace(0, 1, 401)
    found = straightness(x, 0.2 * 4 * x * (1 - x))
    for name in ("end_point", "minimum_zone", "least_squares"):
        derived = float(getattr(law, name).subs({law.h: sp.Rational(1, 5)}))
        assert getattr(found, name) == pytest.approx(derived, rel=1e-6)


def test_the_zone_of_a_twisted_face_rises_with_the_slope_across():
    law = derive_twist()
    x, y = (v.ravel() for v in np.meshgrid(np.linspace(-1, 1, 9), np.linspace(-1, 1, 5), indexing="ij"))
    height = 0.2 * x * y
    for across in (0.03, 0.1, 0.15):
        derived = float(law.zone.subs({law.t: sp.Rational(1, 5), law.c: sp.Float(across)}))
        assert minimum_zone_line(x, height - across * y)[0] == pytest.approx(derived, rel=1e-12)
    whole = float(sp.limit(law.zone, law.c, 0).subs({law.t: sp.Rational(1, 5)}))
    assert flatness(x, y, height + 0.07 * x - 0.02 * y).minimum_zone == pytest.approx(whole, rel=1e-12)


def test_the_bearing_curve_of_a_hollow_deck():
    law = derive_parabola()
    state = np.zeros((1, len(STATE)))
    state[0, INDEX["deck_bow"]] = 2e-4
    face = face_of_states(state)
    mean = np.array([float(law.mean.subs({law.d: sp.Float(depth)})) for depth in DEPTHS])
    np.testing.assert_allclose(face.curves[0, MEAN], mean, atol=1.5e-3)
    assert law.mean.subs(law.d, 1) == sp.Rational(1, 3)
    assert law.share.subs(law.d, 1) == 1


@pytest.mark.parametrize(("removal", "opening"), [(1e-4, 1.0), (3e-4, 1.1), (5e-4, 0.9)])
def test_compression_after_a_cut(removal, opening):
    law = derive_compression()
    bore, stroke, ratio = 0.081, 0.0774, 9.2
    swept = math.pi / 4 * bore**2 * stroke
    ours = ratio_after(
        Cylinder(swept=swept, clearance=swept / (ratio - 1)), volume_lost(removal, bore, opening)
    )
    derived = law.after.subs({law.e: ratio, law.s: stroke, law.t: removal, law.w: opening})
    assert float(ours) == pytest.approx(float(derived), rel=1e-12)
    assert float(law.slope.subs({law.e: 9, law.s: 80, law.w: 1})) == pytest.approx(0.8)  # (e - 1)^2 w / s


@pytest.mark.parametrize(("cam", "crank"), [(0.06, 0.03), (0.05, 0.05)])
def test_a_cam_falls_back_by_the_length_of_the_tight_run(cam, crank):
    law = derive_timing()
    run = Run(cam=cam, crank=crank, distance=0.32)
    derived = law.retard.subs(
        {law.R: cam, law.q: crank, law.c: sp.Rational(8, 25), law.t: sp.Rational(3, 10000)}
    )
    assert float(cam_retard(run, 3e-4)) == pytest.approx(float(derived), rel=1e-8)
    if cam == crank:
        assert float(derived) == pytest.approx(3e-4 / cam, rel=1e-9)


@pytest.mark.parametrize(
    ("strokes", "lasting", "fading"), [(40.0, 0.3, 60.0), (200.0, 0.5, 90.0), (5.0, 1.0, 30.0)]
)
def test_the_work_of_a_sheet_is_the_integral_of_its_bite(strokes, lasting, fading):
    law = derive_strokes()
    none = np.zeros((1, 1, 1))
    factors = Factors(
        volume_rate=np.ones(1), used=np.array([lasting]), fading=np.array([fading]), grain=np.ones(1),
        height=np.ones(1), curves=none, unexplained=none[0],
    )  # fmt: skip
    numbers = {law.n: strokes, law.r: lasting, law.m: fading}
    assert float(sheet_work(np.array(strokes), factors)[0]) == pytest.approx(
        float(law.work.subs(numbers)), rel=1e-12
    )


def test_prestons_volume_does_not_hang_on_the_area_in_touch():
    law = derive_strokes()
    assert not law.volume.free_symbols & {sp.Symbol("A", positive=True)}
    k = preston(1e-3, 80.0)
    assert k == pytest.approx(1e-3 / (80.0 * BRINELL), rel=1e-12)
    fresh = law.volume.subs({law.k: k, law.F: 100, law.l: 0.3, law.r: 1, law.n: 10, law.m: 50})
    assert float(fresh) == pytest.approx(10 * k * 100 * 0.3, rel=1e-12)


def test_a_normal_reading_of_a_normal_unknown():
    law = derive_update()
    numbers = {law.m: 0, law.s: 1, law.y: sp.Rational(3, 2), law.r: sp.Rational(2, 5)}
    found = sample_posterior(lambda u: -((1.5 - u[:, 0]) ** 2) / (2 * 0.16), np.zeros(1), 4096, 7)
    mean = float(found.weights @ found.draws[:, 0])
    sd = math.sqrt(float(found.weights @ (found.draws[:, 0] - mean) ** 2))
    assert mean == pytest.approx(float(law.mean.subs(numbers)), abs=2e-3)
    assert sd == pytest.approx(float(law.deviation.subs(numbers)), rel=5e-3)
