"""What is kept stays between nothing and the whole of the bend, whatever is heated, in whatever order."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straighten.clamp import ClampSetup, clamp_head, section_of
from straighten.errors import OutsideModel
from straighten.heat import FRESH, HeatSpot, HeatStroke, nominal, relax_spots
from straighten.shape.modes import INDEX
from tests.heat.heads import bowed, box, clamped

SIDES = ("exhaust", "inlet")
FOUR = [
    HeatSpot(station=x, side=s, radius=0.012, dwell=4.0, power=2479.0) for x in (0.167, 0.233) for s in SIDES
]


def relaxed(spots, shim=1e-4, past=FRESH, bow=0.4e-3, gap=0.0):
    head = box()
    held = None if shim is None else clamped(head, shim, bow=bow, gap=gap)
    return relax_spots(head, section_of(head), held, spots, nominal(), past)


SPOT = st.builds(
    HeatSpot,
    station=st.floats(0.06, 0.34),
    side=st.sampled_from(SIDES),
    radius=st.floats(0.006, 0.030),
    dwell=st.floats(1.0, 60.0),
    peak=st.floats(250.0, 540.0),
    start=st.sampled_from([0.0, 0.0, 300.0, 3600.0]),
    across=st.floats(0.01, 0.06),
)
STROKE = st.builds(
    HeatStroke,
    station=st.floats(0.08, 0.32),
    side=st.sampled_from(SIDES),
    across_from=st.floats(0.01, 0.03),
    across_to=st.floats(0.035, 0.06),
    radius=st.floats(0.006, 0.025),
    time=st.floats(3.0, 40.0),
    peak=st.floats(250.0, 540.0),
)


@settings(max_examples=15, deadline=None)
@given(
    heats=st.lists(st.lists(st.one_of(SPOT, STROKE), min_size=1, max_size=8), min_size=1, max_size=3),
    shim=st.floats(0.0, 1e-3),
)
def test_no_heat_runs_away(heats, shim):
    past = FRESH
    for heat in heats:
        try:
            found = relaxed(heat, shim, past)
        except OutsideModel:
            continue
        kept = found.kept_part[0, INDEX["deck_bow"]]
        bend = clamped(box(), shim).bend[0]
        assert np.isfinite(found.set_state).all()
        assert (
            -1e-7 <= kept <= 1.25 * bend + 1e-5
        )  # the bend at the bolts; the middle of the lines goes a bit further
        assert abs(found.spots_part[0, INDEX["deck_bow"]]) < 2e-3
        past = found.left


def test_ten_spots_close_to_one_another_keep_a_part_of_the_bend():
    ten = [
        HeatSpot(station=0.0875 + 0.025 * k, side=s, radius=0.012, dwell=5.0, peak=500.0)
        for k in range(10)
        for s in SIDES
    ]
    found = relaxed(ten)
    assert 0.2 < found.kept_share[0] <= 1.0


def test_the_same_flame_again_adds_a_twentieth_and_a_stronger_one_the_difference():
    # 3D elements, own run: the same four spots three times: 0.1045, then 0.0057 and 0.0023 mm; R 18 and 6 s after R 12: 0.356
    # in all, R 18 and 6 s at once 0.357 mm (deck centre)
    first = relaxed(FOUR)
    bow = 0.4e-3 - first.lines[0, 1]
    again = relaxed(FOUR, past=first.left, bow=bow)
    assert 0.0 < again.lines[0, 1] / first.lines[0, 1] < 0.12
    strong = [replace(s, radius=0.018, dwell=6.0, power=3389.0) for s in FOUR]
    after = first.lines[0, 1] + relaxed(strong, past=first.left, bow=bow).lines[0, 1]
    assert after == pytest.approx(relaxed(strong).lines[0, 1], rel=0.05)


def test_how_much_of_a_heat_its_places_held_before():
    first = relaxed(FOUR)
    assert first.again == 0.0
    same = relaxed(FOUR, past=first.left)
    stronger = relaxed([replace(s, dwell=8.0, power=None, peak=520.0) for s in FOUR], past=first.left)
    elsewhere = relaxed(
        [replace(s, station=s.station + 0.1 * (1 if s.station > 0.2 else -1)) for s in FOUR], past=first.left
    )
    assert same.again > 0.75 > stronger.again > 0.3 > elsewhere.again
    assert same.again_each == pytest.approx([same.again] * 4, abs=0.02)


def test_a_weaker_flame_after_a_stronger_one_adds_next_to_nothing():
    # 3D elements, own run: R 18 and 6 s, then R 12 and 4 s: 0.3565, then 0.0006 mm more
    strong = relaxed([replace(s, radius=0.018, dwell=6.0, power=3389.0) for s in FOUR])
    weak = relaxed(FOUR, past=strong.left, bow=0.4e-3 - strong.lines[0, 1])
    assert -0.01 < weak.lines[0, 1] / strong.lines[0, 1] < 0.06


def test_an_earlier_spot_shields_its_neighbour_along_and_never_hinders_it_across():
    # 3D elements: 18 mm along the head a later spot gives 0.42 of a fresh one; 30 mm across the roof 1.07; seen
    def later(first, second):
        held = relaxed([replace(s, **first) for s in FOUR])
        moved = [replace(s, **second) for s in FOUR]
        return relaxed(moved, past=held.left).lines[0, 1] / relaxed(moved).lines[0, 1]

    pair = [replace(s, station=0.2 + np.sign(s.station - 0.2) * 0.024) for s in FOUR]
    next_to = [replace(s, station=0.2 + np.sign(s.station - 0.2) * 0.042) for s in FOUR]
    shielded = relaxed(next_to, past=relaxed(pair).left).lines[0, 1] / relaxed(next_to).lines[0, 1]
    assert 0.15 < shielded < 0.55
    assert later({"across": 0.018}, {"across": 0.048}) > 0.9


def test_one_law_within_a_heat_and_between_heats():
    inner, outer = FOUR, [replace(s, station=0.2 + 3 * (s.station - 0.2)) for s in FOUR]
    apart = relaxed(outer, None, relaxed(inner, None).left)
    together = relaxed([*inner, *(replace(s, start=86400.0) for s in outer)], None)
    first = relaxed(inner, None)
    np.testing.assert_allclose(together.lines, first.lines + apart.lines, rtol=0.02)


def test_snug_bolts_without_bend_make_spots_do_more_than_in_a_free_head():
    # 3D elements: free spots 12 to 23 % under those in a head whose bolts are snug; seen
    head = box()
    held = clamp_head(
        head, bowed(0.4e-3), ClampSetup(shims=(0.0,) * 4, bolts=(0, 1, 2, 3), gap=0.3496e-3), nominal()
    )
    snug = relax_spots(head, section_of(head), held, FOUR, nominal()).lines[0, 1]
    assert 1.05 < snug / relaxed(FOUR, None).lines[0, 1] < 1.45


def test_higher_shims_keep_more_of_places_heated_before():
    # 3D elements, own run: the same flame over 0.1, then over 0.3 mm: 0.1045, then 0.0266 mm more
    first = relaxed(FOUR)
    more = relaxed(FOUR, 3e-4, first.left, bow=0.4e-3 - first.lines[0, 1])
    assert more.lines[0, 1] == pytest.approx(0.0266e-3, rel=0.25)
