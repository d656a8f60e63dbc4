"""What a tightening log tells: torque and blade step by step against the draws, and what to do next.

Torque and gap alone tell stiffness times friction, never the two apart: a stiff head on slippery bolts and a soft one
on sticky bolts close alike. They tell the torque that brings the gap, which is what the bench needs. A load that was
weighed or jacked parts them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from straighten.clamp.clamped import ClampSetup, Factors
from straighten.clamp.springs import at_rest
from straighten.clamp.tightening import settled_torque, torque_cap, turn_round, wrench_of
from straighten.errors import BadInput, located
from straighten.head.records import Head
from straighten.quantiles import Floats, quantile, tenths, weights_of
from straighten.sources import Cited
from straighten.units import Plausible, System, show, show_torque

BLADE_DOUBT: Final = Cited(
    6e-6, "m", "feel of a blade; wear and tolerance of feeler steel", "common practice, no source"
)
MODEL_DOUBT: Final = Cited(
    0.03, "", "share of the way travelled by which model and wrench may be off", "assumed"
)
STRIDE: Final = Cited(
    0.6, "", "of the way to the least torque expected to bring the gap, in one step", "assumed"
)
NEARLY: Final = Cited(0.12, "", "when that torque is this near it is given outright", "assumed")
UNLIKELY: Final = Cited(
    0.005, "", "a gap that the draws before gave less than this chance means something is wrong", "assumed"
)

THINNEST_BLADE: Final = Cited(0.01e-3, "m", "JIS B 7524, feeler gauges: 0.01 to 3 mm", "from memory")
THICKEST_BLADE: Final = Cited(3e-3, "m", "JIS B 7524, feeler gauges: 0.01 to 3 mm", "from memory")
CLOSE_ENOUGH: Final = Cited(12e-6, "m", "half a thou: no blade tells less", "common practice, no source")

AS_PRINTED: Final = Cited(
    1.2, "N m", "half a newton metre and half a foot-pound: a cap set as it is printed is kept", "derived"
)

Verdict = Literal[
    "go on",
    "hold: gap reached",
    "stop: bolt near proof",
    "stop: over the most torque",
    "stop: something is wrong",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One round and what the blade found after it.

    `torque` every bolt was brought to [N m]; the largest blade that `goes` in the middle and the smallest that
    `does_not` [m], None where every blade owned goes.
    """

    torque: float
    goes: float
    does_not: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """A clamp load that was weighed or jacked.

    `load` of all bolts together and its standard deviation `doubt` [N]; `after` how many rounds.
    """

    load: float
    doubt: float
    after: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Replay:
    """The log played through the draws.

    `gap` [m] and `load` of all bolts together [N] after each reading's round, `(n, k)`; `free_gap` before the first [m];
    `closing` torque that brings the wanted gap once going
    round turns nothing more [N m]; all `(n,)`.
    """

    gap: Floats
    free_gap: Floats
    closing: Floats
    load: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """What to do.

    `verdict`; `torque` of the next round [N m] or None; `closing` torque expected to bring the gap, 10, 50 and 90 %
    [N m]; `words` for the bench.
    """

    verdict: Verdict
    torque: float | None
    closing: tuple[float, float, float]
    words: str


def replay(
    head: Head, states: Floats, setup: ClampSetup, response: Factors, readings: Sequence[Reading]
) -> Replay:
    """Play a log through every draw: one round of all bolts for each reading, middle pair first, two or three times round.

    `states` free shapes `(n, 11)` or `(1, 11)`; `readings` the log, torques rising.

    Raises:
        BadInput: as `check_log`, or a set-up without a gap.

    Valid: every bolt was brought to the torque two or three times in each round (`tightening.PASSES`).
    """
    check_log(readings, head.system)
    if setup.gap is None:
        raise BadInput("a tightening log needs the gap to stop at", where="setup.gap")
    wrench = wrench_of(head, states, setup, response)
    held = at_rest(wrench.bench)
    free, bolts = wrench.gap(held), slice(wrench.bench.contacts, None)
    gap, load = np.zeros((2, free.size, len(readings)))
    for k, reading in enumerate(readings):
        held = turn_round(wrench, held, np.full(wrench.bench.draws, reading.torque))
        gap[:, k], load[:, k] = wrench.gap(held), held.push[:, bolts].sum(axis=1)
    return Replay(
        gap=gap,
        load=load,
        free_gap=free,
        closing=settled_torque(wrench, setup.gap),
    )


def check_log(readings: Sequence[Reading], system: System = "mm") -> None:
    """Refuse a log that cannot be.

    Raises:
        BadInput: a torque that is not above the one before, a blade that no gauge has, or a bracket the wrong way round.
    """
    last = 0.0
    for number, reading in enumerate(readings, start=1):
        where = f"round {number}"
        if not 0 < reading.torque < 1e3:
            raise BadInput(f"torque {reading.torque:g} Nm cannot be", where=where, fix="Write it like 18 Nm.")
        if reading.torque <= last:
            raise BadInput(
                f"torque {show_torque(reading.torque, system)} after {show_torque(last, system)}; "
                "every round must be harder than the one before",
                where=where,
            )
        if reading.does_not is not None and reading.does_not <= reading.goes:
            raise BadInput("the blade that goes must be thinner than the one that does not", where=where)
        with located(where):
            for blade in filter(None, (reading.goes, reading.does_not)):
                check_blade(blade)
        last = reading.torque


def check_blade(blade: float) -> None:
    """Refuse a blade [m] that no gauge has.

    Raises:
        BadInput: too thin or too thick; the likely slip of unit is named.

    Source: JIS B 7524 (from memory).
    Valid: feeler gauges; a gap under a clamped head is a tenth of the thickest.
    """
    near = 1e-9  # of it: what came through the book's millimetres may have lost the last bit
    Plausible(THINNEST_BLADE.value * (1 - near), THICKEST_BLADE.value * (1 + near)).check(blade, "the blade")


def log_likelihood(played: Replay, readings: Sequence[Reading]) -> Floats:
    r"""Return the log-probability of the blades found, for every draw, shape `(n,)`.

    .. math:: \Phi\left(\frac{b - g}{s}\right) - \Phi\left(\frac{a - g}{s}\right)

    for a gap g between blades a and b; s from the feel of a blade and a share of the way travelled.

    Source: probability of an interval-censored normal reading, derived.
    Valid: readings of one log; the share of the way is common to them, so a long log is believed a little too much.
    """
    chance = [_chance(played.gap[:, k], played.free_gap, r) for k, r in enumerate(readings)]
    if not chance:
        return np.zeros(played.free_gap.size)
    return np.asarray(np.sum(np.log(np.maximum(chance, 1e-300)), axis=0))


def _chance(gap: Floats, free: Floats, reading: Reading) -> Floats:
    from scipy.special import ndtr

    doubt = np.hypot(BLADE_DOUBT.value, MODEL_DOUBT.value * (free - gap))
    upper = np.inf if reading.does_not is None else reading.does_not
    below = -np.inf if reading.goes == 0 else reading.goes
    high, low = (upper - gap) / doubt, (below - gap) / doubt
    swap = low > 0  # take the difference in the tail where it is exact
    return np.asarray(np.where(swap, ndtr(-low) - ndtr(-high), ndtr(high) - ndtr(low)))


def load_log_likelihood(played: Replay, weighed: Weighed) -> Floats:
    """Return the log-density of a clamp load that was weighed or jacked, shape `(n,)`.

    `weighed` the load, held against the round it was weighed after: later rounds pull harder.

    Source: log-normal reading, derived.
    Valid: parts stiffness from friction, which torque and gap do not.
    """
    pulled = np.maximum(played.load[:, weighed.after - 1], 1.0)
    return np.asarray(-0.5 * (np.log(pulled / weighed.load) / (weighed.doubt / weighed.load)) ** 2)


def within_cap(head: Head, setup: ClampSetup, readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """Return the rounds up to the most torque the bolts may have; what a yielded bolt pulls no friction tells."""
    cap = torque_cap(head, setup).torque + AS_PRINTED.value
    return tuple(reading for reading in readings if reading.torque <= cap)


def next_step(
    head: Head, setup: ClampSetup, played: Replay, readings: Sequence[Reading], prior: Floats
) -> NextStep:
    """Return whether to go on, hold or stop, and the torque of the next round.

    `prior` weights of the draws before the log, shape `(n,)`.

    Source: weighted draws; steps of 60 % of the way to the tenth percentile, common practice of small steps.
    Valid: the person stops at the gap, not at the torque.
    """
    # What was asked of bolts and threads comes before what it did to the gap: a yielded stud may well have closed it.
    most, now = torque_cap(head, setup), readings[-1].torque if readings else 0.0
    if len(within_cap(head, setup, readings)) < len(readings):
        return _over(now, most.torque, played, head, prior)
    before = weights_of(np.log(prior + 1e-300) + log_likelihood(played, readings[:-1]))
    weights = weights_of(np.log(prior + 1e-300) + log_likelihood(played, readings))
    closing = tenths(played.closing, weights)
    wanted, last = setup.gap or 0.0, readings[-1] if readings else None
    if last is not None and (wrong := _odd(played, before, last, head.system)):
        return NextStep(verdict="stop: something is wrong", torque=None, closing=closing, words=wrong)
    if last is not None and _reached(played, weights, last, wanted):
        words = f"Gap reached at {show_torque(last.torque, head.system)}: stop turning, whatever torque was planned."
        return NextStep(verdict="hold: gap reached", torque=None, closing=closing, words=words)
    if now + 1.0 > most.torque:
        words = (
            f"{show_torque(now, head.system)} is as much as these bolts may have, for the {most.limit}; share more bolts, or "
            "mend what binds."
        )
        return NextStep(verdict="stop: bolt near proof", torque=None, closing=closing, words=words)
    torque = min(max(now + 1.0, _stride(now, closing)), most.torque)
    words = _go_words(torque, (closing[0], closing[2], most.torque), head)
    return NextStep(verdict="go on", torque=torque, closing=closing, words=words)


def _over(now: float, cap: float, played: Replay, head: Head, prior: Floats) -> NextStep:
    reached, most = show_torque(now, head.system), show_torque(cap, head.system)
    words = (
        f"{reached} is over {most}, the most these bolts may have, so no blade counts. Slacken, from outside to the "
        "middle. Bolts and threads may be past their limit: check them or put new ones, then begin the log anew "
        "(--again). Do not heat on this clamp."
    )
    closing = tenths(played.closing, prior / prior.sum())
    return NextStep(verdict="stop: over the most torque", torque=None, closing=closing, words=words)


def _reached(played: Replay, weights: Floats, last: Reading, wanted: float) -> bool:
    """Tell whether the gap is as small as wanted: by the blade, or by what blade and draws say together."""
    if last.does_not is None or last.goes > wanted + BLADE_DOUBT.value:
        return False
    likely = quantile(played.gap[:, -1], weights, 0.5)
    return last.does_not <= wanted + BLADE_DOUBT.value or likely <= wanted + CLOSE_ENOUGH.value


def _stride(now: float, closing: tuple[float, float, float]) -> float:
    low, middle, _ = closing
    if middle - now <= NEARLY.value * middle:
        return middle
    return now + STRIDE.value * (max(low, now) - now)


def _odd(played: Replay, before: Floats, last: Reading, system: System) -> str:
    """Say what is odd about the last reading, or nothing."""
    chance = float(before @ _chance(played.gap[:, -1], played.free_gap, last))
    if chance >= UNLIKELY.value:
        return ""
    expected = quantile(played.gap[:, -1], before, 0.5)
    if last.goes > expected:
        return (
            f"The gap should be near {show(expected, system)} and is wider: something does not give. Look for a bolt that bottoms "
            "out or binds, a thread that pulls, a head caught on a dowel, a base that lifts."
        )
    return (
        f"The gap should be near {show(expected, system)} and is smaller: something gives too easily. Look for a shim out of place or "
        "crushed, a crack, the wrong bolts turned."
    )


def _go_words(torque: float, reached: tuple[float, float, float], head: Head) -> str:
    """Return what to do next; no torque is told beyond the most, the last of `reached`, that the bolts may have."""
    low, high, most = reached
    between = f"should be reached between {show_torque(low, head.system)} and {show_torque(min(high, most), head.system)}"
    if low > most:
        between = "may not be reached"
    if high > most:
        between += f"; {show_torque(most, head.system)} is the most these bolts may have"
    return (
        f"Next round {show_torque(torque, head.system)}, middle pair first. The gap {between}; stop at the gap, not at the "
        "torque. Torque and gap tell stiffness times friction, not the two apart."
    )
