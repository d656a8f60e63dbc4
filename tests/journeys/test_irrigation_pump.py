"""The worked example of the irrigation pump head, command by command, against what it printed when it was written.

`python -m tests.journeys.regenerate` writes expected.json anew; truth.json holds the hidden head behind the readings.
"""

import json
from dataclasses import replace

import numpy as np
import pytest

from straighten.book import open_book
from straighten.desk.setup_file import setup_file, setup_of
from straighten.filecheck import parse_toml
from straighten.heat import nominal
from straighten.plan.forecast import NOISE_SIZE, forecast
from straighten.plan.records import Draws
from straighten.shape.modes import INDEX, STATE
from tests.journeys.pump import FOLDER, HEAD, answered, sand_logs, steps
from tests.journeys.regenerate import done_beside

# The hidden head: deck and cam line bow [mm] at intake, after pass 1, after pass 2; metal and hollow while sanding.
TRUTH = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))
LAST_RUN = f"sanding run {len(sand_logs())}"


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    return tmp_path_factory.mktemp("book") / "example.book"


@pytest.fixture(scope="module")
def answers(book):
    return {step: answered(words, book) for step, words in steps().items()}


def test_the_answers_are_those_that_stand_in_the_folder(answers):
    expected = json.loads((FOLDER / "expected.json").read_text(encoding="utf-8"))
    for step, wanted in expected.items():
        for key, value in wanted.items():
            found = answers[step][key]
            assert_near(found, value, (step, key))


def assert_near(found, value, where):
    """Lengths within a tenth or a hundredth of a millimetre, strokes within a quarter, words to the letter."""
    if isinstance(value, dict):
        assert set(found) == set(value), where
        for key in value:
            assert_near(found[key], value[key], (*where, key))
    elif isinstance(value, float):
        assert found == pytest.approx(value, rel=0.25 if "strokes" in where[1] else 0.10, abs=0.01), where
    else:
        assert found == value, where


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


def by_the_card(card, stage):
    """Deck and cam bow [mm] of the hidden head, heated as a card says by its own answer to heat, which the planner is not told."""
    response = replace(nominal(), **{name: np.array([value]) for name, value in TRUTH["response"].items()})
    state = np.zeros((1, len(STATE)))
    names = [INDEX["deck_bow"], INDEX["cam_bow"]]
    state[0, names] = 1e-3 * np.array(TRUTH["bow_mm"][stage - 1])
    file = setup_file(parse_toml(done_beside(card, 1), "card"), where="card", system="mm")
    draws = Draws(states=state, response=response, weights=np.ones(1))
    after = forecast(HEAD, draws, setup_of(file, HEAD, "card"), np.zeros((1, NOISE_SIZE))).after
    return 1e3 * after[0, names]


@pytest.mark.xfail(
    strict=True,
    reason="the first card says 0.032 mm at the least, the hidden deck goes to 0.027; the second is 0.77 of the bow wide",
)
def test_each_card_s_first_range_holds_what_the_hidden_head_does_by_the_card(answers):
    # a range of eight in ten, told before the heat; less than three quarters of the bow wide, or it would tell nothing
    for step, stage in (("first card", 1), ("second card", 2)):
        hidden = by_the_card(answers[step], stage)
        for key, line in (("deck_after_mm", 0), ("cam_after_mm", 1)):
            told = answers[step][key]
            low, high = widened(told, 0.1)
            assert low <= hidden[line] <= high
            assert told["high"] - told["low"] < 0.75 * TRUTH["bow_mm"][stage - 1][line]


def test_the_second_card_has_learned_and_says_so(answers):
    assert answers["first card"]["learned"].startswith("No pass logged yet")
    assert answers["second card"]["learned"].startswith("After 1 logged pass")
    first, second = answers["first pass"]["factors"], answers["second pass"]["factors"]
    width = {name: second[name]["after"][2] - second[name]["after"][0] for name in second}
    before = {name: first[name]["before"][2] - first[name]["before"][0] for name in first}
    assert width["shrinkage"] < 0.9 * before["shrinkage"]


def test_a_place_heated_before_is_heated_stronger_in_the_second_pass(answers):
    # a like heat on a used place adds next to nothing: the same recipe again adds 6 to 11 % in 3D elements of a hollow box
    first, second = answers["first card"]["spots"], answers["second card"]["spots"]
    assert second
    strong = {(round(s["station_mm"]), s["side"]): s["dwell_s"] * s["flux_radius_mm"] ** 2 for s in first}
    for spot in second:
        before = strong.get((round(spot["station_mm"]), spot["side"]), 0.0)
        assert spot["dwell_s"] * spot["flux_radius_mm"] ** 2 > before


def test_the_way_to_go_comes_with_its_price_and_its_chance(answers):
    options = {o["choice"]: o for o in answers["decision"]["options"]}
    assert {"sand now", "hand it on"} <= set(options)
    costs = [o["expected_cost_money"] for o in answers["decision"]["options"]]
    assert costs == sorted(costs)
    assert answers["decision"]["reason"].startswith(answers["decision"]["choice"].capitalize())
    assert all(o["reason"] for o in options.values())


def widened(triple, share=0.4):
    """One reading in five may lie outside an 80 % range."""
    slack = share * (triple["high"] - triple["low"])
    return triple["low"] - slack, triple["high"] + slack


def test_every_run_tells_the_metal_gone_and_the_hollow_left_as_the_hidden_head_has_them(answers):
    sanding = TRUTH["sanding"]
    runs = [answers[f"sanding run {n}"] for n in range(1, len(sand_logs()) + 1)]
    assert len(runs) == len(sanding["removed_mm"])
    for told, removed, hollow in zip(runs, sanding["removed_mm"], sanding["hollow_mm"], strict=True):
        for key, true in (("removed_mm", removed), ("hollow_left_mm", hollow)):
            low, high = widened(told[key])
            assert low <= true <= high, (key, told[key], true)


def test_the_plan_foretold_the_depth_and_the_strokes_that_the_hidden_head_took(answers):
    plan, sanding = answers["sanding plan"], TRUTH["sanding"]
    low, high = widened(plan["depth_mm"])
    assert low <= sanding["removed_mm"][-1] <= high
    first, strokes = answers["sanding run 1"], sanding["strokes_left"][0]
    low, high = widened(first["strokes_to_target"])
    assert low <= strokes <= high
    wide, narrow = (found["strokes_to_target"] for found in (plan, first))
    assert narrow["high"] - narrow["low"] < 0.5 * (wide["high"] - wide["low"])  # the first run has taught


@pytest.mark.xfail(
    strict=True,
    reason="the first run ends so near the goal that the low end is nought: high over low has no bound",
)
def test_the_first_run_halves_how_far_apart_high_and_low_of_the_strokes_lie(answers):
    wide, narrow = (answers[step]["strokes_to_target"] for step in ("sanding plan", "sanding run 1"))
    assert narrow["high"] / narrow["low"] < 0.5 * wide["high"] / wide["low"]


def test_the_hidden_head_ends_inside_its_limits_and_no_deeper_than_allowed(answers):
    sanding = TRUTH["sanding"]
    assert answers[LAST_RUN]["state"] == "flat enough"
    assert sanding["final_hollow_mm"] <= 1e3 * HEAD.limits.deck_overall.value
    assert sanding["final_removed_mm"] <= answers["sanding plan"]["removal_allowed_mm"]
    assert sanding["removed_mm"] == sorted(sanding["removed_mm"])
    least = HEAD.limits.least_height
    assert least is not None
    assert 92.0 - sanding["final_removed_mm"] >= 1e3 * least.value
    states = {line["key"]: line["state"] for line in answers["final list"]["lines"]}
    assert {
        states[key] for key in ("deck_overall", "cam_line_overall", "least_height", "wedge", "hardness")
    } == {"holds"}


def test_the_final_shape_holds_the_hidden_bow(answers):
    deck = answers["final list"]["shape"]["deck_bow"]
    assert deck["low_mm"] - 0.02 <= TRUTH["sanding"]["final_bow_mm"] <= deck["high_mm"] + 0.02


def test_the_head_is_closed_with_all_its_passes_and_what_was_skipped(answers, book):
    final = answers["final list"]
    assert final["closed_as_entry"] is not None
    assert final["passes"] == 2
    assert any("engine not built up yet" in line for line in final["skipped"])
    with open_book(book) as opened:
        kinds = [entry.kind for entry in opened.entries(FOLDER.name)]
    assert kinds[-1] == "finish"
    assert (kinds.count("pass"), kinds.count("sand")) == (2, len(sand_logs()))
