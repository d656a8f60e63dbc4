"""What the bench needs on paper: torque of each round and bolt, and the blade that goes and the one that does not after it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.clamp.springs import at_rest
from straighten.clamp.tightening import ROUNDS, settled_torque, turn_round, wrench_of
from straighten.clamp.torque_cap import torque_cap
from straighten.errors import BadInput
from straighten.quantiles import tenths
from straighten.units import show, show_torque

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.clamp.factors import Factors
    from straighten.clamp.setup import ClampSetup
    from straighten.clamp.torque_cap import TorqueCap
    from straighten.head.records import Head

    Floats = NDArray[np.float64]


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
    weights: Floats | None = None,
    rounds: Sequence[float] = ROUNDS.value,
) -> TighteningCard:
    """Return the rounds of a tightening with what the blade should find after each.

    Args:
        head: the head, its bolts and gauge blades.
        states: free shapes `(n, 11)` or `(1, 11)`.
        setup: shims, bolts and the gap to stop at.
        response: draws of stiffness and friction.
        weights: of the draws; even where left out.
        rounds: share of the torque expected to close the gap in each round.

    Raises:
        BadInput: a set-up without a gap, or that cannot be.
        OutsideModel: no torque closes the gap.

    Source: VDI 2230 (from memory); exact contact with bolts as springs, in the order of turning.
    Valid: elastic; the person stops at the gap, not at the torque.
    """
    if setup.gap is None:
        raise BadInput("a tightening card needs the gap to stop at", where="setup.gap")
    wrench = wrench_of(head, states, setup, response)
    each = np.full(wrench.bench.draws, 1.0) if weights is None else np.asarray(weights, dtype=np.float64)
    low, middle, high = tenths(settled_torque(wrench, setup.gap), each)
    cap = torque_cap(head, setup)
    held, made = at_rest(wrench.bench), []
    for number, torque in enumerate(_steps(head, middle, cap.torque, rounds), start=1):
        held = turn_round(wrench, held, np.full(wrench.bench.draws, torque))
        gaps = wrench.gap(held)
        likely = tenths(gaps, each)
        reached = float((gaps <= setup.gap + 1e-9) @ each / each.sum())
        goes, does_not = blades_for(head.gauge_blades, likely[0], likely[2])
        made.append(
            CardRound(
                number=number,
                torque=torque,
                order=wrench.order,
                passes=wrench.passes,
                gap=likely,
                goes=goes,
                does_not=does_not,
                reached=reached,
                words=_words(head, torque, wrench.passes, (goes, does_not)),
            )
        )
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
    low, high, most = (show_torque(t, head.system) for t in (*expected, cap.torque))
    gap = f"{show(setup.gap or 0.0, head.system)} is left" if setup.gap else "the gap is closed"
    by_hand = "" if cap.torque >= head.wrench.least else _by_hand(head)
    return (
        f"{by_hand}Stop at the gap, not at the torque: when {gap} in the middle, stop turning. Expected between {low} and {high}; "
        f"never over {most}, for the {cap.limit} on slippery threads. A bolt that was tightened early loses load to the later ones, hence round again."
    )


def _by_hand(head: Head) -> str:
    """Say what to do where the wrench begins over what the bolts may have."""
    return (
        f"The wrench begins at {show_torque(head.wrench.least, head.system)}, over what these bolts may have: turn by hand, an "
        "eighth of a turn at a time, and go by the blade alone, or take a smaller wrench. "
    )
