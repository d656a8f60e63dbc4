"""The worked example of a head 0.45 mm out ends inside both limits in three clampings or fewer, without line boring."""

import json
import re
from types import SimpleNamespace

import pytest

from straighten.desk.dossier import _cut_since
from tests.journeys.washer import FOLDER, remade

MOST_CLAMPINGS = 3
BORED = ("line bor", "hand it on")


@pytest.fixture(scope="module")
def expected():
    return json.loads((FOLDER / "expected.json").read_text(encoding="utf-8"))


def ends_inside(told):
    hidden = told["hidden_head"]
    assert hidden["cam_bow_as_it_came_mm"] == 0.45
    assert hidden["clampings"] <= MOST_CLAMPINGS
    assert (
        hidden["cam_out_of_straight_mm"][-1] <= hidden["cam_limit_mm"] < hidden["cam_out_of_straight_mm"][0]
    )
    assert hidden["deck_out_of_flat_mm"][-1] <= hidden["deck_limit_mm"]
    assert hidden["sanded_mm"] <= hidden["may_come_off_mm"]
    assert not any(word in json.dumps(told["steps"]) for word in BORED)


def test_the_head_ends_inside_both_limits(expected):
    ends_inside(expected)


def test_the_page_names_the_commands_and_the_figures(expected):
    page = (FOLDER / "README.md").read_text(encoding="utf-8")
    block = re.search(r"```sh\n(.*?)```", page, re.DOTALL)[1].splitlines()
    assert [line for line in block if line.startswith("straighten ")] == [
        s["command"] for s in expected["steps"]
    ]
    hidden = expected["hidden_head"]
    for figure in (*hidden["cam_out_of_straight_mm"], *hidden["deck_out_of_flat_mm"], hidden["sanded_mm"]):
        assert f"{figure:.3f}" in page
    for name in re.findall(r"survey-[\w-]+\.toml", page):
        assert (FOLDER / name).exists()


@pytest.mark.xfail(
    strict=True, reason="0.075 to 0.115 mm was said, 0.064 mm were taken: one range of 80 % of one head"
)
def test_what_sanding_was_said_to_take_holds_what_it_took(expected):
    depth = next(s["says"]["depth_mm"] for s in expected["steps"] if " sand " in s["command"])
    assert depth["low"] <= expected["hidden_head"]["sanded_mm"] <= depth["high"]


@pytest.mark.slow
def test_the_commands_of_today_do_the_same_job(expected, tmp_path):
    found = remade(tmp_path)
    assert found == expected
    ends_inside(found)
    for path in tmp_path.glob("*.toml"):
        assert path.read_text(encoding="utf-8") == (FOLDER / path.name).read_text(encoding="utf-8")


def test_a_cut_that_only_the_survey_tells_of_makes_another_deck(expected):
    # common practice, no source: a face that was cut no longer shows what the heat before it did
    assert not any("--log" in step["command"] for step in expected["steps"])
    assert expected["steps"][-1]["says"] == {"choice": "finish"}


@pytest.mark.parametrize(
    ("before", "now", "cut"),
    [((None,), 1e-4, True), ((5e-5, None), 1e-4, True), ((1e-4,), 1e-4, False), ((1e-4,), None, False)],
)
def test_a_survey_tells_of_a_cut_by_more_metal_than_was_told_before(before, now, cut):
    told = [SimpleNamespace(intake=SimpleNamespace(removed=depth)) for depth in (*before, now)]
    assert _cut_since(told[:-1], told[-1]) is cut
