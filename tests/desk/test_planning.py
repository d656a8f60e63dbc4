"""The plan as the desk makes it: what was read at intake goes into it, and what the heat room warns of reaches the card."""

from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from straighten.belief.priors import FACTORS, priors_for, response_of
from straighten.clamp import ClampSetup
from straighten.cli import main
from straighten.decide import Foreseen, Option
from straighten.desk.deciding import _tie, decision_report
from straighten.desk.dossier import as_found, default_dossier, loose_dossier
from straighten.desk.job import Job
from straighten.desk.pass_card import evenly
from straighten.desk.planning import plan_card
from straighten.plan.records import Draws
from straighten.quantiles import tenths
from straighten.shape.modes import INDEX
from straighten.sheet.card_text import short_text
from straighten.sheet.decision import OptionLine

EXAMPLES = Path(__file__).parents[2] / "worked_examples"
NOW = datetime(2026, 3, 1, 9, 2, tzinfo=UTC)


@pytest.fixture(scope="module")
def oven():
    """The greenhouse heater: 92 to 96 HB read at intake, of an alloy whose table says 75 to 90."""
    folder = EXAMPLES / "oven-greenhouse-four"
    return loose_dossier(
        (folder / "head.toml").read_text(encoding="utf-8"), "head.toml", folder / "survey.toml"
    )


def test_a_soak_takes_its_hardness_off_what_was_read_not_off_the_table(oven):
    assert oven.head.alloy.hardness == (92.0, 96.0)
    after = plan_card(Job(oven), NOW).printed.soak.hardness
    # heat only takes hardness, and at 200 C for some hours a few HB of a T6 casting: ASM Handbook 4, from memory
    assert 80 < after.low < after.middle < after.high <= 96.0


def test_a_head_that_was_not_tried_keeps_its_table():
    dossier = default_dossier()
    unread = as_found(dossier.head, ())
    assert unread.alloy.hardness == dossier.head.alloy.hardness


def test_what_the_spots_cost_for_good_stands_on_the_card():
    card = plan_card(Job(default_dossier()), NOW).printed
    assert any("temper is given up on purpose" in line for line in card.costs)


def test_the_head_is_read_after_it_is_free():
    card = plan_card(Job(default_dossier()), NOW).printed
    assert card.ready_at >= card.unclamp_at
    assert card.wait >= card.unclamp_wait
    # the clock on the card is now and the wait, up to the full minute
    for told, wait in ((card.unclamp_at, card.unclamp_wait), (card.ready_at, card.wait)):
        assert 0 <= (datetime.fromisoformat(told) - NOW).total_seconds() - wait < (300 if wait > 1800 else 60)


@pytest.mark.parametrize("seed", [5, 7, 12])
def test_few_draws_in_order_of_the_effort_stand_for_many_of_unlike_weight(seed):
    # 10, 50 and 90 % of torque over way, weighted; as many draws in any order are up to a tenth off; derived
    z = np.random.default_rng(seed).standard_normal((4096, FACTORS + 1))
    states = np.zeros((4096, 11))
    states[:, INDEX["deck_bow"]] = 0.3e-3 + 30e-6 * z[:, FACTORS]
    response, weights = response_of(priors_for(default_dossier().head), z[:, :FACTORS]), np.exp(z[:, 1])
    weights /= weights.sum()
    clamp = ClampSetup(shims=(2e-4,) * 4, bolts=(4, 5), gap=0.0)

    def effort(states, response):
        return response.friction * response.stiffness * (0.4e-3 + 2 * states[:, INDEX["deck_bow"]])

    draws = Draws(states=states, response=response, weights=weights)
    few = effort(*evenly(SimpleNamespace(draws=draws), clamp))
    all_of_them = tenths(effort(states, response), weights)
    np.testing.assert_allclose(np.quantile(few, [0.1, 0.5, 0.9]), all_of_them, rtol=0.03)


def test_a_head_inside_its_limits_is_sent_to_the_final_list_by_plan_and_decision_alike():
    folder = EXAMPLES / "sand-only-sawmill-four"
    finished = loose_dossier(
        (folder / "head.toml").read_text(encoding="utf-8"), "head.toml", folder / "survey-2.toml"
    )
    refusal = plan_card(Job(finished), NOW)
    assert refusal.setup is None
    assert refusal.printed.verdict == "inside limits"
    told = decision_report(Job(finished))
    assert told.choice == "finish"
    assert "nothing to sand" in told.reason
    assert not told.trade  # neither bending nor cutting is weighed any more


def test_ways_whose_costs_overlap_are_called_nearly_a_tie():
    def way(choice, mean, low, high):
        none = Foreseen(mean=0.0, tenths=(0.0, 0.0, 0.0))
        return Option(
            choice=choice,
            cost=Foreseen(mean=mean, tenths=(low, mean, high)),
            cam_left=none,
            deck_left=none,
            metal=none,
            chance=0.5,
            passes=1.0,
        )

    best = way("hand it on", 323.0, 319.0, 325.0)
    assert _tie(best, [way("sand now", 347.0, 344.0, 350.0)]) == ""
    assert "heat again" in _tie(best, [way("heat again", 348.0, 271.0, 458.0)])
    assert _tie(best, [way("heat again", 500.0, 271.0, 900.0)]) == ""


def test_a_length_is_told_inside_its_range_where_the_mean_lies_outside():
    """Metal is to come off in one case of twenty: 0.4 mm there, none in the others."""
    rare = Foreseen(mean=2e-5, tenths=(0.0, 0.0, 0.0))
    likely = Foreseen(mean=1.2e-4, tenths=(1e-4, 1.1e-4, 1.5e-4))
    way = Option(
        choice="sand now", cost=likely, cam_left=likely, deck_left=likely, metal=rare, chance=0.5, passes=0.0
    )
    told = OptionLine(option=way, reason="so").sentence("mm")
    assert "Metal to remove 0.00 mm (0 thou), range 0.00 to 0.00 mm" in told
    assert "cam line 0.12 mm (4.5 thou), range 0.10 to 0.15 mm" in told


def test_the_first_card_a_person_sees_says_how_likely_its_job_ends_straight():
    job = Job(default_dossier())
    told = " ".join(short_text(plan_card(job, NOW, ahead=False).printed).split())
    assert f"to {job.whole.clampings[2]} clampings, then {100 * job.whole.chance:.0f} % straight" in told


@pytest.mark.xfail(
    strict=True, reason="it is told with 77 % chance, since heads that a pass loses count: 80 % were aimed at"
)
def test_the_first_job_a_person_sees_ends_straight_in_four_cases_of_five():
    assert Job(default_dossier()).whole.chance >= 0.8


def test_the_short_card_does_not_wait_for_what_lies_after_the_pass(monkeypatch):
    def never(*_, **__):
        raise AssertionError("worked out, and nobody asked for it")

    whole = plan_card(Job(default_dossier()), NOW).printed
    assert whole.projected
    for name in ("_projected", "plan_turns"):
        monkeypatch.setattr(f"straighten.desk.pass_card.{name}", never)
    short = plan_card(Job(default_dossier()), NOW, ahead=False).printed
    assert (short.projected, short.would_change) == ((), ())
    assert short.whole_job == whole.whole_job
    assert (short.spots, short.rounds, short.ladder) == (whole.spots, whole.rounds, whole.ladder)
    assert main(["plan"]) == 0
    assert main(["plan", "--all"]) == 1  # asked for
