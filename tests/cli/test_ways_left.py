"""What is left to do with a head that cannot simply be heated: the ways told, and the command that would open them."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from straighten.desk.goal import _sign
from tests.cli.test_one_judgement import BENT, HARD, HEAD, NAME, SOUND, TEXT, WHY, read, shop
from tests.shape.builders import state, survey
from tests.simulated.surveys import lines_text

__all__ = ["shop"]


def test_decide_lists_one_more_heat_only_where_a_pass_may_be_planned(shop):
    shop.measure(read(state(deck_bow=-0.15, cam_bow=-0.12)))  # crowned, a torch and no oven
    decided = shop.ask("decide", NAME)
    assert decided["judgement"]["decided"] == "heat gains no more"
    assert {way["choice"] for way in decided["options"]} == {"sand now", "hand it on"}
    assert len(decided["expected_cost_by_passes_allowed_money"]) == 1
    assert not decided["trade"]
    told = shop.text("decide", NAME)
    assert "strong pass" not in told
    assert "passes allowed" not in told
    assert not re.search("heat again", told, re.IGNORECASE)
    shop.measure(read(BENT))
    assert {way["choice"] for way in shop.ask("decide", NAME)["options"]} == {
        "heat again",
        "sand now",
        "hand it on",
    }


def test_a_cam_line_that_is_only_likely_inside_is_not_called_inside(shop):
    # crowned over a cam line near its limit of 0.05 mm, a torch and no oven: nothing to heat, so sand
    for bow, sure in ((-0.05, False), (0.0, True)):
        shop.measure(read(state(deck_bow=-0.15, cam_bow=bow)))
        said = shop.ask("check", NAME)["judgement"]
        chance = next(
            limit["chance_inside"] for limit in said["goal"]["limits"] if limit["name"] == "cam line overall"
        )
        assert (chance >= 0.8) == sure
        assert (said["next"], said["decided"]) == ("sand", "deck to sand")
        told = re.search(
            r"is inside its limit with (\d+) % chance \(a bare oiled cam that turns free", said["reason"]
        )
        assert (told is None) == sure
        assert sure or int(told[1]) == pytest.approx(100 * chance, abs=0.5)


@pytest.mark.parametrize(
    ("intake", "hardness", "says"),
    [
        ('[intake]\nmagnesium = "yes"\n', "", "only if that answer was a slip"),
        ('[intake]\ncracks = "found"\n', "", "once it is repaired and has passed a leak test"),
        ("", '[[hardness]]\nside = "exhaust"\nvalue = 50\n', "once it is hardened anew"),
    ],
)
def test_the_command_of_a_forbidden_head_says_what_would_settle_it(shop, intake, hardness, says):
    shop.measure(read(BENT, intake=intake, hardness=hardness))
    for command in ("check", "decide"):
        assert says in shop.ask(command, NAME)["judgement"]["command"]


def test_a_deck_too_deep_to_sand_over_a_straight_cam_line_gets_no_advice_on_blades_and_flames(shop):
    shop.measure(read(state(deck_bow=0.34, cam_bow=0.0)))
    found = shop.ask("check", NAME)["judgement"]
    assert (found["next"], found["decided"]) == ("hand it on", "deck too deep to sand")
    assert "may come off" in found["reason"]
    assert not re.search("blade|flame|torch|spot", found["reason"])


@pytest.mark.parametrize(
    ("before", "now", "direction", "told"),
    [
        (0.30, -0.10, -1, ["sign"]),
        (0.30, -0.02, 1, []),  # a hair past straight, the deck still hollow: the next pass bends the same way
        (0.30, 0.10, 1, []),
        (-0.30, 0.10, 1, ["sign"]),
    ],
)
def test_a_cam_line_past_straight_is_held_only_where_the_next_pass_would_bend_it_back(
    before, now, direction, told
):
    history = [state(cam_bow=bow)[None] for bow in (before, now)]
    belief = SimpleNamespace(draws=SimpleNamespace(weights=np.ones(1)), history=history)
    job = SimpleNamespace(dossier=SimpleNamespace(passes=(1,)), belief=belief, head=HEAD, direction=direction)
    assert [found.kind for found in _sign(job)] == told


def test_there_is_no_go_where_the_whole_job_hardly_ends_straight(shop):
    shop.head(
        TEXT,
        ('deck_overall = "0.08 mm"', 'deck_overall = "0.01 mm"'),
        ('cam_line = "0.05 mm"', 'cam_line = "0.01 mm"'),
    )
    said = shop.measure(read(BENT))
    assert shop.ask("decide", NAME)["whole_job"]["chance_straight"] < 0.02
    assert (said["judgement"]["next"], said["judgement"]["decided"]) == ("hand it on", "no way to straight")
    assert "spots" not in shop.ask("plan", NAME)
    assert shop.ask("plan", NAME, "--because", WHY)["spots"]  # advice, with a reason gone past


def test_a_place_that_neither_heat_nor_sanding_takes_is_read_again(shop):
    centre = next(line for line in survey(BENT, HEAD).lines if line.name == "centre")
    middle = len(centre.brackets) // 2
    cells = [*centre.brackets]
    cells[middle] = replace(cells[middle], low=0.8e-3, high=1.0e-3)
    wild = replace(centre, brackets=tuple(cells))
    others = [line for line in survey(BENT, HEAD).lines if line.name != "centre"]
    text = f'units = "mm"\n{SOUND}{HARD}{lines_text([*others, wild])}'
    said = shop.measure(text)["judgement"]
    assert (said["next"], said["decided"]) == ("measure", "reading off")


def test_two_towers_are_told_to_be_too_few(shop):
    towers = re.search(r"towers = \[.*?\]", TEXT)[0]
    shop.head(TEXT, (towers, "towers = [20, 400]"))
    deck = [line for line in survey(BENT, HEAD).lines if line.part == "deck"]
    text = f'units = "mm"\n{SOUND}{HARD}{lines_text(deck)}[[cam]]\nline = "single"\nmode = "balanced"\ngaps = ["0.12-0.15", "0.12-0.15"]\n'
    said = shop.measure(text)["judgement"]
    assert said["next"] == "measure"
    assert "Two towers cannot show a bow" in said["reason"]
