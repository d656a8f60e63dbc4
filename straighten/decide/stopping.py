r"""Optimal stopping by backward induction: when is another heat worth its cost?

The state is the bow still left; each stage offers the terminal choices at their costs and the heats at theirs plus
what follows. With :math:`V_n` the least expected cost with n heats still allowed,

.. math:: V_0(r) = \min_k T_k(r), \qquad
          V_n(r) = \min\left(\min_k T_k(r),\ \min_a \left[c_a + \sum_{r'} P_{n,a}(r, r') V_{n-1}(r')\right]\right)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from straighten.quantiles import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Stopping:
    """A finite stopping problem over m states.

    `terminal` costs of the k terminal choices `(k, m)`; `moves` transition probabilities of the a heats at each of
    the n stages `(n, a, m, m)`, first stage first, rows sum to one; `price` of each heat `(a,)`.
    """

    terminal: Floats
    moves: Floats
    price: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """The answer: `value` least expected cost with the stages from s on `(n + 1, m)`, the last row without heats.

    `heat` best heat at each stage and state `(n, m)`, -1 where stopping is better; `stop` best terminal choice `(m,)`;
    `heat_cost` expected cost of the best heat at each stage and state `(n, m)`.
    """

    value: Floats
    heat: NDArray[np.intp]
    stop: NDArray[np.intp]
    heat_cost: Floats


def solve(problem: Stopping) -> Policy:
    """Return the optimal policy.

    Args:
        problem: costs and transitions.

    Source: Bellman, Dynamic Programming, 1957 (from memory); brute force over all policies in the tests.
    """
    stages, heats, states = problem.moves.shape[:3]
    stop_cost = problem.terminal.min(axis=0)
    value = np.empty((stages + 1, states))
    value[stages] = stop_cost
    heat = np.full((stages, states), -1, dtype=np.intp)
    heat_cost = np.full((stages, states), np.inf)
    for stage in range(stages - 1, -1, -1):
        if heats == 0:
            value[stage] = stop_cost
            continue
        onward = problem.price[:, None] + problem.moves[stage] @ value[stage + 1]
        best = onward.argmin(axis=0)
        heat_cost[stage] = onward.min(axis=0)
        better = heat_cost[stage] < stop_cost
        heat[stage] = np.where(better, best, -1)
        value[stage] = np.where(better, heat_cost[stage], stop_cost)
    return Policy(
        value=value, heat=heat, stop=problem.terminal.argmin(axis=0).astype(np.intp), heat_cost=heat_cost
    )


def carried(problem: Stopping, policy: Policy, start: Floats, first_heat: int | None) -> Floats:
    """Return where the policy ends: probability to stop after k heats in each state, `(n + 1, m)`.

    Args:
        problem: as solved.
        policy: its answer.
        start: probabilities of the states now `(m,)`.
        first_heat: heat to take now whatever the policy says; None to follow it.

    Source: Total probability (derived).
    """
    stages = problem.moves.shape[0]
    here, ended = start.copy(), np.zeros((stages + 1, start.size))
    for stage in range(stages):
        chosen = policy.heat[stage] if stage or first_heat is None else np.full(start.size, first_heat)
        ended[stage] = np.where(chosen < 0, here, 0.0)
        going = here - ended[stage]
        here = np.zeros_like(start)
        for action in range(problem.moves.shape[1]):
            here = here + (going * (chosen == action)) @ problem.moves[stage, action]
    ended[stages] = here
    return ended
