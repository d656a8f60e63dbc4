"""`straighten tighten`: round by round, with the book kept, and the plan changed by what it teaches."""

import json
import re
from pathlib import Path

import numpy as np
import pytest

from straighten.book import open_book
from straighten.clamp.tightening_log import Reading, replay
from straighten.cli import main
from straighten.desk.setup_file import ClampSetup
from straighten.heat import nominal

EXAMPLE = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"


@pytest.fixture
def ask(tmp_path, capsys):
    def run(*words, code=0):
        found = main([*map(str, words), "--book", str(tmp_path / "b.book"), "--json"])
        out = capsys.readouterr()
        assert found == code, out.err
        return json.loads(out.out if code == 0 else out.err)

    run("measure", EXAMPLE, "survey-1.toml")
    run("plan", EXAMPLE)
    return run


@pytest.mark.slow
def test_three_rounds_narrow_the_torque_that_closes_the_gap(ask):
    widths = []
    for torque, goes, stops in (
        ("9 Nm", "0.20", "0.25"),
        ("14 Nm", "0.10", "0.12"),
        ("17 Nm", "0.04", "0.05"),
    ):
        found = ask("tighten", EXAMPLE, "--torque", torque, "--goes", goes, "--stops", stops)
        low, _, high = found["closing_torque_Nm"]
        widths.append(high - low)
    assert widths[2] < widths[1] < widths[0]
    assert len(found["steps"]) == 3
    assert not found["stiffness_and_friction_parted"]


@pytest.mark.slow
@pytest.mark.xfail(
    strict=True,
    reason="the next plan pulls harder: 37 to 58 kN for 31 to 50; high over low falls from 1.62 to 1.60 only",
)
def test_the_next_plan_knows_what_the_tightening_taught(ask):
    before = ask("plan", EXAMPLE)["clamp_force_kN"]
    ask("tighten", EXAMPLE, "--torque", "9 Nm", "--goes", "0.20", "--stops", "0.25")
    ask("tighten", EXAMPLE, "--torque", "14 Nm", "--goes", "0.12", "--stops", "0.15")
    after = ask("plan", EXAMPLE)["clamp_force_kN"]
    assert after["high"] - after["low"] < before["high"] - before["low"]


def test_a_gap_that_does_not_close_is_called_out(ask):
    ask("tighten", EXAMPLE, "--torque", "9 Nm", "--goes", "0.25", "--stops", "0.30")
    found = ask("tighten", EXAMPLE, "--torque", "30 Nm", "--goes", "0.25", "--stops", "0.30")
    assert found["verdict"] == "stop: something is wrong"


def test_hold_once_the_thinnest_blade_no_longer_goes(ask):
    ask("tighten", EXAMPLE, "--torque", "12 Nm", "--goes", "0.10", "--stops", "0.12")
    found = ask("tighten", EXAMPLE, "--torque", "21 Nm", "--goes", "0", "--stops", "0.04")
    assert found["verdict"] == "hold: gap reached"


@pytest.mark.slow
def test_a_weighed_load_parts_stiffness_from_friction(ask, tmp_path):
    rounds = '[[rounds]]\ntorque = "9 Nm"\ngoes = 0.20\nstops = 0.25\n[[rounds]]\ntorque = "14 Nm"\ngoes = 0.10\nstops = 0.12\n'
    (tmp_path / "plain.toml").write_text(rounds)
    (tmp_path / "weighed.toml").write_text('load = "40 kN"\nload_doubt = "1 kN"\n' + rounds)
    plain = ask("tighten", EXAMPLE, tmp_path / "plain.toml")
    weighed = ask("tighten", EXAMPLE, tmp_path / "weighed.toml")
    spread = [np.log(found["friction"][2] / found["friction"][0]) for found in (plain, weighed)]
    assert spread[1] < 0.6 * spread[0]
    assert weighed["stiffness_and_friction_parted"]


@pytest.mark.parametrize(
    "words",
    [
        ("--torque", "0 Nm"),
        ("--torque", "5 bananas"),
        ("--torque", "9 Nm", "--goes", "0.3", "--stops", "0.2"),
        ("--torque", "9 Nm", "--goes", "0", "--stops", "10"),
        ("--torque", "9 Nm", "--goes", "0.004 mm", "--stops", "0.005 mm"),
        (),
    ],
)
def test_rounds_that_cannot_be_are_refused(ask, words):
    assert ask("tighten", EXAMPLE, *words, code=3)["error"] == "BadInput"


def test_torques_must_rise(ask):
    ask("tighten", EXAMPLE, "--torque", "14 Nm", "--goes", "0.10", "--stops", "0.12")
    told = ask("tighten", EXAMPLE, "--torque", "9 Nm", "--goes", "0.10", "--stops", "0.12", code=3)
    assert "harder than the one before" in told["problem"]
    ask("tighten", EXAMPLE, "--torque", "9 Nm", "--goes", "0.20", "--stops", "0.25", "--again")


def test_a_mistyped_torque_is_taken_back_as_the_message_says(ask):
    """90 typed for 9: the log must not be a dead end."""
    ask("tighten", EXAMPLE, "--torque", "5 Nm", "--goes", "0.25", "--stops", "0.30")
    ask("tighten", EXAMPLE, "--torque", "90 Nm", "--goes", "0.20", "--stops", "0.25")
    told = ask("tighten", EXAMPLE, "--torque", "5 ftlb", "--goes", "0.20", "--stops", "0.25", code=3)
    assert "7 Nm (5 ft-lb) after 90 Nm (66 ft-lb)" in told["problem"]
    assert "--again" in told["fix"]
    number = re.search(r"straighten strike (\d+) --reason", told["fix"])[1]
    ask("strike", number, "--reason", "mistyped")
    found = ask("tighten", EXAMPLE, "--torque", "9 Nm", "--goes", "0.20", "--stops", "0.25")
    assert [step["torque_Nm"] for step in found["steps"]] == [5.0, 9.0]


def test_the_replay_agrees_with_the_log_it_is_played_from():
    from straighten.head import read_head

    head = read_head(EXAMPLE / "head.toml")
    state = np.zeros((1, 11))
    state[0, 0] = state[0, 7] = 0.2e-3
    setup = ClampSetup(shims=(1e-4,) * 4, bolts=(4, 5), gap=0.0)
    torques = (6.0, 12.0, 18.0)
    played = replay(
        head, state, setup, nominal(), [Reading(torque=t, goes=0.0, does_not=None) for t in torques]
    )
    assert (np.diff(played.gap[0]) < 0).all()  # every round closes the gap further


@pytest.fixture
def jacked(ask, tmp_path):
    """A log whose load was weighed after its second round, as it then teaches."""
    rounds = '[[rounds]]\ntorque = "9 Nm"\ngoes = 0.20\nstops = 0.25\n[[rounds]]\ntorque = "14 Nm"\ngoes = 0.10\nstops = 0.12\n'
    (tmp_path / "weighed.toml").write_text('load = "20 kN"\nload_doubt = "1 kN"\n' + rounds)
    return ask("tighten", EXAMPLE, tmp_path / "weighed.toml")


@pytest.mark.xfail(strict=True, reason="the high end of the friction moves by 5.1 %, 5 are allowed")
@pytest.mark.slow
def test_a_load_once_weighed_is_carried_on_with_the_round_it_was_weighed_after(ask, jacked, tmp_path):
    """A further round pulls harder than what was weighed before it: it must not be held against that load."""
    more = ask("tighten", EXAMPLE, "--torque", "17 Nm", "--goes", "0.06", "--stops", "0.08")
    assert more["stiffness_and_friction_parted"]
    assert more["friction"] == pytest.approx(jacked["friction"], rel=0.05)
    with open_book(tmp_path / "b.book") as book:
        kept = book.latest(EXAMPLE.name, "tighten").record
    assert (kept["load_N"], kept["load_after_rounds"], len(kept["rounds"])) == (20e3, 2, 3)


@pytest.mark.slow
def test_begun_anew_the_load_is_gone_with_the_rounds(ask, jacked):
    anew = ask("tighten", EXAMPLE, "--torque", "9 Nm", "--goes", "0.20", "--stops", "0.25", "--again")
    assert not anew["stiffness_and_friction_parted"]


@pytest.mark.parametrize(
    "text", ["rounds = []\n", 'load = "0 kN"\n[[rounds]]\ntorque = "9 Nm"\nstops = 0.25\n']
)
def test_a_log_without_a_round_or_with_a_load_of_nothing_is_refused(ask, tmp_path, text):
    (tmp_path / "log.toml").write_text(text)
    assert ask("tighten", EXAMPLE, tmp_path / "log.toml", code=3)["error"] == "BadInput"


@pytest.mark.slow
def test_a_new_card_with_another_clamp_begins_a_log_of_its_own(ask, tmp_path):
    """Rounds on other shims say nothing of this gap."""
    ask("tighten", EXAMPLE, "--torque", "9 Nm", "--goes", "0.20", "--stops", "0.25")
    with open_book(tmp_path / "b.book") as book:
        card = book.latest(EXAMPLE.name, "plan").record
        clamp = card["setup"]["clamp"]
        book.append(EXAMPLE.name, "plan", card)
    found = ask("tighten", EXAMPLE, "--torque", "10 Nm", "--goes", "0.15", "--stops", "0.18")
    assert len(found["steps"]) == 2  # the same card printed once more
    with open_book(tmp_path / "b.book") as book:
        higher = [height + 0.10 for height in clamp["shims_mm"]]
        other = {**card, "setup": {**card["setup"], "clamp": {**clamp, "shims_mm": higher}}}
        book.append(EXAMPLE.name, "plan", other)
    found = ask("tighten", EXAMPLE, "--torque", "9 Nm", "--goes", "0.30", "--stops", "0.35")
    assert len(found["steps"]) == 1
