"""A clamping in stages as it is weighed before the first flame: how far the gaps let one steer, and where the head ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.plan.forecast import left_after
from straighten.plan.loss import MOST_OVERSHOOT
from straighten.plan.slack import gap_of, reading_sd
from straighten.plan.stages import ladder, path_of, shares_of, stage_noise
from straighten.shape.modes import INDEX

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.heat import RoofState
    from straighten.plan.forecast import Forecast
    from straighten.plan.records import Draws, PassSetup
    from straighten.plan.stages import Rung, Stages

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

ALIKE: Final = 16  # draws that a gap read after a stage does not tell apart, in the rough answer
READ_SEED: Final = 17


@dataclass(frozen=True, slots=True, kw_only=True)
class Steered:
    """A clamping steered by its ladder: `rungs`; shapes at its end `(n, 11)` [m]; the last stage done, draw by draw `(n,)`."""

    rungs: tuple[Rung, ...]
    after: Floats
    last: Whole


def roughly_steered(
    head: Head, seen: Forecast, setup: PassSetup, drawn: tuple[Draws, Floats], direction: int
) -> tuple[Floats, float]:
    """Return where every draw ends if the gaps tell its deck's answer, and the treatments given on average.

    Draws with nearly one answer of the deck cannot be told apart. For each such group the stage is chosen that brings its mean
    cam line nearest to straight while few of its draws go past.

    Args:
        head: limits.
        seen: the whole set, given in one go.
        setup: its treatments.
        drawn: the draws before, of equal weight, and their luck `(n, 12)`.
        direction: +1 where the middle comes down.

    Source: effect in proportion to the levers of the places heated (derived); a stand-in for `steered`.
    Valid: for ranking set-ups.
    """
    draws, noise = drawn
    assert seen.relaxed is not None  # noqa: S101 - the search always heats
    taken, shares = seen.relaxed.set_state, shares_of(head, setup.spots)
    if setup.soak is not None or len(shares) < 2:
        return seen.after, float(len(setup.spots))
    deck, cam = INDEX["deck_bow"], INDEX["cam_bow"]
    felt = taken[:, deck] * np.exp(draws.response.scatter * noise[:, 0])
    unread = reading_sd("middle") * np.random.default_rng(READ_SEED).standard_normal(len(felt))
    group = np.argsort(np.argsort(felt + 2 * unread)) // ALIKE
    ends = [left_after(draws.states, share * taken, draws.response, noise) for share, _ in shares]
    means, past = _by_group(
        direction * np.stack([end[:, cam] for end in ends]), group, head.limits.cam_line.value
    )
    off = np.where(past <= MOST_OVERSHOOT.value, np.abs(means), np.inf)
    off[0] = np.minimum(off[0], 1.0)  # the first stage is heated whatever comes
    chosen = np.argmin(off, axis=0)[group]
    counts = np.array([count for _, count in shares])
    return np.stack(ends)[chosen, np.arange(len(felt))], float(counts[chosen].mean())


def _by_group(cam: Floats, group: Whole, limit: float) -> tuple[Floats, Floats]:
    """Return mean cam bow and normal chance to stand past the limit, by stage and group of draws, `(stages, groups)`."""
    from scipy.special import ndtr

    size = np.bincount(group)
    means = np.stack([np.bincount(group, row) / size for row in cam])
    squares = np.stack([np.bincount(group, row**2) / size for row in cam])
    spread = np.sqrt(np.maximum(squares - means**2, 1e-12))
    return means, ndtr(-(limit + means) / spread)


def steered(head: Head, draws: Draws, stages: Stages, direction: int, past: RoofState) -> Steered:
    """Return the ladder of a clamping, and where the draws end that are steered by it.

    Args:
        head: blades and limits.
        draws: before the first stage, of equal weight.
        stages: the clamping.
        direction: +1 where the middle comes down.
        past: what earlier passes have left in the roof.

    Source: `ladder` at its word, every gap read with the error of a reading.
    Valid: as `ladder`.
    """
    count = draws.weights.size
    path = path_of(head, (draws.states, draws.response), stages, 0, stage_noise(count), past)
    rungs = ladder(head, path, draws.weights, stages, direction)
    luck = reading_sd("middle") * np.random.default_rng(READ_SEED).standard_normal((len(rungs), count))
    now, last = path[1].copy(), np.ones(count, dtype=np.intp)
    for rung, slip in zip(rungs, luck, strict=True):
        asked = _asked(rung, gap_of(head, stages.setup, now, "middle") + slip)
        for number in np.unique(asked[(last == rung.number) & (asked > 0)]).tolist():
            these = (last == rung.number) & (asked == number)
            now[these] += path[number][these] - path[number - 1][these]
            last[these] = number
    return Steered(rungs=rungs, after=now, last=last)


def _asked(rung: Rung, gap: Floats) -> Whole:
    """Return what a rung asks for at every gap; its lines stand from the widest down."""
    lines = rung.lines[::-1]
    bounds = np.array([line.goes or 0.0 for line in lines])
    at = np.maximum(np.searchsorted(bounds, gap, side="right") - 1, 0)
    return np.array([line.do for line in lines], dtype=np.intp)[at]
