"""Where spots may go, and in what order. The rules are common practice, no source."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import erfc

from straighten.clamp import section_of
from straighten.head.alloys import alloy_named
from straighten.head.records import SIDES, KeepOff, Torch
from straighten.heat import (
    HeatSpot,
    HeatStroke,
    Place,
    allowed_places,
    before_clamping,
    cautions,
    refusal,
    schedule,
)
from straighten.heat.safety import cost_lines, cost_plain, heat_cost
from straighten.heat.treatment import kept_off
from tests.heat.heads import bolts_at, box

TORCH = Torch(radius=0.012, dwell=4.0, peak=500.0)
HEAD = box(bolts=bolts_at(0.02, 0.11, 0.2, 0.29, 0.38))


def at(station, side="inlet", across=0.03):
    return Place(station=station, side=side, across=across)


@pytest.mark.parametrize(
    ("place", "why"),
    [
        (at(0.03), "middle seven tenths"),
        (at(0.2), "web"),
        (at(0.233, across=0.005), "middle line"),
        (at(0.29, across=0.06), "boss"),
    ],
)
def test_a_place_is_refused_with_its_reason(place, why):
    assert why in (refusal(HEAD, place, 0.012) or "")


@pytest.mark.parametrize("radius", [0.008, 0.012, 0.018])
def test_no_place_lays_more_than_a_sixteenth_of_its_heat_beyond_a_web_s_face(radius):
    # a web drinks the flame's heat (common practice, no source); a Gaussian flux, exp(-2) at its radius: half of
    # erfc(sqrt(2) x / radius) of it falls beyond a line at x (derived)
    for off in np.arange(0.0, 0.033, 0.001):
        why = refusal(HEAD, at(0.2 + off), radius)
        beyond = 0.5 * erfc(2**0.5 * (off - 0.005) / radius)
        assert beyond < 1 / 16 or why == "over a web"
        assert beyond > 1 / 20 or why != "over a web"


def test_keep_off_zones_count_on_their_own_side():
    zone = KeepOff(station=0.233, side="inlet", radius=0.01, reason="oil drilling")
    head = replace(HEAD, keep_off=(zone,))
    assert refusal(head, at(0.233, "inlet"), 0.012) == "oil drilling"
    assert refusal(head, at(0.233, "exhaust"), 0.012) is None


def test_middles_and_thirds_of_the_bays_of_both_sides_from_the_middle_outward():
    places = allowed_places(HEAD, TORCH)
    away = [round(abs(p.station - 0.2), 4) for p in places]
    assert away == sorted(away)
    webs = [web.station for web in HEAD.casting.webs]
    wanted = [a + part * (b - a) for a, b in pairwise(webs) for part in (1 / 3, 0.5, 2 / 3)]
    for side in SIDES:
        assert sorted(p.station for p in places if p.side == side) == pytest.approx(wanted)


@settings(max_examples=40, deadline=None)
@given(radius=st.floats(0.006, 0.02), rows=st.floats(0.015, 0.045))
def test_every_place_is_allowed(radius, rows):
    head = replace(HEAD, spot_rows=rows)
    for place in allowed_places(head, replace(TORCH, radius=radius)):
        assert place.across == rows
        assert refusal(head, place, radius) is None


def test_order_changes_sides_and_works_outward_with_a_pause():
    spots = schedule(allowed_places(HEAD, TORCH), TORCH)
    assert [s.side for s in spots[:4]] in (
        ["exhaust", "inlet", "exhaust", "inlet"],
        ["inlet", "exhaust", "inlet", "exhaust"],
    )
    away = [round(abs(s.station - 0.2), 4) for s in spots]
    assert away == sorted(away)
    starts = [s.start for s in spots]
    assert all(b - a >= 60 for a, b in pairwise(starts))
    # the hump falls to a third every 25 s (3D elements of a box, seen): about a tenth is left, and nobody waits for less
    assert all(0.05 < np.exp(-(b - a - TORCH.dwell) / 25) < 0.15 for a, b in pairwise(starts))


def test_a_stroke_is_refused_where_a_spot_on_its_line_would_be():
    stroke = HeatStroke(
        station=0.2, side="inlet", across_from=0.03, across_to=0.05, radius=0.012, time=12, peak=520
    )
    free = next(p for p in allowed_places(HEAD, TORCH) if p.side == "inlet")
    along = replace(stroke, station=free.station, across_from=free.across, across_to=free.across)
    assert kept_off(HEAD, along) is None
    assert "middle line" in (kept_off(HEAD, replace(along, across_from=0.0)) or "")
    over = replace(along, station_to=free.station + 0.08)
    assert kept_off(HEAD, over) is not None


def test_wide_bays_hold_places_between_the_old_ones():
    head = replace(HEAD, casting=replace(HEAD.casting, webs=HEAD.casting.webs[::2]))
    assert len({round(p.station, 3) for p in allowed_places(head, TORCH)}) >= 4


def test_a_schedule_keeps_power_where_the_torch_has_one():
    spots = schedule([at(0.233), at(0.233, "exhaust")], replace(TORCH, power=2000.0))
    assert all(s.power == 2000.0 and s.peak is None for s in spots)
    assert isinstance(spots[0], HeatSpot)


def test_a_stabilised_roof_has_no_temper_to_give_up_and_its_card_does_not_say_so():
    # T7 is held at 250 degC until it loses little more: LM25 data page, seen
    spots = schedule([at(0.167), at(0.233)], TORCH)
    told = {}
    for name in ("A356-T6", "356-T7"):
        head = replace(HEAD, alloy=alloy_named(name))
        cost = heat_cost(head, section_of(head), spots)
        told[name] = cost_lines(cost, "mm")[0]
        assert (cost_plain(cost)["softened_area_cm2"] > 0) == (name == "A356-T6")
        if name == "A356-T6":  # a square metre has 10 000 cm2; a spot softens a share of its own disc, R 12
            assert cost_plain(replace(cost, area=1.0))["softened_area_cm2"] == pytest.approx(1e4)
            assert cost.area < 4 * np.pi * TORCH.radius**2
    assert "given up on purpose" in told["A356-T6"]
    assert "little temper to lose" in told["356-T7"]


@pytest.mark.parametrize("source", ["torch", "oven"])
def test_cautions_name_the_dangers_of_the_source(source):
    lines = " ".join(c.value for c in cautions(source))
    for word in ("clamp", "gloves"):
        assert word in lines
    assert ("Flashback" in lines) == (source == "torch")
    assert ("kitchen" in lines) == (source == "oven")


def test_what_is_done_before_the_clamp_is_told_apart_from_what_is_done_in_it():
    before = " ".join(c.value for c in before_clamping())
    for word in ("plugs", "dried", "Sodium", "Local rules"):
        assert word in before
        assert word not in " ".join(c.value for source in ("torch", "oven") for c in cautions(source))
