"""The next pass: the set-up of least expected loss among those that can be built from what is owned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp import ClampSetup
from straighten.errors import NoPlan, OutsideModel
from straighten.heat import HeatSpot, Soak
from straighten.plan.forecast import NOISE_SIZE, Forecast, forecast
from straighten.plan.loss import Chances, chances, direction_of, shape_loss
from straighten.plan.records import Draws, PassSetup
from straighten.plan.spots import spot_sets
from straighten.plan.stacks import stacks
from straighten.shape.modes import INDEX

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Head

    Floats = NDArray[np.float64]

TRIED_DRAWS: Final = 96
SHIM_SHARES: Final = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0)  # shim heights tried, over the bow
MOST_SHIMS: Final = 3.0
FIRST_PASS_OVER_BEND: Final = 0.25  # of the bow: the first pass is mild
FIRST_PASS_SHARE: Final = 0.75  # of the cam bow that a first pass may be expected to take
MOST_OVERSHOOT: Final = 0.05
TIME_LOSS: Final = 0.004  # per spot, and per tenth of an hour of soak: breaks ties towards less heat
OVEN_STEP: Final = 10.0


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
        NoPlan: no bolts in the middle, no fresh place to heat, or no set-up that the clamp can hold.

    Source:
        Expected loss (decision theory); mild first pass: common practice, no source.

    Valid:
        As the rooms `clamp` and `heat`.
    """
    direction = direction_of(draws.states, draws.weights)
    few, few_noise = _thin(draws, noise)
    found = [
        candidate
        for clamp in _clamps(head, few, direction, passes_done)
        for candidate in _heated(head, few, few_noise, (clamp, direction, passes_done), used)
    ]
    if not found:
        raise NoPlan(
            "no set-up keeps the first pass mild and the chance of overshoot under 5 %",
            fix="Sand what is left, or own a thinner shim blade.",
        )
    ranked = sorted(found, key=lambda candidate: candidate.loss)
    best = ranked[0]
    whole = forecast(head, draws, best.setup, noise)
    return PassPlan(
        setup=best.setup,
        forecast=whole,
        chances=chances(head, whole.after, draws.weights, direction),
        direction=direction,
        runners_up=tuple(_different(ranked)),
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
    few, few_noise = _thin(draws, np.zeros((draws.weights.size, NOISE_SIZE)))
    clamp = _clamps(head, few, direction, 1)[-1]
    heats = _heats(head, clamp, used)
    if not heats:
        raise NoPlan("no fresh place is left to heat", where="spots")
    name = INDEX["cam_bow"]

    def left(setup: PassSetup) -> float:
        seen = forecast(head, few, setup, few_noise)
        return direction * float(seen.weights @ seen.after[:, name])

    return min(heats, key=left)


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


def middle_bolts(head: Head) -> tuple[int, ...]:
    """Return the numbers of the bolts nearest to the middle, both sides.

    Raises:
        NoPlan: no pair of bolts within the middle third.
    """
    middle = head.casting.length / 2
    usable = [(abs(b.station - middle), number) for number, b in enumerate(head.bolts) if not b.stretch]
    if not usable or min(usable)[0] > head.casting.length / 6:
        raise NoPlan(
            "no clamp bolt within the middle third of the head",
            where="bolts",
            fix="Stretch bolts do not count.",
        )
    nearest = min(usable)[0]
    return tuple(number for distance, number in usable if distance <= nearest + 2e-3)


def _clamps(head: Head, draws: Draws, direction: int, passes_done: int) -> list[ClampSetup]:
    """Return the clamp set-ups worth trying: shim heights up to a multiple of the bow, middle pulled to the base.

    A plate bends under the pull, so that the over-bend comes out smaller than the shims: the mildness of a first
    pass is judged on the over-bend itself, later.
    """
    bow = max(
        abs(float(draws.weights @ draws.states[:, INDEX["deck_bow"]])),
        abs(float(draws.weights @ draws.states[:, INDEX["cam_bow"]])),
    )
    most = 1.0 if passes_done == 0 else MOST_SHIMS
    heights = np.array(list(stacks(head)))
    wanted = {
        float(heights[np.argmin(np.abs(heights - share * bow))]) for share in SHIM_SHARES if share <= most
    }
    small = [float(h) for h in heights if 0 < h <= max(most * bow, 1e-4)]
    bolts = middle_bolts(head)
    return [
        ClampSetup(shims=(t, t, t, t), bolts=bolts, gap=0.0, reverse=direction < 0)
        for t in sorted(wanted | set(small[:2]))
    ]


def _heated(
    head: Head, draws: Draws, noise: Floats, way: tuple[ClampSetup, int, int], used: Sequence[HeatSpot]
) -> list[Candidate]:
    clamp, direction, passes_done = way
    found = []
    for setup in _heats(head, clamp, used):
        try:
            seen = forecast(head, draws, setup, noise)
        except OutsideModel:
            continue
        candidate = _judged(head, setup, seen, direction)
        if candidate.chances.overshoot <= MOST_OVERSHOOT and (passes_done or _is_mild(seen, direction)):
            found.append(candidate)
    return found


def _heats(head: Head, clamp: ClampSetup, used: Sequence[HeatSpot]) -> list[PassSetup]:
    """Return the heats that may go with a clamp set-up."""
    heats: list[PassSetup] = []
    if head.torch is not None:
        heats += [PassSetup(clamp=clamp, spots=spots) for spots in spot_sets(head, used)]
    if head.oven is not None:
        heats += [PassSetup(clamp=clamp, soak=soak) for soak in _soaks(head)]
    return heats


def _soaks(head: Head) -> list[Soak]:
    oven = head.oven
    assert oven is not None  # noqa: S101 - the caller has looked
    temperatures = np.arange(160.0, oven.hottest + 0.1, OVEN_STEP)
    holds = [h * 3600.0 for h in (1, 2, 3, 4, 6, 8) if h * 3600.0 <= oven.longest]
    return [Soak(temperature=float(t), hold=hold) for t in temperatures for hold in holds]


def _judged(head: Head, setup: PassSetup, seen: Forecast, direction: int) -> Candidate:
    loss = float(seen.weights @ shape_loss(head, seen.after, direction))
    work = len(setup.spots) + (0.0 if setup.soak is None else setup.soak.hold / 360)
    return Candidate(
        setup=setup,
        loss=loss + TIME_LOSS * work,
        chances=chances(head, seen.after, seen.weights, direction),
    )


def _is_mild(seen: Forecast, direction: int) -> bool:
    """Whether a first pass over-bends little and is expected to take no more than its share of the bow."""
    assert seen.clamped is not None  # noqa: S101 - the search always clamps
    deck = abs(float(seen.weights @ seen.before[:, INDEX["deck_bow"]]))
    over = float(seen.weights @ np.abs(np.maximum(seen.clamped.over_bend, 0.0)))
    if over > max(FIRST_PASS_OVER_BEND * deck, 0.05e-3):
        return False
    before = direction * float(seen.weights @ seen.before[:, INDEX["cam_bow"]])
    after = direction * float(seen.weights @ seen.after[:, INDEX["cam_bow"]])
    return before <= 0 or before - after <= FIRST_PASS_SHARE * before


def _different(ranked: list[Candidate]) -> list[Candidate]:
    """Return the best two after the first that differ from it in shims or in the number of spots."""
    kept: list[Candidate] = ranked[:1]
    for candidate in ranked[1:]:
        if all(_kind(candidate) != _kind(other) for other in kept):
            kept.append(candidate)
        if len(kept) == 3:
            break
    return kept[1:]


def _kind(candidate: Candidate) -> tuple[object, ...]:
    setup = candidate.setup
    shims = None if setup.clamp is None else setup.clamp.shims
    return (shims, len(setup.spots), setup.soak)
