"""How hard the bolts must pull until the wanted blade just goes: the tension that brings a gap, solved exactly.

With the set of touching points known, forces and gaps are straight lines in the tension, so the tension follows
from one equation; sets are swapped as in `contact` with the tension as one more unknown. Draws that do not settle
that way are solved by bracketing the tension, with the exact contact at every trial.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from straighten.clamp.contact import (
    Flexibility,
    Loads,
    Mask,
    System,
    Touching,
    carries,
    linear_set,
    sets_of,
    solve_contact,
    wrong_points,
)
from straighten.errors import OutsideModel
from straighten.quantiles import Floats

QUICK_SWAPS = 25
MOST_TRIALS = 120
CLOSE = 1e-11  # m: the bracketed gap is as near to the wanted one as this
STRONGEST = 1e7  # N: no clamp bolt pulls harder; a gap that is still open then stays open
FEW = 0.10  # share of the draws whose gap may stay open
HELD = 3e5  # N: at which they are held; over any clamp bolt's load


@dataclass(frozen=True, slots=True, kw_only=True)
class Pull:
    """A pull on the head.

    `unit` what one newton per bolt does to gaps and carried load; `measured` the points whose mean gap is gauged,
    shape `(k,)`; `wanted` that gap [m], shape `(n,)`.
    """

    unit: Loads
    measured: NDArray[np.intp]
    wanted: Floats


def pull_to_gap(flexibility: Flexibility, loads: Loads, pull: Pull, pushing: Mask) -> tuple[Floats, Touching]:
    """Return the tension per bolt [N], `(n,)`, that brings the mean gap to the wanted one, and the contact there.

    A gap that is smaller already without any pull leaves the tension at zero. Where a few draws cannot be closed they are
    held at `HELD`: the limits of the clamp count them, and one odd draw does not decide for all.

    `loads` without pull; `pushing` first guess of the touching points, shape `(n, p)`.

    Raises:
        OutsideModel: pulling there does not close the gap in more than a few draws.

    Source: the gap falls with the tension, as the contact problem is convex; derived.
    Valid: equal tension in all bolts that pull.
    """
    tension, answer, settled = _quick(flexibility, loads, pull, pushing)
    rest = np.flatnonzero(~settled | (tension < 0))
    if rest.size:
        part = Pull(unit=pull.unit.rows(rest), measured=pull.measured, wanted=pull.wanted[rest])
        tension[rest], slow = _bracketed(
            flexibility.rows(rest),
            loads.rows(rest),
            part,
            pushing[rest],
            may_stay_open=int(FEW * tension.size),
        )
        answer.put(rest, slow)
    return tension, answer


def _quick(
    flexibility: Flexibility, loads: Loads, pull: Pull, pushing: Mask
) -> tuple[Floats, Touching, Mask]:
    pushing, count = pushing.copy(), len(pushing)
    done, tension, answer = np.zeros(count, dtype=np.bool_), np.zeros(count), Touching.empty(pushing)
    system = System.of(flexibility)
    right = np.stack([loads.right, pull.unit.right], axis=-1)
    for _ in range(QUICK_SWAPS):
        todo = np.flatnonzero(~done)
        if todo.size == 0:
            break
        gauged = np.ix_(todo, pull.measured)
        pushing[gauged] &= ~np.all(pushing[gauged], axis=1, keepdims=True)
        for members, touching in sets_of(pushing, todo):
            found = linear_set(system, members, touching, right[members])
            tension[members], done[members] = _pulled(pull, members, found, answer)
        carried = right[todo, -3:, 0] + tension[todo, None] * right[todo, -3:, 1]
        done[todo] &= carries(flexibility, carried, answer.forces[todo])
        wrong = wrong_points(answer.forces[todo], answer.gaps[todo], pushing[todo])
        fits = done[todo] & ~wrong.any(axis=1)
        done[todo] = fits
        pushing[todo] ^= wrong & ~fits[:, None]
    return tension, answer, done


def _pulled(
    pull: Pull, members: NDArray[np.intp], found: tuple[Floats, Floats, Floats], answer: Touching
) -> tuple[Floats, Mask]:
    """Put the tension that one set of touching points needs into its answer; return tension and whether it closes the gap."""
    at_rest, per_newton = np.moveaxis(found[1][:, pull.measured].mean(axis=1), -1, 0)
    closing = per_newton < 0
    tension = (pull.wanted[members] - at_rest) / np.where(closing, per_newton, -1.0)
    for store, line in zip((answer.forces, answer.gaps, answer.rigid), found, strict=True):
        store[members] = line[..., 0] + tension[:, None] * line[..., 1]
    return tension, closing


def _bracketed(
    flexibility: Flexibility, loads: Loads, pull: Pull, pushing: Mask, *, may_stay_open: int
) -> tuple[Floats, Touching]:
    """Return tension and contact by bracketing; regula falsi of the Illinois kind, halving when it stalls."""
    low = np.zeros(pushing.shape[0])
    too_open, answer = _excess(flexibility, loads, pull, (low, pushing))
    high, excess_high = low + 1e3, too_open
    while np.any(still := (excess_high > 0) & (too_open > CLOSE) & (high < STRONGEST)):
        high = np.where(still, np.minimum(2 * high, STRONGEST), high)
        excess_high, answer = _excess(flexibility, loads, pull, (high, answer.pushing))
    stays_open = (excess_high > 0) & (too_open > CLOSE)
    if np.count_nonzero(stays_open) > may_stay_open:
        raise OutsideModel(
            "pulling at these bolts does not close the gap", fix="Choose bolts between the shims."
        )
    low = np.where(stays_open, HELD, low)
    tension = np.where(too_open <= CLOSE, 0.0, np.where(stays_open, HELD, high))
    bracket = low, tension, too_open, np.where(too_open <= CLOSE, too_open, excess_high)
    excess, answer = _excess(flexibility, loads, pull, (tension, answer.pushing))
    for trial in range(MOST_TRIALS):
        open_still = (np.abs(excess) > CLOSE) & (bracket[1] > bracket[0])
        if not open_still.any():
            break
        tension = np.where(open_still, _next_trial(bracket, halve=trial % 3 == 2), tension)
        excess, answer = _excess(flexibility, loads, pull, (tension, answer.pushing))
        bracket = _narrowed(bracket, tension, excess)
    return tension, answer


Bracket = tuple[Floats, Floats, Floats, Floats]


def _next_trial(bracket: Bracket, *, halve: bool) -> Floats:
    low, high, at_low, at_high = bracket
    if halve:
        return (low + high) / 2
    drop = at_low - at_high
    return np.where(drop > 0, low + (high - low) * at_low / np.where(drop > 0, drop, 1.0), (low + high) / 2)


def _narrowed(bracket: Bracket, tension: Floats, excess: Floats) -> Bracket:
    low, high, at_low, at_high = bracket
    above = excess > 0
    return (
        np.where(above, tension, low),
        np.where(above, high, tension),
        np.where(above, excess, at_low),
        np.where(above, at_high, excess),
    )


def _excess(
    flexibility: Flexibility, loads: Loads, pull: Pull, trial: tuple[Floats, Mask]
) -> tuple[Floats, Touching]:
    """Return gap minus wanted gap [m]; once all measured points touch it falls on by the give of the least contact force."""
    tension, pushing = trial
    answer = solve_contact(flexibility, loads.with_pull(tension[:, None], pull.unit), pushing)
    give = np.diag(flexibility.head)[pull.measured].max() / flexibility.stiffness
    beyond = give * answer.forces[:, pull.measured].min(axis=1)
    return answer.gaps[:, pull.measured].mean(axis=1) - pull.wanted - beyond, answer
