"""Holding the head: set-up and draws in, the exact contact and from it the clamped state out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from straighten.clamp.clamped import Solved, gauged_points, state_of
from straighten.clamp.contact import Flexibility, Loads, Touching, solve_contact
from straighten.clamp.joint import free_heights, joint_of
from straighten.clamp.pull import Pull, pull_to_gap
from straighten.clamp.section import section_of
from straighten.errors import BadInput, OutsideModel
from straighten.head.records import Head
from straighten.quantiles import Floats

if TYPE_CHECKING:
    from straighten.clamp.clamped import Clamped, ClampSetup, Factors
    from straighten.clamp.joint import Joint
    from straighten.clamp.section import Section


def clamp_head(head: Head, states: Floats, setup: ClampSetup, response: Factors) -> Clamped:
    """Return the head as the clamp holds it.

    Two Timoshenko beams, head and base, joined by the bolts' pull and by unilateral contacts at the four shims and
    under every bolt station on both edges; the contact is solved exactly. With `setup.gap` all bolts that pull have
    one tension, just enough to bring the mean of both edges' gap at the pulled station nearest the middle (in a
    reverse set-up: at the pulled stations nearest the ends) to that figure.

    `states` free shape of every draw, shape `(n, 11)` or `(1, 11)`; the draws' `stiffness` multiplies EI, kGA and GJ and
    divides the local give.

    Raises:
        BadInput: the set-up names bolts or shims that cannot be, or a stretch bolt.
        OutsideModel: the pull cannot close the gap.

    Source: Timoshenko beam, closed forms; contact as a convex quadratic programme. Derived.
    Valid: Elastic, small deflections, uniform section; the blade is poked in at the deck's edge beside the bolt.
    """
    return clamp_section(head, section_of(head), states, setup, response)


def clamp_each(
    head: Head, states: Floats, setups: Sequence[ClampSetup], response: Factors
) -> list[Clamped | None]:
    """Return the head as each of several clamps holds it; None where a pull cannot close its gap.

    Clamps that pull at the same bolts to a gap are solved together, which changes no answer and saves most of the time.

    Raises:
        BadInput: as `clamp_head`.
    """
    section = section_of(head)
    found: dict[ClampSetup, Clamped | None] = {}
    kinds: dict[tuple[object, ...], list[ClampSetup]] = {}
    for setup in setups:
        kinds.setdefault((setup.bolts, setup.reverse, setup.gap is None), []).append(setup)
    for alike in kinds.values():
        found.update(zip(alike, _each_or_none(head, section, states, (alike, response)), strict=True))
    return [found[setup] for setup in setups]


def _each_or_none(
    head: Head, section: Section, states: Floats, asked: tuple[Sequence[ClampSetup], Factors]
) -> Sequence[Clamped | None]:
    """Solve clamps of one kind together; where one of them cannot be held, each by itself."""
    setups, response = asked
    try:
        return _clamp_alike(head, section, states, asked)
    except OutsideModel:
        if len(setups) == 1:
            return [None]
    return [_each_or_none(head, section, states, ([setup], response))[0] for setup in setups]


def clamp_section(
    head: Head,
    section: Section,
    states: Floats,
    setup: ClampSetup,
    response: Factors,
    *,
    slender: bool = False,
) -> Clamped:
    """Return the head as the clamp holds it, the section given: plates measured elsewhere, or a cross-check.

    `slender` leaves shear out of both beams (Bernoulli); the rest as `clamp_head`.

    Raises:
        BadInput: as `clamp_head`.
        OutsideModel: as `clamp_head`.
    """
    return _clamp_alike(head, section, states, ([setup], response), slender=slender)[0]


def _clamp_alike(
    head: Head,
    section: Section,
    states: Floats,
    asked: tuple[Sequence[ClampSetup], Factors],
    *,
    slender: bool = False,
) -> list[Clamped]:
    """Return the clamped states of set-ups that pull at the same bolts: their draws stand one under the other."""
    setups, response = asked
    for setup in setups:
        check_setup(head, setup)
    joint, count = joint_of(head, section, setups[0], slender=slender), len(setups)
    each = np.asarray(response.stiffness, dtype=np.float64)
    shape = np.broadcast_to(np.asarray(states, dtype=np.float64), (each.size, np.shape(states)[-1]))
    stiffness = np.tile(each, count)
    rests = [resting_loads(joint, head, section, (shape, setup, each)) for setup in setups]
    loads = Loads(
        gaps=np.concatenate([r.gaps for r in rests]), carried=np.concatenate([r.carried for r in rests])
    )
    tension, touching = _held(joint, head, setups, (contact_flexibility(joint, stiffness), loads))
    states_of = []
    for number, setup in enumerate(setups):
        mine = slice(number * each.size, (number + 1) * each.size)
        solved = Solved(
            states=shape,
            stiffness=each,
            tension=tension[mine],
            forces=touching.forces[mine],
            gaps=touching.gaps[mine],
            rigid=touching.rigid[mine],
        )
        states_of.append(state_of(joint, head, section, setup, solved))
    return states_of


def check_setup(head: Head, setup: ClampSetup) -> None:
    """Refuse set-ups that cannot be built.

    Raises:
        BadInput: no such bolt, a stretch bolt, a negative shim, gap or tension, nothing that pulls.

    Source: common practice; stretch bolts yield when first tightened, so that torque no longer tells their tension.
    """
    wrong = [b for b in setup.bolts if not 0 <= b < len(head.bolts)]
    if wrong:
        raise BadInput(
            f"bolt {wrong[0]} does not exist; bolts are numbered 0 to {len(head.bolts) - 1}",
            where="setup.bolts",
        )
    if not setup.bolts:
        raise BadInput("no bolt pulls", where="setup.bolts", fix="Name at least one pair of bolts.")
    stretch = [b for b in setup.bolts if head.bolts[b].stretch]
    if stretch:
        raise BadInput(
            f"bolt {stretch[0]} is a torque-to-yield engine bolt: once stretched it yields again at an unknown load, "
            "so neither torque nor proof load can be trusted",
            where="bolts.stretch",
            fix="Clamp with plain studs and nuts of class 8.8 or better.",
        )
    if min(setup.shims) < 0:
        raise BadInput("a shim cannot be thinner than nothing", where="setup.shims")
    if setup.gap is None and setup.tension is None:
        raise BadInput("neither a gap nor a tension is given", where="setup.gap")
    if (setup.gap or 0.0) < 0 or (setup.tension or 0.0) < 0:
        raise BadInput("gap and tension cannot be negative", where="setup.gap")


def contact_flexibility(joint: Joint, stiffness: Floats) -> Flexibility:
    """Return the flexibility among shims and base contacts, all pushing the head up."""
    some = slice(0, joint.contacts)
    return Flexibility(
        head=joint.flex_head[some, some],
        base=joint.flex_base[some, some],
        rigid=joint.rigid[some],
        stiffness=stiffness,
    )


def resting_loads(
    joint: Joint, head: Head, section: Section, draws: tuple[Floats, ClampSetup, Floats]
) -> Loads:
    """Return gaps and carried load at the contacts with no bolt pulling: free shape, shims, weight.

    `draws` free shapes `(n, 11)`, set-up, stiffness `(n,)`.
    """
    states, setup, stiffness = draws
    gaps = free_heights(joint, head, states)[:, : joint.contacts].copy()
    gaps[:, :4] -= setup.shims
    gaps += section.weight * joint.head.sag(joint.x[: joint.contacts]) / stiffness[:, None]
    carried = np.array([section.weight / 2, section.weight / 2, 0.0])
    return Loads(gaps=gaps, carried=np.broadcast_to(carried, (stiffness.size, 3)))


def pulled_loads(joint: Joint, stiffness: Floats, tension: Floats) -> Loads:
    """Return what bolts do to the contacts: `tension` [N] of every bolt of the head, the same in all draws, `(b,)`."""
    c = joint.contacts
    gaps = -(tension @ joint.flex_head[c:, :c] / stiffness[:, None] + tension @ joint.flex_base[c:, :c])
    return Loads(gaps=gaps, carried=np.tile(tension @ joint.rigid[c:], (stiffness.size, 1)))


def _held(
    joint: Joint, head: Head, setups: Sequence[ClampSetup], rest: tuple[Flexibility, Loads]
) -> tuple[Floats, Touching]:
    """Return the tension of every bolt `(n, b)` and the contact; draws of one set-up after those of the other."""
    flexibility, loads = rest
    count, setup = flexibility.stiffness.size, setups[0]
    unit = np.zeros(len(head.bolts))
    unit[list(setup.bolts)] = 1.0
    pushing = np.zeros((count, joint.contacts), dtype=np.bool_)
    pushing[:, :4] = True
    per_newton = pulled_loads(joint, flexibility.stiffness, unit)
    if setup.gap is None:
        pull = np.repeat([s.tension or 0.0 for s in setups], count // len(setups))[:, None]
        at = Loads(
            gaps=loads.gaps + pull * per_newton.gaps, carried=loads.carried + pull * per_newton.carried
        )
        return pull * unit, solve_contact(flexibility, at, pushing)
    wanted = np.repeat([s.gap or 0.0 for s in setups], count // len(setups))
    pull_of = Pull(unit=per_newton, measured=gauged_points(joint, head, setup), wanted=wanted)
    tension, touching = pull_to_gap(flexibility, loads, pull_of, pushing)
    return tension[:, None] * unit, touching
