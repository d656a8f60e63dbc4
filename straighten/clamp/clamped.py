"""The set-up on the bench and the head in the clamp: what shims, base and bolts do to it, for every draw of the unknown factors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, Protocol, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from straighten.clamp.contact import Flexibility, Loads, Touching, solve_contact
from straighten.clamp.joint import Joint, free_heights, joint_of
from straighten.clamp.pull import Pull, pull_to_gap
from straighten.clamp.section import Section, section_of
from straighten.errors import BadInput, OutsideModel
from straighten.head.records import Head
from straighten.quantiles import Floats
from straighten.shape.modes import bow_mode, deck_rows

Corner = Literal["front exhaust", "front inlet", "rear exhaust", "rear inlet"]
CORNERS: tuple[Corner, ...] = get_args(Corner)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClampSetup:
    """A set-up on the bench.

    `shims` height of the stack at each of `CORNERS` [m]; `bolts` numbers (from 0) of the head's bolts that pull;
    `gap` left under the middle when the pulling stops [m], or None where `tension` [N] per bolt is given instead;
    `reverse` true where the shims stand in the middle and the ends are pulled (deck crowned).
    """

    shims: tuple[float, float, float, float]
    bolts: tuple[int, ...]
    gap: float | None = 0.0
    tension: float | None = None
    reverse: bool = False

    @property
    def front(self) -> float:
        """Mean shim height at the front [m]."""
        return (self.shims[0] + self.shims[1]) / 2

    @property
    def rear(self) -> float:
        """Mean shim height at the rear [m]."""
        return (self.shims[2] + self.shims[3]) / 2


class Factors(Protocol):
    """Draws of the unknown factors, each of shape `(n,)`."""

    @property
    def stiffness(self) -> Floats:
        """Stiffness of the casting against its section estimate [-]."""

    @property
    def friction(self) -> Floats:
        """Friction coefficient of the clamp bolts, thread and nut face [-]."""


FINEST: Final = 40  # stations at most
MIDDLE_TIE: Final = 1e-3  # m: stations this alike in distance are gauged together


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamped:
    """The clamped state of n draws along m stations.

    `station` [m], `(m,)`; `deflection` downward elastic movement of the head's beam line against its free shape, the
    chord through its ends taken out, local give not in it [m], `(n, m)`; `curvature` of bending alone [1/m], > 0 where
    the middle is pulled down (strain at height z over the neutral axis is -curvature * z); `moment` [N m]; `shear` just
    behind each station [N]; `roll` against the free shape, that of the front end taken out [rad]; `torque` just behind each station [N m]; all `(n, m)`.
    `bend` `deflection` at mid-length [m], `(n,)`; `gap` left at the gauged bolt station on the exhaust and inlet edge
    [m], `(n, 2)`; `over_bend` how far past straight the middle of the beam line is held [m]; `bolt_tension` one per bolt
    of the head [N], `(n, b)`; `shim_force` at the four corners [N], `(n, 4)`; `base_stations` [m], `(s,)` and `base_force`
    [N], `(n, s, 2)`; `base_bend` rise of the base's middle over its places under the shims [m]; `total_force` of all bolts
    [N]; `middle_height` of the deck's middle (mean of its edges) over the line through the shims' tops [m]; `point_gap`
    of all contacts: four shims, then the base in the order of `base_force` [m], `(n, 4 + 2 s)`.
    """

    station: Floats
    deflection: Floats
    curvature: Floats
    moment: Floats
    shear: Floats
    roll: Floats
    torque: Floats
    bend: Floats
    gap: Floats
    over_bend: Floats
    bolt_tension: Floats
    shim_force: Floats
    base_stations: Floats
    base_force: Floats
    base_bend: Floats
    total_force: Floats
    middle_height: Floats
    point_gap: Floats

    def curvature_at(self, x: ArrayLike) -> Floats:
        """Return the curvature at any stations [m], shape `(n, k)`; straight between stations, where the loads are."""
        return between(self.station, self.curvature, x)


def between(station: Floats, values: Floats, x: ArrayLike) -> Floats:
    """Return values `(n, m)` at stations interpolated to x `(k,)`, straight lines in between, ends held."""
    at = np.atleast_1d(np.asarray(x, dtype=np.float64))
    right = np.clip(np.searchsorted(station, at), 1, station.size - 1)
    share = np.clip((at - station[right - 1]) / (station[right] - station[right - 1]), 0.0, 1.0)
    return np.asarray(values[:, right - 1] * (1 - share) + values[:, right] * share)


def gauged_points(joint: Joint, head: Head, setup: ClampSetup) -> NDArray[np.intp]:
    """Return the contacts where the blade is tried: at the pulled stations nearest the middle (reverse: the ends).

    Raises:
        BadInput: every bolt that pulls stands on a shim.

    Source: common practice: feeler beside the middle pair of bolts.
    Valid: pulled stations equally near within 1 mm are gauged together.
    """
    pulled = {head.bolts[b].station for b in setup.bolts}
    free = [k for k, x in enumerate(joint.stations) if float(x) in pulled]
    if not free:
        raise BadInput(
            "every bolt that pulls stands on a shim", where="setup.bolts", fix="Pull between the shims."
        )
    middle = head.casting.length / 2
    away = np.abs(joint.stations[free] - middle)
    near = (away >= away.max() - MIDDLE_TIE) if setup.reverse else (away <= away.min() + MIDDLE_TIE)
    chosen = np.asarray(free)[near]
    return np.concatenate([4 + 2 * chosen, 5 + 2 * chosen])


def stations_of(joint: Joint) -> Floats:
    """Return the stations where the clamped state is told: ends, middle, quarters, loads, and enough in between.

    Valid: at most 40, more only where there are more loads than that.
    """
    length = joint.head.length
    wanted = np.unique(np.round(np.concatenate([joint.x, length * np.linspace(0, 1, 5)]), 9))
    gaps, step = np.diff(wanted), length / 40
    while (parts := np.ceil(gaps / step)).sum() >= FINEST and parts.max() > 1:
        step *= 1.02
    first = np.repeat(wanted[:-1], parts.astype(np.intp))
    inside = np.concatenate([np.arange(n) for n in parts]) * np.repeat(gaps / parts, parts.astype(np.intp))
    return np.append(first + inside, wanted[-1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """A solved contact with its inputs.

    `states` `(n, 11)`; `stiffness` `(n,)`; `tension` of every bolt of the head [N], `(n, b)`; `forces`, `gaps` of shims
    and base `(n, c)`; `rigid` movement of the head's ends and roll `(n, 3)`.
    """

    states: Floats
    stiffness: Floats
    tension: Floats
    forces: Floats
    gaps: Floats
    rigid: Floats


def state_of(joint: Joint, head: Head, section: Section, setup: ClampSetup, solved: Solved) -> Clamped:
    """Return the whole clamped state that follows from contact forces and bolt tensions."""
    station, middle = stations_of(joint), joint.head.length / 2
    up = np.concatenate([solved.forces, -solved.tension], axis=1)
    lines = _lines(joint, section, (station, up, solved.stiffness))
    bend = between(station, lines["deflection"], middle)[:, 0]
    bow = solved.states @ deck_rows([0.5, 0.5], [-1.0, 1.0]).mean(axis=0)
    base_rise = _base_rise(joint, up, np.array([*joint.shim_stations, middle]))
    front, rear = joint.shim_stations
    share = (middle - front) / (rear - front)
    level = np.array([1 - share, share])  # of front and rear shims in the straight line through them
    dome = float(level @ bow_mode(np.asarray(joint.shim_stations) / joint.head.length))
    line = base_rise[:, :2] @ level + level @ [setup.front, setup.rear] + head.base.dome * dome
    gauged = gauged_points(joint, head, setup)
    return Clamped(
        station=station,
        **lines,
        bend=bend,
        gap=np.stack([solved.gaps[:, g].mean(axis=1) for g in np.split(gauged, 2)], axis=1),
        over_bend=(-1.0 if setup.reverse else 1.0) * (bend - bow),
        bolt_tension=solved.tension,
        shim_force=solved.forces[:, :4],
        base_stations=joint.stations,
        base_force=solved.forces[:, 4:].reshape(solved.stiffness.size, -1, 2),
        base_bend=base_rise[:, 2] - base_rise[:, :2] @ level,
        total_force=solved.tension.sum(axis=1),
        middle_height=bow - bend + solved.rigid[:, :2].mean(axis=1) - line,
        point_gap=solved.gaps,
    )


def _lines(joint: Joint, section: Section, loads: tuple[Floats, Floats, Floats]) -> dict[str, Floats]:
    """Return deflection, curvature, moment, shear, roll and torque along the head."""
    x, up, stiffness = loads
    beam, s = joint.head, stiffness[:, None]
    turning = up * joint.y
    weight, whole = section.weight, joint.head.length
    along = np.concatenate([f(x, joint.x) for f in (beam.lift, beam.moment, beam.shear)])
    rise, moment, shear = np.split(up @ along.T, 3, axis=1)
    moment = moment + weight * x * (whole - x) / (2 * whole)
    about = np.concatenate([beam.roll(x, joint.x), beam.torque(x, joint.x)])
    roll, torque = np.split(turning @ about.T, 2, axis=1)
    return {
        "deflection": -(rise + weight * beam.sag(x)) / s,
        "curvature": moment / (beam.EI * s),
        "moment": moment,
        "shear": shear + weight * (0.5 - x / whole),
        "roll": roll / s,
        "torque": torque,
    }


def _base_rise(joint: Joint, up: Floats, x: Floats) -> Floats:
    """Return the rise of the base's middle line at stations x under the joint's forces [m], shape `(n, k)`."""
    if joint.base is None:
        return np.zeros((up.shape[0], x.size))
    return np.asarray(-up @ joint.base.lift(x + joint.overhang, joint.x + joint.overhang).T)


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
    return _clamp_alike(head, section_of(head), states, ([setup], response))[0]


def clamp_each(
    head: Head, states: Floats, setups: Sequence[ClampSetup], response: Factors
) -> list[Clamped | None]:
    """Return the head as each of several clamps holds it; None where a pull cannot close its gap.

    Clamps that pull at the same bolts to a gap are solved together, which changes no answer and saves most of the time.

    Raises `BadInput` as `clamp_head`.
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


def _clamp_alike(
    head: Head, section: Section, states: Floats, asked: tuple[Sequence[ClampSetup], Factors]
) -> list[Clamped]:
    """Return the clamped states of set-ups that pull at the same bolts: their draws stand one under the other."""
    setups, response = asked
    for setup in setups:
        check_setup(head, setup)
    joint, count = joint_of(head, section, setups[0]), len(setups)
    each = np.asarray(response.stiffness, dtype=np.float64)
    shape = np.broadcast_to(np.asarray(states, dtype=np.float64), (each.size, np.shape(states)[-1]))
    stiffness = np.tile(each, count)
    rests = [resting_loads(joint, head, section, (shape, setup, each)) for setup in setups]
    loads = Loads(
        gaps=np.concatenate([r.gaps for r in rests]), carried=np.concatenate([r.carried for r in rests])
    )
    some = slice(0, joint.contacts)  # shims and base contacts, all pushing the head up
    flexibility = Flexibility(
        head=joint.flex_head[some, some],
        base=joint.flex_base[some, some],
        rigid=joint.rigid[some],
        stiffness=stiffness,
    )
    tension, touching = _held(joint, head, setups, (flexibility, loads))
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
        return pull * unit, solve_contact(flexibility, loads.with_pull(pull, per_newton), pushing)
    wanted = np.repeat([s.gap or 0.0 for s in setups], count // len(setups))
    pull_of = Pull(unit=per_newton, measured=gauged_points(joint, head, setup), wanted=wanted)
    tension, touching = pull_to_gap(flexibility, loads, pull_of, pushing)
    return tension[:, None] * unit, touching
