"""The next pass: the set-up of least expected loss among those that can be built from what is owned."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp import clamp_each, section_of
from straighten.errors import NoPlan, OutsideModel
from straighten.heat import work_sets
from straighten.plan.alternatives import Candidate, PassPlan, different
from straighten.plan.candidates import clamps, finer_clamps, finer_heats, heats, overloaded
from straighten.plan.forecast import NOISE_SIZE, Forecast, forecast, heated, left_after, roof_believed
from straighten.plan.loss import (
    MOST_OVERSHOOT,
    TIME_LOSS,
    chances,
    direction_of,
    settled,
    shape_loss,
)
from straighten.plan.records import UNTOUCHED, Done, Draws, PassSetup
from straighten.plan.stages import STAGE_DRAWS, stage_draws, stages_of
from straighten.plan.steering import past_after_first, rough_path, steered, steered_by_gaps
from straighten.quantiles import spread_along
from straighten.shape.modes import INDEX
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from straighten.clamp import Clamped, ClampSetup
    from straighten.head.records import Head
    from straighten.heat import RoofState
    from straighten.plan.rungs import Rung

    Floats = NDArray[np.float64]

TRIED_DRAWS: Final = 256
QUICK_DRAWS: Final = 48  # where only the rough way is asked
FIRST_PASS_OVER_BEND: Final = Cited(
    0.25,
    "of the bow",
    "over-bend of a first pass, which measures what the head keeps",
    "common practice, no source",
)
LEAST_OVER_BEND: Final = 0.05e-3  # m: one blade is always allowed
FIRST_PASS_SHARE: Final = Cited(
    0.90, "of the bow", "a first pass is expected to take no more", "common practice, no source"
)
WORTH_IT: Final = Cited(0.02, "passes", "a pass that is expected to gain less is not planned", "assumed")
FINER_ABOUT: Final = 2  # set-ups about which finer ones are tried


@dataclass(frozen=True, slots=True, kw_only=True)
class _Question:
    """What is asked: the head, a few draws with their noise, which way, what was done before and what it left in the roof."""

    head: Head
    draws: Draws
    noise: Floats
    direction: int
    done: Done
    past: RoofState


def choose_pass(
    head: Head,
    draws: Draws,
    noise: Floats,
    *,
    done: Done = UNTOUCHED,
    finer: bool = True,
) -> PassPlan:
    """Return the pass of least expected loss.

    First a grid of shims and heats, four corners alike; then, about the best of them, a blade more or less, a gap
    left in the middle, fewer bolts, unlike ends or corners, and spots centred towards one end.

    Args:
        head: the head.
        draws: shape and response as believed.
        noise: standard normal numbers for the pass, `(n, 12)`.
        done: earlier passes: the first is kept mild, places keep what they hold, soaks add up.
        finer: look about the best set-ups of the grid as well.

    Raises:
        NoPlan: no bolts in the middle, no fresh place to heat, no set-up that keeps bolts and overshoot in bounds, or
            none that is expected to leave the head better.

    Source:
        Expected loss (decision theory); mild first pass: common practice, no source.

    Valid:
        As the rooms `clamp` and `heat`.
    """
    direction = direction_of(draws.states, draws.weights)
    few, few_noise = thinned(draws, noise, TRIED_DRAWS if finer else QUICK_DRAWS)
    past = roof_believed(head, draws, done)
    ask = _Question(head=head, draws=few, noise=few_noise, direction=direction, done=done, past=past)
    ranked = _ranked(ask, finer=finer)
    told = draws_told(draws)
    whole = replace(ask, draws=told, noise=noise[: told.weights.size])
    bound = 1.0  # what went past straight too often on all draws is followed by nothing that did so on few
    for place, candidate in enumerate(ranked):
        if candidate.chances.overshoot >= bound:
            continue
        try:
            plan = _foretold(whole, candidate)
        except OutsideModel:  # a draw among all of them that the clamp cannot hold
            continue
        if plan.chances.overshoot <= MOST_OVERSHOOT.value:  # a few draws may miss what more of them show
            return replace(plan, runners_up=tuple(different(candidate, ranked[place:])))
        bound = candidate.chances.overshoot or bound
    raise NoPlan(
        "no set-up keeps clamp and overshoot in bounds for all that is believed",
        fix="Measure again; the shape is not known well.",
    )


def _foretold(ask: _Question, candidate: Candidate) -> PassPlan:
    """Return a set-up as a plan: steered by its ladder where it has stages."""
    head, draws = ask.head, ask.draws
    stages, setup, after = stages_of(head, candidate.setup), candidate.setup, None
    rungs: tuple[Rung, ...] = ()
    if stages is not None:
        way = steered_by_gaps(head, draws, stages, ask.direction, ask.past)
        stages = replace(stages, planned=stages.ends[int(np.median(way.last)) - 1])
        setup = replace(setup, spots=stages.setup.spots[: stages.planned])
        rungs, after = way.rungs, way.after
    seen = forecast(head, draws, setup, ask.noise, ask.past)
    seen = seen if after is None else replace(seen, after=after)
    return PassPlan(
        draws=draws,
        setup=setup,
        forecast=seen,
        chances=chances(head, seen.after, draws.weights, ask.direction),
        direction=ask.direction,
        best=candidate,
        runners_up=(),
        stages=stages,
        rungs=rungs,
    )


def strongest_pass(head: Head, draws: Draws, *, done: Done = UNTOUCHED) -> PassSetup:
    """Return the pass that takes most off the bow: all fresh places, or the hottest soak, over the highest useful shims.

    Args:
        head: the head.
        draws: shape and response as believed.
        done: earlier passes.

    Raises:
        NoPlan: nothing can be heated or pulled.

    Source:
        Common practice, no source.

    Valid:
        A bound for the stop decision, not a pass to print.
    """
    direction = direction_of(draws.states, draws.weights)
    few, quiet = thinned(draws, np.zeros((draws.weights.size, NOISE_SIZE)), TRIED_DRAWS)
    ask = _Question(
        head=head,
        draws=few,
        noise=quiet,
        direction=direction,
        done=replace(done, passes=max(done.passes, 1)),
        past=roof_believed(head, draws, done),
    )
    name = INDEX["cam_bow"]
    grid = clamps(head, few, direction, 1)
    everything = list(_foreseen(ask, grid))
    found = [
        (direction * float(seen.weights @ seen.after[:, name]), number, setup)
        for number, (seen, setup) in enumerate(everything)
        if not _too_soft(head, seen, setup)
    ]
    if not found:
        why = "every soak would cost more hardness than the head may lose"
        raise NoPlan(why if everything else _nothing_to_do(ask, grid), where="spots")
    return min(found)[2]


def thinned(draws: Draws, noise: Floats, count: int) -> tuple[Draws, Floats]:
    """Return a few draws of equal weight, spread evenly along the weights, with noise spread evenly along a pass's luck.

    Source:
        Systematic resampling along the cam bow (derived).

    Valid:
        Any draws.
    """
    count = min(count, draws.weights.size)
    order = np.argsort(draws.states[:, INDEX["cam_bow"]])
    chosen = order[spread_along(draws.weights[order], count)]
    ranks = np.argsort(noise[:, 0])[((np.arange(count) + 0.5) * len(noise) / count).astype(np.intp)]
    return draws.even(chosen), noise[np.random.default_rng(count).permutation(ranks)]


def draws_told(draws: Draws) -> Draws:
    """Return the draws on which the chosen pass is foretold, the same that go through its stages.

    Source: `stage_draws`.
    Valid: any draws.
    """
    if draws.weights.size <= STAGE_DRAWS:
        return draws
    return draws.even(stage_draws(draws, STAGE_DRAWS))


def _nothing_to_do(ask: _Question, grid: Sequence[ClampSetup]) -> str:
    """Say why nothing could be tried: no heat to give, or no clamp that holds."""
    if any(heats(ask.head, clamp, ask.done, _line(ask)) for clamp in grid):
        return "no bolts carry the pull that this bow asks for"
    if ask.direction < 0:
        return "the deck is crowned: heat spots on the cam side would pull its middle further down, and there is no oven"
    return "no fresh place is left to heat, and a place heated before gives next to nothing"


def _ranked(ask: _Question, *, finer: bool) -> list[Candidate]:
    """Return what may be done, best first.

    Raises:
        NoPlan: nothing.
    """
    head, direction = ask.head, ask.direction
    grid = clamps(head, ask.draws, direction, ask.done.passes)
    grid = grid if finer else grid[::-2]
    seen = list(_foreseen(ask, grid))
    if not seen:
        raise NoPlan(_nothing_to_do(ask, grid), where="spots")
    found = sorted(_allowed(ask, seen), key=_loss_of)
    weighed = {setup for _, setup in seen}
    about = [candidate.setup for candidate in found[:FINER_ABOUT]] if finer or not found else []
    for setup in about or ([] if found else [seen[0][1]]):  # the mildest, where all of them do too much
        finer_ones = list(_finer(ask, setup, weighed))
        weighed |= {setup for _, setup in finer_ones}
        found += _allowed(ask, finer_ones)
    found = sorted(found, key=_loss_of)
    standing = float(
        ask.draws.weights @ shape_loss(head, settled(ask.draws.states, ask.draws.weights), direction)
    )
    if not found or found[0].loss > standing - WORTH_IT.value:
        raise NoPlan(
            "no set-up keeps the bolts under their load, the first pass mild and the chance of overshoot under 2.5 %, and "
            "leaves the head better than it is",
            fix="Sand what is left, own a thinner shim blade, or use stronger studs.",
        )
    return found


def _loss_of(candidate: Candidate) -> float:
    return candidate.loss


def _finer(ask: _Question, setup: PassSetup, weighed: set[PassSetup]) -> Iterator[tuple[Forecast, PassSetup]]:
    """Yield what lies near a good set-up and was not weighed: the clamp changed with the same heat, then the heat with the same clamp."""
    assert setup.clamp is not None  # noqa: S101 - the search always clamps
    twist = float(ask.draws.weights @ ask.draws.states[:, INDEX["twist"]])
    near = [replace(setup, clamp=clamp) for clamp in finer_clamps(ask.head, setup.clamp, twist)]
    fresh = {other.clamp: other for other in near if other not in weighed and other.clamp is not None}
    for clamp, clamped in _held(ask, list(fresh)):
        yield from _with_clamp(ask, clamped, [fresh[clamp]])
    if setup.spots:
        unweighed = [
            other for other in finer_heats(ask.head, setup, ask.done, _line(ask)) if other not in weighed
        ]
        for _, clamped in _held(ask, [setup.clamp] if unweighed else []):
            yield from _with_clamp(ask, clamped, unweighed)


def _line(ask: _Question) -> tuple[float, float, float]:
    """Return bow, skew and peak of the cam line as believed, the way to go counted positive [m]."""
    bow, skew, peak = (
        ask.direction * float(ask.draws.weights @ ask.draws.states[:, INDEX[name]])
        for name in ("cam_bow", "cam_skew", "cam_peak")
    )
    return bow, skew, peak


def _foreseen(ask: _Question, grid: Sequence[ClampSetup]) -> Iterator[tuple[Forecast, PassSetup]]:
    """Yield every set-up of a grid that the bolts can hold, with what it does."""
    for clamp, clamped in _held(ask, grid):
        yield from _with_clamp(ask, clamped, heats(ask.head, clamp, ask.done, _line(ask)))


def _held(ask: _Question, grid: Sequence[ClampSetup]) -> Iterator[tuple[ClampSetup, Clamped]]:
    """Yield the clamps that bolts and casting can hold, with the head in them."""
    section = section_of(ask.head)
    solved = clamp_each(ask.head, ask.draws.states, grid, ask.draws.response)
    for clamp, clamped in zip(grid, solved, strict=True):
        if clamped is not None and not overloaded(ask.head, section, clamp, clamped):
            yield clamp, clamped


def _with_clamp(
    ask: _Question, clamped: Clamped, setups: Sequence[PassSetup]
) -> Iterator[tuple[Forecast, PassSetup]]:
    """Yield what every heat does in one clamp."""
    head, draws, section = ask.head, ask.draws, section_of(ask.head)
    work_sets(head, section, (setup.spots for setup in setups if setup.spots))
    for setup in setups:
        relaxed = heated(head, section, clamped, setup, draws.response, ask.past)
        after = left_after(draws.states, relaxed.set_state, draws.response, ask.noise)
        yield (
            Forecast(
                before=draws.states, after=after, weights=draws.weights, clamped=clamped, relaxed=relaxed
            ),
            setup,
        )


def _allowed(ask: _Question, seen: Iterable[tuple[Forecast, PassSetup]]) -> list[Candidate]:
    """Return the set-ups that stay hard, mild where it is the first, and short of overshooting."""
    found = []
    for foreseen, setup in seen:
        if _too_soft(ask.head, foreseen, setup):
            continue
        if not ask.done.passes and not _is_mild(foreseen, setup, ask.direction):
            continue
        candidate = _judged(ask, setup, foreseen)
        if candidate and candidate.chances.overshoot <= MOST_OVERSHOOT.value:
            found.append(candidate)
    return found


def _judged(ask: _Question, setup: PassSetup, seen: Forecast) -> Candidate | None:
    """Return a set-up as it is worth when it is steered; None where its first stage goes past straight too often."""
    stages, after, work = stages_of(ask.head, setup), seen.after, float(len(setup.spots))
    if stages is not None:
        path = rough_path(ask.head, seen, stages, ask.draws.response)
        if past_after_first(ask.head, path, ask.direction) > MOST_OVERSHOOT.value:
            return None
        way = steered(ask.head, path, stages, ask.direction)
        after, work = way.after, float(np.array(stages.ends)[way.last - 1].mean())
    if setup.soak is not None:
        work = setup.soak.hold / 360
    loss = float(seen.weights @ shape_loss(ask.head, settled(after, seen.weights), ask.direction))
    return Candidate(
        setup=setup,
        loss=loss + TIME_LOSS.value * work,
        chances=chances(ask.head, after, seen.weights, ask.direction),
        left=ask.direction * float(seen.weights @ after[:, INDEX["cam_bow"]]),
        work=work,
        hardness=_hardness(seen),
    )


def _hardness(seen: Forecast) -> float:
    """Return the median over the draws of the lowest hardness after the heat [HB]."""
    assert seen.relaxed is not None  # noqa: S101 - the search always heats
    return float(np.median(np.atleast_2d(seen.relaxed.hardness_after)[:, 0]))


def _too_soft(head: Head, seen: Forecast, setup: PassSetup) -> bool:
    """Whether a soak is expected to end at what stops the heat: the reject line, or too much lost since intake.

    Spots soften their own small places only.
    """
    if setup.soak is None or seen.relaxed is None:
        return False
    rules = head.thresholds
    lost = float(np.median((seen.relaxed.hardness_before - seen.relaxed.hardness_after).mean(axis=1)))
    return _hardness(seen) < rules.hardness_reject.value or lost > rules.hardness_drop.value


def _is_mild(seen: Forecast, setup: PassSetup, direction: int) -> bool:
    """Whether a first pass over-bends little and is expected to take no more than its share of the bow.

    Spots are heated in stages, the first of them mild; the share is asked of a soak, which cannot be steered.
    """
    assert seen.clamped is not None  # noqa: S101 - the search always clamps
    deck = abs(float(seen.weights @ seen.before[:, INDEX["deck_bow"]]))
    over = float(seen.weights @ np.abs(np.maximum(seen.clamped.over_bend, 0.0)))
    if over > max(FIRST_PASS_OVER_BEND.value * deck, LEAST_OVER_BEND):
        return False
    if setup.spots:
        return True
    before = direction * float(seen.weights @ seen.before[:, INDEX["cam_bow"]])
    after = direction * float(seen.weights @ seen.after[:, INDEX["cam_bow"]])
    return before <= 0 or before - after <= FIRST_PASS_SHARE.value * before
