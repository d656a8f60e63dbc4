"""Limits by name: the overall limit catches a bow, the limit per length a dip, and each says where it comes from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from straighten.readings.records import DIAGONALS, LONG_LINES, Bracket, Line, Readings
from straighten.shape.flatness import straightness
from straighten.shape.limits import check_limits, widest_open, zones
from straighten.shape.modes import INDEX
from straighten.shape.suspects import Misfit
from straighten.sources import Cited
from tests.shape.builders import head, state, twin_cam_head

NOTHING = np.zeros((11, 11))


def checks(
    shape: np.ndarray, covariance: np.ndarray = NOTHING, dips: tuple[Misfit, ...] = (), on: object = None
) -> dict[str, object]:
    return {c.name: c for c in check_limits(on or head(), shape, covariance, dips)}


def test_the_overall_limit_catches_an_even_bow_that_every_short_stretch_hides() -> None:
    # 0.05 mm per 150 mm allows 0.45 mm of even bow over 450 mm: a smooth bow grows with length squared (derived)
    found = checks(state(deck_bow=0.3, cam_bow=0.3))
    window = 0.150 / 0.420
    assert found["deck overall"].value == pytest.approx(0.3e-3, rel=1e-6)
    assert found["deck per length"].value == pytest.approx(0.3e-3 * window**2, rel=1e-3)
    assert not found["deck overall"].holds
    assert found["deck per length"].holds


def test_the_limit_per_length_catches_a_dip_that_the_overall_limit_lets_pass() -> None:
    on = replace(head(), limits=replace(head().limits, deck_overall=Cited(0.1e-3, "m", "the test", "given")))
    dip = Misfit(title="deck, centre", place=0, part="deck", xi=0.4, eta=0.5, off=0.07e-3, sentence="")
    found = checks(state(deck_bow=0.01), dips=(dip,), on=on)
    assert found["deck overall"].holds
    assert not found["deck per length"].holds
    assert found["deck per length"].value == pytest.approx(0.07e-3)


def test_on_a_head_no_longer_than_its_stretch_the_limit_per_length_sees_the_whole_bow() -> None:
    # one stretch holds all of the head (geometry): a small single-cylinder head under 150 mm
    for length in (0.150, 0.140):
        small = replace(head(), casting=replace(head().casting, length=length))
        found = checks(state(deck_bow=0.04), on=small)["deck per length"]
        assert found.value == pytest.approx(0.04e-3, rel=1e-6)
        assert found.over == length


def test_the_cam_line_is_judged_overall_and_from_tower_to_tower() -> None:
    found = checks(state(cam_bow=0.2))
    u = np.array(head().towers) / head().casting.length
    height = 0.2e-3 * 4 * u * (1 - u)
    assert found["cam line overall"].value == pytest.approx(straightness(u, height).minimum_zone, rel=1e-9)
    assert found["cam line tower to tower"].value == pytest.approx(np.abs(np.diff(height)).max(), rel=1e-9)
    assert {"exhaust cam line overall", "inlet cam line overall"} < checks(
        state(cam_bow=0.2), on=twin_cam_head()
    ).keys()


def test_a_tilted_cam_line_is_straight_and_steps_count_over_the_tilt() -> None:
    u = np.linspace(0, 1, 5)
    assert zones(u, np.stack([3 * u, u**2])) == pytest.approx([0, 0.25])


@pytest.mark.parametrize("seed", range(5))
def test_the_zone_of_many_short_profiles_is_each_one_s_minimum_zone(seed: int) -> None:
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0, 1, 7))
    z = rng.normal(size=(20, 7))
    assert zones(x, z) == pytest.approx([straightness(x, row).minimum_zone for row in z])


def test_a_limit_says_value_range_limit_verdict_and_source() -> None:
    sentence = checks(state(deck_bow=0.3))["deck overall"].sentence(head())
    for part in (
        "deck overall",
        "0.30 mm (12 thou)",
        "range",
        "limit 0.08 mm",
        "fails",
        head().limits.deck_overall.source,
    ):
        assert part in sentence


def test_the_chance_to_be_inside_follows_what_is_known() -> None:
    covariance = np.diag(np.full(11, (0.005e-3) ** 2))
    near, far = (checks(state(deck_bow=bow), covariance)["deck overall"] for bow in (0.03, 0.3))
    assert near.low < near.value < near.high
    assert near.chance > 0.5 > far.chance == 0


def test_eight_of_ten_draws_lie_in_the_range_that_is_told() -> None:
    # 80 % of a normal distribution lie within 1.2816 of its standard deviation: normal table, from memory
    covariance = np.zeros((11, 11))
    covariance[INDEX["deck_bow"], INDEX["deck_bow"]] = (0.01e-3) ** 2
    found = checks(state(deck_bow=0.3), covariance)["deck overall"]
    assert found.low == pytest.approx(0.3e-3 - 1.2816 * 0.01e-3, abs=0.001e-3)
    assert found.high == pytest.approx(0.3e-3 + 1.2816 * 0.01e-3, abs=0.001e-3)


def read(high: float = 0.04e-3, left_out: str = "") -> Readings:
    named = [name for name in (*LONG_LINES, *DIAGONALS) if name != left_out]
    lines = [
        Line(part="deck", name=name, mode="bridged", brackets=(Bracket(station=0.2, low=0, high=high),))
        for name in named
    ]
    return Readings(lines=tuple(lines))


def test_a_deck_on_which_no_blade_of_the_limit_goes_holds_it_however_wide_the_belief() -> None:
    # a blade as thick as the limit must not go anywhere under the edge (common practice, no source)
    wide = np.diag(np.full(11, (0.04e-3) ** 2))
    by_belief, by_reading = (
        check_limits(head(), state(), wide, (), open_)[0] for open_ in (np.inf, widest_open(read()))
    )
    assert (by_belief.holds, by_reading.holds) == (False, True)
    assert by_reading.value == by_belief.value
    assert "no gap over 0.04 mm" in by_reading.sentence(head())
    assert not check_limits(head(), state(), wide, (), widest_open(read(0.09e-3)))[0].holds


@pytest.mark.parametrize("name", [*LONG_LINES, *DIAGONALS])
def test_a_line_that_was_not_read_leaves_the_deck_to_the_belief(name: str) -> None:
    assert widest_open(read(left_out=name)) == np.inf
    assert widest_open(read()) == 0.04e-3
