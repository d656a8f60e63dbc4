"""The oven soak: bounds, signs and closed forms."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straighten.clamp import section_of
from straighten.errors import BadInput, OutsideModel
from straighten.head.alloys import alloy_named
from straighten.head.records import Base, NortonCreep
from straighten.heat import Soak, ageing, nominal, relax_soak
from straighten.heat import held as beam
from straighten.heat.held import Fibres, Held, Yielded, creep, creep_pace, fibres_of, inelastic, load_left
from tests.heat.heads import CREEP_FREE, METAL, bar, bolts_at, bowed, box, clamped

HOUR = 3600.0


def kept(head, temperature, hours, shim=1e-4, bow=0.4e-3):
    held = clamped(head, shim, bow)
    return float(
        relax_soak(
            head, section_of(head), held, Soak(temperature=temperature, hold=hours * HOUR), nominal()
        ).kept_share[0]
    )


def of(name, **more):
    return box(alloy=alloy_named(name), **more)


def rectangle(curvature, soft=1.0, young=70e9):
    """A rectangular section 1 m wide, 120 mm deep, under uniform curvature, held at it."""
    node, weight = np.polynomial.legendre.leggauss(200)
    fibres = Fibres(height=0.06 * node, area=0.06 * weight, shear_area=0.06 * weight)
    return Held(
        curvature=np.array([[curvature]]), angle=np.zeros((1, 1)), weight=np.ones(1), springs=np.zeros(1),
        give=np.zeros(1), tighten=np.zeros(1), fibres=fibres, young=young, shear=26e9, soft=soft,
    )  # fmt: skip


def test_no_heat_leaves_no_set():
    # below the hot yield and without creep nothing stays
    assert kept(of("A356-T6"), 20.0, 5.0) == 0.0
    assert kept(box(alloy=replace(METAL, creep=CREEP_FREE)), 20.0, 5.0) == pytest.approx(0.0, abs=1e-9)


def test_full_relaxation_keeps_the_whole_bend_in_bending():
    held = rectangle(2e-3)
    none = np.zeros((1, 1, 200))
    ended = creep(held, Yielded(strain=none, slide=none, load=np.ones(1)), lambda s: s / held.young, 60.0)
    assert inelastic(held, ended.strain, ended.slide)[0][0, 0] / 2e-3 == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(("left", "share"), [(0.7, 0.3), (0.3, 0.7)])
def test_a_linear_relaxation_keeps_what_the_stress_loses(left, share):
    # f = 1 - sigma_end / sigma_start, whatever the strain; derived
    for curvature in (5e-4, 4e-3):
        held = rectangle(curvature)
        none = np.zeros((1, 1, 200))
        ended = creep(
            held,
            Yielded(strain=none, slide=none, load=np.ones(1)),
            lambda s, young=held.young: s / young,
            -np.log(left),
        )
        bent = inelastic(held, ended.strain, ended.slide)[0][0, 0]
        assert bent / curvature == pytest.approx(share, abs=1e-3)


@pytest.mark.parametrize(("hours", "mpa"), [(1, 18.8387), (4, 13.3454), (8, 11.2255)])
def test_power_law_relaxation_is_the_closed_form(hours, mpa):
    # s = [s0^(1-n) + (n-1) E B t]^(1/(1-n)); n 5, E 54.6 GPa, s0 60 MPa, B 1e-14 (MPa, s); derived
    fibres = Fibres(height=np.array([0.05, -0.05]), area=np.ones(2), shear_area=np.ones(2))
    young = 54.6e9
    held = Held(
        curvature=np.array([[60e6 / young / 0.05]]), angle=np.zeros((1, 1)), weight=np.ones(1), springs=np.zeros(1),
        give=np.zeros(1), tighten=np.zeros(1), fibres=fibres, young=young, shear=26e9, soft=1.0,
    )  # fmt: skip
    none = np.zeros((1, 1, 2))
    law = creep_pace(NortonCreep(factor=1e-14 * 1e-30, exponent=5.0, temperature=250.0), 250.0)
    ended = creep(held, Yielded(strain=none, slide=none, load=np.ones(1)), law, hours * HOUR)
    stress = young * (60e6 / young - abs(ended.strain[0, 0, 0]))
    assert stress / 1e6 == pytest.approx(mpa, rel=1e-4)


def test_creep_is_faster_when_hotter_by_its_activation():
    law = NortonCreep(factor=1e-46, exponent=5.0, temperature=230.0, activation=137.5e3)
    ratio = creep_pace(law, 250.0)(np.array(5e7)) / creep_pace(law, 230.0)(np.array(5e7))
    assert ratio == pytest.approx(np.exp(137.5e3 / 8.314462618 * (1 / 503.15 - 1 / 523.15)), rel=1e-9)


def test_set_grows_with_temperature_and_with_time():
    # creep-age forming: springback falls with time and temperature (Safari et al., Trans. Indian Inst. Met. 2019,
    # abstract seen); relief of quench stress in castings grows with temperature (Godlewski et al. 2013, abstract seen)
    head = of("A356-T6")
    by_heat = [kept(head, t, 4.0) for t in (160, 190, 220, 240, 260, 300)]
    by_time = [kept(head, 230.0, h) for h in (0.3, 1, 2, 5, 8)]
    assert by_heat == sorted(by_heat)
    assert by_time == sorted(by_time)
    assert by_time[-1] > 1.3 * by_time[0]


@settings(max_examples=20, deadline=None)
@given(t=st.floats(100, 300), dt=st.floats(0, 40), h=st.floats(0.1, 8), dh=st.floats(0, 4))
def test_relief_never_falls_with_heat_or_time(t, dt, h, dh):
    assert beam.relief(t + dt, (h + dh) * HOUR) >= beam.relief(t, h * HOUR) - 1e-12
    assert 0 <= beam.relief(t, h * HOUR) < 1
    assert beam.threshold(t + dt) <= beam.threshold(t)


def test_at_160_degrees_small_stress_hardly_relaxes():
    # threshold stress 70 MPa at 160 degC, up to 12 h: AA6082-T6, Rong et al. 2019, abstract; seen
    assert kept(of("A356-T6"), 160.0, 12.0) < 0.05


@pytest.mark.parametrize(("temperature", "hours"), [(180, 1.0), (200, 1.0), (230, 3.5)])
def test_relaxation_comes_to_rest_where_published_on_a_level_above_nought(temperature, hours):
    # AlSi7Cu0.5Mg: at rest after about 1 h at 180 and 200, 3.5 h at 230 degC, no complete relaxation within 5 h (Wang et al.
    # 2022, abstract; seen); times within half
    end = beam.relief(temperature, 336 * HOUR)
    assert beam.relief(temperature, 1.5 * hours * HOUR) > 0.95 * end
    assert beam.relief(temperature, 0.5 * hours * HOUR) < 0.95 * end
    assert beam.relief(temperature, 5 * HOUR) < 0.9


def test_quench_stress_loses_a_third_at_most_in_the_ageing_oven_and_nearly_all_in_the_anneal():
    # 10 to 35 % at 150-175 degC, full relief at 315-345 degC in 2 to 5 h: ASM Handbook 4, from memory
    quench = 120e6
    for t in (155.0, 160.0, 170.0, 175.0):
        assert beam.relief(t, 8 * HOUR) * max(1 - beam.threshold(t) / quench, 0) < 0.36
    assert 0.1 < beam.relief(165.0, 8 * HOUR) * (1 - beam.threshold(165.0) / quench) < 0.36
    assert beam.relief(340.0, 5 * HOUR) > 0.85


def test_five_hours_at_450_f_take_what_a_half_bow_shim_supposes():
    # bow 2.03 mm, shims half of it, 4-5 h: result within 0.25 mm means f between 0.58 and 0.75 (diesel handbook page,
    # 2011, seen; joined with the often-told 230 degC, from memory)
    for name in ("A356-T6", "319-T6", "unknown"):
        share = kept(of(name, bolts=bolts_at(0.167, 0.233)), 230.0, 4.5, shim=0.25e-3, bow=0.5e-3)
        assert 0.55 < share < 0.80


@pytest.mark.parametrize(("temperature", "share"), [(150, 0.313), (200, 0.464), (250, 0.685), (300, 0.831)])
def test_hot_yield_of_a_rectangle_keeps_the_closed_form(temperature, share):
    # f = (k - 1.5 + 0.5/k^2)/k for a block 120 mm deep, 450 mm long, bow 2.032 mm over 1.016 mm shims; modulus after
    # EN 1999-1-2, yield of head decks (Modern Casting, July 2018): arithmetic derived
    young = {150: 65.1e9, 200: 60.2e9, 250: 54.6e9, 300: 47.6e9}[temperature]
    limit = {150: 235e6, 200: 163e6, 250: 84e6, 300: 39e6}[temperature]
    held = rectangle(8 * 3.048e-3 / 0.45**2, soft=young / 70e9)
    ended = beam.yield_hot(held, limit, 1.0)
    bent = inelastic(held, ended.strain, ended.slide)[0][0, 0]
    assert bent / held.curvature[0, 0] == pytest.approx(share, abs=0.002)


@pytest.mark.parametrize(
    ("k", "moment", "left"), [(1.25, 1.18, 0.07), (2, 1.375, 0.625), (3, 1.44444, 1.55556), (5, 1.48, 3.52)]
)
def test_elastic_plastic_rectangle(k, moment, left):
    # M/My = 1.5 (1 - 1/(3 k^2)), residual curvature k - 1.5 + 0.5/k^2; derived, textbook plastic bending
    first = 100e6 / 70e9 / 0.06
    held = rectangle(k * first)
    ended = beam.yield_hot(held, 100e6, 1.0)
    bent = inelastic(held, ended.strain, ended.slide)[0][0, 0]
    assert bent / first == pytest.approx(left, abs=0.01)
    assert k - bent / first == pytest.approx(moment, abs=0.01)


@pytest.mark.parametrize(("bow", "share"), [(1.0e-3, 0.392), (0.5e-3, 0.026), (0.2e-3, 0.0)])
def test_without_creep_a_small_bow_does_not_move(bow, share):
    held = rectangle(8 * 1.5 * bow / 0.45**2, soft=54.6 / 70)
    ended = beam.yield_hot(held, 84e6, 1.0)
    assert inelastic(held, ended.strain, ended.slide)[0][0, 0] / held.curvature[0, 0] == pytest.approx(
        share, abs=0.003
    )


@pytest.mark.parametrize(
    ("upper", "depths", "moduli", "curvature"),
    [
        (11e-6, (1.0e-3, 1.0e-3), (70e9, 70e9), 0.825),  # 1.5 da dT / H
        (11e-6, (0.100, 0.040), (70e9, 210e9), 1.14564e-2),  # aluminium on steel
    ],
)
def test_bimetal_strip(upper, depths, moduli, curvature):
    # Timoshenko 1925: 6 da dT (1+m)^2 / (H [3(1+m)^2 + (1+mn)(m^2 + 1/(mn))]), dT = 100 K; per metre (from memory)
    node, weight = np.polynomial.legendre.leggauss(40)
    z = np.concatenate([depths[0] / 2 * (1 + node), -depths[1] / 2 * (1 + node)])
    area = np.concatenate([moduli[0] * depths[0] * weight, moduli[1] * depths[1] * weight])
    z = z - (area * z).sum() / area.sum()
    held = replace(rectangle(1.0), fibres=Fibres(height=z, area=area, shear_area=area))
    strain = np.where(np.arange(80) < 40, upper * 100, 0.0)[None, None]
    bent, _ = inelastic(held, strain, 0 * strain)
    assert -bent[0, 0] == pytest.approx(curvature, rel=1e-5)


def test_more_bend_keeps_a_larger_share_where_creep_is_not_linear():
    # Rong et al. 2019, abstract (seen); a linear law keeps the same share, tested above
    metal = replace(
        METAL, creep=NortonCreep(factor=1e-46, exponent=5.0, temperature=230.0), yield_soaked=((20, 1e9),)
    )
    small, large = (kept(bar(alloy=metal), 230.0, 8.0, shim=s) for s in (0.0, 3e-4))
    assert large > 1.3 * small


def test_pulled_in_one_place_a_bar_keeps_more_than_pulled_in_two():
    # springback after creep forming: four-point bending more than three-point (2124, abstract seen)
    metal = replace(
        METAL, creep=NortonCreep(factor=1e-46, exponent=5.0, temperature=230.0), yield_soaked=((20, 1e9),)
    )
    three = kept(bar(alloy=metal), 230.0, 8.0)
    four = bar(alloy=metal)
    four = replace(four, bolts=bolts_at(0.13, 0.27))
    assert kept(four, 230.0, 8.0) < three


def test_a_hot_clamp_bears_more_when_bolts_cannot_stretch_with_the_head_and_less_after_the_soak():
    # US patent 5,903,975 (1999), abstract: heating raises the clamping pressure, cooling lowers it; seen
    held = replace(rectangle(1e-3, soft=0.85), springs=np.array([0.1]), tighten=np.array([100.0]))
    none = np.zeros((1, 1, 200))
    hot = float(load_left(held, none, none)[0])
    ended = creep(held, Yielded(strain=none, slide=none, load=np.array([hot])), lambda s: s / held.young, 0.5)
    cold = replace(held, soft=1.0, tighten=np.zeros(1))
    assert hot > 1.0
    assert float(load_left(cold, ended.strain, ended.slide)[0]) < 1.0


@pytest.mark.parametrize(
    ("head", "shim", "temperature", "um"),
    [
        (box, 3e-4, 230.0, 146.6),
        (box, 1e-4, 260.0, 79.4),
        (box, 3e-4, 260.0, 247.6),
        (bar, 3e-4, 230.0, 14.9),
        (bar, 1e-4, 260.0, 4.0),
        (bar, 3e-4, 260.0, 92.0),
    ],
)
def test_hot_yield_of_box_and_bar_is_that_of_the_elements(head, shim, temperature, um):
    # 3D finite elements, metal of heads.py, elastic-plastic only: mean change of bow of the deck's lines; seen, used for
    # no constant
    head = head(alloy=replace(METAL, creep=CREEP_FREE))
    held = clamped(head, shim)
    found = relax_soak(head, section_of(head), held, Soak(temperature=temperature, hold=HOUR), nominal())
    assert found.lines[0, 0] * 1e6 == pytest.approx(um, rel=0.12)


@pytest.mark.parametrize(("hours", "um"), [(4, 67.5), (8, 99.6)])
def test_creep_of_the_box_is_that_of_the_elements(hours, um):
    # the same elements, Norton 1e-16 sigma^5 (MPa, s) at 230 degC: most of it is shear of the side walls; seen
    law = NortonCreep(factor=1e-46, exponent=5.0, temperature=230.0)
    head = box(alloy=replace(METAL, creep=law, yield_soaked=((20, 1e9),), yield_short=((20, 1e9),)))
    found = relax_soak(
        head, section_of(head), clamped(head, 1e-4), Soak(temperature=230.0, hold=hours * HOUR), nominal()
    )
    assert found.lines[0, 0] * 1e6 == pytest.approx(um, rel=0.10)


def test_a_springy_clamp_leaves_more_set_than_a_stiff_one():
    stiff, springy = bar(alloy=alloy_named("A356-T6")), bar(alloy=alloy_named("A356-T6"))
    springy = replace(
        springy, base=Base(kind="plate", thickness=0.05, width=0.2, length=0.6, material="steel")
    )
    assert kept(springy, 230.0, 2.0) > kept(stiff, 230.0, 2.0)


def test_draws_lie_between_levels_of_bend():
    head = of("A356-T6")
    bows = (0.2e-3, 0.31e-3, 0.4e-3, 0.6e-3)
    from straighten.clamp import ClampSetup, clamp_head

    setup = ClampSetup(shims=(1e-4,) * 4, bolts=(0, 1, 2, 3), gap=0.0)
    many = clamp_head(head, bowed(*bows), setup, nominal(4))
    soak = Soak(temperature=205.0, hold=4 * HOUR)
    together = relax_soak(head, section_of(head), many, soak, nominal(4)).kept_share
    alone = [
        relax_soak(
            head, section_of(head), clamp_head(head, bowed(b), setup, nominal()), soak, nominal()
        ).kept_share[0]
        for b in bows
    ]
    np.testing.assert_allclose(together, alone, rtol=0.03)


def test_fibres_carry_the_beams_own_stiffness():
    for head in (box(), bar(), box(casting=replace(box().casting, plates=None, mass=8.0))):
        section = section_of(head)
        fibres = fibres_of(head, section)
        assert fibres.inertia == pytest.approx(section.inertia, rel=1e-9)
        assert fibres.shear_area.sum() == pytest.approx(section.kGA / section.shear_modulus, rel=1e-9)
        assert fibres.area.sum() == pytest.approx(section.area, rel=0.35)


def test_hardness_stands_beside_the_set():
    # T6 held 2 to 4 h at 250 degC: HB 65-75 against 90-110 (LM25 data page, seen), reject at 65 to 70
    head = of("LM25")
    ended = relax_soak(
        head, section_of(head), clamped(head, 1e-4), Soak(temperature=250.0, hold=3 * HOUR), nominal()
    )
    low, high = ended.hardness_after[0]
    assert tuple(ended.hardness_before[0]) == (90.0, 110.0)
    assert low < 70 < high < 100


def test_a_slow_ramp_softens_by_what_its_warm_end_does():
    # (t/T) exp(-Q/RT) along straight ramps from 20 degC, Q 137.5 kJ/mol as in docs/theory/heat.md: derived, by quadrature;
    # 1/T is left out of the ramp's share: its last 50 K count, and T changes by a tenth over them
    def pace(celsius):
        return (
            523.15
            / (celsius + 273.15)
            * np.exp(137.5e3 / 8.314462618 * (1 / 523.15 - 1 / (celsius + 273.15)))
        )

    for top, up, down in ((230.0, 4.0, 10.0), (200.0, 2.0, 12.0), (250.0, 3.0, 0.0)):
        along = np.linspace(0.0, 1.0, 20001)
        ramp = float(np.trapezoid(pace(20 + (top - 20) * along), along))
        wanted = HOUR * (5 * pace(top) + (up + down) * ramp)
        found = ageing(Soak(temperature=top, hold=5 * HOUR, heat_up=up * HOUR, cool_down=down * HOUR))
        assert found > 1.02 * ageing(Soak(temperature=top, hold=5 * HOUR))
        assert (found - HOUR * 5 * pace(top)) / (wanted - HOUR * 5 * pace(top)) == pytest.approx(1, abs=0.1)


def test_metal_creeps_on_its_slow_way_up_and_down():
    # creep at part of the way counts by its own activation: a ramp moves some, less than as long a hold; derived
    law = NortonCreep(factor=1e-46, exponent=5.0, temperature=230.0)
    head = box(alloy=replace(METAL, creep=law, yield_soaked=((20, 1e9),), yield_short=((20, 1e9),)))
    held = clamped(head, 1e-4, 0.4e-3)

    def share(**times):
        soak = Soak(temperature=230.0, **{key: hours * HOUR for key, hours in times.items()})
        return float(relax_soak(head, section_of(head), held, soak, nominal()).kept_share[0])

    alone, longer = share(hold=2.0), share(hold=8.0)
    for ramps in ({"heat_up": 6.0}, {"cool_down": 6.0}):
        assert alone + 0.01 * (longer - alone) < share(hold=2.0, **ramps) < longer


@pytest.mark.parametrize("soak", [Soak(temperature=230.0, hold=-1.0), Soak(temperature=10.0, hold=1.0)])
def test_a_soak_that_makes_no_sense_is_refused(soak):
    with pytest.raises(BadInput):
        relax_soak(box(), section_of(box()), clamped(box(), 1e-4), soak, nominal())


def test_a_soak_beyond_the_model_is_refused():
    with pytest.raises(OutsideModel, match="anneal"):
        relax_soak(
            box(), section_of(box()), clamped(box(), 1e-4), Soak(temperature=420.0, hold=HOUR), nominal()
        )


def test_no_soak_takes_more_than_the_base_leaves_room_for():
    # source: kinematics; full relaxation leaves the shape of the clamp, b' = -s, and no further (derived)
    from straighten.clamp import ClampSetup, clamp_head, section_of
    from straighten.head import head_from_text, template_head
    from straighten.heat import Soak, nominal, relax_soak

    head = head_from_text(template_head(), "template")
    state = np.zeros((1, 11))
    state[0, 0] = state[0, 7] = 0.3e-3
    for shim in (0.0, 0.1e-3, 0.2e-3):
        clamped = clamp_head(head, state, ClampSetup(shims=(shim,) * 4, bolts=(4, 5), gap=0.0), nominal())
        for temperature in (230.0, 260.0, 300.0):
            soak = Soak(temperature=temperature, hold=8 * 3600.0)
            kept = float(relax_soak(head, section_of(head), clamped, soak, nominal()).set_state[0, 0])
            assert kept <= 0.3e-3 + shim + 2e-6


def test_a_second_soak_goes_on_from_what_the_first_has_cost():
    """Time at one temperature adds up: two hours after one are as three at once, in hardness."""
    head = of("A356-T6")
    held = clamped(head, 1e-4, 0.4e-3)
    first, second, whole = (Soak(temperature=205.0, hold=h * HOUR) for h in (1, 2, 3))
    after = replace(second, aged_before=ageing(first))
    cost, alone, at_once = (
        relax_soak(head, section_of(head), held, soak, nominal()) for soak in (after, second, whole)
    )
    np.testing.assert_allclose(cost.hardness_after, at_once.hardness_after, rtol=1e-9)
    assert (cost.hardness_after < alone.hardness_after).all()
    assert cost.kept_share == pytest.approx(alone.kept_share)


def test_a_head_that_keeps_a_third_more_takes_a_third_more_set():
    # the factor of the kept share is what it says, as long as the base leaves room; derived
    head = of("A356-T6")
    held, soak = clamped(head, 1e-4), Soak(temperature=230.0, hold=2 * HOUR)
    base, more = (
        relax_soak(head, section_of(head), held, soak, replace(nominal(), kept=np.array([factor])))
        for factor in (1.0, 1.3)
    )
    assert 0 < base.kept_share[0] < more.kept_share[0] < 1.0
    np.testing.assert_allclose(more.set_state, 1.3 * base.set_state, rtol=1e-9, atol=1e-15)
