"""Tightening in steps: who is turned when, what each turn does to the others, and what the blade finds after it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp.bolts import lever, thread_of
from straighten.clamp.clamped import check_setup, clamp_head, gauged_points
from straighten.clamp.springs import Bench, Held, at_rest, bench_of, held_by, turned
from straighten.errors import OutsideModel
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
BOLT_SCATTER: Final = Cited(
    0.05,
    "log-sd",
    "friction from bolt to bolt of one greased set; a third of the spread between sets",
    "assumed",
)
_NEAR: Final = 1e-8  # m: a gap is closed this near to the wanted one
_MOST_TORQUE: Final = 2e3  # N m: no clamp bolt is turned harder


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
    `(n, b)`; `gauged` the contacts where the blade is tried.
    """

    bench: Bench
    order: tuple[int, ...]
    levers: Floats
    gauged: NDArray[np.intp]

    def gap(self, held: Held) -> Floats:
        """Return the mean gap at the gauged station [m], shape `(n,)`."""
        return np.asarray(held.slack[:, self.gauged].mean(axis=1))


def turning_order(head: Head, setup: ClampSetup) -> tuple[int, ...]:
    """Return the bolts in the order of one round: middle pair first, then outward, sides in turn.

    Source: common practice, no source.
    Valid: any set of bolts.
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

    Source: three or four rounds, common practice, no source.
    Valid: one thread size.
    """
    order = turning_order(head, setup)
    return tuple(
        Turn(bolt=bolt, torque=share * torque, round=number + 1)
        for number, share in enumerate(rounds)
        for bolt in order
    )


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
    Valid: as `springs.bench_of`.
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
        levers=np.stack(levers, axis=1),
        gauged=gauged_points(bench.joint, head, setup),
    )


def turn_one(wrench: Wrench, held: Held, bolt: int, torque: Floats) -> Held:
    """Return the bench after one bolt was brought to a torque [N m], `(n,)`; a wrench that clicks at once turns nothing.

    Source: VDI 2230 (from memory); exact contact.
    Valid: elastic.
    """
    place = wrench.bench.pulling.index(bolt)
    return turned(wrench.bench, held, place, torque / wrench.levers[:, place])


def turn_round(wrench: Wrench, held: Held, torque: Floats) -> Held:
    """Return the bench after every bolt was brought once to a torque [N m], `(n,)`, middle first.

    Source: VDI 2230 (from memory); exact contact.
    Valid: elastic.
    """
    for bolt in wrench.order:
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


def torque_to_close(wrench: Wrench, held: Held, wanted: float) -> Floats:
    """Return the torque of one more round that leaves the wanted mean gap [N m], shape `(n,)`.

    Nought where the gap is that small already. Secant steps inside a bracket, all draws at once.

    Args:
        wrench: the bench.
        held: where the bolts are now.
        wanted: gap to leave [m].

    Raises:
        OutsideModel: no torque closes the gap.

    Source: the gap falls with the torque; derived.
    Valid: one round in turning order; the order's losses are in it.
    """
    low, at_low = np.zeros(wrench.bench.draws), wrench.gap(held) - wanted
    closed = at_low <= _NEAR
    high = np.full(low.size, 4.0)
    at_high = _after(wrench, held, high, wanted)
    while np.any(still := (at_high > _NEAR) & ~closed):
        if high[still].max() > _MOST_TORQUE:
            raise OutsideModel(
                "pulling at these bolts does not close the gap", fix="Choose bolts between the shims."
            )
        low, at_low = np.where(still, high, low), np.where(still, at_high, at_low)
        high = np.where(still, 1.7 * high, high)
        at_high = _after(wrench, held, high, wanted)
    for trial in range(60):
        if np.all(closed | (np.abs(at_high) <= _NEAR) | (high - low <= 1e-6 * high)):
            break
        drop = np.maximum(at_low - at_high, 1e-30)
        share = 0.5 if trial % 3 == 2 else np.clip(at_low / drop, 0.02, 0.98)
        middle = low + (high - low) * share
        at_middle = _after(wrench, held, middle, wanted)
        above = at_middle > 0
        low, at_low = np.where(above, middle, low), np.where(above, at_middle, at_low)
        high, at_high = np.where(above, high, middle), np.where(above, at_high, at_middle)
    return np.where(closed, 0.0, high)


def _after(wrench: Wrench, held: Held, torque: Floats, wanted: float) -> Floats:
    """Return how much too open the gap is after a round; past touching, how far the base is pressed, as a negative gap."""
    after = turn_round(wrench, held, torque)
    give = wrench.bench.section.give_pull / wrench.bench.flexibility.stiffness
    return np.asarray(wrench.gap(after) - wanted - give * after.push[:, wrench.gauged].min(axis=1))


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

    Source: VDI 2230 (from memory); exact contact.
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

    Source: VDI 2230 (from memory); exact contact.
    Valid: equal tension in all pulling bolts, however it was reached.
    """
    clamped = clamp_head(head, states, setup, response)
    friction = np.asarray(response.friction)
    levers = np.stack([lever(thread_of(head.bolts[b].thread), friction) for b in setup.bolts], axis=1)
    return clamped.bolt_tension[:, list(setup.bolts)] * levers
