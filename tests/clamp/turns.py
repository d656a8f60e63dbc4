"""Tightenings turn by turn, and the gap at many torques: what the tests hold the clamp against."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from straighten.clamp import clamp_head
from straighten.clamp.bolts import lever, thread_of
from straighten.clamp.clamped import gauged_points
from straighten.clamp.springs import at_rest, bench_of, held_by
from straighten.clamp.tightening import ROUNDS, passes_of, turn_one, turning_order, wrench_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """One turn of the wrench: number of the head's `bolt`, `torque` it is brought to [N m], `round` from 1."""

    bolt: int
    torque: float
    round: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Tightening:
    """What t turns did in n draws: `tension` `(n, t, b)` [N], `gap` of both edges `(n, t, 2)` [m]."""

    turns: tuple[Turn, ...]
    tension: np.ndarray
    gap: np.ndarray

    @property
    def mean_gap(self) -> np.ndarray:
        return self.gap.mean(axis=2)

    def round_ends(self) -> np.ndarray:
        """The number of the last turn of each round."""
        rounds = np.array([t.round for t in self.turns])
        return np.flatnonzero(np.append(np.diff(rounds) != 0, True))


def turns_for(head, setup, torque, rounds=ROUNDS.value):
    """Every bolt in order, round by round, to a share of the last torque."""
    order = turning_order(head, setup) * passes_of(head, setup)
    return tuple(
        Turn(bolt=bolt, torque=share * torque, round=number)
        for number, share in enumerate(rounds, 1)
        for bolt in order
    )


def simulate_tightening(head, states, setup, response, turns) -> Tightening:
    """Tensions and gaps after every turn, in order: a turned bolt unloads those tightened before it."""
    wrench = wrench_of(head, states, setup, response)
    bench, edges = wrench.bench, np.split(wrench.gauged, 2)
    tension = np.zeros((bench.draws, len(turns), len(head.bolts)))
    gap = np.zeros((bench.draws, len(turns), 2))
    held = at_rest(bench)
    for k, turn in enumerate(turns):
        held = turn_one(wrench, held, turn.bolt, np.full(bench.draws, turn.torque))
        tension[:, k, list(bench.pulling)] = held.push[:, bench.contacts :]
        gap[:, k] = np.stack([held.slack[:, edge].mean(axis=1) for edge in edges], axis=1)
    return Tightening(turns=tuple(turns), tension=tension, gap=gap)


def gap_curve(head, states, setup, response, torques) -> np.ndarray:
    """The mean gap `(n, k)` [m] with all pulling bolts at one torque, for k torques: as if gone round for ever."""
    torque = np.atleast_1d(np.asarray(torques, dtype=np.float64))
    stiffness, friction = np.asarray(response.stiffness), np.asarray(response.friction)
    if states.shape[0] == stiffness.size:
        states = np.repeat(states, torque.size, axis=0)
    bench = bench_of(head, states, setup, np.repeat(stiffness, torque.size))
    gauged = gauged_points(bench.joint, head, setup)
    levers = np.stack([lever(thread_of(head.bolts[b].thread), friction) for b in bench.pulling], axis=1)
    tension = (torque[None, :, None] / levers[:, None, :]).reshape(-1, len(bench.pulling))
    gaps = held_by(bench, tension).slack[:, gauged].mean(axis=1)
    return gaps.reshape(stiffness.size, torque.size)


def closing_torque(head, states, setup, response) -> np.ndarray:
    """The torque `(n, b)` [N m] of each pulling bolt at the tension that holds `setup.gap`."""
    clamped = clamp_head(head, states, setup, response)
    friction = np.asarray(response.friction)
    levers = np.stack([lever(thread_of(head.bolts[b].thread), friction) for b in setup.bolts], axis=1)
    return clamped.bolt_tension[:, list(setup.bolts)] * levers
