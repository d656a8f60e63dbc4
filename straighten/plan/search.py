"""The next pass: the set-up of least expected loss among those that can be built from what is owned."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp import clamp_each, section_of
from straighten.errors import NoPlan, OutsideModel
from straighten.heat import work_sets
from straighten.heat.treatment import schedule
from straighten.plan.alternatives import Candidate, PassPlan, different
from straighten.plan.candidates import (
    clamps,
    finer_clamps,
    finer_heats,
    heats,
    overloaded,
    part_pulled,
)
from straighten.plan.forecast import (
    NOISE_SIZE,
    Forecast,
    forecast,
    heated,
    left_after,
    roof_believed,
)
from straighten.plan.loss import (
    LOST,
    MOST_OVERSHOOT,
    PASS,
    chances,
    direction_of,
    ended_loss,
    settled,
)
from straighten.plan.reasons import binding, nothing_to_do
from straighten.plan.records import UNTOUCHED, Done, Draws, PassSetup
from straighten.plan.spots import Following, Row, rows_for, rows_of_one_heat
from straighten.plan.stages import STAGE_DRAWS, stage_draws, stages_of
from straighten.plan.steering import steered_by_gaps
from straighten.plan.weighing import (
    Question,
    Stand,
    allowed,
    gentle,
    stand_of,
    too_soft,
    weighed_ones,
    worth_a_pass,
)
from straighten.quantiles import spread_along
from straighten.shape.modes import INDEX

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from straighten.clamp import Clamped, ClampSetup
    from straighten.head.records import Head, Torch
    from straighten.heat import HeatSpot, Place
    from straighten.plan.rungs import Rung

    Floats = NDArray[np.float64]
    _Held = tuple[ClampSetup, Clamped]

TRIED_DRAWS: Final = 256
QUICK_DRAWS: Final = 48  # where only the rough way is asked
ROW_DRAWS: Final = 16  # on which single rows are weighed
ROUNDS: Final = 2  # times that finer set-ups are tried about the best so far


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
        NoPlan: no bolts in the middle, no place to heat, no set-up that keeps bolts and overshoot in bounds, or
            none that is expected to leave the head better.

    Source: Expected loss (decision theory); mild first pass: common practice, no source.
    """
    direction = direction_of(draws.states, draws.weights)
    few, few_noise = thinned(draws, noise, TRIED_DRAWS if finer else QUICK_DRAWS)
    past = roof_believed(head, draws, done)
    ask = Question(head=head, draws=few, noise=few_noise, direction=direction, done=done, past=past)
    ranked = _ranked(ask, finer=finer)
    told = draws_told(draws)
    whole = replace(ask, draws=told, noise=noise[: told.weights.size])
    bound = most = MOST_OVERSHOOT.value  # on few draws; all of them, and stage by stage, may show more
    for place, candidate in enumerate(ranked):
        if candidate.chances.overshoot > bound:
            continue
        try:
            plan = _foretold(whole, candidate)
        except OutsideModel:  # a draw among all of them that the clamp cannot hold
            continue
        if plan.chances.overshoot <= most:
            return replace(plan, runners_up=tuple(different(candidate, ranked[place:])))
        bound = candidate.chances.overshoot * most / plan.chances.overshoot
    raise NoPlan(
        "no set-up keeps clamp and overshoot in bounds for all that is believed",
        fix="Measure again; the shape is not known well.",
    )


def _foretold(ask: Question, candidate: Candidate) -> PassPlan:
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


def strongest_pass(head: Head, draws: Draws, *, done: Done = UNTOUCHED) -> Forecast:
    """Return the forecast, without scatter, of the pass that takes most off the bow: the strongest heat or soak over the highest shims.

    Args:
        head: the head.
        draws: shape and response as believed.
        done: earlier passes.

    Raises:
        NoPlan: nothing can be heated or pulled.

    Source: Common practice, no source.
    Valid: A bound for the stop decision, not a pass to print.
    """
    direction = direction_of(draws.states, draws.weights)
    few, quiet = thinned(draws, np.zeros((draws.weights.size, NOISE_SIZE)), TRIED_DRAWS)
    ask = Question(
        head=head,
        draws=few,
        noise=quiet,
        direction=direction,
        done=replace(done, passes=max(done.passes, 1)),
        past=roof_believed(head, draws, done),
    )
    highest = _held(ask, clamps(head, few, direction, 1))[-1:]
    everything = list(_foreseen(ask, highest or _held(ask, part_pulled(head, few, direction))))
    found = [seen for seen, setup in everything if not too_soft(head, seen, setup)]
    if not found:
        if not everything:
            raise nothing_to_do(ask)
        raise NoPlan("every soak would cost more hardness than the head may lose", where="spots")
    return min(found, key=lambda seen: direction * float(seen.weights @ seen.column("cam_bow")))


def thinned(draws: Draws, noise: Floats, count: int) -> tuple[Draws, Floats]:
    """Return a few draws of equal weight, spread evenly along the weights, with noise spread evenly along a pass's luck.

    Source: Systematic resampling along the cam bow (derived).
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


def _ranked(ask: Question, *, finer: bool) -> list[Candidate]:
    """Return what may be done, best first.

    Raises:
        NoPlan: nothing.
    """
    seen, judged = _tried(ask, finer=finer)
    now = stand_of(ask)
    if finer or not any(allowed(one, now) for one in judged):
        judged = _closer(ask, seen, judged, now)
    # a milder one comes last: where the others go past straight on all draws, it may hold
    ranked = _best_first(ask, judged, now)
    ended = float(ask.draws.weights @ ended_loss(ask.head, settled(ask.draws.states, ask.draws.weights)))
    best = ranked[0] if ranked else None
    if best is None or not worth_a_pass(ask, best, now) or best.lost * LOST.value + PASS.value > ended:
        raise binding(ask, judged, ranked, now)
    return ranked


def _tried(ask: Question, *, finer: bool) -> tuple[list[PassSetup], list[Candidate]]:
    """Return the set-ups of the grid that can be held, and what those are worth that may be done.

    Raises:
        NoPlan: none can be held.
    """
    head, direction = ask.head, ask.direction
    grid = clamps(head, ask.draws, direction, ask.done.passes)
    seen = list(_foreseen(ask, _held(ask, grid if finer else grid[::-2])))
    judged = weighed_ones(ask, seen)
    if not judged:  # more than the bolts carry, or than a first pass may bend
        softer = list(_foreseen(ask, _held(ask, part_pulled(head, ask.draws, direction))))
        judged, seen = weighed_ones(ask, softer), [*seen, *softer]
    if not seen:
        raise nothing_to_do(ask)
    return [setup for _, setup in seen], judged


def _closer(ask: Question, seen: list[PassSetup], judged: list[Candidate], now: Stand) -> list[Candidate]:
    """Return the set-ups with what lies about the best, be it allowed or a little too strong, and about the best allowed."""
    weighed, looked = set(seen), set[PassSetup]()
    for _ in range(ROUNDS):
        best = [*sorted(judged, key=lambda one: one.loss)[:1], *_best_first(ask, judged, now)[:1]]
        about = list(dict.fromkeys(one.setup for one in best)) or seen[:1]
        for setup in about:
            if setup not in looked:
                found = list(_finer(ask, setup, weighed))
                weighed |= {other for _, other in found}
                judged = [*judged, *weighed_ones(ask, found)]
        looked |= set(about)
    return judged


def _best_first(ask: Question, judged: list[Candidate], now: Stand) -> list[Candidate]:
    """Return what is allowed: what is worth a pass by its loss, and behind it the milder ones."""
    fit = [one for one in judged if allowed(one, now)]
    return sorted(fit, key=lambda one: (not worth_a_pass(ask, one, now), one.loss))


def _finer(ask: Question, setup: PassSetup, weighed: set[PassSetup]) -> Iterator[tuple[Forecast, PassSetup]]:
    """Yield what lies near a good set-up and was not weighed: the clamp changed with the same heat, then the heat with the same clamp."""
    assert setup.clamp is not None  # noqa: S101 - the search always clamps
    twist = float(ask.draws.weights @ ask.draws.states[:, INDEX["twist"]])
    near = [replace(setup, clamp=clamp) for clamp in finer_clamps(ask.head, setup.clamp, twist)]
    fresh = {other.clamp: other for other in near if other not in weighed and other.clamp is not None}
    for clamp, clamped in _held(ask, list(fresh)):
        yield from _with_clamp(ask, clamped, [fresh[clamp]])
    if setup.spots:
        unweighed = [
            other
            for other in finer_heats(ask.head, setup, _following(ask, setup.clamp))
            if other not in weighed
        ]
        for _, clamped in _held(ask, [setup.clamp] if unweighed else []):
            yield from _with_clamp(ask, clamped, unweighed)


def _following(ask: Question, clamp: ClampSetup) -> Following:
    """Return the shape as believed in the mean, and what rows heated in a clamp take off it, on few draws."""
    head = ask.head
    few, _ = thinned(ask.draws, np.zeros((ask.draws.weights.size, NOISE_SIZE)), ROW_DRAWS)
    (clamped,) = clamp_each(head, few.states, [clamp], few.response)
    section = section_of(head)

    @cache
    def at_once(torch: Torch) -> tuple[list[tuple[Place, ...]], tuple[HeatSpot, ...]]:
        """Return the rows of a flame, and one heat of them all."""
        places = rows_for(head, torch)
        return places, schedule([place for row in places for place in row], torch)

    def ready(flames: Sequence[Torch]) -> None:
        work_sets(head, section, (spots for _, spots in map(at_once, flames) if spots) if clamped else ())

    @cache
    def rows(torch: Torch) -> list[Row]:
        places, spots = at_once(torch)
        if not clamped or not spots:
            return []
        relaxed = heated(head, section, clamped, PassSetup(clamp=clamp, spots=spots), few.response, ask.past)
        return rows_of_one_heat(head, places, spots, relaxed, few.weights)

    mean = ask.draws.weights @ ask.draws.states
    ratio = float(ask.draws.weights @ ask.draws.response.cam_ratio)
    return Following(head=head, state=mean, direction=ask.direction, ratio=ratio, rows=rows, ready=ready)


def _foreseen(ask: Question, held: list[_Held]) -> Iterator[tuple[Forecast, PassSetup]]:
    """Yield what every heat does in every clamp that holds."""
    if not held:
        return
    found = heats(ask.head, ask.done, _following(ask, held[len(held) // 2][0]))
    for clamp, clamped in held:
        yield from _with_clamp(ask, clamped, [replace(heat, clamp=clamp) for heat in found])


def _held(ask: Question, grid: Sequence[ClampSetup]) -> list[_Held]:
    """Return the clamps that bolts and casting can hold and that may be used now, with the head in them."""
    section = section_of(ask.head)
    solved = clamp_each(ask.head, ask.draws.states, grid, ask.draws.response)
    return [
        (clamp, clamped)
        for clamp, clamped in zip(grid, solved, strict=True)
        if clamped is not None and gentle(ask, clamped) and not overloaded(ask.head, section, clamp, clamped)
    ]


def _with_clamp(
    ask: Question, clamped: Clamped, setups: Sequence[PassSetup]
) -> Iterator[tuple[Forecast, PassSetup]]:
    """Yield what every heat does in one clamp."""
    head, draws, section = ask.head, ask.draws, section_of(ask.head)
    work_sets(head, section, (setup.spots for setup in setups if setup.spots))
    for setup in setups:
        relaxed = heated(head, section, clamped, setup, draws.response, ask.past)
        after = left_after(draws.states, relaxed.set_state, draws.response, ask.noise, relaxed.again)
        yield (
            Forecast(
                before=draws.states, after=after, weights=draws.weights, clamped=clamped, relaxed=relaxed
            ),
            setup,
        )
