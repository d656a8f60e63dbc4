"""The head in the clamp: what shims, base and bolts do to it, for every draw of the unknown factors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp import beams
from straighten.clamp.contact import Flexibility, Loads, Touching, solve_contact
from straighten.clamp.joint import Joint, free_heights, joint_of
from straighten.clamp.pull import Pull, pull_to_gap
from straighten.clamp.section import section_of
from straighten.errors import BadInput
from straighten.shape.modes import deck_rows

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from straighten.clamp.factors import Factors
    from straighten.clamp.section import Section
    from straighten.clamp.setup import ClampSetup
    from straighten.head.records import Head

    Floats = NDArray[np.float64]

FINEST: Final = 40  # stations at most
MIDDLE_TIE: Final = 1e-3  # m: stations this alike in distance are gauged together


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamped:
    """The clamped state of n draws along m stations.

    `station` [m], `(m,)`; `deflection` downward elastic movement of the head's beam line against its free shape, the
    chord through its ends taken out, local give not in it [m], `(n, m)`; `curvature` of bending alone [1/m], > 0 where
    the middle is pulled down (strain at height z over the neutral axis is -curvature * z); `moment` [N m]; `shear` just
    behind each station [N]; `roll` against the free shape [rad]; `torque` just behind each station [N m]; all `(n, m)`.
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
    """Return values `(n, m)` at stations interpolated to x `(k,)`, straight lines in between, ends held.

    Source: linear interpolation.
    Valid: any x; beyond the ends the end value.
    """
    at = np.atleast_1d(np.asarray(x, dtype=np.float64))
    right = np.clip(np.searchsorted(station, at), 1, station.size - 1)
    share = np.clip((at - station[right - 1]) / (station[right] - station[right - 1]), 0.0, 1.0)
    return np.asarray(values[:, right - 1] * (1 - share) + values[:, right] * share)


def clamp_head(head: Head, states: Floats, setup: ClampSetup, response: Factors) -> Clamped:
    """Return the head as the clamp holds it.

    Two Timoshenko beams, head and base, joined by the bolts' pull and by unilateral contacts at the four shims and
    under every bolt station on both edges; the contact is solved exactly. With `setup.gap` all bolts that pull have
    one tension, just enough to bring the mean of both edges' gap at the pulled station nearest the middle (in a
    reverse set-up: at the pulled stations nearest the ends) to that figure.

    Args:
        head: the head, its base and bolts.
        states: free shape of every draw, shape `(n, 11)` or `(1, 11)`.
        setup: shims, bolts that pull, gap or tension.
        response: draws; `stiffness` multiplies EI, kGA and GJ and divides the local give.

    Raises:
        BadInput: the set-up names bolts or shims that cannot be, or a stretch bolt.
        OutsideModel: the pull cannot close the gap.

    Source:
        Timoshenko beam, closed forms; contact as a convex quadratic programme. Derived.

    Valid:
        Elastic, small deflections, uniform section; the blade is poked in at the deck's edge beside the bolt.
    """
    return clamp_section(head, section_of(head), states, setup, response)


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

    Args:
        head: the head, its base and bolts.
        section: the casting as a beam.
        states: free shape of every draw, shape `(n, 11)` or `(1, 11)`.
        setup: shims, bolts that pull, gap or tension.
        response: draws.
        slender: leave shear out of both beams (Bernoulli).

    Raises:
        BadInput: as `clamp_head`.
        OutsideModel: as `clamp_head`.

    Source: as `clamp_head`.
    Valid: as `clamp_head`.
    """
    check_setup(head, setup)
    joint = joint_of(head, section, setup, slender=slender)
    stiffness = np.asarray(response.stiffness, dtype=np.float64)
    shape = np.broadcast_to(np.asarray(states, dtype=np.float64), (stiffness.size, np.shape(states)[-1]))
    flexibility = contact_flexibility(joint, stiffness)
    loads = resting_loads(joint, head, section, (shape, setup, stiffness))
    tension, touching = _held(joint, head, setup, (flexibility, loads))
    return _clamped(joint, head, section, (shape, setup, stiffness, tension, touching))


def check_setup(head: Head, setup: ClampSetup) -> None:
    """Refuse set-ups that cannot be built.

    Raises:
        BadInput: no such bolt, a stretch bolt, a negative shim, gap or tension, nothing that pulls.

    Source: common practice; stretch bolts yield when first tightened, so that torque no longer tells their tension.
    Valid: any set-up.
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
    """Return the flexibility among shims and base contacts, all pushing the head up.

    Source: `joint`.
    Valid: bolts as given loads.
    """
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

    Args:
        joint: the points.
        head: the head.
        section: its section.
        draws: free shapes `(n, 11)`, set-up, stiffness `(n,)`.

    Source: statics; uniform weight.
    Valid: as `clamp_head`.
    """
    states, setup, stiffness = draws
    gaps = free_heights(joint, head, states)[:, : joint.contacts].copy()
    gaps[:, :4] -= setup.shims
    gaps += section.weight * beams.sag(joint.head, joint.x[: joint.contacts]) / stiffness[:, None]
    carried = np.array([section.weight / 2, section.weight / 2, 0.0])
    return Loads(gaps=gaps, carried=np.broadcast_to(carried, (stiffness.size, 3)))


def pulled_loads(joint: Joint, stiffness: Floats, tension: Floats) -> Loads:
    """Return what bolts do to the contacts: `tension` [N] of every bolt of the head, shape `(n, b)` or `(b,)`.

    Source: influence functions of `joint`.
    Valid: linear.
    """
    pulls = np.broadcast_to(tension, (stiffness.size, joint.x.size - joint.contacts))
    c = joint.contacts
    gaps = -(pulls @ joint.flex_head[c:, :c] / stiffness[:, None] + pulls @ joint.flex_base[c:, :c])
    return Loads(gaps=gaps, carried=pulls @ joint.rigid[c:])


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


def _held(
    joint: Joint, head: Head, setup: ClampSetup, rest: tuple[Flexibility, Loads]
) -> tuple[Floats, Touching]:
    """Return the tension of every bolt `(n, b)` and the contact."""
    flexibility, loads = rest
    count = flexibility.stiffness.size
    unit = np.zeros(len(head.bolts))
    unit[list(setup.bolts)] = 1.0
    pushing = np.zeros((count, joint.contacts), dtype=np.bool_)
    pushing[:, :4] = True
    per_newton = pulled_loads(joint, flexibility.stiffness, unit)
    if setup.gap is None:
        pull = float(setup.tension or 0.0)
        at = Loads(
            gaps=loads.gaps + pull * per_newton.gaps, carried=loads.carried + pull * per_newton.carried
        )
        return np.broadcast_to(pull * unit, (count, unit.size)), solve_contact(flexibility, at, pushing)
    wanted = np.full(count, setup.gap)
    pull_of = Pull(unit=per_newton, measured=gauged_points(joint, head, setup), wanted=wanted)
    tension, touching = pull_to_gap(flexibility, loads, pull_of, pushing)
    return tension[:, None] * unit, touching


def stations_of(joint: Joint) -> Floats:
    """Return the stations where the clamped state is told: ends, middle, quarters, loads, and enough in between.

    Source: -
    Valid: at most 40, more only where there are more loads than that.
    """
    length = joint.head.length
    wanted = np.unique(np.round(np.concatenate([joint.x, length * np.linspace(0, 1, 5)]), 9))
    while wanted.size < FINEST:
        widest = int(np.argmax(np.diff(wanted)))
        if wanted[widest + 1] - wanted[widest] < length / 24:
            break
        wanted = np.insert(wanted, widest + 1, (wanted[widest] + wanted[widest + 1]) / 2)
    return wanted


def _clamped(
    joint: Joint,
    head: Head,
    section: Section,
    solved: tuple[Floats, ClampSetup, Floats, Floats, Touching],
) -> Clamped:
    states, setup, stiffness, tension, touching = solved
    station = stations_of(joint)
    up = np.concatenate([touching.forces, -tension], axis=1)
    lines = _lines(joint, section, (station, up, stiffness))
    middle = joint.head.length / 2
    bend = between(station, lines["deflection"], middle)[:, 0]
    bow = states @ deck_rows(0.5, 1.0)[0] / 2 + states @ deck_rows(0.5, -1.0)[0] / 2
    base_rise = _base_rise(joint, up, np.array([*joint.shim_stations, middle]))
    level = _over_shims(joint, middle)
    line = base_rise[:, :2] @ level + np.dot(level, [sum(setup.shims[:2]) / 2, sum(setup.shims[2:]) / 2])
    direction = -1.0 if setup.reverse else 1.0
    gauged = gauged_points(joint, head, setup)
    return Clamped(
        station=station,
        **lines,
        bend=bend,
        gap=np.stack([touching.gaps[:, g].mean(axis=1) for g in np.split(gauged, 2)], axis=1),
        over_bend=direction * (bend - bow),
        bolt_tension=tension,
        shim_force=touching.forces[:, :4],
        base_stations=joint.stations,
        base_force=touching.forces[:, 4:].reshape(stiffness.size, -1, 2),
        base_bend=base_rise[:, 2] - base_rise[:, :2] @ level,
        total_force=tension.sum(axis=1),
        middle_height=bow - bend + touching.rigid[:, :2].mean(axis=1) - line,
        point_gap=touching.gaps,
    )


def _lines(joint: Joint, section: Section, loads: tuple[Floats, Floats, Floats]) -> dict[str, Floats]:
    """Return deflection, curvature, moment, shear, roll and torque along the head."""
    x, up, stiffness = loads
    beam, s = joint.head, stiffness[:, None]
    turning = up * joint.y
    weight, whole = section.weight, joint.head.length
    moment = up @ beams.moment(beam, x, joint.x).T + weight * x * (whole - x) / (2 * whole)
    return {
        "deflection": -(up @ beams.lift(beam, x, joint.x).T + weight * beams.sag(beam, x)) / s,
        "curvature": moment / (beam.EI * s),
        "moment": moment,
        "shear": up @ beams.shear(beam, x, joint.x).T + weight * (0.5 - x / whole),
        "roll": turning @ beams.roll(beam, x, joint.x).T / s,
        "torque": turning @ beams.torque(x, joint.x).T,
    }


def _base_rise(joint: Joint, up: Floats, x: Floats) -> Floats:
    """Return the rise of the base's middle line at stations x under the joint's forces [m], shape `(n, k)`."""
    if joint.base is None:
        return np.zeros((up.shape[0], x.size))
    return np.asarray(-up @ beams.lift(joint.base, x + joint.overhang, joint.x + joint.overhang).T)


def _over_shims(joint: Joint, x: float) -> Floats:
    """Return the weights of front and rear shims in the straight line through them, at x."""
    front, rear = joint.shim_stations
    share = (x - front) / (rear - front)
    return np.array([1 - share, share])
