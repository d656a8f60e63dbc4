"""Bolts as springs: they stretch, they go slack, and one that is turned unloads its neighbours.

A bolt pulls with v >= 0; its slack is v / k - opening - nut >= 0, where `opening` is how far the head has moved away
from the base at the bolt and `nut` how far its nut was run down. With the sign of its pull turned round, a bolt is one
more unilateral point beside shims and base.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from straighten.clamp.bolts import bolt_stiffness, thread_of
from straighten.clamp.contact import Flexibility, Loads, Touching, solve_contact
from straighten.clamp.holding import resting_loads
from straighten.clamp.joint import joint_of
from straighten.clamp.section import section_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.clamp.clamped import ClampSetup
    from straighten.clamp.joint import Joint
    from straighten.clamp.section import Section
    from straighten.head.records import Head
    from straighten.quantiles import Floats

    Points = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """Head, base and the bolts that pull, ready to be tightened.

    `flexibility` among all contacts, then the pulling bolts (sign turned, own stretch in it); `resting` gaps and load
    with every bolt slack, nuts at zero; `contacts` how many points are contacts; `pulling` numbers of the bolts.
    """

    joint: Joint
    section: Section
    flexibility: Flexibility
    resting: Loads
    contacts: int
    pulling: tuple[int, ...]

    @property
    def draws(self) -> int:
        """Number of draws."""
        return int(self.flexibility.stiffness.size)


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A state of the bench: `push` of every point [N] and `slack` or gap [m], `(n, p)`; `rigid` movement; `nut` run-down [m], `(n, b)`."""

    push: Floats
    slack: Floats
    rigid: Floats
    nut: Floats


def bench_of(
    head: Head, states: Floats, setup: ClampSetup, stiffness: Floats, *, softer: float = 1.0
) -> Bench:
    """Return the bench with its bolts as springs.

    `states` free shapes `(n, 11)` or `(1, 11)`; `stiffness` of every draw, `(n,)`; `softer` modulus of the
    bolts' steel over its value at 20 degC.

    Raises:
        BadInput: unknown thread, or a set-up that cannot be.

    Valid: studs threaded all along, grip = height of the head.
    """
    section = section_of(head)
    joint = joint_of(head, section, setup)
    shape = np.broadcast_to(np.asarray(states, dtype=np.float64), (stiffness.size, np.shape(states)[-1]))
    pulling = tuple(sorted(set(setup.bolts)))
    points = np.concatenate([np.arange(joint.contacts), joint.contacts + np.asarray(pulling)])
    sign = np.where(points < joint.contacts, 1.0, -1.0)
    stretch = np.zeros(points.size)
    stretch[joint.contacts :] = [1 / (softer * spring_of(head, b)) for b in pulling]
    both = sign[:, None] * sign[None, :]
    flexibility = Flexibility(
        head=both * joint.flex_head[np.ix_(points, points)],
        base=both * joint.flex_base[np.ix_(points, points)] + np.diag(stretch),
        rigid=sign[:, None] * joint.rigid[points],
        stiffness=stiffness,
    )
    rest = resting_loads(joint, head, section, (shape, setup, stiffness))
    gaps = np.concatenate([rest.gaps, np.zeros((stiffness.size, len(pulling)))], axis=1)
    return Bench(
        joint=joint,
        section=section,
        flexibility=flexibility,
        resting=Loads(gaps=gaps, carried=rest.carried),
        contacts=joint.contacts,
        pulling=pulling,
    )


def spring_of(head: Head, bolt: int) -> float:
    """Return the spring stiffness of a bolt of the head [N/m], its grip the height of the casting.

    Valid: nut on the cam side, thread in the base.
    """
    return bolt_stiffness(thread_of(head.bolts[bolt].thread), head.casting.height)


def at_rest(bench: Bench) -> Held:
    """Return the head lying on its shims, nuts run down by finger: touching, no pull."""
    none = np.zeros((bench.draws, 0))
    return _solve(bench, none, np.arange(0), np.arange(bench.contacts), None)


def turned(bench: Bench, held: Held, bolt: int, tension: Floats) -> Held:
    """Return the bench after one nut was turned until its bolt pulls with `tension`; a nut that pulls more stays.

    `bolt` position among `bench.pulling`; `tension` [N], shape `(n,)`.
    """
    mine = bench.contacts + bolt
    turns = np.flatnonzero(tension > held.push[:, mine])
    if turns.size == 0:
        return held
    others = np.delete(np.arange(held.push.shape[1]), mine)
    part = rows_of(bench, turns)
    found = _solve(part, tension[turns, None], np.array([mine]), others, _rows(held, turns))
    return _merged(held, turns, found)


def settled(bench: Bench, held: Held, nut: Floats) -> Held:
    """Return the bench with the nuts where they are told, every bolt free to find its tension."""
    told = replace(held, nut=nut)
    everything = np.arange(held.push.shape[1])
    return _solve(bench, np.zeros((bench.draws, 0)), np.arange(0), everything, told)


def held_by(bench: Bench, tension: Floats) -> Held:
    """Return the bench with every pulling bolt at a given tension [N], shape `(n, b)`; the nuts follow from it."""
    bolts = bench.contacts + np.arange(len(bench.pulling))
    return _solve(bench, tension, bolts, np.arange(bench.contacts), None)


def torque_problem(bench: Bench, per_torque: Floats) -> tuple[Flexibility, Loads, Loads]:
    """Return the contact problem of shims and base alone: flexibility, loads at rest, loads per newton metre.

    `per_torque` tension of each pulling bolt per torque [1/m], shape `(n, b)`.
    """
    f, c = bench.flexibility, bench.contacts
    bolts = c + np.arange(len(bench.pulling))
    alone = Flexibility(head=f.head[:c, :c], base=f.base[:c, :c], rigid=f.rigid[:c], stiffness=f.stiffness)
    rest = Loads(gaps=bench.resting.gaps[:, :c], carried=bench.resting.carried)
    unit = f.times(bolts, per_torque)[:, :c]
    return alone, rest, Loads(gaps=unit, carried=-(per_torque @ f.rigid[bolts]))


def rows_of(bench: Bench, rows: Points) -> Bench:
    """Return the bench of some of the draws."""
    return replace(bench, flexibility=bench.flexibility.rows(rows), resting=bench.resting.rows(rows))


def _solve(bench: Bench, given: Floats, which: Points, free: Points, before: Held | None) -> Held:
    """Solve for the free points with the pulls `given` at the points `which`; other points stay slack.

    Nuts of the free bolts stay where they were `before`; nuts of all others are told by where they end up.
    """
    f, rest = bench.flexibility, bench.resting
    gaps = rest.gaps.copy()
    if before is not None:
        gaps[:, bench.contacts :] -= before.nut
    gaps += f.times(which, given)
    some = np.ix_(free, free)
    part = Flexibility(head=f.head[some], base=f.base[some], rigid=f.rigid[free], stiffness=f.stiffness)
    loads = Loads(gaps=gaps[:, free], carried=rest.carried - given @ f.rigid[which])
    touching = solve_contact(part, loads, _guess(bench, free, before))
    return _complete(bench, (given, which), (free, touching), before)


def _guess(bench: Bench, free: Points, before: Held | None) -> NDArray[np.bool_]:
    if before is not None:
        return np.asarray(before.push[:, free] > 0)
    guess = np.zeros((bench.draws, free.size), dtype=np.bool_)
    guess[:, :4] = True
    return guess


def _complete(
    bench: Bench, given: tuple[Floats, Points], solved: tuple[Points, Touching], before: Held | None
) -> Held:
    f, (free, touching) = bench.flexibility, solved
    push = np.zeros((bench.draws, f.rigid.shape[0]))
    push[:, free] = np.maximum(touching.forces, 0.0)
    push[:, given[1]] = given[0]
    slack = bench.resting.gaps + f.times(np.arange(push.shape[1]), push) + touching.rigid @ f.rigid.T
    nut = slack[:, bench.contacts :].copy()
    if before is not None:
        kept = np.isin(np.arange(push.shape[1]), free)[bench.contacts :]
        nut[:, kept] = before.nut[:, kept]
    slack[:, bench.contacts :] -= nut
    return Held(push=push, slack=slack, rigid=touching.rigid, nut=nut)


def _rows(held: Held, rows: Points) -> Held:
    return Held(push=held.push[rows], slack=held.slack[rows], rigid=held.rigid[rows], nut=held.nut[rows])


def _merged(held: Held, rows: Points, part: Held) -> Held:
    whole = _rows(held, np.arange(len(held.push)))  # a copy
    for mine, theirs in (
        (whole.push, part.push),
        (whole.slack, part.slack),
        (whole.rigid, part.rigid),
        (whole.nut, part.nut),
    ):
        mine[rows] = theirs
    return whole
