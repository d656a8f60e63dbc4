"""The workshop stands apart from the planner, and a job runs through the commands to its end."""

import ast
import json
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks.jobs import STAGES, summed
from tests.workshop import ended
from tests.workshop.bench import Clamping, carried_out
from tests.workshop.castings import XI, draw
from tests.workshop.hands import RULES, by_hand, deed
from tests.workshop.reading import read
from tests.workshop.shop import by_program

HERE = Path(__file__).parent


def imported(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module


def test_it_shares_nothing_with_the_planner_but_the_command_line():
    ours = {
        path.name: [m for m in imported(path) if m.startswith("straighten")] for path in HERE.glob("*.py")
    }
    assert {name: found for name, found in ours.items() if found} == {"shop.py": ["straighten.cli"]}


def test_heads_lie_where_the_page_says():
    heads = [draw(number) for number in range(200)]
    bows = np.array([head.start_cam for head in heads])
    assert 0.08 < bows.min() < 0.14
    assert 0.50 < bows.max() < 0.62
    ratios = np.log([head.cam_ratio for head in heads])
    assert np.std(ratios) == pytest.approx(0.30, abs=0.05)
    assert {head.casting.cam_lines for head in heads} == {1, 2}
    assert all(0.05 <= limit <= 0.08 for head in heads for limit in head.casting.limits[:2])
    assert 0.05 < np.mean([head.casting.limits[3] > 0 for head in heads]) < 0.25


def test_a_hand_reads_the_bow_within_its_errors():
    # a mean of three lines, each within a blade step and the feel; one reading in twenty is a blade off
    off = [read(head).deck_bow - head.deck_bow for head in map(draw, range(60))]
    assert abs(np.median(off)) < 0.02
    assert np.quantile(np.abs(off), 0.8) < 0.03


def test_an_edge_that_rocks_about_the_middle_is_balanced():
    # two hollows with the middle between them proud: an edge cannot bridge it (common practice, no source)
    head = draw(4)
    hollows = 0.2 * np.sin(2 * np.pi * XI) ** 2 - 0.05 * 4 * XI * (1 - XI)
    for line in read(replace(head, deck=np.tile(hollows, (3, 1)))).part("deck"):
        assert line.mode == "balanced"
    hollow = 0.3 * 4 * XI * (1 - XI)
    for line in read(replace(head, deck=np.tile(hollow, (3, 1)))).part("deck"):
        assert line.mode == "bridged"


def test_heat_in_front_bows_the_line_in_front():
    head = draw(4)
    whole = deed(head.casting, RULES[0], (head.start_cam, 0), (12.0, 5.0))
    front = replace(whole, groups=tuple(g for g in whole.groups if g[0].station < head.casting.length / 2))
    fell = head.deck[1] - carried_out(head, front).truth.deck[1]
    assert np.argmax(fell) < np.argmax(XI >= 0.5)


def test_straight_counts_the_true_lines():
    head = draw(2)
    level = replace(
        head, cam=0 * head.cam, tower_off=0 * head.tower_off, deck=0 * head.deck, rough=0 * head.rough
    )
    assert ended.straight(level)
    assert not ended.straight(
        replace(level, cam=level.cam + 2 * head.casting.limits[1] * (1 - (2 * XI - 1) ** 2))
    )
    hollow = (head.casting.limits[0] + head.casting.removal_left) * (1 - (2 * XI - 1) ** 2)
    assert ended.straight(replace(level, deck=level.deck + 0.9 * hollow))
    assert not ended.straight(replace(level, deck=level.deck + 1.2 * hollow))


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_no_rule_is_hopeless(rule):
    # source: none; a rule that straightens no head in ten of those under 0.2 mm would be no opponent
    jobs = [by_hand(head, rule) for head in map(draw, range(120)) if head.start_cam < 0.2]
    assert np.mean([job.straight for job in jobs]) > 0.1
    assert max(job.heats for job in jobs) <= 5


@pytest.mark.slow
def test_a_job_runs_through_the_commands_to_its_end():
    job = by_program(draw(11))
    assert job.ended not in ("fault", "")
    assert job.heats == sum(len(found) for stage, found in job.held.items() if stage.startswith("pass"))
    assert bool(job.cause) != job.straight
    rows = [asdict(job), *(asdict(by_hand(draw(11), rule)) for rule in RULES)]
    answer = json.loads(json.dumps(summed(rows), default=float))
    assert set(answer["cover"]) == set(STAGES)
    assert answer["heads"] == 1
    assert answer["heats"] == job.heats


def test_a_blade_under_the_slack_head_reads_shims_and_bow():
    head = draw(4)
    plan = deed(head.casting, RULES[0], (head.start_cam, 0), (12.0, 5.0))
    clamping = Clamping(head, plan)
    before = np.mean(clamping.slack())
    clamping.heat(plan.groups)
    fell = head.deck_bow - clamping.truth.deck_bow
    # the shims lie 10 mm in from the ends, so that the blade sees a little less than the whole fall
    assert 0.9 * fell < before - np.mean(clamping.slack()) < fell
    assert before == pytest.approx(head.deck_bow + plan.shims[0], abs=0.12)


def test_stages_in_turn_do_what_the_same_heats_do_in_one_go():
    head = draw(4)
    plan = deed(head.casting, RULES[0], (head.start_cam, 0), (12.0, 5.0))
    clamping = Clamping(head, plan)
    for group in plan.groups:
        clamping.heat((group,))
    whole = carried_out(head, plan).truth
    assert clamping.released().cam_bow == pytest.approx(whole.cam_bow, abs=0.01 * head.start_cam)
