"""What each way to go costs: metal, limits, chances."""

import numpy as np
import pytest
from scipy.stats import norm

from straighten.decide.outlook import (
    handing_cost,
    inside,
    pass_cost,
    sanding_cost,
)
from straighten.head import head_from_text, template_head
from straighten.head.records import metal_left

HEAD = head_from_text(template_head(), "template")


def test_metal_left_is_the_tighter_of_limit_and_height():
    assert metal_left(HEAD) == pytest.approx(0.25e-3)  # 92.0 less 91.6 would allow 0.40
    lower = head_from_text(template_head().replace('"91.6 mm"', '"91.9 mm"'), "h")
    assert metal_left(lower) == pytest.approx(0.1e-3)
    skimmed = head_from_text(
        template_head().replace('removed_before = "0 mm"', 'removed_before = "0.2 mm"'), "h"
    )
    assert metal_left(skimmed) == pytest.approx(0.05e-3)


def test_the_chance_to_be_inside_is_the_normal_integral():
    # source: scipy.stats.norm
    for value, sd in ((0.0, 20e-6), (60e-6, 10e-6), (-40e-6, 5e-6)):
        expected = norm.cdf(50e-6, value, sd) - norm.cdf(-50e-6, value, sd)
        assert inside(50e-6, np.array([value]), sd)[0] == pytest.approx(expected, abs=1e-12)


def test_a_cut_deeper_than_allowed_costs_a_head():
    straight, deep = sanding_cost(HEAD, np.zeros(2), np.array([0.1e-3, 0.4e-3]), 1e-6)
    assert deep - straight > HEAD.prices.replacement_head / 2


def test_handing_on_never_costs_more_than_another_head():
    cost = handing_cost(HEAD, np.linspace(-1e-3, 1e-3, 41))
    assert (cost <= HEAD.prices.replacement_head + HEAD.prices.hour + 1e-9).all()


def test_handing_on_costs_the_boring_an_hour_and_the_metal_that_is_faced_off():
    # 250 for the boring, 50 for the hour; 0.1 mm and the clean-up of 15 um at 15 a tenth; a head for 400 where it would be
    # too deep: the template's prices; derived
    straight, bowed, deep = handing_cost(HEAD, np.array([0.0, 0.1e-3, 0.4e-3]))
    assert straight == pytest.approx(250 + 50)
    assert bowed - straight == pytest.approx(1.15 * 15)
    assert deep == pytest.approx(400 + 50)


def test_a_pass_costs_its_hours_its_gas_and_its_mishaps():
    assert pass_cost(HEAD) == pytest.approx(2.5 * 50 + 5 + 0.02 * 400)


def test_sanding_costs_its_hours_and_the_metal_and_nothing_where_no_metal_comes_off():
    # 50 an hour for an hour and a half; 0.1 mm less seven tenths of the limit, and 15 um by the finer papers, at 15 a tenth:
    # the template's prices; derived
    straight, bowed = sanding_cost(HEAD, np.zeros(2), np.array([0.0, 0.1e-3]), 1e-6)
    assert straight == pytest.approx(0.0)
    metal = 0.115e-3 - 0.7 * HEAD.limits.deck_overall.value
    assert bowed == pytest.approx(1.5 * 50 + metal / 1e-4 * 15)
