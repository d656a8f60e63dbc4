"""The next pass: the set-up of least expected loss among those that can be built from what is owned."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp import clamp_each, section_of
from straighten.errors import NoPlan, OutsideModel
from straighten.heat import work_sets
from straighten.heat.flames import recipes
from straighten.plan.alternatives import (
    Candidate,
    PassPlan,
    candidate_from_plain,
    candidate_to_plain,
    different,
)
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
from straighten.plan.records import (
    UNTOUCHED,
    Done,
    Draws,
    PassSetup,
    setup_from_plain,
    setup_to_plain,
    thinned,
)
from straighten.plan.spots import (
    Following,
    Row,
    apart_in_heats,
    rows_for,
    rows_of_one_heat,
)
from straighten.plan.stages import draws_told, stages_of
from straighten.plan.steering import steered_by_gaps
from straighten.plan.weighing import (
    LEAST_CHANCE,
    Question,
    Stand,
    allowed,
    gentle,
    least_gain,
    stand_of,
    too_soft,
    weighed_ones,
    worth_a_pass,
)
from straighten.searches import SEARCHES
from straighten.shape.modes import INDEX

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from straighten.clamp import Clamped, ClampSetup
    from straighten.head.records import Head, Torch
    from straighten.heat import HeatSpot, Place, RoofState
    from straighten.plan.rungs import Rung

    Floats = NDArray[np.float64]
    _Held = tuple[ClampSetup, Clamped]

TRIED_DRAWS: Final = 256
QUICK_DRAWS: Final = 48  # where only the rough way is asked
ROW_DRAWS: Final = 16  # on which single rows are weighed
FINER_ABOUT: Final = 2  # set-ups about which finer ones are tried


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
    direction = direction_of(head, draws)
    few, few_noise = thinned(draws, noise, TRIED_DRAWS if finer else QUICK_DRAWS)
    past = roof_believed(head, draws, done)
    ask = Question(head=head, draws=few, noise=few_noise, direction=direction, done=done, past=past)
    asked = ("ranked", head, draws, noise, done, finer)
    found = SEARCHES.once(asked, lambda: [candidate_to_plain(one) for one in _ranked(ask, finer=finer)])
    ranked = [candidate_from_plain(one) for one in found]
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
    past = roof_believed(head, draws, done)
    found = SEARCHES.once(
        ("strongest", head, draws, done), lambda: setup_to_plain(_strongest(head, draws, done, past))
    )
    setup, quiet = setup_from_plain(found), np.zeros((draws.weights.size, NOISE_SIZE))
    try:
        return forecast(head, draws, setup, quiet, past)
    except OutsideModel:  # a draw among all of them that the clamp cannot hold
        few, quiet = thinned(draws, quiet, TRIED_DRAWS)
        return forecast(head, few, setup, quiet, past)


def _strongest(head: Head, draws: Draws, done: Done, past: RoofState) -> PassSetup:
    """Return the set-up of it on few draws."""
    direction = direction_of(head, draws)
    few, quiet = thinned(draws, np.zeros((draws.weights.size, NOISE_SIZE)), TRIED_DRAWS)
    done = replace(done, passes=max(done.passes, 1))
    ask = Question(head=head, draws=few, noise=quiet, direction=direction, done=done, past=past)
    highest = _held(ask, clamps(head, few, direction, 1))[-1:]
    held = highest or _held(ask, part_pulled(head, few, direction))
    everything = list(_foreseen(ask, held, strongest=True))
    found = [one for one in everything if not too_soft(head, *one)]
    if not found:
        if not everything:
            raise _nothing_to_do(ask)
        raise NoPlan("every soak would cost more hardness than the head may lose", where="spots")
    return min(found, key=lambda one: direction * float(one[0].weights @ one[0].column("cam_bow")))[1]


def _nothing_to_do(ask: Question) -> NoPlan:
    """Return why nothing could be tried: no heat to give, or no clamp that holds."""
    if ask.head.torch is None and ask.head.oven is None:
        return NoPlan(
            "the head file names neither a torch nor an oven",
            where="spots",
            fix="Write [torch] or [oven] into it; without heat nothing stays.",
        )
    if ask.head.oven is not None or (
        ask.direction > 0 and any(rows_for(ask.head, one) for one in recipes(ask.head))
    ):
        return _none_in_bounds()
    if ask.direction < 0:
        why = "the deck is crowned: heat spots on the cam side would pull its middle further down, and there is no oven"
    else:
        why = "no fresh place is left to heat, and a place heated before gives next to nothing"
    return NoPlan(why, where="spots")


def _none_in_bounds() -> NoPlan:
    return NoPlan(
        "no set-up keeps the bolts under their load, the first pass mild and its first stage under "
        f"{100 * MOST_OVERSHOOT.value:g} % to overshoot",
        fix="Own a thinner shim blade, use stronger studs, or a smaller flame.",
    )


def _ranked(ask: Question, *, finer: bool) -> list[Candidate]:
    """Return what may be done, best first.

    Raises:
        NoPlan: nothing.
    """
    head, direction = ask.head, ask.direction
    grid = clamps(head, ask.draws, direction, ask.done.passes)
    grid = grid if finer else grid[::-2]
    seen = list(_foreseen(ask, _held(ask, grid)))
    judged = weighed_ones(ask, seen)
    if not judged:  # more than the bolts carry, or than a first pass may bend
        softer = list(_foreseen(ask, _held(ask, part_pulled(head, ask.draws, direction))))
        judged, seen = weighed_ones(ask, softer), [*seen, *softer]
    if not seen:
        raise _nothing_to_do(ask)
    judged.sort(key=lambda one: one.loss)
    weighed = {setup for _, setup in seen}
    now = stand_of(ask)
    fit = [one for one in judged if allowed(one, now)]
    # about the best, be it allowed or a little too strong, and about the best allowed
    fit = _best_first(ask, fit, now)
    best = [*judged[:FINER_ABOUT], *fit[:1]]
    about = list(dict.fromkeys(one.setup for one in best)) or [seen[0][1]]
    for setup in about if finer or not fit else ():
        finer_ones = list(_finer(ask, setup, weighed))
        weighed |= {setup for _, setup in finer_ones}
        fit += [one for one in weighed_ones(ask, finer_ones) if allowed(one, now)]
    # a milder one comes last: where the others go past straight on all draws, it may hold
    found = _best_first(ask, fit, now)
    ended = float(ask.draws.weights @ ended_loss(head, settled(ask.draws.states, ask.draws.weights)))
    if not found or not worth_a_pass(ask, found[0], now) or found[0].lost * LOST.value + PASS.value > ended:
        raise _binding(ask, judged, found, now)
    return found


def _best_first(ask: Question, candidates: list[Candidate], now: Stand) -> list[Candidate]:
    """Return what is worth a pass by its loss, and behind it the milder ones."""
    return sorted(candidates, key=lambda one: (not worth_a_pass(ask, one, now), one.loss))


def _binding(ask: Question, judged: list[Candidate], found: list[Candidate], now: Stand) -> NoPlan:
    """Return the limit that no set-up keeps, with what to do about it."""
    most = 100 * MOST_OVERSHOOT.value
    if found and worth_a_pass(ask, found[0], now):
        return NoPlan(
            "every set-up that gains is as likely to bend the head past what heat can still straighten",
            fix="Sand what is left, or hand it on.",
        )
    if not judged:
        return _none_in_bounds()
    if all(one.chances.overshoot > MOST_OVERSHOOT.value for one in judged):
        return NoPlan(
            f"every set-up goes past straight by more than the limit in over {most:g} % of cases",
            fix="Own a thinner shim blade, or heat with a smaller flame.",
        )
    nearest = min(
        (one for one in judged if one.chances.overshoot <= MOST_OVERSHOOT.value), key=lambda one: one.out
    )
    gain, least = max(now.out - nearest.out, 0.0), least_gain(ask, nearest, now)
    return NoPlan(
        f"the best set-up that may be planned brings the head {now.share(gain)} nearer to its limits; a heat must win "
        f"{now.share(least)}, or {100 * LEAST_CHANCE.value:.0f} points of chance to end the job",
        fix="Sand what is left, aim at a hotter spot under [torch] peak, or use a larger flame.",
    )


def _finer(ask: Question, setup: PassSetup, weighed: set[PassSetup]) -> Iterator[tuple[Forecast, PassSetup]]:
    """Yield what lies near a good set-up and was not weighed: the clamp changed with the same heat, then the heat with the same clamp."""
    assert setup.clamp is not None  # noqa: S101 - the search always clamps
    twist = float(ask.draws.weights @ ask.draws.states[:, INDEX["twist"]])
    near = [replace(setup, clamp=clamp) for clamp in finer_clamps(ask.head, setup.clamp, twist)]
    fresh = {other.clamp: other for other in near if other not in weighed and other.clamp is not None}
    for clamp, clamped in _held(ask, list(fresh)):
        if gentle(ask, clamped):
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
    def apart(torch: Torch) -> list[tuple[list[tuple[Place, ...]], tuple[HeatSpot, ...]]]:
        return apart_in_heats(head, torch)

    def ready(flames: Sequence[Torch]) -> None:
        every = [spots for torch in flames for _, spots in apart(torch)]
        work_sets(head, section, every if clamped else ())

    @cache
    def rows(torch: Torch) -> list[Row]:
        found: list[Row] = []
        for places, spots in apart(torch) if clamped else ():
            setup = PassSetup(clamp=clamp, spots=spots)
            relaxed = heated(head, section, clamped, setup, few.response, ask.past)
            found += rows_of_one_heat(head, places, spots, relaxed, few.weights)
        return found

    mean = ask.draws.weights @ ask.draws.states
    ratio = float(ask.draws.weights @ ask.draws.response.cam_ratio)
    return Following(head=head, state=mean, direction=ask.direction, ratio=ratio, rows=rows, ready=ready)


def _foreseen(
    ask: Question, held: list[_Held], *, strongest: bool = False
) -> Iterator[tuple[Forecast, PassSetup]]:
    """Yield what every heat, or of each flame the strongest, does in every clamp that may be used."""
    if not held:
        return
    found = heats(ask.head, ask.done, _following(ask, held[len(held) // 2][0]), strongest=strongest)
    for clamp, clamped in held:
        if gentle(ask, clamped):
            yield from _with_clamp(ask, clamped, [replace(heat, clamp=clamp) for heat in found])


def _held(ask: Question, grid: Sequence[ClampSetup]) -> list[_Held]:
    """Return the clamps that bolts and casting can hold, with the head in them."""
    section = section_of(ask.head)
    solved = clamp_each(ask.head, ask.draws.states, grid, ask.draws.response)
    return [
        (clamp, clamped)
        for clamp, clamped in zip(grid, solved, strict=True)
        if clamped is not None and not overloaded(ask.head, section, clamp, clamped)
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
