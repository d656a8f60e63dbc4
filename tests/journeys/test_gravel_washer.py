"""The worked example of a head 0.45 mm out ends inside both limits in three clampings or fewer, without line boring."""

import json
import re

import pytest

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
    for name in re.findall(r"survey-\d\.toml", page):
        assert (FOLDER / name).exists()


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
