"""What each row of a flame takes, from one heat of all its rows, held against rows that are heated alone."""

from itertools import combinations, pairwise

import numpy as np
import pytest

from straighten.clamp import ClampSetup, clamp_each, section_of
from straighten.head import head_from_text, template_head
from straighten.head.records import SIDES
from straighten.heat import nominal
from straighten.heat.flames import recipes
from straighten.heat.treatment import allowed_places, schedule
from straighten.plan.candidates import middle_bolts
from straighten.plan.forecast import bumps_of, heated
from straighten.plan.records import PassSetup
from straighten.plan.slack import reading_sd
from straighten.plan.spots import Following, apart_in_heats, rows_of_one_heat
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
    """Every heat of rows that are apart: its rows, spots, and what it leaves."""
    found = []
    for places, spots in apart_in_heats(HEAD, flame):
        left = relaxed(spots)
        found.append((rows_of_one_heat(HEAD, places, spots, left, ONE), spots, left))
    return found


def rows_of(flame):
    return [row for rows, *_ in together(flame) for row in rows]


@pytest.mark.parametrize("flame", FLAMES, ids=lambda f: f"{1e3 * f.radius:.0f} mm {f.dwell:.0f} s")
def test_the_rows_together_are_the_heat(flame):
    lines = ["cam_bow"] * len(HEAD.towers) + ["deck_bow"] * DECK_STATIONS.size
    for rows, spots, left in together(flame):
        assert sum(row.taken for row in rows) == pytest.approx(left.set_state[0], abs=1e-9)
        bumps = left.set_state[0, [INDEX[line] for line in lines]] * bumps_of(HEAD, spots, left.kinks)[0]
        assert sum(row.bumps for row in rows) == pytest.approx(bumps, abs=1e-9)


@pytest.mark.parametrize("flame", FLAMES, ids=lambda f: f"{1e3 * f.radius:.0f} mm {f.dwell:.0f} s")
def test_every_place_is_in_one_heat_and_no_heat_has_two_that_are_near(flame):
    heats = apart_in_heats(HEAD, flame)
    stations = [row[0].station for rows, _ in heats for row in rows]
    assert sorted(stations) == sorted({place.station for place in allowed_places(HEAD, flame)})
    for rows, spots in heats:
        assert {spot.station for spot in spots} == {row[0].station for row in rows}
        assert all(
            abs(a[0].station - b[0].station) >= 2.5 * flame.radius - 1e-9 for a, b in combinations(rows, 2)
        )


def test_no_set_of_a_pass_has_two_hot_zones_that_meet():
    # hot zones that meet shrink the metal between them twice: common practice, no source
    rows = rows_of(FLAMES[0])
    following = Following(
        head=HEAD, state=BENT[0], direction=1, ratio=1.0, rows=lambda torch: rows, ready=list
    )
    for spots in following.every_size(FLAMES[0]):
        for side in SIDES:
            row = sorted(spot.station for spot in spots if spot.side == side)
            assert all(b - a >= 2.5 * FLAMES[0].radius - 1e-9 for a, b in pairwise(row))


@pytest.mark.parametrize("flame", FLAMES, ids=lambda f: f"{1e3 * f.radius:.0f} mm {f.dwell:.0f} s")
def test_a_row_takes_within_a_quarter_of_what_it_takes_alone(flame):
    for row in rows_of(flame):
        alone = relaxed(schedule(row.places, flame)).set_state[0]
        assert row.taken[INDEX["cam_bow"]] == pytest.approx(alone[INDEX["cam_bow"]], rel=0.25)


MILDEST = pytest.mark.xfail(strict=True, reason="1.6 s to 380 C take 0.3 um: by 0.1 um another lean")


@pytest.mark.parametrize(
    "flame", [pytest.param(FLAMES[0], marks=MILDEST), *FLAMES[1:]], ids=lambda f: f"{f.dwell:.0f} s"
)
def test_a_row_leans_within_a_quarter_as_it_does_alone(flame):
    for row in rows_of(flame):
        alone = relaxed(schedule(row.places, flame)).set_state[0]
        assert row.taken[INDEX["cam_skew"]] == pytest.approx(
            alone[INDEX["cam_skew"]], abs=0.25 * alone[INDEX["cam_bow"]]
        )


def test_a_row_in_the_front_half_lowers_the_front_half_more():
    for row in rows_of(FLAMES[0]):
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
    rows = rows_of(FLAMES[0])
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
