"""The contact is exact: pushing points touch, open points do not push, and everything balances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straighten.clamp import ClampSetup, clamp_head, section_of
from straighten.clamp.contact import Flexibility, Loads, solve_contact
from straighten.errors import OutsideModel
from straighten.head.records import Plates
from tests.clamp.benches import all_bolts, bowed, clamp_section, draws, plain_head, pump_head, random_bench


def complementary(clamped):
    force = np.concatenate([clamped.shim_force, clamped.base_force.reshape(len(clamped.bend), -1)], axis=1)
    gap = clamped.point_gap
    scale = max(force.max(), 1.0)
    assert force.min() >= -1e-8 * scale
    assert gap.min() >= -1e-11
    assert np.abs(force * gap).max() <= 1e-11 * scale


def balanced(head, clamped):
    section = section_of(head)
    up = clamped.shim_force.sum(axis=1) + clamped.base_force.sum(axis=(1, 2))
    down = clamped.total_force + section.weight
    assert up == pytest.approx(down, rel=1e-9)
    # moments vanish at both free ends, torque behind the last station
    scale = np.abs(clamped.moment).max() + 1e-6
    assert np.abs(clamped.moment[:, [0, -1]]).max() < 1e-8 * scale
    assert np.abs(clamped.torque[:, -1]).max() < 1e-8 * (np.abs(clamped.torque).max() + 1.0)


@pytest.mark.slow
def test_two_thousand_random_heads():
    rng = np.random.default_rng(2000)
    touched = np.zeros(12, dtype=int)
    for _ in range(2000):
        head, state, setup = random_bench(rng)
        clamped = clamp_head(head, state, setup, draws(np.exp(rng.normal(0, 0.3))))
        complementary(clamped)
        balanced(head, clamped)
        touched[min((clamped.base_force > 0).sum(), 11)] += 1
    assert (
        touched[:6] > 50
    ).all()  # heads off the base, and on it at one to five points, were all among them


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), count=st.integers(2, 40), gap=st.sampled_from([0.0, 2e-5, 1e-4]))
def test_many_draws_at_once_are_the_same_as_one_by_one(seed, count, gap):
    rng = np.random.default_rng(seed)
    head, state, setup = random_bench(rng)
    setup = replace(setup, gap=gap, tension=None) if not setup.reverse else setup
    states = state + rng.normal(size=(count, 11)) * 4e-5
    stiffness = np.exp(rng.normal(0, 0.4, count))
    try:
        together = clamp_head(head, states, setup, draws(stiffness))
    except OutsideModel:
        return
    complementary(together)
    for k in rng.choice(count, 2):
        alone = clamp_head(head, states[k : k + 1], setup, draws(stiffness[k]))
        assert together.bend[k] == pytest.approx(alone.bend[0], rel=1e-6, abs=1e-10)
        assert together.bolt_tension[k] == pytest.approx(alone.bolt_tension[0], rel=1e-5, abs=1e-2)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_a_mirrored_head_gives_the_mirrored_answer(seed):
    """Front for rear: stations, shims, skew, twist and side turn round, the forces with them."""
    head, state, setup = random_bench(np.random.default_rng(seed))
    length, bolts = head.casting.length, head.bolts
    order = sorted(range(len(bolts)), key=lambda b: (length - bolts[b].station, bolts[b].side))
    turned = replace(
        head,
        bolts=tuple(replace(bolts[b], station=length - bolts[b].station) for b in order),
        front_shim=length - head.rear_shim,
        rear_shim=length - head.front_shim,
    )
    other = state.copy()
    other[0, [1, 5, 8]] *= -1  # skew of deck and cam, twist
    a, b, c, d = setup.shims
    mirrored = replace(setup, shims=(c, d, a, b), bolts=tuple(order.index(k) for k in setup.bolts))
    one = clamp_head(head, state, setup, draws(1.0))
    two = clamp_head(turned, other, mirrored, draws(1.0))
    assert two.bend[0] == pytest.approx(one.bend[0], rel=1e-7, abs=1e-11)
    assert two.shim_force[0][[2, 3, 0, 1]] == pytest.approx(one.shim_force[0], rel=1e-6, abs=1e-2)


@settings(max_examples=40, deadline=None)
@given(pull=st.floats(1e3, 2e4), factor=st.floats(1.1, 3.0), bow=st.floats(1e-4, 6e-4))
def test_it_is_linear_while_the_same_points_touch(pull, factor, bow):
    head = plain_head(0.4, 0.15, 0.1, plates=Plates(solid=True), stations=(0.1, 0.2, 0.3), shims=(0.01, 0.39))
    high = ClampSetup(shims=(2e-3,) * 4, bolts=(2, 3), gap=None, tension=pull)
    once = clamp_head(head, bowed(bow), high, draws(1.0))
    more = clamp_head(head, bowed(bow), replace(high, tension=factor * pull), draws(1.0))
    assert more.deflection == pytest.approx(factor * once.deflection, rel=1e-9, abs=1e-15)


def test_work_of_the_bolts_is_stored_in_beam_and_contacts():
    """Energy: the bolts' work on the way from free to clamped equals bending, shear and local energy at the end."""
    head = plain_head(
        0.4, 0.15, 0.09, stations=(0.1, 0.2, 0.3), shims=(0.01, 0.39),
        plates=Plates(deck=0.012, roof=0.01, side_walls=0.008),
    )  # fmt: skip
    section, state = section_of(head), bowed(2e-4)
    pulls = np.linspace(0.0, 3.0e4, 1501)
    states = [
        clamp_section(head, section, state, ClampSetup(shims=(1e-4,) * 4, bolts=all_bolts(head), gap=None, tension=t), draws(1.0))
        for t in pulls[::100]
    ]  # fmt: skip
    contacts = np.array([(s.base_force[0] > 0).sum() for s in states])
    assert contacts[0] == 0
    assert contacts[-1] > 0  # the path crosses from free over the base to lying on it
    work = _work(head, section, state, pulls)
    assert work == pytest.approx(_stored(section, states[-1]), rel=2e-4)


def _work(head, section, state, pulls):
    gaps = []
    for tension in pulls:
        setup = ClampSetup(shims=(1e-4,) * 4, bolts=all_bolts(head), gap=None, tension=float(tension))
        gaps.append(clamp_section(head, section, state, setup, draws(1.0)).point_gap[0, 4:])
    gaps = np.array(gaps)
    travel = (gaps[:-1] - gaps[1:]).sum(axis=1)  # each of six bolts beside its own base point
    return float(((pulls[1:] + pulls[:-1]) / 2 * travel).sum())


def _stored(section, clamped):
    x, moment, shear = clamped.station, clamped.moment[0], clamped.shear[0]
    step = np.diff(x)
    bending = ((moment[:-1] ** 2 + moment[:-1] * moment[1:] + moment[1:] ** 2) / 3 * step).sum() / (
        2 * section.EI
    )
    sliding = (shear[:-1] ** 2 * step).sum() / (2 * section.kGA)
    net = clamped.bolt_tension[0].reshape(-1, 2) - clamped.base_force[0]
    local = (
        section.give_shim * (clamped.shim_force[0] ** 2).sum() / 2 + section.give_pull * (net**2).sum() / 2
    )
    return bending + sliding + local


def test_stiffness_scales_forces_and_leaves_the_shape():
    head = replace(pump_head(), base=replace(pump_head().base, kind="rigid"))
    head = replace(head, casting=replace(head.casting))
    light = replace(section_of(head), weight=0.0)
    setup = ClampSetup(shims=(1e-4,) * 4, bolts=(4, 5), gap=0.0)
    clamped = clamp_section(head, light, bowed(3e-4), setup, draws([0.5, 1.0, 2.0]))
    assert clamped.total_force / clamped.total_force[1] == pytest.approx([0.5, 1.0, 2.0], rel=1e-9)
    assert clamped.deflection[0] == pytest.approx(clamped.deflection[2], rel=1e-9)


def test_a_load_outside_every_support_does_not_settle_quietly():
    """Three points in a row under a load beside them cannot carry it: an error, never an answer."""
    flexibility = Flexibility(
        head=np.eye(3) * 1e-9,
        base=np.zeros((3, 3)),
        rigid=np.array([[1.0, 0.0, -0.05], [0.5, 0.5, -0.05], [0.0, 1.0, -0.05]]),
        stiffness=np.ones(1),
    )
    loads = Loads(gaps=np.zeros((1, 3)), carried=np.array([[50.0, 50.0, 5.0]]))
    with pytest.raises(OutsideModel):
        solve_contact(flexibility, loads, np.ones((1, 3), dtype=bool))
