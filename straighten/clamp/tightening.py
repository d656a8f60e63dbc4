"""Tightening in steps: who is turned when, what each turn does to the others, and what the blade finds after it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp.bolts import lever, thread_of
from straighten.clamp.clamped import gauged_points
from straighten.clamp.holding import check_setup, clamp_head
from straighten.clamp.pull import Pull, pull_to_gap
from straighten.clamp.springs import Bench, Held, at_rest, bench_of, held_by, torque_problem, turned
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from straighten.clamp.factors import Factors
    from straighten.clamp.setup import ClampSetup
    from straighten.head.records import Head

    Floats = NDArray[np.float64]

ROUNDS: Final = Cited(
    (0.4, 0.65, 0.85, 1.0),
    "",
    "share of the last torque in each of four rounds",
    "common practice, no source",
)
PASSES: Final = Cited(
    (2, 3),
    "",
    "times round at one torque, with one station pulling and with more: a turned bolt unloads its neighbours, so one pass "
    "leaves up to half of the torque's worth behind; derived from the springs, rounded to what a person does",
    "derived",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """One turn of the wrench: `bolt` number of the head's bolt, `torque` it is brought to [N m], `round` from 1."""

    bolt: int
    torque: float
    round: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Tightening:
    """What the turns did, for n draws and t turns.

    `turns`; `torque` of each [N m], `(t,)`; `tension` of every bolt of the head after each [N], `(n, t, b)`; `gap` left
    at the gauged station on exhaust and inlet edge [m], `(n, t, 2)`; `base_force` sum under the base contacts [N],
    `(n, t)`.
    """

    turns: tuple[Turn, ...]
    torque: Floats
    tension: Floats
    gap: Floats
    base_force: Floats

    @property
    def mean_gap(self) -> Floats:
        """Mean of both edges' gap [m], shape `(n, t)`."""
        return np.asarray(self.gap.mean(axis=2))

    def round_ends(self) -> NDArray[np.intp]:
        """Return the number of the last turn of each round."""
        rounds = np.array([t.round for t in self.turns])
        return np.flatnonzero(np.append(np.diff(rounds) != 0, True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Wrench:
    """A bench with the wrench in hand.

    `order` of turning (numbers of the head's bolts); `levers` torque per tension of each bolt in `bench.pulling` [m],
    `(n, b)`; `gauged` the contacts where the blade is tried; `passes` times round in one round.
    """

    bench: Bench
    order: tuple[int, ...]
    passes: int
    levers: Floats
    gauged: NDArray[np.intp]

    def gap(self, held: Held) -> Floats:
        """Return the mean gap at the gauged station [m], shape `(n,)`."""
        return np.asarray(held.slack[:, self.gauged].mean(axis=1))


def turning_order(head: Head, setup: ClampSetup) -> tuple[int, ...]:
    """Return the bolts in the order of one round: middle pair first, then outward, sides in turn.

    Source: common practice, no source.
    """
    middle = head.casting.length / 2

    def place(bolt: int) -> tuple[float, float, str]:
        hole = head.bolts[bolt]
        return round(abs(hole.station - middle), 4), hole.station, hole.side

    return tuple(sorted(set(setup.bolts), key=place))


def turns_for(
    head: Head, setup: ClampSetup, torque: float, rounds: Sequence[float] = ROUNDS.value
) -> tuple[Turn, ...]:
    """Return the turns of a tightening: every bolt in order, round by round, to a share of the last torque.

    Args:
        head: the head.
        setup: which bolts pull.
        torque: of the last round [N m].
        rounds: share of it in each round, rising to one.

    Source: three or four rounds, common practice, no source; two or three times round in each (`PASSES`).
    Valid: one thread size.
    """
    order = turning_order(head, setup) * passes_of(head, setup)
    return tuple(
        Turn(bolt=bolt, torque=share * torque, round=number + 1)
        for number, share in enumerate(rounds)
        for bolt in order
    )


def passes_of(head: Head, setup: ClampSetup) -> int:
    """Return how many times a round goes round all bolts at its torque."""
    one, more = PASSES.value
    return one if len({head.bolts[b].station for b in setup.bolts}) == 1 else more


def wrench_of(
    head: Head, states: Floats, setup: ClampSetup, response: Factors, scatter: Floats | None = None
) -> Wrench:
    """Return the bench of a set-up with the levers of its bolts.

    Args:
        head: the head.
        states: free shapes `(n, 11)` or `(1, 11)`.
        setup: shims and bolts that pull; its gap and tension are not used.
        response: draws of stiffness and friction.
        scatter: friction of each bolt of the head over the draw's, `(n, b)` or `(b,)`; one where left out.

    Raises:
        BadInput: a set-up that cannot be.

    Source: VDI 2230 torque to tension (from memory).
    """
    check_setup(head, setup)
    stiffness, friction = np.asarray(response.stiffness), np.asarray(response.friction)
    bench = bench_of(head, states, setup, stiffness)
    each = np.ones(len(head.bolts)) if scatter is None else np.asarray(scatter, dtype=np.float64)
    levers = [
        lever(thread_of(head.bolts[b].thread), friction * np.broadcast_to(each[..., b], friction.shape))
        for b in bench.pulling
    ]
    return Wrench(
        bench=bench,
        order=turning_order(head, setup),
        passes=passes_of(head, setup),
        levers=np.stack(levers, axis=1),
        gauged=gauged_points(bench.joint, head, setup),
    )


def turn_one(wrench: Wrench, held: Held, bolt: int, torque: Floats) -> Held:
    """Return the bench after one bolt was brought to a torque [N m], `(n,)`; a wrench that clicks at once turns nothing."""
    place = wrench.bench.pulling.index(bolt)
    return turned(wrench.bench, held, place, torque / wrench.levers[:, place])


def turn_round(wrench: Wrench, held: Held, torque: Floats) -> Held:
    """Return the bench after every bolt was brought to a torque [N m], `(n,)`, middle first, two or three times round."""
    for bolt in wrench.order * wrench.passes:
        held = turn_one(wrench, held, bolt, torque)
    return held


def simulate_tightening(
    head: Head,
    states: Floats,
    setup: ClampSetup,
    response: Factors,
    turns: Sequence[Turn],
    scatter: Floats | None = None,
) -> Tightening:  # fmt: skip
    """Return tensions and gaps after every turn, in order: a turned bolt unloads those tightened before it.

    Args:
        head: the head.
        states: free shapes `(n, 11)` or `(1, 11)`.
        setup: shims and bolts that pull; its gap and tension are not used.
        response: draws of stiffness and friction.
        turns: what is turned and to which torque.
        scatter: friction of each bolt of the head over the draw's, `(n, b)` or `(b,)`; one where left out.

    Raises:
        BadInput: a set-up that cannot be, or a turn of a bolt that does not pull.

    Source: VDI 2230 torque to tension (from memory); exact contact at every turn.
    Valid: elastic; all nuts run down by finger before the first turn.
    """
    wrench = wrench_of(head, states, setup, response, scatter)
    bench, edges = wrench.bench, np.split(wrench.gauged, 2)
    tension = np.zeros((bench.draws, len(turns), len(head.bolts)))
    gap, pressed = np.zeros((bench.draws, len(turns), 2)), np.zeros((bench.draws, len(turns)))
    held = at_rest(bench)
    for k, turn in enumerate(turns):
        held = turn_one(wrench, held, turn.bolt, np.full(bench.draws, turn.torque))
        tension[:, k, list(bench.pulling)] = held.push[:, bench.contacts :]
        gap[:, k] = np.stack([held.slack[:, edge].mean(axis=1) for edge in edges], axis=1)
        pressed[:, k] = held.push[:, 4 : bench.contacts].sum(axis=1)
    torque = np.array([t.torque for t in turns])
    return Tightening(turns=tuple(turns), torque=torque, tension=tension, gap=gap, base_force=pressed)


def settled_torque(wrench: Wrench, wanted: float) -> Floats:
    """Return the torque that leaves the wanted mean gap once going round turns nothing any more [N m], shape `(n,)`.

    Raises:
        OutsideModel: no torque closes the gap.

    Valid: every bolt at the same torque, whatever the order.
    """
    flexibility, rest, unit = torque_problem(wrench.bench, 1 / wrench.levers)
    pushing = np.zeros(rest.gaps.shape, dtype=np.bool_)
    pushing[:, :4] = True
    pull = Pull(unit=unit, measured=wrench.gauged, wanted=np.full(wrench.bench.draws, wanted))
    return pull_to_gap(flexibility, rest, pull, pushing)[0]


def gap_curve(head: Head, states: Floats, setup: ClampSetup, response: Factors, torques: ArrayLike) -> Floats:
    """Return the mean gap at the gauged station with all pulling bolts at one torque, for many torques at once.

    Args:
        head: the head.
        states: free shapes `(n, 11)` or `(1, 11)`.
        setup: shims and bolts.
        response: draws of stiffness and friction.
        torques: [N m], shape `(k,)`.

    Returns:
        Gap [m], shape `(n, k)`; falls with the torque.

    Valid: once going round again turns nothing any more; a single round leaves less (see `simulate_tightening`).
    """
    torque = np.atleast_1d(np.asarray(torques, dtype=np.float64))
    stiffness, friction = np.asarray(response.stiffness), np.asarray(response.friction)
    shape = np.asarray(states, dtype=np.float64)
    if shape.shape[0] == stiffness.size:
        shape = np.repeat(shape, torque.size, axis=0)
    bench = bench_of(head, shape, setup, np.repeat(stiffness, torque.size))
    gauged = gauged_points(bench.joint, head, setup)
    levers = np.stack([lever(thread_of(head.bolts[b].thread), friction) for b in bench.pulling], axis=1)
    tension = (torque[None, :, None] / levers[:, None, :]).reshape(-1, len(bench.pulling))
    gaps = held_by(bench, tension).slack[:, gauged].mean(axis=1)
    return np.asarray(gaps.reshape(stiffness.size, torque.size))


def closing_torque(head: Head, states: Floats, setup: ClampSetup, response: Factors) -> Floats:
    """Return the torque of each pulling bolt that holds `setup.gap` [N m], shape `(n, b)`, bolts as in `setup.bolts`.

    Valid: equal tension in all pulling bolts, however it was reached.
    """
    clamped = clamp_head(head, states, setup, response)
    friction = np.asarray(response.friction)
    levers = np.stack([lever(thread_of(head.bolts[b].thread), friction) for b in setup.bolts], axis=1)
    return clamped.bolt_tension[:, list(setup.bolts)] * levers
