"""The torque wrench and the bases a person owns: rounds that the wrench can be set to, a stiffer base where it matters."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from straighten.cli import main

EXAMPLE = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"
PLATE = '[base]\nkind = "plate"\nmaterial = "steel"\nthickness = {}\nwidth = 180\nlength = 520\n'


@pytest.fixture
def card(tmp_path, capsys):
    """Plan the pump head with its file changed; returns the card's plain form."""

    def planned(*changes, more=""):
        text = (EXAMPLE / "head.toml").read_text()
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        (tmp_path / "head.toml").write_text(text + more)
        survey = str(EXAMPLE / "survey-1.toml")
        assert main(["plan", str(tmp_path / "head.toml"), "--survey", survey, "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    return planned


def base_of():
    text = (EXAMPLE / "head.toml").read_text()
    start = text.index("[base]")
    return text[start : text.index("\n[", start) + 1]


@pytest.mark.slow
def test_rounds_begin_where_the_wrench_begins_and_never_pass_it(card):
    # a wrench cannot be set under its scale (common practice, no source)
    torques = [r["torque_Nm"] for r in card(more='\n[wrench]\nleast = "12 Nm"\nmost = "60 Nm"\n')["rounds"]]
    assert min(torques) >= 12
    assert max(torques) <= 60
    assert torques == sorted(torques)
    free = [r["torque_Nm"] for r in card()["rounds"]]
    assert min(free) < 12


@pytest.mark.slow
def test_a_wrench_that_begins_over_the_bolts_cap_is_not_used(card):
    told = card(more='\n[wrench]\nleast = "80 Nm"\nmost = "400 Nm"\n')
    assert "turn by hand" in told["stop_rule"]
    assert all(r["torque_Nm"] <= told["most_torque_Nm"] for r in told["rounds"])


def test_an_impossible_wrench_is_refused_with_its_key(tmp_path, capsys):
    text = (EXAMPLE / "head.toml").read_text() + '\n[wrench]\nleast = "50 Nm"\nmost = "60 Nm"\n'
    (tmp_path / "head.toml").write_text(text)
    survey = str(EXAMPLE / "survey-1.toml")
    assert main(["plan", str(tmp_path / "head.toml"), "--survey", survey]) == 3
    assert "wrench.most" in capsys.readouterr().err


@pytest.mark.slow
def test_a_stiffer_base_that_is_owned_is_proposed_where_the_one_in_use_bends_much(card):
    # the bend of a plate goes with the cube of its thickness (Euler-Bernoulli, from memory)
    thin, thick = (PLATE.format(t).replace("[base]", "[[base]]") for t in (25, 80))
    told = card((base_of(), thin + thick))["base_words"]
    assert "80.0 mm" in told
    assert "use that one" in told
    assert "use that one" not in card((base_of(), thick + thin))["base_words"]
    assert "use that one" not in card((base_of(), PLATE.format(25)))["base_words"]
