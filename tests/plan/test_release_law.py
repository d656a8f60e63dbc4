"""What a pass leaves: the release law and the trade's first facts, through the forward model itself."""

from dataclasses import replace

import numpy as np
import pytest

from straighten.clamp import ClampSetup, section_of
from straighten.head import head_from_text, template_head
from straighten.heat import HeatSpot, Soak, nominal
from straighten.plan.forecast import NOISE_SIZE, left_after, run_pass, standing
from straighten.plan.records import Draws, PassSetup, setup_from_plain, setup_to_plain
from straighten.shape.modes import INDEX, STATE
from straighten.theory.beam import derive_release

HEAD = head_from_text(template_head(), "template")
CLAMP = ClampSetup(shims=(2e-4,) * 4, bolts=(4, 5), gap=0.0)
SPOTS = tuple(
    HeatSpot(station=x, side=side, radius=0.012, dwell=5.0, peak=500.0)
    for x in (0.160, 0.260)
    for side in ("exhaust", "inlet")
)


def bowed(bow=0.3e-3):
    state = np.zeros((1, len(STATE)))
    state[0, INDEX["deck_bow"]] = state[0, INDEX["cam_bow"]] = bow
    return state


def after(setup, state):
    response = nominal()
    _, relaxed = run_pass(HEAD, section_of(HEAD), state, response, setup)
    return left_after(state, relaxed.set_state, response, np.zeros((1, NOISE_SIZE))), relaxed


def test_no_heat_leaves_the_bow_whatever_the_shims():
    # source: release law with f = 0, b' = b (derived); the clamp stays under the cold yield
    left, _ = after(PassSetup(clamp=CLAMP), bowed())
    assert np.array_equal(left, bowed())


def test_heat_on_the_long_side_brings_the_middle_down():
    # source: spots go on the convex side (common practice, no source)
    left, _ = after(PassSetup(clamp=CLAMP, spots=SPOTS), bowed())
    free, _ = after(PassSetup(clamp=None, spots=SPOTS), bowed())
    for line in ("deck_bow", "cam_bow"):
        assert 0 < left[0, INDEX[line]] < free[0, INDEX[line]] < 0.3e-3


@pytest.mark.parametrize(("bow", "gap"), [(0.1e-3, 0.0), (0.2e-3, 0.0), (0.35e-3, 0.05e-3), (0.4e-3, 0.1e-3)])
def test_the_soak_follows_the_release_law_of_the_theory(bow, gap):
    # source: b' = b - f (h + t - g), derived in theory/beam.py, h the parabola's height over its shims; the share f of one
    # head foretells every head that is bent as far
    law, at_shims = derive_release(), 1 - (1 - 2 * HEAD.front_shim / HEAD.casting.length) ** 2

    def soaked(b, t, g):
        clamp = ClampSetup(shims=(t,) * 4, bolts=(4, 5), gap=g)
        left, _ = after(PassSetup(clamp=clamp, soak=Soak(temperature=215.0, hold=3600.0)), bowed(b))
        return left[0, INDEX["deck_bow"]]

    height, bend = bow * (1 - at_shims), 0.45e-3
    share = (0.3e-3 - soaked(0.3e-3, bend - 0.3e-3 * (1 - at_shims), 0.0)) / bend
    shim = bend - height + gap
    expected = (
        law.after.subs({law.h: height, law.t: shim, law.g: gap, law.f: share, law.s: 0}) + bow * at_shims
    )
    assert 0.1 < share < 1
    assert soaked(bow, shim, gap) == pytest.approx(float(expected), abs=1e-6)


def test_set_grows_with_temperature_and_time():
    # source: creep-age forming of 7075 blanks: springback fell with time and temperature (seen in an abstract)
    sets = [
        after(PassSetup(clamp=CLAMP, soak=Soak(temperature=t, hold=h * 3600.0)), bowed())[1].set_state[0, 0]
        for t, h in ((180.0, 1.0), (200.0, 1.0), (215.0, 1.0), (215.0, 4.0))
    ]
    assert sets == sorted(sets)


def test_scatter_scales_the_set_and_nothing_else():
    response = nominal()
    noisy = type(response)(
        **{name: getattr(response, name) for name in response.__slots__} | {"scatter": np.array([0.2])}
    )
    noise = np.zeros((1, NOISE_SIZE))
    noise[0, 0] = 1.0
    taken = np.full((1, len(STATE)), 1e-4)
    left = left_after(bowed(), taken, noisy, noise)
    assert left == pytest.approx(bowed() - np.exp(0.2) * taken, abs=1e-15)


@pytest.mark.parametrize("held", [0.0, 0.3, 0.6])
def test_what_places_add_that_were_heated_before_scatters_by_both_heats(held):
    # source: variance of a difference of two independent lucks (derived), drawn here; small enough to be linear
    rng, count, sd = np.random.default_rng(2), 40_000, 0.01
    now, before = np.exp(sd * rng.standard_normal((2, count)))
    added = np.log((now - held * before) / (1 - held))
    noisy = nominal(count)
    noisy = replace(noisy, scatter=np.full(count, sd))
    noise = np.zeros((count, NOISE_SIZE))
    noise[:, 0] = rng.standard_normal(count)
    taken = np.full((count, len(STATE)), 1e-4)
    left = left_after(np.zeros_like(taken), taken, noisy, noise, held)
    assert np.std(np.log(-left[:, 0] / 1e-4)) == pytest.approx(np.std(added), rel=0.03)


def test_standing_still_changes_nothing():
    draws = Draws(states=bowed(), response=nominal(), weights=np.ones(1))
    assert np.array_equal(standing(draws).after, bowed())


def test_a_set_up_survives_the_book():
    setup = PassSetup(clamp=CLAMP, spots=SPOTS)
    assert setup_from_plain(setup_to_plain(setup)) == setup
    oven = PassSetup(clamp=CLAMP, soak=Soak(temperature=215.0, hold=7200.0, heat_up=1800.0))
    assert setup_from_plain(setup_to_plain(oven)) == oven
