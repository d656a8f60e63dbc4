"""A clamping in stages as it is weighed before the first flame: how far the gaps let one steer, and where the head ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.plan.forecast import left_after
from straighten.plan.rungs import ladder
from straighten.plan.slack import gap_of, reading_sd
from straighten.plan.stages import path_of, shares_of, stage_noise
from straighten.shape.modes import INDEX

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.heat import Response, RoofState
    from straighten.plan.forecast import Forecast
    from straighten.plan.records import Draws
    from straighten.plan.rungs import Rung
    from straighten.plan.stages import Stages

    Floats = NDArray[np.float64]
    Whole = NDArray[np.intp]

READ_SEED: Final = 17


@dataclass(frozen=True, slots=True, kw_only=True)
class Steered:
    """A clamping steered by its ladder: `rungs`; shapes at its end `(n, 11)` [m]; the last stage done, draw by draw `(n,)`."""

    rungs: tuple[Rung, ...]
    after: Floats
    last: Whole


def rough_path(head: Head, seen: Forecast, stages: Stages, response: Response) -> list[Floats]:
    """Return the shapes before and after each stage [m], from what the whole set gives in one go.

    Args:
        head: the head.
        seen: the whole set, given in one go.
        stages: the clamping.
        response: of the draws.

    Source: effect in proportion to the levers of the places heated (derived); a stand-in for `stages.path_of`.
    Valid: for ranking set-ups.
    """
    assert seen.relaxed is not None  # noqa: S101 - the search always heats
    reached = shares_of(head, stages.setup.spots)
    path = [seen.before]
    for before, share, sheet in zip((0.0, *reached), reached, stage_noise(len(seen.before)), strict=False):
        part = (share - before) * seen.relaxed.set_state
        path.append(left_after(path[-1], part, response, sheet, seen.relaxed.again))
    return path


def past_after_first(head: Head, path: Sequence[Floats], direction: int) -> float:
    """Return the chance that the first stage, which nothing can steer, goes past straight by more than the limit.

    Source: counts of draws of equal weight.
    Valid: any path.
    """
    return float(np.mean(direction * path[1][:, INDEX["cam_bow"]] < -head.limits.cam_line.value))


def steered(head: Head, path: Sequence[Floats], stages: Stages, direction: int) -> Steered:
    """Return the ladder of a clamping, and where the draws end that are steered by it.

    Args:
        head: blades and limits.
        path: shapes before and after each stage, draws of equal weight.
        stages: the clamping.
        direction: +1 where the middle comes down.

    Source: `ladder` obeyed, every gap read with the error of a reading.
    Valid: as `ladder`.
    """
    count = len(path[0])
    rungs = ladder(head, path, np.full(count, 1 / count), stages, direction)
    luck = reading_sd("middle") * np.random.default_rng(READ_SEED).standard_normal((len(rungs), count))
    now, last = path[1].copy(), np.ones(count, dtype=np.intp)
    for rung, slip in zip(rungs, luck, strict=True):
        asked = _asked(rung, gap_of(head, stages.setup, now, "middle") + slip)
        for number in np.unique(asked[(last == rung.number) & (asked > 0)]).tolist():
            these = (last == rung.number) & (asked == number)
            now[these] += path[number][these] - path[number - 1][these]
            last[these] = number
    return Steered(rungs=rungs, after=now, last=last)


def steered_by_gaps(head: Head, draws: Draws, stages: Stages, direction: int, past: RoofState) -> Steered:
    """Return a clamping as card and log foretell it: every stage by the physics, steered by its ladder.

    Args:
        head: blades and limits.
        draws: before it, of equal weight.
        stages: the clamping.
        direction: +1 where the middle comes down.
        past: what earlier passes have left in the roof.

    Source: `stages.path_of`, `steered`.
    Valid: as there.
    """
    path = path_of(head, (draws.states, draws.response), stages, 0, stage_noise(draws.weights.size), past)
    return steered(head, path, stages, direction)


def _asked(rung: Rung, gap: Floats) -> Whole:
    """Return what a rung asks for at every gap; its lines stand from the widest down."""
    lines = rung.lines[::-1]
    bounds = np.array([line.goes or 0.0 for line in lines])
    at = np.maximum(np.searchsorted(bounds, gap, side="right") - 1, 0)
    return np.array([line.do for line in lines], dtype=np.intp)[at]
