"""`straighten stage`: the gap between stages through the book, what it refuses, and the log that ends it."""

import json
from pathlib import Path

import pytest

from straighten.book import open_book
from straighten.cli import main

EXAMPLE = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    """A book with the pump measured and planned, and what the card said."""
    book = tmp_path_factory.mktemp("stage") / "b.book"
    for words in (["measure", EXAMPLE, "survey-1.toml"], ["plan", EXAMPLE]):
        assert main([*map(str, words), "--book", str(book)]) == 0
    with open_book(book) as opened:
        card = opened.latest(EXAMPLE.name, "plan").record["card"]
    return book, card


@pytest.fixture
def ask(planned, tmp_path, capsys):
    own = tmp_path / "b.book"
    own.write_bytes(planned[0].read_bytes())

    def run(*words, code=0):
        found = main([*map(str, words), "--book", str(own), "--json"])
        out = capsys.readouterr()
        assert found == code, out.err
        return json.loads(out.out if code == 0 else out.err)

    run.book, run.card = own, planned[1]
    return run


def expected(rung):
    """Return the bracket that the card itself expects of a stage."""
    return f"{rung['goes_mm']:.2f}-{rung['stops_mm']:.2f}"


def test_a_stage_says_what_next_and_the_log_takes_what_the_stages_did(ask):
    first = ask("stage", EXAMPLE, "--gap", expected(ask.card["ladder"][0]))
    assert first["schema"] == "straighten/stage/1"
    assert first["do"] > 1
    command = first["judgement"]["command"]
    assert f"straighten stage {EXAMPLE.name}" in command
    assert f"straighten log {EXAMPLE.name} survey.toml" in command
    assert "measure" not in command.replace("cold and measured", "")
    assert first["judgement"]["decided"] == "stages in hand"
    assert first["ladder"][0]["places"] == ask.card["ladder"][first["do"] - 1]["places"]
    assert first["deck_now_mm"][1] < first["deck_before_mm"][1]
    told = ask("plan", EXAMPLE)  # nothing new is planned while a pass is in the clamp
    assert told["judgement"]["decided"] == "stages in hand"
    ask("stage", EXAMPLE, "--skip")
    logged = ask("log", EXAMPLE, "survey-2.toml", "--read-again")
    assert logged["taken_as_on_the_card"] == ["what was done was taken from the 1 stage logged"]
    with open_book(ask.book) as opened:
        done = opened.latest(EXAMPLE.name, "pass").record["done"]
    assert len(done["spots"]) == len(ask.card["ladder"][0]["places"])
    assert ask("stage", EXAMPLE, "--gap", "0.20", code=3)["fix"].startswith("Plan first")


def test_a_survey_after_stages_is_the_one_after_the_pass(ask):
    ask("stage", EXAMPLE, "--gap", expected(ask.card["ladder"][0]))
    ask("measure", EXAMPLE, "survey-2.toml")
    judged = ask("check", EXAMPLE)["judgement"]
    assert judged["decided"] != "stages in hand"
    assert "passes" not in judged["decided"]


def test_readings_of_both_edges_warm_and_once_more(ask):
    middle = expected(ask.card["ladder"][0])
    both = ask("stage", EXAMPLE, "--exhaust", middle, "--inlet", middle, "--after", "2 min")
    assert [r["place"] for r in both["read"]] == ["exhaust", "inlet"]
    assert 0 < both["warm_bow_mm"] < 0.05
    again = ask("stage", EXAMPLE, "--gap", middle, "--again")
    assert again["stage"] == both["stage"] == 1
    assert again["warm_bow_mm"] == 0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "no gap was read"),
        (("--gap", "0.35-0.30"), "upside down"),
        (("--gap", "40"), "40"),
        (("--gap", "0.20", "--after", "1 s"), "still so warm"),
        (("--gap", "0.20", "--after", "soon"), "soon"),
        (("--gap", "0.20", "--again"), "no stage was read yet"),
    ],
    ids=["none", "upside down", "no gap", "warm", "no time", "again"],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(ask, words, says):
    fault = ask("stage", EXAMPLE, *words, code=3)
    assert says in fault["problem"]
    assert fault["fix"]
    with open_book(ask.book) as opened:
        assert opened.latest(EXAMPLE.name, "stage") is None


def test_no_more_stages_than_the_card_has(ask):
    for _ in ask.card["ladder"]:
        ask("stage", EXAMPLE, "--skip")
    assert "stages of this card are done" in ask("stage", EXAMPLE, "--gap", "0.2", code=3)["problem"]


def test_a_cracked_head_is_not_heated_on(ask, tmp_path):
    text = (EXAMPLE / "survey-1.toml").read_text()
    cracked = tmp_path / "cracked.toml"
    found = "\n".join('cracks = "found"' if line.startswith("cracks") else line for line in text.splitlines())
    cracked.write_text(found if "cracks" in text else 'cracks = "found"\n' + found)
    ask("measure", EXAMPLE, cracked)
    assert "crack" in ask("stage", EXAMPLE, "--gap", "0.2", code=5)["problem"].lower()
