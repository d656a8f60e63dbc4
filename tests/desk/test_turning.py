"""What would change the answer: each sentence said where it is true, and nothing said where it would change nothing."""

from dataclasses import replace

import numpy as np
import pytest

from straighten.belief.priors import FACTORS, priors_for, response_of
from straighten.clamp import ClampSetup
from straighten.decide import Outlook, decide
from straighten.desk import deciding
from straighten.desk.deciding import PRICES, WORTH_TELLING, decision_turns, plan_turns, trades
from straighten.errors import NoPlan
from straighten.head import head_from_text, template_head
from straighten.head.records import ShimBlade
from straighten.heat import HeatSpot, Soak
from straighten.plan.alternatives import Candidate, PassPlan
from straighten.plan.forecast import NOISE_SIZE
from straighten.plan.loss import Chances
from straighten.plan.records import Done, Draws, PassSetup
from straighten.plan.search import choose_pass
from straighten.shape.modes import INDEX
from straighten.sobol import sobol_normal

HEAD = head_from_text(template_head(), "template")
COARSE = replace(HEAD, shim_blades=(ShimBlade(thickness=0.20e-3, count=8),))
N = 128
NOISE = sobol_normal(N, NOISE_SIZE, 41)
FIRST = Done()
SPOT = HeatSpot(station=0.2, side="inlet", radius=0.012, dwell=5.0, peak=500.0)
CLAMP = ClampSetup(shims=(1e-4,) * 4, bolts=(4, 5), gap=0.0)


def believed():
    z = sobol_normal(N, FACTORS + 11, 3)
    states = 8e-6 * z[:, FACTORS:]
    states[:, INDEX["deck_bow"]] += 0.20e-3
    states[:, INDEX["cam_bow"]] += 0.19e-3
    return Draws(
        states=states,
        # half as wide as at first: a head that passes have told of
        response=response_of(
            tuple(replace(p, spread=0.5 * p.spread) for p in priors_for(HEAD)), z[:, :FACTORS]
        ),
        weights=np.full(N, 1 / N),
    )


HOLLOW = believed()


def candidate(**changes):
    usual = Candidate(lost=0.1, out=1.0,
        setup=PassSetup(clamp=CLAMP, spots=(SPOT,) * 8), loss=1.0,
        chances=Chances(cam=0.6, deck=0.6, both=0.5, done=0.5, overshoot=0.01), left=0.05e-3, work=8.0, hardness=84.0,
    )  # fmt: skip
    return replace(usual, **changes)


def inside(both):
    return Chances(cam=0.6, deck=0.6, both=both, done=both, overshoot=0.01)


@pytest.fixture
def answered(monkeypatch):
    """Let the search answer the usual candidate first, then another one, or fail; keep which blades it was asked with then."""
    asked = []

    def with_(other):
        answers = [candidate(), other]

        def search(head, draws, noise, **given):
            best = answers.pop(0)
            if not answers:
                asked.append(head.shim_blades)
            if best is None:
                raise NoPlan("none", where="spots")
            return PassPlan(
                draws=None,
                setup=best.setup,
                forecast=None,
                chances=best.chances,
                direction=1,
                best=best,
                runners_up=(),
            )

        monkeypatch.setattr(deciding, "choose_pass", search)
        return asked

    return with_


@pytest.mark.slow
def test_a_shop_of_coarse_blades_is_told_of_thin_ones_as_the_search_finds_them_worth():
    plan = choose_pass(COARSE, HOLLOW, NOISE, done=Done(passes=1))
    thinner = (*COARSE.shim_blades, ShimBlade(thickness=0.05e-3, count=4))
    richer = choose_pass(replace(COARSE, shim_blades=thinner), HOLLOW, NOISE, done=Done(passes=1))
    gained = plan.best.loss - richer.best.loss
    assert abs(gained - WORTH_TELLING) > 1e-3
    assert bool(plan_turns(COARSE, HOLLOW, NOISE, Done(passes=1))) == (gained > WORTH_TELLING)


def test_nothing_is_asked_where_four_thin_blades_are_owned(answered):
    asked = answered(candidate(loss=0.0))
    owned = replace(HEAD, shim_blades=(*COARSE.shim_blades, ShimBlade(thickness=0.05e-3, count=4)))
    assert plan_turns(owned, HOLLOW, NOISE, FIRST) == ()
    assert not asked


def test_three_thin_blades_are_too_few_for_four_corners(answered):
    asked = answered(candidate(loss=0.9, chances=inside(0.62)))
    three = replace(HEAD, shim_blades=(ShimBlade(thickness=0.05e-3, count=3),))
    (line,) = plan_turns(three, HOLLOW, NOISE, FIRST)
    assert "+12 points" in line
    assert sum(b.count for b in asked[0] if b.thickness == 0.05e-3) == 7


@pytest.mark.parametrize("best", [None, candidate(loss=0.99), candidate(loss=1.2)])
def test_a_blade_that_brings_nothing_is_not_spoken_of(answered, best):
    answered(best)
    assert plan_turns(COARSE, HOLLOW, NOISE, FIRST) == ()


OVEN = PassSetup(clamp=CLAMP, soak=Soak(temperature=200.0, hold=7200.0))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, ""),
        ({"work": 12.0}, "4 spots more"),
        ({"work": 6.0}, "2 spots less"),
        ({"setup": OVEN, "work": 20.0}, "1.2 h more"),
        ({"chances": inside(0.58)}, "8 points more likely inside"),
        ({"chances": inside(0.40)}, "10 points less likely inside"),
        ({"chances": inside(0.505)}, ""),  # half a point: no one could tell
        ({"left": 0.08e-3}, "0.03 mm (1 thou) more cam-line bow left"),
        ({"left": 0.03e-3}, "0.02 mm (1 thou) less cam-line bow left"),
        ({"hardness": 80.0}, "-4 HB"),
        ({"work": 10.0, "hardness": 86.0}, "2 spots more, +2 HB"),
    ],
)
def test_what_another_set_up_gives_and_takes(changes, said):
    assert trades(HEAD, candidate(), candidate(**changes)) == said


def outlook(**changes):
    usual = Outlook(
        cam=0.15e-3, cam_sd=0.01e-3, deck_less_cam=0.01e-3, full_set=0.10e-3, doubt=0.25, scatter=0.15,
        passes_left=3,
    )  # fmt: skip
    return replace(usual, **changes)


def priced(**changes):
    return replace(HEAD, prices=replace(HEAD.prices, **changes))


def turned(head, ahead):
    told = decide(head, ahead)
    return told.choice, decision_turns(head, ahead, told)


def test_a_cam_that_turns_free_saves_the_heat():
    ahead = outlook(cam=0.06e-3, deck_less_cam=-0.03e-3)
    choice, lines = turned(HEAD, ahead)
    assert choice == "heat again"
    assert lines[0] == "If the cam turns free as it is: sand now."
    assert decide(priced(line_boring=0.0), ahead).choice == "sand now"


@pytest.mark.parametrize("key", PRICES)
def test_a_price_that_turns_the_choice_is_named_with_both_figures(key):
    found = 0
    for price in np.geomspace(20, 2000, 12):
        head = priced(**{key: float(price)})
        for times in (0.5, 2.0):
            other = decide(priced(**{key: times * float(price)}), outlook()).choice
            line = f"If {PRICES[key]} {times * price:.0f} instead of {price:.0f}: {other}."
            choice, lines = turned(head, outlook())
            assert (line in lines) == (other != choice)
            found += other != choice
    assert found


def test_a_pass_that_takes_more_or_less_than_foretold():
    lines = [
        line for full in np.linspace(0.01e-3, 0.2e-3, 40) for line in turned(HEAD, outlook(full_set=full))[1]
    ]
    assert any(line.startswith("If one strong pass took half as much again: ") for line in lines)
    assert any(line.startswith("If one strong pass took only six tenths of that: ") for line in lines)


def test_where_nothing_turns_it_the_tries_are_named():
    choice, lines = turned(HEAD, outlook(cam=0.005e-3, cam_sd=4e-6, deck_less_cam=0.0))
    assert choice == "sand now"
    (line,) = lines
    assert line.startswith("Nothing that was tried: half or double each price, a cam that turns free")
