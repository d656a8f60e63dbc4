"""Two worked examples run from end to end through the command line: sand only, and hand it on."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from straighten.book import open_book
from straighten.cli import main

EXAMPLES = Path(__file__).parents[2] / "worked_examples"
SAND, HAND_ON = "sand-only-sawmill-four", "hand-it-on-ferry-six"


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """A folder with both examples and a book of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STRAIGHTEN_BOOK", str(tmp_path / "shop.book"))
    for name in (SAND, HAND_ON):
        shutil.copytree(EXAMPLES / name, tmp_path / name)
    return tmp_path


def ask(capsys, *words, code=0):
    assert main([*words, "--json"]) == code
    told = capsys.readouterr()
    return json.loads(told.out if code == 0 else told.err.splitlines()[-1])


def kinds(shop, name):
    with open_book(shop / "shop.book") as book:
        return [entry.kind for entry in book.entries(name)]


def test_sand_only_from_survey_to_closed_book(shop, capsys):
    assert ask(capsys, "measure", SAND, "survey-1.toml")["verdict"] == "sand only"
    plan = ask(capsys, "sand", SAND, "--surface", "surface.toml")
    assert plan["schema"] == "straighten/sand/1"
    assert plan["state"] == "go on"
    assert plan["depth_mm"]["value"] < plan["removal_allowed_mm"]
    assert kinds(shop, SAND) == ["head", "survey"]  # a plan alone records nothing
    first = ask(capsys, "sand", SAND, "--surface", "surface.toml", "--log", "sand-1.toml")
    before, after = (p["strokes_to_target"] for p in (plan, first))
    assert after["high"] / after["low"] < 0.5 * before["high"] / before["low"]  # the run has taught
    assert first["state"] == "go on"
    second = ask(capsys, "sand", SAND, "--log", "sand-2.toml")
    assert second["state"] == "flat enough"
    assert second["next_strokes"] == 0
    assert second["removed_mm"]["high"] < second["removal_allowed_mm"]
    # what the cut does is told of the metal that is off: the heights are those the micrometer of the log read
    for corner, read in (("front_exhaust", 91.915), ("rear_exhaust", 91.910), ("rear_inlet", 91.917)):
        told = second["consequences"][f"height_{corner}_mm"]
        assert told["low"] - 0.01 <= read <= told["high"] + 0.01
        assert told["value"] < plan["consequences"][f"height_{corner}_mm"]["value"]
    ask(capsys, "measure", SAND, "survey-2.toml")
    final = ask(capsys, "finish", SAND, "--answers", "final.toml", "--close")
    assert final["closed_as_entry"] is not None
    assert any("engine not built up yet" in line for line in final["skipped"])
    assert kinds(shop, SAND) == ["head", "survey", "sand", "sand", "survey", "finish"]


def test_the_head_cannot_be_closed_twice(shop, capsys):
    for survey in ("survey-1.toml", "survey-2.toml"):
        ask(capsys, "measure", SAND, survey)
    ask(capsys, "finish", SAND, "--answers", "final.toml", "--close")
    fault = ask(capsys, "finish", SAND, "--answers", "final.toml", "--close", code=3)
    assert "closed already" in fault["problem"]
    assert kinds(shop, SAND).count("finish") == 1


def test_metal_of_an_earlier_sanding_counts_after_a_new_survey(shop, capsys):
    ask(capsys, "measure", SAND, "survey-1.toml")
    start = ask(capsys, "sand", SAND)
    logged = ask(capsys, "sand", SAND, "--log", "sand-1.toml")
    ask(capsys, "measure", SAND, "survey-2.toml")
    inside = ask(capsys, "sand", SAND, code=5)
    assert "hold their limits" in inside["problem"]
    after = ask(capsys, "sand", SAND, "--goal", "clean-up")
    lost = start["removal_allowed_mm"] - after["removal_allowed_mm"]
    assert lost >= logged["removed_mm"]["value"]
    assert after["runs"] == 0


def test_hand_it_on_is_said_with_the_number_that_decided(shop, capsys):
    told = ask(capsys, "measure", HAND_ON, "survey-1.toml")
    assert told["verdict"] == "hand it on"
    assert "58" in told["decided_by"]
    fault = ask(capsys, "sand", HAND_ON, code=5)
    assert fault["error"] == "NoPlan"
    assert "58 HB" in fault["problem"]
    refused = ask(capsys, "sand", HAND_ON, "--because", "the owner wants it anyhow", code=5)
    assert "58 HB" in refused["problem"]
    assert kinds(shop, HAND_ON) == ["head", "survey"]


@pytest.mark.slow
def test_sanding_it_all_the_same_stops_at_the_removal_limit(shop, capsys):
    """Four tenths of hollow, five hundredths left to take: no run of strokes may be planned to the end."""
    survey = shop / HAND_ON / "survey-1.toml"
    harder = survey.read_text(encoding="utf-8").replace(
        "[58, 61]", "[70, 72]"
    )  # annealed metal is not sanded at all
    survey.write_text(harder, encoding="utf-8")
    ask(capsys, "measure", HAND_ON, "survey-1.toml")
    plan = ask(capsys, "sand", HAND_ON, "--because", "the owner wants to see what it takes")
    assert plan["chance_depth_is_allowed"] < 0.01
    assert plan["safe_strokes"] < plan["strokes_to_target"]["value"]


def test_a_failing_list_is_not_closed_by_itself(shop, capsys):
    ask(capsys, "measure", HAND_ON, "survey-1.toml")
    listed = ask(capsys, "finish", HAND_ON)
    states = {line["key"]: line["state"] for line in listed["lines"]}
    assert states["hardness"] == "fails"
    assert states["deck_overall"] == "fails"
    for words in ((), ("--because", "the owner takes it as it is")):
        fault = ask(capsys, "finish", HAND_ON, "--close", *words, code=5)
        assert "58 HB" in fault["problem"]
    assert kinds(shop, HAND_ON) == ["head", "survey"]


def test_a_list_with_a_failing_line_is_closed_with_a_reason_only(shop, capsys):
    ask(capsys, "measure", SAND, "survey-1.toml")
    fault = ask(capsys, "finish", SAND, "--close", code=3)
    assert "these fail" in fault["problem"]
    assert "--because" in fault["fix"]
    assert kinds(shop, SAND) == ["head", "survey"]
    closed = ask(capsys, "finish", SAND, "--close", "--because", "the owner takes it as it is")
    assert closed["closed_as_entry"] is not None
    with open_book(shop / "shop.book") as book:
        assert book.latest(SAND, "finish").record["because"] == "the owner takes it as it is"


def test_text_says_what_to_do_first_and_carries_cautions(shop, capsys):
    assert main(["measure", SAND, "survey-1.toml"]) == 0
    capsys.readouterr()
    assert main(["sand", SAND, "--figure", "trade.svg"]) == 0
    text = capsys.readouterr().out
    assert text.startswith(f"HEAD {SAND}   SAND\n")
    assert text.index("NEXT") < text.index("DEPTH") < text.index("CAUTION")
    for words in ("both ends", "turn end for end", "no circles", "hydrogen", "CAM =", "CRANK"):
        assert words.lower().replace("turn end for end", "end for end") in text.lower()
    first = (shop / "trade.svg").read_bytes()
    assert main(["sand", SAND, "--figure", "trade.svg"]) == 0
    assert (shop / "trade.svg").read_bytes() == first
