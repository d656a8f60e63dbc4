"""Stages in one clamping: which treatments belong together, what each leaves, and the ladder worked out beforehand.

After a stage the roof cools and the middle nuts are slackened: the head lies on its shims as on a straightedge of its
own. Which stage comes next is chosen from the draws weighted with the blades that may be found then.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp import clamp_head, section_of
from straighten.heat import FRESH, work_sets
from straighten.plan.forecast import NOISE_SIZE, heated, left_after
from straighten.plan.loss import MOST_OVERSHOOT, TIME_LOSS, losses, settled
from straighten.quantiles import spread_along
from straighten.shape.modes import INDEX
from straighten.sobol import sobol_normal
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.heat import Response, RoofState, Treatment
    from straighten.plan.records import Draws, PassSetup

    Floats = NDArray[np.float64]

MOST_STAGES: Final = 5
FIRST_SHARE: Final = Cited(
    0.25, "", "of the effect of the planned treatments falls to the first stage", "assumed"
)
STAGE_SEED: Final = 53
STAGE_DRAWS: Final = 1024  # draws that go through the stages: the belief's own, evenly along the bow
STAGE_PAUSE: Final = (
    600.0  # s from the end of one stage to the start of the next: cool, slacken, read, tighten
)
ONE_HAND: Final = Cited(
    0.7,
    "",
    "of the variance from pass to pass lies with the clamping: one hand, flame and day for all its stages",
    "assumed",
)
SAME_STATION: Final = 1e-3  # m
STOP: Final = 0  # no further stage
READ_AGAIN: Final = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Stages:
    """A clamping in stages: `setup` with every treatment in its order, `ends` how many of them are done after each stage, `planned` how many of them the plan itself has; those after are in reserve."""

    setup: PassSetup
    ends: tuple[int, ...]
    planned: int

    def treatments(self, number: int) -> range:
        """Return which treatments stage `number` (from 1) has, counted from 0."""
        return range(self.ends[number - 2] if number > 1 else 0, self.ends[number - 1])

    def stage(self, number: int) -> PassSetup:
        """Return the set-up of one stage."""
        part = self.treatments(number)
        return replace(self.setup, spots=self.setup.spots[part.start : part.stop])

    def with_done(self, done: Sequence[PassSetup]) -> Stages:
        """Return it with what was really done in the first stages in place of what was planned there."""
        spots = [setup.spots for setup in done]
        left = self.setup.spots[self.ends[len(done) - 1] :] if done else self.setup.spots
        behind = tuple(sum(map(len, spots[: k + 1])) for k in range(len(done)))
        moved = (behind[-1] - self.ends[len(done) - 1]) if done else 0
        return Stages(
            setup=replace(self.setup, spots=(*(s for some in spots for s in some), *left)),
            ends=(*behind, *(end + moved for end in self.ends[len(done) :])),
            planned=max(self.planned + moved, 0),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """What lies ahead after a stage, draw by draw: standing in the first row, then each stage of `numbers` done next.

    `loss` in passes, `past` and `inside` as 0 and 1, `cam_out` of the limits; `(1 + stages, n)` each.
    """

    numbers: tuple[int, ...]
    loss: Floats
    past: Floats
    inside: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Next:
    """What to do after a reading: `do` as in `IfLine`; chance to go `past` straight and to be `inside` both limits after it."""

    do: int
    past: float
    inside: float


def stages_of(head: Head, setup: PassSetup) -> Stages | None:
    """Return a pass in stages, all of it planned; None where it has no stages.

    Args:
        head: the head.
        setup: the pass; only spots over shims at the ends have stages.

    Source: Common practice of three heats, the first mild (no source).
    Valid: Treatments of about one strength; both sides of a station are heated in one stage.
    """
    if setup.clamp is None or setup.clamp.reverse or setup.soak is not None or not setup.spots:
        return None
    order = _units(setup.spots)
    sizes = _sizes(_levers(head, order))
    if len(sizes) < 2:  # nothing is left to decide after the first
        return None
    ends = tuple(sum(len(unit) for unit in order[:bound]) for bound in np.cumsum(sizes).tolist())
    moved = _apart(tuple(spot for unit in order for spot in unit), ends)
    return Stages(setup=replace(setup, spots=moved), ends=ends, planned=len(moved))


def shares_of(head: Head, spots: Sequence[Treatment]) -> list[float]:
    """Return which share of a set's effect is reached after each stage, by the levers.

    Args:
        head: the head.
        spots: the set.

    Source: the kink of a place moves the middle by its distance from the nearer end (beam).
    Valid: treatments of about one strength.
    """
    order = _units(spots)
    levers = _levers(head, order)
    reached = np.cumsum(levers) / sum(levers)
    return [float(reached[last]) for last in np.cumsum(_sizes(levers)) - 1]


def _levers(head: Head, units: Sequence[Sequence[Treatment]]) -> list[float]:
    """Return how far each unit is from the nearer end [m]."""
    middle = head.casting.length / 2
    return [middle - abs(unit[0].station - middle) for unit in units]


def stage_draws(draws: Draws, count: int) -> NDArray[np.intp]:
    """Return which draws stand for all of them, each with one weight, evenly along the bow of the deck.

    Args:
        draws: weighted.
        count: how many.

    Source: systematic resampling (derived).
    Valid: any draws.
    """
    order = np.argsort(draws.states[:, INDEX["deck_bow"]], kind="stable")
    return order[spread_along(draws.weights[order], count)]


def draws_told(draws: Draws) -> Draws:
    """Return the draws on which the chosen pass is foretold, the same that go through its stages.

    Source: `stage_draws`.
    Valid: any draws.
    """
    if draws.weights.size <= STAGE_DRAWS:
        return draws
    return draws.even(stage_draws(draws, STAGE_DRAWS))


@lru_cache(maxsize=8)
def stage_noise(count: int) -> Floats:
    """Return one sheet of standard normal numbers for every stage of a clamping, `(stages, count, 12)`.

    Args:
        count: draws.

    Source: Sobol points, a seed a stage; the first number, a stage's own factor, is for the most part the clamping's.
    Valid: The same for card and command, so that both say the same.
    """
    sheets = np.stack([sobol_normal(count, NOISE_SIZE, STAGE_SEED + k) for k in range(MOST_STAGES + 1)])
    common, own = math.sqrt(ONE_HAND.value), math.sqrt(1 - ONE_HAND.value)
    sheets[:-1, :, 0] = common * sheets[-1, :, 0] + own * sheets[:-1, :, 0]
    return sheets[:-1]


def _units(spots: Sequence[Treatment]) -> list[list[Treatment]]:
    """Return the treatments with both sides of a station together, in the order of the first of them."""
    units: list[list[Treatment]] = []
    for spot in spots:
        same = [unit for unit in units if abs(unit[0].station - spot.station) < SAME_STATION]
        if same:
            same[0].append(spot)
        else:
            units.append([spot])
    return units


def _sizes(levers: Sequence[float]) -> tuple[int, ...]:
    """Return how many units each stage has: a mild first one, the others alike, the larger ones first."""
    shares = np.cumsum(levers) / sum(levers)
    first = int(np.argmin(np.abs(shares - FIRST_SHARE.value))) + 1
    left = len(levers) - first
    count = min(MOST_STAGES - 1, (left + 1) // 2 if left > 2 else left)
    base, more = divmod(left, count) if count else (0, 0)
    return (first, *(base + (1 if k < more else 0) for k in range(count)))


def _apart(spots: tuple[Treatment, ...], ends: tuple[int, ...]) -> tuple[Treatment, ...]:
    """Return the treatments with the stages so far apart in time that the roof has cooled between them."""
    moved: list[Treatment] = []
    begin, first = 0.0, 0
    for end in ends:
        clock = begin
        for before, spot in zip((None, *spots[first:end]), spots[first:end], strict=False):
            pause = 0.0 if before is None else max(spot.start - before.start - before.dwell, 0.0)
            moved.append(replace(spot, start=clock + pause))
            clock = moved[-1].start + spot.dwell
        begin, first = clock + STAGE_PAUSE, end
    return tuple(moved)


def after_stage(
    head: Head,
    draws: tuple[Floats, Response],
    done: PassSetup,
    before: PassSetup | None,
    noise: Floats,
    past: RoofState = FRESH,
) -> Floats:
    """Return the shapes after one stage [m], `(n, 11)`.

    What the stage's treatments add is what all treatments so far leave less what the earlier ones alone leave, both in
    the clamp of this stage: so earlier places shield and strain their neighbours as within one pass.

    Args:
        head: the head.
        draws: shapes before the stage and responses.
        done: the clamp with all treatments up to the end of the stage.
        before: the same with those before it alone; None where there are none.
        noise: standard normal numbers `(n, 12)`.
        past: what earlier passes have left in the roof.

    Source: `plan.forecast`; derived.
    Valid: As there; the head is clamped again to the same gap for every stage.
    """
    states, response = draws
    assert done.clamp is not None  # noqa: S101 - stages are clamped
    section = section_of(head)
    clamped = clamp_head(head, states, done.clamp, response)
    whole = heated(head, section, clamped, done, response, past)
    taken = whole.set_state
    if before is not None and before.spots:
        taken = taken - heated(head, section, clamped, before, response, past).set_state
    return left_after(states, taken, response, noise, whole.again)


def path_of(
    head: Head,
    draws: tuple[Floats, Response],
    stages: Stages,
    begun: int,
    noise: Floats,
    past: RoofState = FRESH,
) -> list[Floats]:
    """Return the shapes now and after each stage that is left [m].

    Args:
        head: the head.
        draws: shapes now and responses.
        stages: the clamping.
        begun: stages behind.
        noise: `(stages, n, 12)`, one sheet for every stage of the clamping.
        past: what earlier passes have left in the roof.

    Source: `after_stage`.
    """
    found, response = [draws[0]], draws[1]
    work_sets(head, section_of(head), [stages.setup.spots])
    for number in range(begun + 1, len(stages.ends) + 1):
        whole = replace(stages.setup, spots=stages.setup.spots[: stages.ends[number - 1]])
        part = replace(stages.setup, spots=stages.setup.spots[: stages.treatments(number).start])
        found.append(after_stage(head, (found[-1], response), whole, part, noise[number - 1], past))
    return found


def ahead(
    head: Head, path: Sequence[Floats], numbers: Sequence[int], stages: Stages, direction: int
) -> Ahead:
    """Return what standing, and doing any of the stages left, would give.

    Args:
        head: limits.
        path: shapes now and after each stage left, in order.
        numbers: the stages left.
        stages: the clamping.
        direction: +1 where the middle comes down.

    Source: `plan.loss`; a stage that is brought forward takes what it takes in its own place (derived).
    Valid: Small changes from stage to stage.
    """
    even = np.full(len(path[0]), 1.0 / len(path[0]))
    reached = [path[0], *(path[0] + path[k + 1] - path[k] for k in range(len(numbers)))]
    work = [0, *(len(stages.treatments(n)) for n in numbers)]
    calm = np.stack([settled(states, even) for states in reached])
    cost = losses(head, calm.reshape(-1, calm.shape[-1]), direction)
    past = direction * calm[:, :, INDEX["cam_bow"]] < -head.limits.cam_line.value
    return Ahead(
        numbers=tuple(numbers),
        loss=cost.loss.reshape(past.shape) + TIME_LOSS.value * np.array(work)[:, None],
        past=past.astype(float),
        inside=cost.inside.reshape(past.shape).astype(float),
    )


def choose(found: Ahead, before: Floats, weights: Floats, wide: NDArray[np.bool_]) -> list[Next]:
    """Return what to do under each row of weights `(m, n)`: the next stage in order that gains and keeps the bound of overshoot.

    A stage that gains before its gap is read gains where less came down than expected, too.

    Args:
        found: what lies ahead.
        before: weights before the gap is read `(n,)`, that sum to one.
        weights: rows that sum to one, one for each gap that may be read.
        wide: rows `(m,)` whose gap is wider than expected.

    Source: Least expected loss; `search.MOST_OVERSHOOT`.
    Valid: One stage ahead; the reading after it decides again.
    """
    usual = found.loss @ before
    loss, past, inside = (weights @ part.T for part in (found.loss, found.past, found.inside))
    chosen = []
    for row in range(len(weights)):
        gains = (loss[row, 1:] < loss[row, 0]) | (wide[row] & (usual[1:] < usual[0]))
        fit = (past[row, 1:] <= MOST_OVERSHOOT.value) & gains
        at = int(np.argmax(fit)) + 1 if fit.any() else 0
        do = found.numbers[at - 1] if at else STOP
        chosen.append(Next(do=do, past=float(past[row, at]), inside=float(inside[row, at])))
    return chosen
