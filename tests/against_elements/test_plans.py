"""First passes that the program plans for the hollow box, against 3D elements that heat as the card says."""

import json
import tomllib
from pathlib import Path

import numpy as np
import pytest

from straighten.cli import main

SOURCE = "3D finite elements, passes that the program plans for a hollow box, place after place; own runs"
MARK = "derived"

HERE = Path(__file__).parent
FILE = tomllib.loads((HERE / "plans.toml").read_text(encoding="utf-8"))
PLANS = [plan for plan in FILE["plan"] if "change" in plan]
LINES = ("deck centre", "deck edges", "cam face centre", "cam face edges")
MIDDLES = [1, 2]  # what a plan calls deck (its edges) and cam line


def judged(worst, missed):
    """A worst error is within what was allowed; one said to be missed is no worse than is said, and still missed."""
    if missed is None:
        assert worst <= FILE["allowed"]
    else:
        assert FILE["allowed"] < worst <= missed + 0.005


def named(plan):
    return f"bow-{plan['bow']:.2f}"


@pytest.mark.parametrize("plan", PLANS, ids=named)
def test_plain_physics_after_every_stage(capsys, plan):
    # source: 3D finite elements, see plans.toml
    setup = HERE / "plans" / f"pass-{100 * plan['bow']:.0f}.toml"
    assert main(["try", str(setup), "--json"]) == 0
    rounds = json.loads(capsys.readouterr().out)["rounds"]
    assert len(rounds) == len(plan["change"])
    ours = np.cumsum([[r["change_of_bow_mm"][line] for line in LINES] for r in rounds], axis=0)
    judged(float(np.abs(ours / np.array(plan["change"]) - 1).max()), plan.get("missed"))


@pytest.mark.parametrize("plan", PLANS, ids=named)
def test_what_the_plan_foretells(plan):
    # source: 3D finite elements, after the stages that the median gaps ask for, see plans.toml
    theirs = np.array(plan["change"][plan["stages"] - 1])[MIDDLES]
    judged(float(np.abs(np.array(plan["foretold"]) / theirs - 1).max()), plan.get("foretold_missed"))
