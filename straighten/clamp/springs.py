"""Bolts as springs: they stretch, they go slack, one that is turned unloads its neighbours, and the oven tightens all.

A bolt pulls with v >= 0; its slack is v / k - opening - nut >= 0, where `opening` is how far the head has moved away
from the base at the bolt and `nut` how far its nut was run down. With the sign of its pull turned round, a bolt is one
more unilateral point beside shims and base. In the oven the head grows against bolts and base, and slides.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from straighten.clamp.bolts import STEEL_MODULUS, bolt_stiffness, clamp_thread, proof_load, thread_of
from straighten.clamp.clamped import (
    Clamped,
    ClampSetup,
    Factors,
    Solved,
    clamp_head,
    resting_loads,
    state_of,
)
from straighten.clamp.contact import Flexibility, Loads, PerDraw, solve_contact
from straighten.clamp.joint import Joint, joint_of
from straighten.clamp.section import Section, curve_at, section_of
from straighten.head.records import Head
from straighten.quantiles import Floats
from straighten.sources import Cited
from straighten.units import show

Points = NDArray[np.intp]
ROOM: Final = 20.0  # degC
IRON_EXPANSION: Final = Cited(
    11.7e-6, "1/K", "grey iron GJL-250, mean 20 to 200 degC, EN 1561 annex", "from memory"
)
STEEL_SOFTENING: Final = Cited(
    ((20.0, 1.0), (100.0, 1.0), (200.0, 0.9), (300.0, 0.8), (400.0, 0.7)),
    "",
    "modulus of carbon steel over its cold value, EN 1993-1-2 Table 3.1",
    "from memory",
)
BOLT_SOFTENING: Final = Cited(
    ((20.0, 1.0), (100.0, 0.968), (150.0, 0.952), (200.0, 0.935), (300.0, 0.903), (400.0, 0.775)),
    "",
    "strength of bolts over its cold value, EN 1993-1-2 Table D.1",
    "from memory",
)
HOLE_PLAY: Final = Cited(
    0.05, "", "half of a medium hole's play, ISO 273: a tenth of the diameter in all", "from memory"
)


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
class Held(PerDraw):
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
    """Return the spring stiffness of a bolt of the head [N/m], nut on the cam side, thread in the base."""
    return bolt_stiffness(thread_of(head.bolts[bolt].thread), head.casting.height)


def at_rest(bench: Bench) -> Held:
    """Return the head lying on its shims, nuts run down by finger: touching, no pull."""
    return _solve(bench, np.zeros((bench.draws, 0)), np.arange(0), np.arange(bench.contacts), None)


def turned(bench: Bench, held: Held, bolt: int, tension: Floats) -> Held:
    """Return the bench after one nut was turned until its bolt pulls with `tension`; a nut that pulls more stays.

    `bolt` position among `bench.pulling`; `tension` [N], shape `(n,)`.
    """
    mine = bench.contacts + bolt
    turns = np.flatnonzero(tension > held.push[:, mine])
    if turns.size == 0:
        return held
    others = np.delete(np.arange(held.push.shape[1]), mine)
    part = replace(bench, flexibility=bench.flexibility.rows(turns), resting=bench.resting.rows(turns))
    whole = held.rows(np.arange(len(held.push)))  # a copy
    whole.put(turns, _solve(part, tension[turns, None], np.array([mine]), others, held.rows(turns)))
    return whole


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
    guess = (
        np.tile(np.arange(free.size) < 4, (bench.draws, 1)) if before is None else before.push[:, free] > 0
    )
    touching = solve_contact(part, loads, np.asarray(guess))
    push = np.zeros((bench.draws, f.rigid.shape[0]))
    push[:, free] = np.maximum(touching.forces, 0.0)
    push[:, which] = given
    every = np.arange(push.shape[1])
    slack = rest.gaps + f.times(every, push) + touching.rigid @ f.rigid.T
    nut = slack[:, bench.contacts :].copy()
    if before is not None:
        kept = np.isin(every, free)[bench.contacts :]
        nut[:, kept] = before.nut[:, kept]
    slack[:, bench.contacts :] -= nut
    return Held(push=push, slack=slack, rigid=touching.rigid, nut=nut)


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """The clamp at temperature, for n draws.

    `clamped` the hot state, bolts as springs with the nuts left as they were cold;
    `locked_stress` what its growth adds in a bolt that can neither stretch the joint nor yield [Pa];
    `bolt_share` tension over the hot proof load, worst bolt `(n,)`; `slide` each pulling bolt's hole against the base,
    measured from the bolt nearest the middle [m], `(b,)`; `play` that its hole has [m], `(b,)`; `advice` one line each.
    """

    clamped: Clamped
    locked_stress: float
    bolt_share: Floats
    slide: Floats
    play: Floats
    advice: tuple[str, ...]


def aluminium_elongation(temperature: float) -> float:
    """Return the elongation of aluminium alloys from 20 degC to `temperature` [degC], an upper bound for cast Al-Si heads.

    Source: EN 1999-1-2, 3.3.1.1: 0.1e-7 T2 + 22.5e-6 T - 4.5e-4 (seen in transcription).
    Valid: 0 to 500 degC; wrought alloys. A head's own table stands in `Alloy.expansion`.

    Example:
        >>> round(aluminium_elongation(250.0), 7)
        0.0058
    """
    return 0.1e-7 * temperature**2 + 22.5e-6 * temperature - 4.5e-4


def steel_elongation(temperature: float) -> float:
    """Return the elongation of carbon steel from 20 degC to `temperature` [degC] [-].

    Source: EN 1993-1-2, 3.4.1.1: 1.2e-5 T + 0.4e-8 T2 - 2.416e-4 (from memory; zero at 20 degC).
    Valid: 20 to 750 degC.

    Example:
        >>> round(steel_elongation(250.0), 7)
        0.0030084
    """
    return 1.2e-5 * temperature + 0.4e-8 * temperature**2 - 2.416e-4


def locked_bolt_stress(
    head_elongation: float, bolt_elongation: float, modulus: float = STEEL_MODULUS.value
) -> float:
    """Return the stress that growth adds in a bolt of a joint that cannot give [Pa].

    Elongations from cold to hot [-]; `modulus` of the bolt [Pa].

    Valid: upper bound: a head that bends, a base that bends and hot metal all take some of it.
    """
    return modulus * (head_elongation - bolt_elongation)


def head_elongation(head: Head, temperature: float) -> float:
    """Return the elongation of the head's alloy from 20 degC to its solidus [-]."""
    return curve_at(head.alloy.expansion, temperature) * (temperature - ROOM)


def base_elongation(head: Head, temperature: float) -> float:
    """Return the elongation of the base from 20 degC [-].

    Source: EN 1993-1-2 for steel and a rigid base, EN 1999-1-2 for aluminium, mean value for iron (as marked).
    Valid: 20 to 400 degC.
    """
    if head.base.material == "aluminium":
        return aluminium_elongation(temperature) - aluminium_elongation(ROOM)
    if head.base.material == "iron":
        return IRON_EXPANSION.value * (temperature - ROOM)
    return steel_elongation(temperature)


def grow(head: Head, states: Floats, setup: ClampSetup, response: Factors, temperature: float) -> Growth:
    """Return the clamp after it was warmed through with the nuts left alone.

    The cold clamp tells where the nuts stand. Warm, the head is taller than its bolts by the difference of growth over
    the grip, the moduli are lower, and the contact is solved again with the bolts as springs.

    `states` free shapes `(n, 11)` or `(1, 11)`; `temperature` of head, bolts and base alike [degC].

    Raises as `clamp_head`.

    Source: EN 1993-1-2, EN 1999-1-2 for growth and softening; exact contact.
    Valid: evenly warm, elastic, no creep yet; friction lets the head slide.
    """
    cold = clamp_head(head, states, setup, response)
    stiffness = np.asarray(response.stiffness, dtype=np.float64)
    softer = curve_at(head.alloy.modulus, temperature) / curve_at(head.alloy.modulus, ROOM)
    bench = bench_of(head, states, setup, stiffness)
    pulling = list(bench.pulling)
    before = held_by(bench, cold.bolt_tension[:, pulling])
    taller = (head_elongation(head, temperature) - steel_elongation(temperature)) * head.casting.height
    steel = curve_at(STEEL_SOFTENING.value, temperature)
    hot = settled(
        bench_of(head, states, setup, softer * stiffness, softer=steel), before, before.nut + taller
    )
    tension = np.zeros_like(cold.bolt_tension)
    tension[:, pulling] = hot.push[:, bench.contacts :]
    solved = Solved(
        states=np.broadcast_to(states, (stiffness.size, np.shape(states)[-1])),
        stiffness=softer * stiffness,
        tension=tension,
        forces=hot.push[:, : bench.contacts],
        gaps=hot.slack[:, : bench.contacts],
        rigid=hot.rigid,
    )
    return _grown(
        head, pulling, (cold, state_of(bench.joint, head, bench.section, setup, solved)), temperature
    )


def _grown(head: Head, pulling: list[int], states: tuple[Clamped, Clamped], temperature: float) -> Growth:
    cold, clamped = states
    bolts = [clamp_thread(head.bolts[b]) for b in pulling]
    hot_proof = [proof_load(*bolt) * curve_at(BOLT_SOFTENING.value, temperature) for bolt in bolts]
    x = np.array([head.bolts[b].station for b in pulling])
    fixed = x[int(np.argmin(np.abs(x - head.casting.length / 2)))]
    grown = head_elongation(head, temperature)
    growth = Growth(
        clamped=clamped,
        locked_stress=locked_bolt_stress(grown, steel_elongation(temperature)),
        bolt_share=np.max(clamped.bolt_tension[:, pulling] / hot_proof, axis=1),
        slide=np.abs(np.abs(x - fixed) * (grown - base_elongation(head, temperature))),
        play=np.array([HOLE_PLAY.value * thread.diameter for thread, _ in bolts]),
        advice=(),
    )
    return replace(growth, advice=(*_gap_advice(head, cold, clamped), *_advice(head, growth)))


def _gap_advice(head: Head, cold: Clamped, hot: Clamped) -> tuple[str, ...]:
    """Say how the gap moves as the head warms, where a blade could tell."""
    before, after = (float(np.median(c.gap.mean(axis=1))) for c in (cold, hot))
    if before - after < 10e-6:
        return ()
    was, now, more = (show(gap, head.system) for gap in (before, max(after, 0.0), before - after))
    return (
        f"As the head warms it outgrows its bolts and the gap goes from {was} to {now}: the bend grows by {more} "
        "without any turning.",
    )


def _advice(head: Head, growth: Growth) -> tuple[str, ...]:
    """Say what to do about bolts that would yield and holes that would bind."""
    lines = []
    worst = float(np.quantile(growth.bolt_share, 0.9))
    if worst > 1:
        lines.append(
            f"Hot, the bolts would pull {worst:.1f} times their hot proof load: put disc springs under the nuts, "
            "or longer studs with sleeves, or tighten hot."
        )
    elif worst > 0.75:
        lines.append(
            f"Hot, the bolts reach {worst:.0%} of their hot proof load: disc springs under the nuts give room."
        )
    if growth.locked_stress > 0 and worst <= 1:
        lines.append(
            f"A bolt that stands on a seat that cannot give would gain {growth.locked_stress / 1e6:.0f} MPa: never tighten the "
            "nuts over a tower or a shim before the oven."
        )
    bind = growth.slide > growth.play
    if bind.any():
        far = float(growth.slide.max())
        lines.append(
            f"The head outgrows the base by up to {show(far, head.system)} at the outer bolts, more than their holes give: "
            "slot those holes or use thinner studs, oil and graphite on the shims, no dowels."
        )
    if len(growth.slide) and not bind.any():
        lines.append("The head slides on its shims as it grows: oil and graphite on them, no dowels.")
    return tuple(lines)
