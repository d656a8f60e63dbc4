"""What the pages of the worked examples say of their files and answers is so."""

from __future__ import annotations

import json
import shutil
import tomllib
from pathlib import Path

import pytest

from straighten.cli import main
from tests.slow import slow_after

EXAMPLES = Path(__file__).parents[2] / "worked_examples"
PUMP, SAW, OVEN, TWIST = (
    "irrigation-pump-four",
    "sand-only-sawmill-four",
    "oven-greenhouse-four",
    "twist-orchard-six",
)
OTHER_BAY = 30.0  # mm


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("examples")
    shutil.copytree(EXAMPLES, folder, dirs_exist_ok=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("STRAIGHTEN_BOOK", str(folder / "shop.book"))
        yield folder


def ask(capsys, *words):
    assert main([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def page(name):
    return " ".join((EXAMPLES / name / "README.md").read_text(encoding="utf-8").split())


def test_what_was_done_on_the_pump_is_not_what_its_cards_say(bench, capsys):
    assert "other bays, a milder flame" in page(PUMP)
    assert "Then the cam line may be inside its limit, but not surely: `decide` would heat once more" in page(
        PUMP
    )
    ask(capsys, "measure", PUMP, "survey-1.toml")
    apart = []
    for number in (1, 2):
        card = ask(capsys, "plan", PUMP)
        done = tomllib.loads((EXAMPLES / PUMP / f"pass-{number}.toml").read_text(encoding="utf-8"))
        told = {(spot["side"], spot["station_mm"]) for spot in card["spots"]}
        heated = {(table["side"], station) for table in done["spots"] for station in table["stations"]}
        apart += [min(abs(at - b) for other, b in told if other == side) for side, at in heated]
        for table in done["spots"]:
            assert table["flux_radius"] < card["spots"][0]["flux_radius_mm"]
        ask(capsys, "log", PUMP, f"survey-{number + 1}.toml", "--done", f"pass-{number}.toml")
    assert max(apart) > OTHER_BAY
    decision = ask(capsys, "decide", PUMP)
    cam = next(
        limit for limit in decision["judgement"]["goal"]["limits"] if limit["name"] == "cam line overall"
    )
    assert 0.2 < cam["chance_inside"] < 0.8
    assert decision["choice"] == "heat again"


def test_the_sawmill_deck_was_sanded_past_the_shine_that_its_plan_names(bench, capsys):
    assert "once a quarter of the face shines (the look that saw it saw a third)" in page(SAW)
    ask(capsys, "measure", SAW, "survey-1.toml")
    plan = ask(capsys, "sand", SAW, "--surface", "surface.toml")
    seen = tomllib.loads((EXAMPLES / SAW / "sand-1.toml").read_text(encoding="utf-8"))["cleaned_percent"]
    assert plan["stop_at_shining_share"] == pytest.approx(0.25, abs=0.03)
    assert seen / 100 == pytest.approx(1 / 3, abs=0.02)


@pytest.mark.parametrize(("name", "bow"), slow_after(1, [(OVEN, 0.43), (TWIST, 0.35)]))
def test_the_bow_named_on_the_page_is_the_one_the_survey_shows(bench, capsys, name, bow):
    assert f"{bow} mm" in page(name)
    found = ask(capsys, "measure", name, "survey.toml")["shape"]["deck_bow"]
    assert found["value_mm"] == pytest.approx(bow, abs=0.006)
