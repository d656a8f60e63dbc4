"""The next pass: the set-up of least expected loss among those that can be built from what is owned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp import clamp_head, section_of
from straighten.errors import NoPlan, OutsideModel
from straighten.heat import HeatSpot
from straighten.plan.candidates import clamps, heats, overloaded
from straighten.plan.forecast import NOISE_SIZE, Forecast, forecast, heated, left_after
from straighten.plan.loss import Chances, chances, direction_of, shape_loss
from straighten.plan.records import Draws, PassSetup
from straighten.shape.modes import INDEX

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Head

    Floats = NDArray[np.float64]

TRIED_DRAWS: Final = 96
FIRST_PASS_OVER_BEND: Final = 0.25  # of the bow: the first pass is mild
LEAST_OVER_BEND: Final = 0.05e-3  # m: one blade is always allowed
FIRST_PASS_SHARE: Final = 0.75  # of the cam bow that a first pass may be expected to take
MOST_OVERSHOOT: Final = 0.05
TIME_LOSS: Final = 0.004  # per spot, and per tenth of an hour of soak: breaks ties towards less heat
SHOWN: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A set-up with its expected loss and chances on a few draws."""

    setup: PassSetup
    loss: float
    chances: Chances


@dataclass(frozen=True, slots=True, kw_only=True)
class PassPlan:
    """The pass chosen, its forecast over all draws, what it promises, and the next best set-ups."""

    setup: PassSetup
    forecast: Forecast
    chances: Chances
    direction: int
    runners_up: tuple[Candidate, ...]


def choose_pass(
    head: Head, draws: Draws, noise: Floats, *, passes_done: int = 0, used: Sequence[HeatSpot] = ()
) -> PassPlan:
    """Return the pass of least expected loss.

    Args:
        head: the head.
        draws: shape and response as believed.
        noise: standard normal numbers for the pass, `(n, 12)`.
        passes_done: the first pass is kept mild.
        used: spots of earlier passes, not heated again.

    Raises:
        NoPlan: no bolts in the middle, no fresh place to heat, or no set-up that keeps bolts and overshoot in bounds.

    Source:
        Expected loss (decision theory); mild first pass: common practice, no source.

    Valid:
        As the rooms `clamp` and `heat`.
    """
    direction = direction_of(draws.states, draws.weights)
    few, few_noise = _thin(draws, noise)
    found = []
    for seen, setup in _foreseen(head, few, few_noise, (direction, passes_done), used):
        if _too_soft(head, seen, setup):
            continue
        candidate = _judged(head, setup, seen, direction)
        if candidate.chances.overshoot <= MOST_OVERSHOOT and (passes_done or _is_mild(seen, direction)):
            found.append(candidate)
    if not found:
        raise NoPlan(
            "no set-up keeps the bolts under their load, the first pass mild and the chance of overshoot under 5 %",
            fix="Sand what is left, own a thinner shim blade, or use stronger studs.",
        )
    ranked = sorted(found, key=lambda candidate: candidate.loss)
    whole = forecast(head, draws, ranked[0].setup, noise)
    return PassPlan(
        setup=ranked[0].setup,
        forecast=whole,
        chances=chances(head, whole.after, draws.weights, direction),
        direction=direction,
        runners_up=tuple(_different(ranked)[1:]),
    )


def strongest_pass(head: Head, draws: Draws, *, used: Sequence[HeatSpot] = ()) -> PassSetup:
    """Return the pass that takes most off the bow: all fresh places, or the hottest soak, over the highest useful shims.

    Args:
        head: the head.
        draws: shape and response as believed.
        used: spots of earlier passes.

    Raises:
        NoPlan: nothing can be heated or pulled.

    Source:
        Common practice, no source.

    Valid:
        A bound for the stop decision, not a pass to print.
    """
    direction = direction_of(draws.states, draws.weights)
    few, quiet = _thin(draws, np.zeros((draws.weights.size, NOISE_SIZE)))
    name = INDEX["cam_bow"]
    found = [
        (direction * float(seen.weights @ seen.after[:, name]), number, setup)
        for number, (seen, setup) in enumerate(_foreseen(head, few, quiet, (direction, 1), used))
    ]
    if not found:
        raise NoPlan("no fresh place is left to heat, or no bolt carries the pull", where="spots")
    return min(found)[2]


def _foreseen(
    head: Head, draws: Draws, noise: Floats, way: tuple[int, int], used: Sequence[HeatSpot]
) -> Iterator[tuple[Forecast, PassSetup]]:
    """Yield every set-up that the bolts can hold, with what it does; the clamp is solved once for all its heats."""
    section = section_of(head)
    for clamp in clamps(head, draws, *way):
        try:
            clamped = clamp_head(head, draws.states, clamp, draws.response)
        except OutsideModel:
            continue
        if overloaded(head, section, clamp, clamped):
            continue
        for setup in heats(head, clamp, used):
            relaxed = heated(head, section, clamped, setup, draws.response)
            after = left_after(draws.states, relaxed.set_state, draws.response, noise)
            yield (
                Forecast(
                    before=draws.states, after=after, weights=draws.weights, clamped=clamped, relaxed=relaxed
                ),
                setup,
            )


def _thin(draws: Draws, noise: Floats) -> tuple[Draws, Floats]:
    """Return a few draws of equal weight, spread evenly along the weights."""
    count = min(TRIED_DRAWS, draws.weights.size)
    order = np.argsort(draws.states[:, INDEX["cam_bow"]])
    places = (np.arange(count) + 0.5) / count
    chosen = order[np.searchsorted(np.cumsum(draws.weights[order]), places).clip(0, draws.weights.size - 1)]
    few = Draws(
        states=draws.states[chosen], response=draws.response.take(chosen), weights=np.full(count, 1.0 / count)
    )
    return few, noise[:count]


def _judged(head: Head, setup: PassSetup, seen: Forecast, direction: int) -> Candidate:
    loss = float(seen.weights @ shape_loss(head, seen.after, direction))
    work = len(setup.spots) + (0.0 if setup.soak is None else setup.soak.hold / 360)
    return Candidate(
        setup=setup,
        loss=loss + TIME_LOSS * work,
        chances=chances(head, seen.after, seen.weights, direction),
    )


def _too_soft(head: Head, seen: Forecast, setup: PassSetup) -> bool:
    """Whether a soak is expected to leave the hardness under the reject line; spots soften their own small places only."""
    if setup.soak is None or seen.relaxed is None:
        return False
    return (
        float(np.median(np.atleast_2d(seen.relaxed.hardness_after)[:, 0]))
        < head.thresholds.hardness_reject.value
    )


def _is_mild(seen: Forecast, direction: int) -> bool:
    """Whether a first pass over-bends little and is expected to take no more than its share of the bow."""
    assert seen.clamped is not None  # noqa: S101 - the search always clamps
    deck = abs(float(seen.weights @ seen.before[:, INDEX["deck_bow"]]))
    over = float(seen.weights @ np.abs(np.maximum(seen.clamped.over_bend, 0.0)))
    if over > max(FIRST_PASS_OVER_BEND * deck, LEAST_OVER_BEND):
        return False
    before = direction * float(seen.weights @ seen.before[:, INDEX["cam_bow"]])
    after = direction * float(seen.weights @ seen.after[:, INDEX["cam_bow"]])
    return before <= 0 or before - after <= FIRST_PASS_SHARE * before


def _different(ranked: list[Candidate]) -> list[Candidate]:
    """Return the best ones that differ in shims, in the bolts that pull or in the heat."""
    kept: list[Candidate] = ranked[:1]
    for candidate in ranked[1:]:
        if all(_kind(candidate) != _kind(other) for other in kept):
            kept.append(candidate)
        if len(kept) == SHOWN:
            break
    return kept


def _kind(candidate: Candidate) -> tuple[object, ...]:
    clamp = candidate.setup.clamp
    pull = None if clamp is None else (clamp.shims, clamp.bolts)
    return (pull, len(candidate.setup.spots), candidate.setup.soak)
