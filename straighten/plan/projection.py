"""If one goes on like this: the bow after each of the coming passes, each measured and as foretold."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.errors import NoPlan, OutsideModel
from straighten.plan.forecast import NOISE_SIZE
from straighten.plan.loss import Chances, chances
from straighten.plan.records import UNTOUCHED, Done
from straighten.plan.search import TRIED_DRAWS, choose_pass
from straighten.quantiles import spread_along
from straighten.shape.modes import INDEX
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.plan.alternatives import PassPlan
    from straighten.plan.records import Draws

    Floats = NDArray[np.float64]

PROJECTED_PASSES: Final = 3
SURVEYED: Final = Cited(
    {"deck_bow": 12e-6, "cam_bow": 20e-6},
    "m",
    "standard deviation of a bow by blades and straightedge",
    "derived",
)
ENOUGH: Final = Cited(
    0.7, "", "chance that sanding ends the job, at which one measures and stops heating", "assumed"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """After `passes` more passes: shapes `(n, 11)` [m], weights `(n,)`, chances."""

    passes: int
    states: Floats
    weights: Floats
    chances: Chances


def project(
    head: Head,
    plan: PassPlan,
    rng: np.random.Generator,
    *,
    done: Done = UNTOUCHED,
) -> tuple[Stage, ...]:
    """Return what is expected after the planned pass and after each one that would follow.

    Each following pass is the best of a coarse grid, chosen after the pass before it went as foretold and was measured:
    so the later ranges are on the narrow side. It ends where the head is likely inside its limits, where nothing helps
    any more, or after three passes.

    Args:
        head: the head.
        plan: the pass planned.
        rng: gives the luck of the passes.
        done: earlier passes.

    Source: The forward model, pass after pass (derived).
    """
    few = replace(plan.draws, states=plan.forecast.after)
    stages = [_stage(head, 1, few, plan.direction)]
    done = done.and_then(plan.setup)
    for number in range(2, min(PROJECTED_PASSES, head.thresholds.most_passes.value - done.passes + 1) + 1):
        if stages[-1].chances.done >= ENOUGH.value:
            break
        noise = rng.standard_normal((few.weights.size, NOISE_SIZE))
        few = _as_measured(few)
        try:
            following = choose_pass(head, few, noise, done=done, finer=False)
        except (NoPlan, OutsideModel):
            break
        few = replace(following.draws, states=following.forecast.after)
        done = done.and_then(following.setup)
        stages.append(_stage(head, number, few, plan.direction))
    return tuple(stages)


def _as_measured(draws: Draws) -> Draws:
    """Return few draws, of those near the middle of both bows: what a survey leaves where all went as foretold."""
    far = np.zeros(draws.weights.size)
    for name, sd in SURVEYED.value.items():
        column = draws.states[:, INDEX[name]]
        far += ((column - draws.weights @ column) / sd) ** 2
    near = draws.weights * np.exp(-0.5 * far)
    return draws.even(spread_along(near / near.sum(), min(draws.weights.size, TRIED_DRAWS)))


def _stage(head: Head, passes: int, draws: Draws, direction: int) -> Stage:
    return Stage(
        passes=passes,
        states=draws.states,
        weights=draws.weights,
        chances=chances(head, draws.states, draws.weights, direction),
    )
