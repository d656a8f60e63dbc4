"""What each row of a flame takes, from one heat of all its rows, held against rows that are heated alone."""

import numpy as np
import pytest

from straighten.clamp import ClampSetup, clamp_each, section_of
from straighten.head import head_from_text, template_head
from straighten.heat import nominal
from straighten.heat.flames import recipes
from straighten.heat.treatment import schedule
from straighten.plan.candidates import middle_bolts
from straighten.plan.forecast import bumps_of, heated
from straighten.plan.records import PassSetup
from straighten.plan.slack import reading_sd
from straighten.plan.spots import Following, rows_for, rows_of_one_heat
from straighten.readings.gauges import BLADE, FEEL, UNEVENNESS
from straighten.shape.modes import CAM, DECK_STATIONS, INDEX, bow_mode, peak_mode, skew_mode

HEAD = head_from_text(template_head(), "template")
SECTION = section_of(HEAD)
CLAMP = ClampSetup(shims=(1.5e-4,) * 4, bolts=middle_bolts(HEAD), gap=0.0)
BENT = np.zeros((1, 11))
BENT[0, [INDEX["deck_bow"], INDEX["cam_bow"]]] = 0.3e-3
ONE = np.ones(1)
FLAMES = recipes(HEAD)[:: len(recipes(HEAD)) // 3]


def relaxed(spots):
    (clamped,) = clamp_each(HEAD, BENT, [CLAMP], nominal())
    return heated(HEAD, SECTION, clamped, PassSetup(clamp=CLAMP, spots=spots), nominal())


def together(flame):
    places = rows_for(HEAD, flame)
    spots = schedule([place for row in places for place in row], flame)
    left = relaxed(spots)
    return rows_of_one_heat(HEAD, places, spots, left, ONE), spots, left


@pytest.mark.parametrize("flame", FLAMES, ids=lambda f: f"{1e3 * f.radius:.0f} mm {f.dwell:.0f} s")
def test_the_rows_together_are_the_heat(flame):
    rows, spots, left = together(flame)
    assert sum(row.taken for row in rows) == pytest.approx(left.set_state[0], abs=1e-9)
    lines = ["cam_bow"] * len(HEAD.towers) + ["deck_bow"] * DECK_STATIONS.size
    bumps = left.set_state[0, [INDEX[line] for line in lines]] * bumps_of(HEAD, spots, left.kinks)[0]
    assert sum(row.bumps for row in rows) == pytest.approx(bumps, abs=1e-9)


@pytest.mark.parametrize("flame", FLAMES, ids=lambda f: f"{1e3 * f.radius:.0f} mm {f.dwell:.0f} s")
def test_a_row_takes_within_a_quarter_of_what_it_takes_alone(flame):
    rows, *_ = together(flame)
    for row in rows:
        alone = relaxed(schedule(row.places, flame)).set_state[0]
        assert row.taken[INDEX["cam_bow"]] == pytest.approx(alone[INDEX["cam_bow"]], rel=0.25)
        assert row.taken[INDEX["cam_skew"]] == pytest.approx(
            alone[INDEX["cam_skew"]], abs=0.25 * alone[INDEX["cam_bow"]]
        )


def test_a_row_in_the_front_half_lowers_the_front_half_more():
    rows, *_ = together(FLAMES[0])
    for row in rows:
        front = row.places[0].station < HEAD.casting.length / 2 - 1e-3
        rear = row.places[0].station > HEAD.casting.length / 2 + 1e-3
        assert (row.taken[INDEX["cam_skew"]] > 0) == front or not (front or rear)


@pytest.mark.parametrize("lean", [0.0, 0.06e-3, -0.06e-3])
def test_rows_are_heated_in_the_order_in_which_the_line_is_followed_best(lean):
    # each next row is that with which some multiple of all falls so far leaves least of the line: numpy's least squares
    x = np.linspace(0, 1, 41)
    modes = np.stack([bow_mode(x), skew_mode(x), peak_mode(x)])
    state = BENT[0].copy()
    state[INDEX["cam_skew"]] = lean
    rows, *_ = together(FLAMES[0])
    order = Following(
        head=HEAD, state=state, direction=1, ratio=1.0, rows=lambda torch: rows, ready=list
    )._in_order(rows)

    def left(some):
        fall = sum(row.taken[CAM][:3] for row in some) @ modes
        return float(np.linalg.lstsq(fall[:, None], state[CAM][:3] @ modes, rcond=None)[1][0])

    assert len(order) == len(rows) > 3
    for k in range(len(order)):
        best = min(left([*order[:k], row]) for row in order[k:])
        assert left(order[: k + 1]) == pytest.approx(best, rel=0.02, abs=1e-13)
    if lean:  # the first row stands where the line does
        assert (order[0].places[0].station < HEAD.casting.length / 2) == (lean > 0)


def test_a_gap_on_slack_nuts_is_as_doubtful_as_blade_face_seating_and_side_together():
    # drawn, not added up: two ends seated 8 um off each (assumed), of which the middle feels the mean; a blade's tolerance,
    # the feel, the face; a side that is not told: JCGM 100:2008, from memory
    rng = np.random.default_rng(5)
    ends = 8e-6 * rng.standard_normal((2, 400_000))
    blade = BLADE.value * rng.uniform(-1, 1, 400_000) + FEEL.value * rng.standard_normal(400_000)
    told = ends.mean(axis=0) + blade + UNEVENNESS.value * rng.standard_normal(400_000)
    assert reading_sd("inlet") == pytest.approx(told.std(), rel=0.01)
    assert reading_sd("middle") == pytest.approx(
        (told + 10e-6 * rng.standard_normal(400_000)).std(), rel=0.01
    )
