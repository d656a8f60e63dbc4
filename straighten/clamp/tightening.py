"""Tightening in rounds: who is turned when, the most torque a bolt may have, and the card with the blades after each round."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from straighten.clamp.bolts import LEAST_FRICTION, clamp_thread, lever, thread_of
from straighten.clamp.clamped import ClampSetup, Factors, check_setup, gauged_points
from straighten.clamp.joint import shim_stations
from straighten.clamp.limits import bolt_loads, cold_yield
from straighten.clamp.pull import Pull, pull_to_gap
from straighten.clamp.section import section_of
from straighten.clamp.springs import Bench, Held, at_rest, bench_of, torque_problem, turned
from straighten.errors import BadInput
from straighten.head.records import Head
from straighten.quantiles import Floats, tenths
from straighten.sources import Cited
from straighten.units import show, show_torque


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueCap:
    """The most `torque` [N m] on slippery threads, and the `limit` that binds by name."""

    torque: float
    limit: str


def torque_cap(head: Head, setup: ClampSetup) -> TorqueCap:
    """Return the most torque of any bolt that pulls, and which limit sets it.

    Everything is taken at the lowest friction believed: the same torque then pulls hardest.

    Raises as `limits_of`.

    Valid: all bolts brought to one torque; the person stops at the gap, not at this torque.
    """
    caps = []
    cast = casting_load(head, setup)
    for bolt in sorted(set(setup.bolts)):
        thread, _ = clamp_thread(head.bolts[bolt])
        pull = lever(thread, LEAST_FRICTION.value)
        loads = {**bolt_loads(head, head.bolts[bolt]), "casting against its cold yield": cast}
        caps += [TorqueCap(torque=load * pull, limit=name) for name, load in loads.items()]
    return min(caps, key=lambda cap: cap.torque)


def casting_load(head: Head, setup: ClampSetup) -> float:
    """Return the tension of each bolt at which the casting, held by its shims alone, bends to its cold yield [N].

    Where the middle meets the base before that, the base takes the rest of the pull: so this is what the casting may ever
    see, without the margin for ports and bosses that the bend of a plan keeps, see `limits_of`.

    Source: moment of equal loads on a beam on two supports; `cold_yield`.
    Valid: shims outside the bolts, or inside them for a crowned deck.
    """
    section = section_of(head)
    reach = max(section.neutral_axis, section.height - section.neutral_axis)
    at = np.array([head.bolts[b].station for b in sorted(set(setup.bolts))])
    front, rear = shim_stations(head, reverse=setup.reverse)
    lift = ((rear - at) / (rear - front)).sum()  # share of all pulls that the front support carries
    stations = np.append(at, (front, rear))
    moment = lift * np.maximum(stations - front, 0.0) + (at.size - lift) * np.maximum(stations - rear, 0.0)
    moment -= np.maximum(stations[:, None] - at, 0.0).sum(axis=1)
    most = float(np.abs(moment).max())
    return cold_yield(head.alloy) * section.EI / section.modulus / (reach * most) if most > 0 else np.inf


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
class Turning:
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


def passes_of(head: Head, setup: ClampSetup) -> int:
    """Return how many times a round goes round all bolts at its torque."""
    one, more = PASSES.value
    return one if len({head.bolts[b].station for b in setup.bolts}) == 1 else more


def wrench_of(head: Head, states: Floats, setup: ClampSetup, response: Factors) -> Turning:
    """Return the bench of a set-up with the levers of its bolts.

    `states` free shapes `(n, 11)` or `(1, 11)`; gap and tension of `setup` are not used.

    Raises:
        BadInput: a set-up that cannot be.

    Source: VDI 2230 torque to tension (from memory).
    """
    check_setup(head, setup)
    stiffness, friction = np.asarray(response.stiffness), np.asarray(response.friction)
    bench = bench_of(head, states, setup, stiffness)
    levers = [lever(thread_of(head.bolts[b].thread), friction) for b in bench.pulling]
    return Turning(
        bench=bench,
        order=turning_order(head, setup),
        passes=passes_of(head, setup),
        levers=np.stack(levers, axis=1),
        gauged=gauged_points(bench.joint, head, setup),
    )


def turn_one(wrench: Turning, held: Held, bolt: int, torque: Floats) -> Held:
    """Return the bench after one bolt was brought to a torque [N m], `(n,)`; a wrench that clicks at once turns nothing."""
    place = wrench.bench.pulling.index(bolt)
    return turned(wrench.bench, held, place, torque / wrench.levers[:, place])


def turn_round(wrench: Turning, held: Held, torque: Floats) -> Held:
    """Return the bench after every bolt was brought to a torque [N m], `(n,)`, middle first, two or three times round."""
    for bolt in wrench.order * wrench.passes:
        held = turn_one(wrench, held, bolt, torque)
    return held


def settled_torque(wrench: Turning, wanted: float) -> Floats:
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


@dataclass(frozen=True, slots=True, kw_only=True)
class CardRound:
    """One round of the card.

    `number` from 1; `torque` of every bolt [N m]; `order` numbers of the head's bolts as they are turned; `passes` times
    round; `gap` expected in the middle afterwards, 10, 50 and 90 % [m]; `goes` the largest blade that should go and
    `does_not` the smallest that should not [m], None where no blade owned says so; `reached` chance that the wanted gap
    is reached by then; `words` for the bench.
    """

    number: int
    torque: float
    order: tuple[int, ...]
    passes: int
    gap: tuple[float, float, float]
    goes: float | None
    does_not: float | None
    reached: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TighteningCard:
    """The rounds, the torque expected to bring the gap (10, 50, 90 %) [N m], the most any bolt may have, and the rule."""

    rounds: tuple[CardRound, ...]
    closing: tuple[float, float, float]
    most: TorqueCap
    rule: str


def tightening_card(
    head: Head,
    states: Floats,
    setup: ClampSetup,
    response: Factors,
    rounds: Sequence[float] = ROUNDS.value,
) -> TighteningCard:
    """Return the rounds of a tightening with what the blade should find after each.

    `states` free shapes `(n, 11)` or `(1, 11)`; `rounds` share of the torque expected to close the gap in
    each round.

    Raises:
        BadInput: a set-up without a gap, or that cannot be.
        OutsideModel: no torque closes the gap.

    Source: VDI 2230 (from memory); exact contact with bolts as springs, in the order of turning.
    Valid: elastic; the person stops at the gap, not at the torque.
    """
    if setup.gap is None:
        raise BadInput("a tightening card needs the gap to stop at", where="setup.gap")
    wrench = wrench_of(head, states, setup, response)
    each = np.ones(wrench.bench.draws)
    low, middle, high = tenths(settled_torque(wrench, setup.gap), each)
    cap = torque_cap(head, setup)
    held, made = at_rest(wrench.bench), []
    for number, torque in enumerate(_steps(head, middle, cap.torque, rounds), start=1):
        held = turn_round(wrench, held, np.full(wrench.bench.draws, torque))
        gaps = wrench.gap(held)
        likely = tenths(gaps, each)
        goes, does_not = blades_for(head.gauge_blades, likely[0], likely[2])
        one = CardRound(
            number=number,
            torque=torque,
            order=wrench.order,
            passes=wrench.passes,
            gap=likely,
            goes=goes,
            does_not=does_not,
            reached=float(np.mean(gaps <= setup.gap + 1e-9)),
            words=_words(head, torque, wrench.passes, (goes, does_not)),
        )
        made.append(one)
    return TighteningCard(
        rounds=tuple(made), closing=(low, middle, high), most=cap, rule=_rule(head, setup, (low, high), cap)
    )


def _steps(head: Head, middle: float, cap: float, rounds: Sequence[float]) -> list[float]:
    """Return whole newton metres, rising: none under what the wrench begins at, none above what it or the bolts may have."""
    steps: list[float] = []
    for share in rounds:
        torque = min(max(round(share * middle), head.wrench.least), head.wrench.most, cap)
        if not steps or torque > steps[-1]:
            steps.append(float(torque))
    return steps


def blades_for(blades: Sequence[float], low: float, high: float) -> tuple[float | None, float | None]:
    """Return the largest blade that goes even into the low gap and the smallest that does not go into the high one."""
    goes = [b for b in blades if b <= low]
    does_not = [b for b in blades if b > high]
    return max(goes, default=None), min(does_not, default=None)


def _words(head: Head, torque: float, passes: int, blades: tuple[float | None, float | None]) -> str:
    goes, does_not = blades
    go = f"{show(goes, head.system)} goes" if goes is not None else "no blade need go"
    stop = f"{show(does_not, head.system)} does not" if does_not is not None else "every blade may go"
    times = {2: "twice", 3: "three times"}.get(passes, f"{passes} times")
    return f"{show_torque(torque, head.system)}, {times} round from the middle outward: then in the middle {go}, {stop}."


def _rule(head: Head, setup: ClampSetup, expected: tuple[float, float], cap: TorqueCap) -> str:
    told = (*(min(torque, cap.torque) for torque in expected), cap.torque)
    low, high, most = (show_torque(t, head.system) for t in told)
    gap = f"{show(setup.gap or 0.0, head.system)} is left" if setup.gap else "the gap is closed"
    by_hand = (
        ""
        if cap.torque >= head.wrench.least
        else f"The wrench begins at {show_torque(head.wrench.least, head.system)}, over what these bolts may have: turn by hand, "
        "an eighth of a turn at a time, and go by the blade alone, or take a smaller wrench. "
    )
    return (
        f"{by_hand}Stop at the gap, not at the torque: when {gap} in the middle, stop turning. Expected between {low} and {high}; "
        f"never over {most}, for the {cap.limit} on slippery threads. A bolt that was tightened early loses load to the later ones, so go round again."
    )
