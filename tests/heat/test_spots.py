"""Spots on a head: reciprocity, symmetry, draws, neighbours in time, and what the bench sees."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straighten.belief.priors import FACTORS, priors_for, response_of
from straighten.clamp import ClampSetup, clamp_head, section_of
from straighten.errors import OutsideModel
from straighten.head import head_from_text, template_head
from straighten.head.alloys import alloy_named
from straighten.head.records import SIDES
from straighten.heat import HeatSpot, allowed_places, fires, heating, layout, nominal, relax_spots, schedule
from straighten.heat.heating import spot_case
from straighten.heat.lines import STATIONS, triangle
from straighten.heat.plates import _looks
from straighten.shape.modes import INDEX
from tests.heat.heads import bar, bowed, box, clamped, work_spot

MIRRORED = ("deck_skew", "cam_skew")


def spots_at(*stations, sides=SIDES, **more):
    values = {"radius": 0.012, "dwell": 4.0, "peak": 520.0} | more
    return [HeatSpot(station=x, side=s, **values) for x in stations for s in sides]


def relaxed(head, spots, shim=None, response=None):
    response = response or nominal()
    held = None if shim is None else clamped(head, shim, response=response)
    return relax_spots(head, section_of(head), held, spots, response)


def test_one_spot_kinks_the_head_by_volume_times_height_over_second_moment():
    # reciprocity (Betti): theta = V z / I, the bow of the triangle theta x (L - x) / L; derived
    head = box()
    spot = HeatSpot(station=0.233, side="inlet", radius=0.012, dwell=4.0, peak=520.0, across=0.0)
    section, answer = section_of(head), work_spot(spot_case(head, spot))
    found = relaxed(head, [spot])
    height = section.height - 0.005 + answer.effect.lift / answer.effect.shrinkage - section.neutral_axis
    kink = answer.effect.shrinkage * height / section.inertia
    assert found.kinks[0, 0] == pytest.approx(
        kink, rel=0.15
    )  # walls and cross walls around it answer by a tenth
    fall = triangle(STATIONS * 0.4, np.array([0.233]), 0.4)[0]
    assert fall[50] == pytest.approx(0.2 * (0.4 - 0.233) / 0.4)
    assert found.set_state[0, INDEX["deck_bow"]] == pytest.approx(kink * fall[50], rel=0.05)


@settings(max_examples=10, deadline=None)
@given(x=st.floats(0.08, 0.32), shim=st.sampled_from([None, 1e-4]))
def test_a_mirrored_head_mirrors_the_answer(x, shim):
    here = relaxed(box(), spots_at(x), shim).set_state[0]
    there = relaxed(box(), spots_at(0.4 - x), shim).set_state[0]
    for name, number in INDEX.items():
        sign = -1 if name in MIRRORED else 1
        # neighbours are taken to the millimetre, and a tie may be rounded either way
        assert here[number] == pytest.approx(sign * there[number], rel=1e-4, abs=1e-12)


def test_spots_in_front_lean_the_set_to_the_front():
    state = relaxed(box(), spots_at(0.1)).set_state[0]
    assert state[INDEX["deck_skew"]] > 0
    assert relaxed(box(), spots_at(0.3)).set_state[0][INDEX["deck_skew"]] < 0


def test_draws_are_worked_through_all_at_once_as_one_by_one():
    rng = np.random.default_rng(3)
    many = nominal(6)
    many = replace(
        many,
        stiffness=rng.lognormal(0, 0.2, 6),
        shrinkage=rng.lognormal(0, 0.3, 6),
        kept=rng.lognormal(0, 0.3, 6),
        softening=rng.lognormal(0, 0.2, 6),
        cam_ratio=rng.lognormal(0, 0.1, 6),
        skew=rng.normal(0, 0.1, 6),
    )
    spots = spots_at(0.167, 0.233)
    together = relaxed(box(), spots, 1e-4, many)
    for k in range(6):
        alone = relaxed(box(), spots, 1e-4, many.take(slice(k, k + 1)))
        np.testing.assert_allclose(alone.set_state[0], together.set_state[k], rtol=1e-9, atol=1e-15)
        assert alone.kept_share[0] == pytest.approx(together.kept_share[k])


def test_factors_multiply_what_they_name():
    one, two = nominal(), replace(nominal(), shrinkage=np.array([2.0]))
    spots = spots_at(0.167)
    base, more = relaxed(box(), spots, 1e-4, one), relaxed(box(), spots, 1e-4, two)
    np.testing.assert_allclose(more.spots_part, 2 * base.spots_part, rtol=1e-9, atol=1e-15)
    stiff = relaxed(box(), spots, None, replace(one, stiffness=np.array([2.0])))
    np.testing.assert_allclose(stiff.set_state, base.spots_part / 2, rtol=1e-9, atol=1e-15)
    cam = relaxed(box(), spots, None, replace(one, cam_ratio=np.array([0.8])))
    assert cam.set_state[0, INDEX["cam_bow"]] == pytest.approx(0.8 * base.spots_part[0, INDEX["cam_bow"]])


def test_spots_over_the_shims_keep_nothing_and_hardly_move_the_head():
    # 3D elements: spots in the last tenth of the length gave nothing; seen
    end, middle = relaxed(box(), spots_at(0.015), 1e-4), relaxed(box(), spots_at(0.167), 1e-4)
    assert abs(end.kept_part[0, INDEX["deck_bow"]]) < 0.02 * middle.kept_part[0, INDEX["deck_bow"]]
    assert end.set_state[0, INDEX["deck_bow"]] < 0.12 * middle.set_state[0, INDEX["deck_bow"]]
    assert any("seven tenths" in line for line in end.caveats)


def test_kept_grows_with_the_bend_and_with_the_number_of_spots():
    kept = [
        relaxed(box(), spots_at(0.167, 0.233), s).kept_part[0, INDEX["deck_bow"]] for s in (0.0, 1e-4, 3e-4)
    ]
    assert kept == sorted(kept)
    assert kept[0] > 0
    two = relaxed(box(), spots_at(0.167), 1e-4).kept_share[0]
    four = relaxed(box(), spots_at(0.167, 0.233), 1e-4).kept_share[0]
    assert four > 1.5 * two


def test_a_crowned_head_clamped_the_other_way_keeps_the_other_sign():
    setup = ClampSetup(shims=(1e-4,) * 4, bolts=tuple(range(8)), gap=0.0, reverse=True)
    from tests.heat.heads import bolts_at

    head = box(bolts=bolts_at(0.02, 0.12, 0.28, 0.38))
    held = clamp_head(head, bowed(-0.3e-3), setup, nominal())
    found = relax_spots(head, section_of(head), held, spots_at(0.167, 0.233), nominal())
    assert held.bend[0] < 0
    assert found.kept_part[0, INDEX["deck_bow"]] < 0  # what is kept raises the middle
    assert found.spots_part[0, INDEX["deck_bow"]] > 0  # what spots shrink always lowers it
    assert found.kept_share[0] > 0


def test_spots_that_burn_together_strain_one_another_more_than_spots_in_turn():
    # 3D elements, eight spots at 33 and 100 mm: 0.093 mm at once, 0.088 mm in turn (deck centre, free); seen
    places = (0.1, 0.167, 0.233, 0.3)
    together = relaxed(box(), spots_at(*places)).lines[0, 1]
    turn = [replace(s, start=7200.0 * (abs(s.station - 0.2) > 0.05)) for s in spots_at(*places)]
    after = relaxed(box(), turn).lines[0, 1]
    assert 1.02 < together / after < 1.12


@pytest.fixture
def forget():
    """Forgets what was worked out for whole heads, at the end as well."""

    def forgotten():
        layout.fire_on.cache_clear()
        fires.cases_of.cache_clear()

    yield forgotten
    forgotten()


def test_neighbours_too_faint_to_count_move_the_lines_by_less_than_a_ten_thousandth(forget, monkeypatch):
    # our own choice of what to leave out, held against leaving nothing out; derived
    spots = spots_at(0.133, 0.2, 0.267, dwell=6.0, peak=480.0)
    found = []
    for faint in (heating.FAINT, 0.0):
        monkeypatch.setattr(heating, "FAINT", faint)
        forget()
        found.append([relaxed(box(), spots, shim).lines for shim in (None, 1e-4)])
    np.testing.assert_allclose(found[0], found[1], rtol=1e-4)


def test_a_warm_head_needs_less_power_for_the_same_peak():
    quick = [replace(s, start=40.0 * k) for k, s in enumerate(spots_at(0.1, 0.167, 0.233, 0.3, dwell=8.0))]
    slow = [replace(s, start=86400.0 * k) for k, s in enumerate(spots_at(0.1, 0.167, 0.233, 0.3, dwell=8.0))]
    assert relaxed(box(), quick).heat < relaxed(box(), slow).heat


def test_unequal_shims_twist_the_head_and_hot_spots_keep_some_of_it():
    setup = ClampSetup(shims=(2e-4, 0.0, 0.0, 2e-4), bolts=(0, 1, 2, 3), gap=0.0)
    head = box()
    held = clamp_head(head, bowed(0.2e-3), setup, nominal())
    found = relax_spots(head, section_of(head), held, spots_at(0.1, 0.3), nominal())
    even = relaxed(head, spots_at(0.1, 0.3), 1e-4)
    roll = held.roll[0, -1] - held.roll[0, 0]
    assert abs(even.set_state[0, INDEX["twist"]]) < 1e-12
    assert roll > 0  # shims under front exhaust and rear inlet lift the rear inlet corner
    kept = -found.kept_part[0, INDEX["twist"]]  # after = before - set
    assert 0.01 < kept / (roll * 0.15 / 4) < 0.2


def test_a_solid_bar_does_not_dish():
    lines = relaxed(bar(), spots_at(0.167, 0.233, sides=SIDES[:1])).lines[0]
    np.testing.assert_allclose(lines, lines[0], rtol=1e-9)


def test_a_bar_of_the_elements_bends_as_they_say():
    # 3D elements, bar 400 x 60 x 40 mm, two spots 12 mm, 4 s, 2924 W at 33 mm: 0.049 to 0.051 mm free, 0.089 to 0.092 mm
    # clamped over 0.10 mm shims; seen, used for no constant
    spots = spots_at(0.167, 0.233, sides=SIDES[:1], peak=None, power=2924.15)
    assert relaxed(bar(), spots).lines[0, 0] == pytest.approx(0.050e-3, rel=0.10)
    assert relaxed(bar(), spots, 1e-4).lines[0, 0] == pytest.approx(0.0905e-3, rel=0.10)


@pytest.mark.parametrize(
    ("radius", "dwell", "watts", "free", "held"),
    [
        (12, 4, 1815.06, (19.0, 23.3, 15.9, 22.6), (39.1, 43.5, 34.9, 42.8)),
        (12, 4, 2200.21, (36.9, 44.8, 31.4, 43.8), (69.6, 77.1, 62.5, 76.1)),
        (8, 4, 1655.96, (20.5, 25.1, 17.3, 24.4), (38.5, 43.0, 34.4, 42.3)),
        (18, 4, 3867.49, (115.6, 136.9, 100.8, 134.7), (229.4, 248.7, 209.9, 249.8)),
        (12, 2, 2941.47, (31.6, 38.7, 26.5, 37.5), (54.2, 60.9, 48.0, 59.8)),
        pytest.param(
            *(12, 8, 2124.76, (80.7, 95.9, 70.2, 94.2), (187.2, 200.7, 172.9, 202.6)),
            marks=pytest.mark.xfail(
                reason="free, 8 s: the deck's middle comes out 12 % high, 11 are allowed", strict=True
            ),
        ),
    ],
)
def test_other_flames_on_the_box_lie_within_15_percent_of_the_elements(radius, dwell, watts, free, held):
    # 3D elements of the same box and metal, change of bow in um of deck edge, deck centre, cam face edge, cam face
    # centre; used for no constant (seen). Deck lines within 11 %.
    spots = spots_at(0.167, 0.233, radius=radius * 1e-3, dwell=float(dwell), peak=None, power=watts)
    for found, theirs in ((relaxed(box(), spots), free), (relaxed(box(), spots, 1e-4), held)):
        ratio = found.lines[0] * 1e6 / np.array(theirs)
        assert np.abs(ratio - 1).max() < 0.16
        assert np.abs(ratio[:2] - 1).max() < 0.11


def test_first_rounds_on_a_four_cylinder_head_leave_what_the_bench_sees():
    # cam side 0.45 mm high, end shims 0.1 mm, middle pulled just past flat, spots in every bay on both sides: 0.08 to
    # 0.13 mm after the first rounds (common practice, no source). The 80 % range must hold that.
    head = replace(head_from_text(template_head(), "template"), keep_off=())
    section = section_of(head)
    rng = np.random.default_rng(7)
    response = response_of(priors_for(head), rng.normal(size=(400, FACTORS)))
    state = bowed(0.40e-3)
    state[0, INDEX["cam_bow"]] = 0.45e-3
    inner = tuple(k for k, b in enumerate(head.bolts) if 0.05 < b.station < 0.37)
    held = clamp_head(head, state, ClampSetup(shims=(1e-4,) * 4, bolts=inner, gap=0.0), response)
    assert head.torch is not None
    bays = (0.0615, 0.1605, 0.2595, 0.3585)
    spots = schedule([p for p in allowed_places(head, head.torch) if round(p.station, 4) in bays], head.torch)
    found = relax_spots(head, section, held, spots, response).set_state[:, INDEX["cam_bow"]]
    found = found * np.exp(response.scatter * rng.normal(size=400))
    low, high = np.quantile(found, [0.1, 0.9])
    assert len(spots) == 8
    assert low < 0.08e-3
    assert high > 0.13e-3
    # and no wider, 8 times in 10, than a first range of log-sd 0.6 and a cam line of its own with 0.33 say
    assert high < np.exp(1.2816 * np.hypot(0.6, 0.33)) * np.quantile(found, 0.5)


def test_a_roof_warm_as_a_whole_is_refused_and_the_same_flames_in_turn_are_not():
    # heat over 2680 kg/m3 x 963 J/(kg K) x 0.4 x 0.15 x 0.01 m of roof: 180 K are the most that was held against elements
    head, section, store = box(), section_of(box()), 2680 * 963 * 0.4 * 0.15 * 0.01
    stations = np.arange(0.075, 0.33, 0.015)
    spots = spots_at(*stations, radius=0.015, dwell=6.0, peak=450.0)

    def heat(count):
        return sum(case.power * 6.0 for case in fires.cases_of(head, section, tuple(spots[:count])))

    most = max(count for count in range(1, len(spots)) if heat(count) <= 180 * store)
    assert 4 < most < len(spots) - 1
    assert heat(most + 1) > 180 * store
    layout.check_model(head, section, tuple(spots[:most]))
    with pytest.raises(OutsideModel, match="roof as a whole"):
        layout.check_model(head, section, tuple(spots[: most + 1]))
    layout.check_model(
        head, section, tuple(replace(s, start=60.0 * k) for k, s in enumerate(spots[: most + 1]))
    )


def test_a_milder_spot_elsewhere_makes_no_spot_harder_nor_its_softening_better_known():
    # the softest place and the doubt about it are those of the hottest spot; derived
    head = replace(box(), alloy=alloy_named("A356-T6"))
    hot = spots_at(0.1, sides=SIDES[:1], peak=530.0)
    mild = [replace(spot, start=7200.0) for spot in spots_at(0.3, sides=SIDES[1:], peak=300.0)]
    alone, both = (relaxed(head, spots) for spots in (hot, hot + mild))
    assert alone.hardness_after[0, 0] < alone.hardness_before[0, 0] - 5
    np.testing.assert_allclose(both.hardness_after, alone.hardness_after, atol=0.5)


def test_the_warm_roof_is_looked_at_forward_in_time_and_wider_apart_as_it_cools():
    # what has flowed at one instant is carried to the next; warmth spreads with the root of time: derived
    for over, longest in ((4.0, 4.0), (40.0, 8.0), (9.0, 2.0)):
        times = _looks(over, longest)
        assert times[0] > 0
        assert np.all(np.diff(times) > 0)
        assert np.all(np.diff(times[times >= over], n=2) > 0)
