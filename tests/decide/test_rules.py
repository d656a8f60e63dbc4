"""The trade's hard stops: which facts of a job forbid another heat, which do not yet, and in what order they are told."""

from dataclasses import replace

import pytest

from straighten.decide.rules import PassHistory, stop_rule
from straighten.head import head_from_text, template_head
from straighten.sources import Cited

# Thresholds of the template: reject under 65 HB, a loss of 10 HB, 3 passes, 20 % of the bend.
HEAD = head_from_text(template_head(), "template")
GOING_WELL = PassHistory(
    passes=1, last_gain=0.40, first_bow=0.20e-3, bow=0.11e-3, hardness_now=84.0, hardness_first=88.0,
    crack=False,
)  # fmt: skip


def told(head=HEAD, **facts):
    return stop_rule(head, replace(GOING_WELL, **facts))


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"crack": True}, "a crack was found: no more heat"),
        ({"hardness_now": 64.0, "hardness_first": None}, "hardness 64 HB is under 65 HB (scrap below 65 HB"),
        ({"hardness_now": 77.0}, "hardness fell by 11 HB (more than 10 HB lost since intake"),
        ({"bow": -0.06e-3}, "the bow has changed sign, -0.06 mm (-2.5 thou) now: stop and measure again"),
        ({"first_bow": -0.2e-3, "bow": 0.06e-3}, "the bow has changed sign, 0.06 mm (2.5 thou) now"),
        ({"passes": 3}, "3 passes done, 3 are the most (one to three cycles are usual)"),
        ({"last_gain": 0.12}, "the last pass kept 12 % of its bend (gain under 20 % of the bend"),
    ],
    ids=["crack", "soft", "softened", "past straight", "past straight from below", "passes", "gain"],
)
def test_each_rule_forbids_the_heat_in_its_own_words(facts, words):
    assert told(**facts).startswith(words)


@pytest.mark.parametrize(
    "facts",
    [
        {},
        {"hardness_now": 65.0, "hardness_first": None},  # at the threshold, not under it
        {"hardness_now": 78.0},  # 10 HB lost, not more
        {"hardness_now": None},  # nobody measured: no rule can bind on a guess
        {"hardness_now": None, "hardness_first": None},
        {"bow": -0.05e-3},  # past straight, but inside the cam line's limit
        {"passes": 0, "bow": -0.2e-3, "last_gain": None},  # no pass can have turned it
        {"passes": 2},
        {"last_gain": 0.20},
        {"last_gain": None},
    ],
)
def test_a_job_short_of_every_threshold_is_left_to_the_costs(facts):
    assert told(**facts) == ""


def test_what_ruins_a_head_first_is_told_first():
    everything = {
        "crack": True, "hardness_now": 60.0, "bow": -0.1e-3, "passes": 3, "last_gain": 0.0,
    }  # fmt: skip
    mended = (
        {"crack": False},
        {"hardness_now": 77.0},
        {"hardness_now": 88.0},
        {"bow": 0.1e-3},
        {"passes": 2},
    )
    said = [told(**everything)]
    for better in mended:
        everything |= better
        said.append(told(**everything))
    begins = (
        "a crack",
        "hardness 60",
        "hardness fell",
        "the bow has changed",
        "3 passes",
        "the last pass kept 0",
    )
    assert all(line.startswith(start) for line, start in zip(said, begins, strict=True))


def test_the_owners_own_threshold_wins_and_is_named_as_the_reason():
    own = replace(HEAD.thresholds, most_passes=Cited(5, "passes", "this shop's rule", "given"))
    head = replace(HEAD, thresholds=own)
    assert told(head, passes=4) == ""
    assert told(head, passes=5) == "5 passes done, 5 are the most (this shop's rule)"
