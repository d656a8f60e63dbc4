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


@pytest.mark.slow
@pytest.mark.xfail(
    strict=True,
    reason="bays offer thirds since 2026-12-01: other passes are planned, and not yet rebuilt in elements",
)
@pytest.mark.parametrize("plan", PLANS, ids=named)
def test_what_the_plan_foretells(capsys, monkeypatch, tmp_path, plan):
    # source: 3D finite elements, after the stages that the median gaps ask for, see plans.toml
    card = planned(capsys, monkeypatch, tmp_path, plan)
    shims, places = as_rebuilt(plan)
    assert heated(card, len(places)) == (shims, places), (
        "another pass is planned now: it has to be rebuilt in elements"
    )
    theirs = np.array(plan["change"][plan["stages"] - 1])[MIDDLES]
    ours = [
        card[f"{after}_after_mm"]["middle"] - card[f"{now}_now_mm"]["middle"]
        for after, now in (("deck", "bow"), ("cam", "cam"))
    ]
    judged(float(np.abs(ours / theirs - 1).max()), plan.get("foretold_missed"))


def planned(capsys, monkeypatch, folder, plan):
    monkeypatch.setenv("STRAIGHTEN_BOOK", str(folder / "book.db"))
    head, survey = (str(HERE / "plans" / n) for n in ("head.toml", f"survey-{100 * plan['bow']:.0f}.toml"))
    assert main(["measure", head, survey]) == 0
    past_advice = ["--because", "elements are to show what it does"] if plan.get("advised_against") else []
    capsys.readouterr()
    assert main(["plan", head, "--json", *past_advice]) == 0
    return json.loads(capsys.readouterr().out)


def heated(card, count):
    """Shims, and station, side, flux radius and dwell of the first places of a card."""
    spots = [(s["station_mm"], s["side"], s["flux_radius_mm"], s["dwell_s"]) for s in card["spots"][:count]]
    return {stack["height_mm"] for stack in card["stacks"]}, set(spots)


def as_rebuilt(plan):
    """The same of the set-up that the elements followed."""
    text = (HERE / "plans" / f"pass-{100 * plan['bow']:.0f}.toml").read_text(encoding="utf-8")
    heats = tomllib.loads(text)["heat"][: plan["stages"]]
    spots = {
        (station, side, float(table["flux_radius"]), float(table["dwell"]))
        for heat in heats
        for table in heat["spots"]
        for station in table["stations"]
        for side in ("exhaust", "inlet")
    }
    return {float(heat["clamp"]["shims"].split()[0]) for heat in heats}, spots
