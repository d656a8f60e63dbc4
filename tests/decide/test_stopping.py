"""Backward induction against brute force over every policy, and what a stopping problem must obey."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straighten.decide.decision import Stopping, carried, solve


def random_problem(seed, stages=2, heats=2, states=3):
    rng = np.random.default_rng(seed)
    moves = rng.random((stages, heats, states, states)) + 0.05
    return Stopping(
        terminal=rng.random((2, states)) * 100,
        moves=moves / moves.sum(axis=-1, keepdims=True),
        price=rng.random(heats) * 20,
    )


def cost_of(problem, plan):
    """Expected cost of a fixed plan: an action per stage and state, -1 = stop."""
    stages, _, states = problem.moves.shape[0], None, problem.terminal.shape[1]
    value = problem.terminal.min(axis=0)
    for stage in range(stages - 1, -1, -1):
        value = np.array([
            problem.terminal[:, s].min() if plan[stage][s] < 0
            else problem.price[plan[stage][s]] + problem.moves[stage, plan[stage][s], s] @ value
            for s in range(states)
        ])  # fmt: skip
    return value


@pytest.mark.parametrize("seed", range(5))
def test_equals_brute_force_over_every_policy(seed):
    problem = random_problem(seed)
    stages, heats, states = problem.moves.shape[:3]
    rows = list(itertools.product(range(-1, heats), repeat=states))
    best = np.min([cost_of(problem, plan) for plan in itertools.product(rows, repeat=stages)], axis=0)
    assert solve(problem).value[0] == pytest.approx(best, rel=1e-12)


@given(st.integers(0, 10_000), st.integers(1, 4))
@settings(max_examples=60, deadline=None)
def test_one_more_pass_allowed_never_worsens_the_expected_cost(seed, stages):
    rng = np.random.default_rng(seed)
    one = random_problem(seed, stages=1, heats=3, states=5)
    alike = Stopping(
        terminal=one.terminal, moves=np.repeat(one.moves, stages + 1, axis=0), price=rng.random(3) * 30
    )
    value = solve(alike).value
    assert (np.diff(value, axis=0) >= -1e-12).all()  # the last row allows none, the first row most


@given(st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_the_policy_carried_through_costs_what_it_promised(seed):
    problem = random_problem(seed, stages=3, heats=2, states=4)
    policy = solve(problem)
    start = np.array([0.4, 0.3, 0.2, 0.1])
    assert carried(problem, policy, start, 0).sum() == pytest.approx(1.0)
    # with equal prices the promise splits into heats and endings
    equal = Stopping(terminal=problem.terminal, moves=problem.moves, price=np.full(2, 7.0))
    policy = solve(equal)
    cost = 7.0 * np.arange(4)[:, None] + problem.terminal.min(axis=0)  # after k heats, in each state
    for first in range(2):
        ended = carried(equal, policy, start, first)
        promised = start @ (7.0 + equal.moves[0, first] @ policy.value[1])
        assert promised == pytest.approx((ended * cost).sum(), rel=1e-9)


def test_without_heats_the_cheaper_ending_is_taken():
    problem = Stopping(
        terminal=np.array([[3.0, 8.0], [5.0, 5.0]]), moves=np.zeros((0, 0, 2, 2)), price=np.zeros(0)
    )
    policy = solve(problem)
    assert policy.value[0].tolist() == [3.0, 5.0]
