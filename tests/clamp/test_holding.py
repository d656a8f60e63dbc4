"""What the clamp does to a head: the words of the bench, in numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straighten.clamp import ClampSetup, clamp_each, clamp_head, pull, section_of
from straighten.clamp.limits import limits_of
from straighten.clamp.shims import countering
from straighten.errors import BadInput
from straighten.head.records import Base, Plates
from straighten.shape.modes import deck_rows
from tests.clamp.benches import all_bolts, bowed, clamp_section, draws, plain_head, pump_head

SHIMS = (1e-4,) * 4
MIDDLE = ClampSetup(shims=SHIMS, bolts=(4, 5), gap=0.0)


def rigidly(head):
    return replace(head, base=replace(head.base, kind="rigid"))


def stiff_contacts(head):
    return replace(section_of(head), give_pull=0.0, give_shim=0.0, weight=0.0)


def test_bend_is_bow_plus_shim_minus_gap_on_a_rigid_base():
    head = rigidly(pump_head())
    head = replace(head, front_shim=0.0, rear_shim=head.casting.length)
    for gap in (0.0, 0.05e-3):
        setup = replace(MIDDLE, gap=gap)
        clamped = clamp_section(head, stiff_contacts(head), bowed(3e-4), setup, draws(1.0))
        assert clamped.bend[0] == pytest.approx(3e-4 + 1e-4 - gap, abs=1e-10)
        assert clamped.over_bend[0] == pytest.approx(1e-4 - gap, abs=1e-10)
        assert clamped.middle_height[0] == pytest.approx(gap - 1e-4, abs=1e-10)
        assert clamped.gap[0] == pytest.approx([gap, gap], abs=1e-12)


@pytest.mark.parametrize("base", ["rigid", "plate"])
def test_travel_is_bend_base_and_local_give_together(base):
    """Bow + shim - gap = own bend between the shims + base's bend + give under bolts and over shims."""
    head = replace(pump_head(), base=replace(pump_head().base, kind=base))
    section = section_of(head)
    clamped = clamp_head(head, bowed(3e-4), MIDDLE, draws(1.0))
    free = deck_rows([head.front_shim / head.casting.length, 0.5], [1.0, 1.0]) @ bowed(3e-4)[0]
    between_shims = clamped.bend[0] - np.interp(head.front_shim, clamped.station, clamped.deflection[0])
    give = section.give_shim * clamped.shim_force[0].mean() + section.give_pull * clamped.bolt_tension[0, 4]
    assert free[1] - free[0] + 1e-4 == pytest.approx(between_shims + clamped.base_bend[0] + give, rel=1e-6)


def test_a_thin_base_bends_in_the_heads_place():
    bends, risen = [], []
    for thickness in (0.100, 0.060, 0.040, 0.025):
        head = replace(pump_head(), base=replace(pump_head().base, thickness=thickness))
        clamped = clamp_head(head, bowed(3e-4), MIDDLE, draws(1.0))
        bends.append(clamped.bend[0])
        risen.append(clamped.base_bend[0])
    assert bends == sorted(bends, reverse=True)
    assert risen == sorted(risen)
    assert risen[-1] > bends[-1]  # 25 mm of steel under a hollow head: the plate takes more than the head


def test_fifty_by_two_hundred_steel_is_about_as_stiff_as_a_head():
    """Trade arithmetic (common practice, no source): 50 x 200 mm steel about as stiff as a head a third solid and 110 mm
    deep, 25 mm eight times softer."""
    base = Base(kind="plate", thickness=0.05, width=0.2, length=0.5, material="steel")
    head = pump_head()
    head = replace(
        head,
        base=base,
        casting=replace(head.casting, height=0.11, length=0.47, mass=0.35 * 2690 * 0.47 * 0.15 * 0.11),
    )
    plate = 210e9 * 0.2 * 0.05**3 / 12
    assert 0.5 < section_of(head).EI / plate < 2


def test_an_aluminium_base_bends_more_than_steel():
    steel = clamp_head(pump_head(), bowed(3e-4), MIDDLE, draws(1.0))
    soft = replace(pump_head(), base=replace(pump_head().base, material="aluminium"))
    assert clamp_head(soft, bowed(3e-4), MIDDLE, draws(1.0)).base_bend[0] > 1.5 * steel.base_bend[0]


def test_a_domed_base_is_followed():
    """A base 0.05 mm high in the middle closes the gap that much sooner."""
    head = rigidly(pump_head())
    domed = replace(head, base=replace(head.base, dome=5e-5))
    setup = replace(MIDDLE, gap=None, tension=5e3)
    flat_gap = clamp_head(head, bowed(3e-4), setup, draws(1.0)).gap[0]
    assert clamp_head(domed, bowed(3e-4), setup, draws(1.0)).gap[0] == pytest.approx(
        flat_gap - 5e-5 * (1 - 4 * (10 / 420) * (410 / 420)), abs=1e-9
    )


@settings(max_examples=40, deadline=None)
@given(bow=st.floats(5e-5, 6e-4), shim=st.floats(0, 3e-4), share=st.floats(0.05, 0.95))
def test_the_gap_asked_for_is_the_gap_left(bow, shim, share):
    head, shims = pump_head(), (shim,) * 4
    free = clamp_head(
        head, bowed(bow), ClampSetup(shims=shims, bolts=(4, 5), gap=None, tension=0.0), draws(1.0)
    ).gap[0, 0]
    setup = ClampSetup(shims=shims, bolts=(4, 5), gap=share * free)
    clamped = clamp_head(head, bowed(bow), setup, draws([0.5, 1.0, 2.0]))
    assert clamped.gap == pytest.approx(np.full((3, 2), share * free), abs=2e-11)


def test_the_gap_falls_as_the_tension_rises():
    head = pump_head()
    gaps = [
        clamp_head(head, bowed(3e-4), replace(MIDDLE, gap=None, tension=float(t)), draws(1.0)).gap[0, 0]
        for t in np.linspace(0, 4e4, 30)
    ]
    assert np.all(np.diff(gaps) <= 1e-15)
    assert gaps[-1] == pytest.approx(0.0, abs=1e-12)


def test_no_pull_where_the_gap_is_small_enough_already():
    clamped = clamp_head(pump_head(), bowed(1e-4), replace(MIDDLE, gap=5e-4), draws(1.0))
    assert clamped.total_force[0] == 0.0
    assert clamped.gap[0, 0] < 5e-4


def test_a_closed_gap_needs_both_edges_down():
    """A head with one edge more hollow: the pull that closes the mean gap has both edges on the base, the last one just."""
    state = bowed(3e-4, deck_side=6e-5)
    clamped = clamp_head(pump_head(), state, MIDDLE, draws(1.0))
    assert clamped.gap[0] == pytest.approx([0, 0], abs=1e-10)
    middle = int(np.argmin(np.abs(clamped.base_stations - 0.21)))
    first, last = clamped.base_force[0, middle]
    assert first > 100
    assert last == pytest.approx(0.0, abs=1.0)


def test_pulling_beside_the_middle_moves_the_deepest_place():
    head = rigidly(pump_head())
    front = clamp_head(head, bowed(3e-4), ClampSetup(shims=SHIMS, bolts=(2, 3), gap=0.0), draws(1.0))
    middle = clamp_head(head, bowed(3e-4), MIDDLE, draws(1.0))
    rear = clamp_head(head, bowed(3e-4), ClampSetup(shims=SHIMS, bolts=(6, 7), gap=0.0), draws(1.0))
    deepest = [float(c.station[np.argmax(c.deflection[0])]) for c in (front, middle, rear)]
    assert deepest[0] < deepest[1] - 0.01
    assert deepest[2] > deepest[1] + 0.01
    assert deepest[0] + deepest[2] == pytest.approx(0.42, abs=0.02)


def test_unequal_corner_shims_twist_the_head_back():
    """A head whose rear inlet and front exhaust corners stand high, on shims that raise the other two."""
    head = rigidly(pump_head())
    setup = ClampSetup(shims=countering(1.5e-4, 5e-5), bolts=(4, 5), gap=0.0)
    state, beam = bowed(3e-4, twist=3e-5), stiff_contacts(head)
    clamped = clamp_section(head, beam, state, setup, draws(1.0))
    assert (clamped.shim_force[0] > 0).all()
    # twist is the lift of the rear inlet corner: free 0.03 mm (400/420 of it at the shims), held at -0.05 by the shims
    turned = (clamped.roll[0, -1] - clamped.roll[0, 0]) * head.casting.width / 4
    assert turned == pytest.approx(-(3e-5 * 400 / 420 + 5e-5), rel=1e-6)
    softer = clamp_head(head, state, setup, draws(1.0))
    assert 0.6 < (softer.roll[0, -1] - softer.roll[0, 0]) * head.casting.width / 4 / turned < 1.0
    even = clamp_head(head, bowed(3e-4), MIDDLE, draws(1.0))
    assert np.abs(even.roll).max() < 1e-9


def test_a_crowned_head_is_held_the_other_way_round():
    head = pump_head()
    setup = ClampSetup(shims=(2e-4,) * 4, bolts=(0, 1, 8, 9), gap=5e-5, reverse=True)
    clamped = clamp_head(head, bowed(-2e-4), setup, draws([0.7, 1.0, 1.4]))
    assert (clamped.bend < -1e-4).all()
    assert clamped.gap.mean(axis=1) == pytest.approx(np.full(3, 5e-5), abs=1e-10)
    assert (np.abs(clamped.curvature).max(axis=1) == -clamped.curvature.min(axis=1)).all()
    assert clamped.over_bend == pytest.approx(-(clamped.bend + 2e-4))


def test_curvature_is_told_between_stations():
    clamped = clamp_head(pump_head(), bowed(3e-4), MIDDLE, draws([1.0, 1.2]))
    assert clamped.curvature_at(clamped.station) == pytest.approx(clamped.curvature)
    half = (clamped.station[1:] + clamped.station[:-1]) / 2
    assert clamped.curvature_at(half).shape == (2, half.size)
    assert clamped.curvature_at(0.21).max() == pytest.approx(clamped.curvature.max())


@pytest.mark.parametrize("heavier", [1.0, 50.0])
def test_the_moment_grows_by_the_shear_between_loads_the_head_s_own_weight_counted(heavier):
    """dM/dx = V, and V falls by the weight over the length: statics."""
    section = section_of(pump_head())
    section = replace(section, weight=heavier * section.weight)
    held = clamp_section(pump_head(), section, bowed(3e-4), MIDDLE, draws(1.0))
    steps = np.diff(held.station)
    grown = held.shear[0, :-1] * steps - section.weight / pump_head().casting.length * steps**2 / 2
    assert np.diff(held.moment[0]) == pytest.approx(grown, abs=1e-7)


def test_curvature_and_shear_add_up_to_the_deflection():
    """Deflection = double integral of curvature + integral of shear over kGA, as the heat asks both apart."""
    head = rigidly(pump_head())
    section = replace(section_of(head), weight=0.0)
    clamped = clamp_section(head, section, bowed(3e-4), MIDDLE, draws(1.0))
    x, steps = clamped.station, np.diff(clamped.station)
    kappa = clamped.curvature[0]
    slope = np.concatenate([[0], np.cumsum((kappa[1:] + kappa[:-1]) / 2 * steps)])
    inner = slope[:-1] * steps + (2 * kappa[:-1] + kappa[1:]) / 6 * steps**2
    up = (
        np.concatenate([[0], np.cumsum(inner)])
        - np.concatenate([[0], np.cumsum(clamped.shear[0, :-1] * steps)]) / section.kGA
    )
    up -= up[-1] * x / x[-1]
    assert -up == pytest.approx(clamped.deflection[0], abs=1e-12)


def test_stations_hold_all_loads_and_stay_few():
    clamped = clamp_head(pump_head(), bowed(3e-4), MIDDLE, draws(1.0))
    assert clamped.station.size <= 40
    wanted = [0.0, 0.01, 0.018, 0.105, 0.21, 0.315, 0.402, 0.41, 0.42]
    assert all(np.abs(clamped.station - x).min() < 1e-8 for x in wanted)
    assert (
        np.diff(clamped.station).max() < 0.42 / 20
    )  # and none lies far from the next: a spot's bay is told by several


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"bolts": (99,)}, "setup.bolts"),
        ({"bolts": ()}, "setup.bolts"),
        ({"shims": (1e-4, 1e-4, -1e-4, 0.0)}, "setup.shims"),
        ({"gap": None}, "setup.gap"),
        ({"gap": -1e-4}, "setup.gap"),
    ],
)
def test_set_ups_that_cannot_be_are_refused(change, where):
    with pytest.raises(BadInput) as fault:
        clamp_head(pump_head(), bowed(3e-4), replace(MIDDLE, **change), draws(1.0))
    assert fault.value.where == where


def test_stretch_bolts_are_refused_with_the_reason():
    head = pump_head()
    bolts = tuple(replace(b, stretch=k == 4) for k, b in enumerate(head.bolts))
    with pytest.raises(BadInput, match="torque-to-yield"):
        clamp_head(replace(head, bolts=bolts), bowed(3e-4), MIDDLE, draws(1.0))
    spared = replace(MIDDLE, bolts=(2, 3))  # a stretch bolt that does not pull harms nobody
    assert clamp_head(replace(head, bolts=bolts), bowed(3e-4), spared, draws(1.0)).bend[0] > 0


def test_shims_or_bolts_beyond_the_base_are_refused():
    head = replace(pump_head(), base=replace(pump_head().base, length=0.35))
    with pytest.raises(BadInput, match="beyond the end of the base"):
        clamp_head(head, bowed(3e-4), MIDDLE, draws(1.0))


def test_pulling_over_the_shims_alone_is_refused():
    head = plain_head(0.4, 0.15, 0.1, plates=Plates(solid=True), stations=(0.01, 0.39), shims=(0.01, 0.39))
    with pytest.raises(BadInput, match="stands on a shim"):
        clamp_head(head, bowed(3e-4), ClampSetup(shims=SHIMS, bolts=all_bolts(head), gap=0.0), draws(1.0))


def test_pulling_beyond_the_shims_lifts_the_middle():
    head = plain_head(0.4, 0.15, 0.1, plates=Plates(solid=True), stations=(0.02, 0.2, 0.38), shims=(0.1, 0.3))
    setup = ClampSetup(shims=(1e-3,) * 4, bolts=(0, 1, 4, 5), gap=None, tension=1e4)
    assert clamp_head(head, bowed(3e-4), setup, draws(1.0)).bend[0] < 0


def test_one_bolt_on_one_edge_needs_an_absurd_pull_and_the_limits_say_so():
    setup = replace(MIDDLE, bolts=(4,), gap=0.0)
    clamped = clamp_head(pump_head(), bowed(3e-4), setup, draws(1.0))
    proof = next(
        x
        for x in limits_of(pump_head(), section_of(pump_head()), clamped, setup)
        if x.name == "bolt proof load"
    )
    assert proof.share[0] > 5
    assert proof.chance() == 1.0


def test_clamps_solved_together_hold_as_they_do_alone_and_one_that_cannot_is_left_out(monkeypatch):
    monkeypatch.setattr(pull, "QUICK_SWAPS", 0)  # the careful way, which knows when to give up
    monkeypatch.setattr(pull, "STRONGEST", 5e4)
    head, response = pump_head(), draws([0.8, 1.0, 1.3])
    states = np.concatenate([bowed(bow) for bow in (1e-4, 2e-4, 4e-4)])
    setups = [
        ClampSetup(shims=(height,) * 4, bolts=bolts, gap=gap)
        for height, bolts, gap in (
            (1e-4, (4, 5), 0.0),
            (2e-4, (2, 3, 4, 5, 6, 7), 0.05e-3),
            (3e-4, (4, 5), 0.05e-3),
            (5e-2, (4, 5), 0.0),  # taller than any pull can close
            (2e-4, (4, 5), None),
        )
    ]
    setups[-1] = replace(setups[-1], tension=3e3)
    for setup, together in zip(setups, clamp_each(head, states, setups, response), strict=True):
        if setup.shims[0] == 5e-2:
            assert together is None
            continue
        alone = clamp_head(head, states, setup, response)
        for name in ("bend", "over_bend", "bolt_tension", "shim_force", "base_force", "curvature", "gap"):
            assert getattr(together, name) == pytest.approx(getattr(alone, name), rel=1e-9, abs=1e-12), name
