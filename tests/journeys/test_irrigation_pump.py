"""The worked example of the irrigation pump head, command by command, against what it printed when it was written."""

import json
from pathlib import Path

import pytest

from straighten.cli import main

FOLDER = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"
STEPS = {
    "intake": ["measure", "NAME", "survey-1.toml"],
    "first card": ["plan", "NAME"],
    "first pass": ["log", "NAME", "survey-2.toml", "--done", "pass-1.toml"],
    "second card": ["plan", "NAME"],
    "second pass": ["log", "NAME", "survey-3.toml", "--done", "pass-2.toml"],
    "decision": ["decide", "NAME"],
}
# The hidden head behind the readings: deck and cam line bow [mm] at intake, after pass 1, after pass 2.
TRUTH = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def answers(tmp_path_factory):
    book = tmp_path_factory.mktemp("book") / "example.book"
    return {step: answered(words, book) for step, words in STEPS.items()}


def answered(words, book):
    import contextlib
    import io

    out, err = io.StringIO(), io.StringIO()
    command = [str(FOLDER) if word == "NAME" else word for word in words]
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([*command, "--book", str(book), "--json"])
    assert code == 0, err.getvalue()
    return json.loads(out.getvalue())


def test_the_answers_are_those_that_stand_in_the_folder(answers):
    expected = json.loads((FOLDER / "expected.json").read_text(encoding="utf-8"))
    for step, wanted in expected.items():
        for key, value in wanted.items():
            found = answers[step][key]
            if isinstance(value, dict):
                assert found == pytest.approx(value, rel=0.10, abs=0.01), (step, key)
            else:
                assert found == value, (step, key)


def test_the_head_is_a_go_with_the_middle_to_come_down(answers):
    assert answers["intake"]["verdict"] == "straighten"
    assert "MIDDLE down" in answers["first card"]["direction"]


def test_the_hidden_bow_lies_in_the_ranges_believed(answers):
    now = {"deck": 0, "cam line": 1}
    for step, stage in (("first pass", 1), ("second pass", 2)):
        for line in answers[step]["lines"]:
            low, _, high = line["now_mm"]
            slack = 0.4 * (high - low)  # one reading in five may lie outside an 80 % range
            assert low - slack <= TRUTH["bow_mm"][stage][now[line["line"]]] <= high + slack


def test_the_second_card_has_learned_and_says_so(answers):
    assert answers["first card"]["learned"].startswith("No pass logged yet")
    assert answers["second card"]["learned"].startswith("After 1 logged pass")
    first, second = answers["first pass"]["factors"], answers["second pass"]["factors"]
    width = {name: second[name]["after"][2] - second[name]["after"][0] for name in second}
    before = {name: first[name]["before"][2] - first[name]["before"][0] for name in first}
    assert width["shrinkage"] < 0.9 * before["shrinkage"]


def test_fresh_places_are_chosen_for_the_second_pass(answers):
    first = {round(s["station_mm"]) for s in answers["first card"]["spots"]}
    second = {round(s["station_mm"]) for s in answers["second card"]["spots"]}
    assert second
    assert not first & second


def test_the_way_to_go_comes_with_its_price_and_its_chance(answers):
    options = {o["choice"]: o for o in answers["decision"]["options"]}
    assert {"sand now", "hand it on"} <= set(options)
    assert (
        answers["decision"]["choice"]
        == min(options.values(), key=lambda o: o["expected_cost_money"])["choice"]
    )
    assert all(o["reason"] for o in options.values())
