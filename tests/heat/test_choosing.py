"""Which soak: relaxing the bend and keeping the temper weighed together."""

from dataclasses import replace

import pytest

from straighten.clamp import section_of
from straighten.head.alloys import alloy_named
from straighten.head.records import Oven
from straighten.heat import nominal, soak_choices
from tests.heat.heads import box, clamped

HEAD = box(alloy=alloy_named("LM25"), oven=Oven(hottest=260.0, longest=6 * 3600.0))


@pytest.fixture(scope="module")
def choices():
    return soak_choices(HEAD, section_of(HEAD), clamped(HEAD, 1e-4), nominal())


def test_choices_keep_to_the_oven(choices):
    assert max(c.soak.temperature for c in choices) == 260.0
    assert max(c.soak.hold for c in choices) == 6 * 3600.0
    assert choices[0].soak.temperature == 260.0


def test_more_set_costs_more_hardness(choices):
    mild, strong = (
        next(c for c in choices if c.kept >= share and c.soak.hold == 3600.0) for share in (0.3, 0.5)
    )
    assert strong.soak.temperature >= mild.soak.temperature
    assert strong.hardness[0] <= mild.hardness[0]
    shorter, longer = (next(c for c in choices if c.soak.hold == h) for h in (3600.0, 6 * 3600.0))
    assert longer.kept > shorter.kept
    assert longer.hardness[0] < shorter.hardness[0]


def test_a_soak_near_the_reject_line_warns(choices):
    # T6 of HB 100 after 2 to 4 h at 250 degC lies at the trade's reject line of 65 to 70 HB (trade pages, seen)
    hot = [c for c in choices if c.soak.temperature == 250.0 and c.soak.hold == 4 * 3600.0]
    assert "reject line" in hot[0].warning
    mild = [c for c in choices if c.soak.temperature == 160.0]
    assert all(c.warning == "" for c in mild)


def test_without_an_oven_in_the_file_260_degrees_are_the_most():
    head = replace(HEAD, oven=None)
    found = soak_choices(head, section_of(head), clamped(head, 1e-4), nominal(), holds=(3600.0,))
    assert max(c.soak.temperature for c in found) == 260.0
