"""The alloy table against what the open pages and the standards print."""

import math
import tomllib
from importlib.resources import files
from itertools import pairwise

import pytest

from straighten.errors import BadInput
from straighten.head.alloys import alloy_named

ROWS = tomllib.loads((files("straighten.head") / "alloy_table.toml").read_text(encoding="utf-8"))["alloy"]
TABLE = [alloy_named(name) for name in ROWS]


def ratio(curve, temperature):
    (low, high) = next((a, b) for a, b in pairwise(curve) if a[0] <= temperature <= b[0])
    value = low[1] + (high[1] - low[1]) * (temperature - low[0]) / (high[0] - low[0])
    return value / curve[0][1]


@pytest.mark.parametrize(
    ("name", "proof", "conductivity", "density"),
    [
        ("356-T6", 170, 150, 2685),  # open property pages, seen
        ("319-T6", 165, 110, 2790),  # open property pages, seen
        ("C355-T61", 230, 150, 2705),  # open property pages, seen
        ("LM27", 92, 154.8, 2750),  # LM27 data page, 80-90 sand and 90-110 chill, seen
    ],
)
def test_room_temperature_figures_are_the_pages_figures(name, proof, conductivity, density):
    alloy = alloy_named(name)
    assert alloy.yield_short[0][1] / 1e6 == pytest.approx(proof, rel=0.1)
    assert alloy.conductivity[0][1] == pytest.approx(conductivity, rel=0.01)
    assert alloy.density == pytest.approx(density, rel=0.005)


@pytest.mark.parametrize(("temperature", "mpa"), [(20, 269), (150, 235), (200, 163), (250, 84), (300, 39)])
def test_soaked_yield_of_head_decks_is_the_published_one(temperature, mpa):
    # Modern Casting, July 2018, Table 2: A356 + 0.5 Cu, T6, head deck, conditioned at temperature; seen
    curve = alloy_named("A356+Cu").yield_soaked
    assert ratio(curve, temperature) * curve[0][1] / 1e6 == pytest.approx(mpa, rel=0.05)


@pytest.mark.parametrize(("temperature", "mpa"), [(150, 272), (200, 236), (250, 194), (275, 158), (300, 95)])
def test_short_yield_of_351_is_the_published_one(temperature, mpa):
    # Modern Casting, July 2018, Table 2: 351-T6 without pre-soak; seen
    curve = alloy_named("351-T6").yield_short
    assert ratio(curve, temperature) * curve[0][1] / 1e6 == pytest.approx(mpa, rel=0.05)


def test_half_an_hour_at_200_keeps_four_fifths():
    # LM25 data page: about 0.80 of the room-temperature strength, +/- 0.05; seen
    assert ratio(alloy_named("LM25").yield_short, 200) == pytest.approx(0.80, abs=0.05)


@pytest.mark.parametrize(
    ("temperature", "gpa"), [(100, 67.9), (200, 60.2), (225, 57.4), (300, 47.6), (400, 28.0)]
)
def test_modulus_falls_as_in_eurocode_9(temperature, gpa):
    # EN 1999-1-2 Table 2, over its own 70 GPa at 20 C; seen
    for alloy in TABLE:
        assert ratio(alloy.modulus, temperature) == pytest.approx(gpa / 70, abs=1e-9)


@pytest.mark.parametrize("alloy", TABLE, ids=lambda a: a.name)
def test_short_exposure_never_weaker_than_soaked(alloy):
    # ordering of short-time against pre-soaked strength, Modern Casting 2018 Table 2; seen
    for t in (100, 150, 200, 250, 300, 350, 400, 450, 500):
        assert ratio(alloy.yield_short, t) >= ratio(alloy.yield_soaked, t) - 1e-12


@pytest.mark.parametrize("alloy", TABLE, ids=lambda a: a.name)
def test_age_hardened_alloys_have_lost_two_thirds_at_300(alloy):
    # 0.145, 0.319, 0.154, 0.343, 0.20 in five published tables; derived. Metal without a temper keeps 0.4.
    assert ratio(alloy.yield_soaked, 300) < 0.35
    assert ratio(alloy.yield_short, 300) <= 0.40


@pytest.mark.parametrize("alloy", TABLE, ids=lambda a: a.name)
def test_ceiling_is_550_without_copper_and_525_or_lower_with_it(alloy):
    # LM25 and LM27 data pages; seen
    assert alloy.solidus == 550 if alloy.family == "Al-Si7-Mg" else alloy.solidus <= 525


@pytest.mark.parametrize("alloy", TABLE, ids=lambda a: a.name)
def test_diffusivity_is_that_of_a_cast_aluminium(alloy):
    # pages give 5.6e-5 to 6.7e-5 for the 356 kind; 319 has 110 W/mK against 150; derived
    diffusivity = alloy.conductivity[0][1] / (alloy.density * alloy.heat_capacity[0][1])
    assert 4.2e-5 < diffusivity < 6.7e-5


@pytest.mark.parametrize("alloy", [*TABLE, alloy_named("unknown")], ids=lambda a: a.name)
def test_curves_rise_in_temperature_and_fall_in_strength(alloy):
    for curve in (alloy.modulus, alloy.yield_short, alloy.yield_soaked):
        temperatures, values = zip(*curve, strict=True)
        assert list(temperatures) == sorted(set(temperatures))
        assert list(values) == sorted(values, reverse=True)
        assert min(values) > 0
    assert len(alloy.sources) >= 2


def test_unknown_casting_spans_the_table():
    unknown = alloy_named("unknown")
    logs = [math.log(a.yield_short[0][1] / unknown.yield_short[0][1]) for a in TABLE]
    assert unknown.solidus == min(a.solidus for a in TABLE)
    assert sum(logs) == pytest.approx(0, abs=1e-9)
    assert min(logs) > -2.2 * unknown.spread
    assert max(logs) < 2.2 * unknown.spread


def test_every_figure_names_source_and_mark():
    marks = ("; seen)", "; from memory)", "; assumed)", "; derived)", "(seen)", "(from memory)", "(derived)")
    for alloy in TABLE:
        assert all(any(mark in line for mark in marks) for line in alloy.sources)


def test_a_name_not_in_the_table_is_answered_with_the_nearest():
    with pytest.raises(BadInput, match="A356-T6"):
        alloy_named("A365-T6")
