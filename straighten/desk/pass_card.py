"""The pass card's parts from the plan: who, clamp, heat and wait, what to expect, what else was weighed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial
from itertools import pairwise
from typing import Final

import numpy as np

from straighten.belief.learn import Belief, prior_factors
from straighten.clamp import Clamped, ClampSetup, section_of
from straighten.clamp.bolts import grade_of, thread_of
from straighten.clamp.limits import limits_of
from straighten.clamp.shims import stackings
from straighten.clamp.tightening import TighteningCard, tightening_card, turning_order
from straighten.decide import Foreseen
from straighten.desk import words
from straighten.desk.deciding import plan_turns, trades, whole_job_line
from straighten.desk.job import Job
from straighten.desk.words import base_name, base_words, oven_notes
from straighten.head.ceiling import lowered
from straighten.head.records import Head
from straighten.heat import (
    Relaxed,
    Response,
    Treatment,
    Wait,
    before_clamping,
    caution_steps,
    cautions,
    clock,
    wait_after_soak,
    wait_after_spots,
)
from straighten.heat.flames import measure_next
from straighten.heat.safety import HeatSource, cost_lines, cost_plain, heat_cost
from straighten.plan.alternatives import PassPlan
from straighten.plan.forecast import Forecast
from straighten.quantiles import Floats, spread_along, tenths
from straighten.shape.modes import INDEX
from straighten.sheet.card import (
    Alternative,
    BoltLine,
    Card,
    KeepOffLine,
    LoweredLine,
    ProjectedPass,
    Round,
    SoakLine,
    SpotLine,
    StackLine,
)
from straighten.sheet.plain import Range
from straighten.units import turned

TORCH_TRIAL: Final = "Flame tried with a low crayon ([torch] crayon), or its heat is a guess."
SOFT: Final = "soft metal: it creeps and crushes hot, check its height after the pass"
TOLD_MORE: Final = 0.01  # of chance
SIMULATED = 128  # draws for the tightening rounds


def card_of(job: Job, plan: PassPlan, now: datetime, *, because: str = "", ahead: bool = True) -> Card:
    """Return the card of a plan; `because` the reason where the person goes past what is advised against.

    `ahead` works out as well what lies after the pass and what would change the plan: as long again as the plan.
    """
    head, draws, spots = job.head, job.belief.draws, plan.setup.spots
    clamp, _, relaxed = _held(plan)
    first = job.dossier.passes_done == 0
    cost = heat_cost(head, section_of(head), spots) if spots else None
    whole = whole_job_line(job)
    return replace(
        _core(job, plan, now),
        second_stacking=_stacks(head, clamp)[1],
        base_words=base_words(head, draws, plan.forecast, clamp),
        base=base_name(head.base, head.system) if head.spare_bases else "",
        spots=tuple(spot_line(n, s, float(relaxed.peaks[n - 1])) for n, s in enumerate(spots, start=1)),
        soak=_soak_line(plan),
        flame=words.flame(head, plan.setup),
        spot_rows=head.spot_rows if spots else None,
        spot_pause=_pause(spots),
        keep_off=keep_off_lines(head) if spots else (),
        lowered=_lowered(head, max(relaxed.peaks)) if spots else None,
        alternatives=_alternatives(head, plan),
        notes=_own(head, (*job.belief.caveats, *relaxed.caveats, *oven_notes(head, draws, plan.setup))),
        assumed=_own(head, (*head.assumed, *section_of(head).assumed)),
        projected=_projected(job, plan) if ahead else (),
        whole_job="" if whole is None else whole.sentence(head.system),
        would_change=plan_turns(head, draws, job.noise, job.dossier.done) if ahead else (),
        before=_own(head, _before(job)),
        heat_cost=None if cost is None else cost_plain(cost),
        costs=() if cost is None else cost_lines(cost, head.system),
        measure_next=tuple(step.sentence for step in measure_next(head)) if spots and first else (),
        advice=_advice(job, because),
        because=because,
        judgement=job.judgement.to_plain(),
        reckoned_on=words.reckoned_on(head),
    )


def spot_line(order: int, spot: Treatment, peak: float) -> SpotLine:
    """Return a spot with its number and the peak it reaches [degC]."""
    return SpotLine(
        order=order,
        station=spot.station,
        side=spot.side,
        flux_radius=spot.radius,
        dwell=spot.dwell,
        peak=peak,
    )


def _core(job: Job, plan: PassPlan, now: datetime) -> Card:
    """Return the card with what every pass has."""
    head, belief, seen, judged = job.head, job.belief, plan.forecast, job.judgement
    clamp, clamped, relaxed = _held(plan)
    spread = partial(range_of, weights=seen.weights)
    made, wait = _tightening(head, belief, clamp), _waits(head, plan)
    deck, cam = head.limits.deck_overall, head.limits.cam_line
    return Card(
        name=job.dossier.name,
        pass_number=job.dossier.passes_done + 1,
        made_at=now.isoformat(timespec="minutes"),
        system=head.system,
        verdict=judged.verdict,
        reason=judged.reason,
        decided_by=judged.decided_by,
        direction=_direction(clamp, seen),
        reverse=clamp.reverse,
        bow_now=spread(seen.before[:, INDEX["deck_bow"]]),
        cam_now=spread(seen.before[:, INDEX["cam_bow"]]),
        stacks=_stacks(head, clamp)[0],
        shim_stations=(head.front_shim, head.rear_shim),
        bolts=_bolt_lines(head, clamp),
        rounds=_rounds(made),
        most_torque=made.most.torque,
        most_torque_limit=made.most.limit,
        stop_rule=made.rule,
        clamp_limits=words.limits(limits_of(head, section_of(head), clamped, clamp), seen.weights),
        gap=clamp.gap or 0.0,
        over_bend=spread(clamped.over_bend),
        clamp_force=spread(clamped.total_force),
        ceiling=words.ceiling(head, plan.setup),
        wait=wait.honest,
        wait_reason=wait.why,
        ready_at=clock(now, wait.honest).isoformat(timespec="minutes"),
        unclamp_wait=wait.unclamp,
        unclamp_at=clock(now, wait.unclamp).isoformat(timespec="minutes"),
        deck_after=spread(seen.column("deck_bow")),
        cam_after=spread(seen.column("cam_bow")),
        deck_limit=deck.value,
        deck_limit_source=deck.told,
        cam_limit=cam.value,
        cam_limit_source=cam.told,
        chance_cam=plan.chances.cam,
        chance_deck=plan.chances.deck,
        chance_inside=plan.chances.both,
        chance_overshoot=plan.chances.overshoot,
        kept_share=_kept_share(plan, relaxed),
        learned=words.learned(prior_factors(belief.priors), belief.factors, len(job.dossier.passes)),
        if_then=words.if_then(head),
        cautions=_own(head, tuple(line.value for line in cautions(_source(plan)))),
        caution_steps=caution_steps(_source(plan)),
    )


def _direction(clamp: ClampSetup, seen: Forecast) -> str:
    deck = float(seen.weights @ seen.before[:, INDEX["deck_bow"]])
    return words.direction(clamp.reverse, deck, shimmed=max(clamp.front, clamp.rear) > 0)


def _own(head: Head, lines: Sequence[str]) -> tuple[str, ...]:
    return tuple(turned(line, head.system) for line in lines)


def _held(plan: PassPlan) -> tuple[ClampSetup, Clamped, Relaxed]:
    """Return the clamp, the clamped head and what the heat does: the search always clamps and heats."""
    clamp, clamped, relaxed = plan.setup.clamp, plan.forecast.clamped, plan.forecast.relaxed
    if clamp is None or clamped is None or relaxed is None:
        raise TypeError("a planned pass clamps and heats")
    return clamp, clamped, relaxed


def range_of(values: Floats, weights: Floats) -> Range:
    """Return 10, 50 and 90 % of weighted values."""
    return Range(*tenths(values, weights))


def _kept_share(plan: PassPlan, relaxed: Relaxed) -> Range | None:
    """Return the kept share of the bend over the draws that have one; None where the clamp hardly bends the head."""
    share, weights = relaxed.kept_share, plan.forecast.weights
    told = np.isfinite(share)
    return range_of(share[told], weights[told]) if weights[told].sum() > 0 else None


_ANSWERED: Final = {  # by the kind of the question, what is told where it needs no asking any more
    "magnesium unknown": "not magnesium",
    "crack check": "no crack left",
    "hardness unknown": "hardness read",
}


def _before(job: Job) -> tuple[str, ...]:
    """Return what comes before the clamp, in bench order: answers still missing, then the usual work."""
    asked = {f.kind: f.told for f in job.judgement.of("unknown")}
    told = [words for kind, words in _ANSWERED.items() if kind not in asked]
    return (
        *((f"Told in the surveys: {', '.join(told)}.",) if told else ()),
        *asked.values(),
        *(line.value for line in before_clamping()),
        *untried_torch(job.head),
    )


def untried_torch(head: Head) -> tuple[str, ...]:
    """Return that the flame is still to be tried, or nothing; a target lowered to the ceiling leaves rings without a power."""
    torch = head.torch
    if torch is None or torch.power is not None or torch.trial is not None or torch.rings:
        return ()
    return (TORCH_TRIAL,)


def _advice(job: Job, because: str) -> tuple[str, ...]:
    against = [f.told for f in job.judgement.of("advised against")]
    gone = {*job.judgement.accepted.values(), because} - {""}
    return (*against, *(f'Gone on because: "{reason}".' for reason in sorted(gone) if against))


def _lowered(head: Head, aimed: float) -> LoweredLine | None:
    """Return how far the target asked for was lowered: to the ceiling, or further where the plan aims lower still."""
    found = lowered(head.alloy, head.torch)
    if found is None:
        return None
    found = replace(found, used=min(found.used, aimed))
    return LoweredLine(asked=found.asked, used=found.used, reason=found.sentence(head.system))


def _pause(spots: tuple[Treatment, ...]) -> float | None:
    """Return the shortest pause from one spot to the next [s]."""
    pauses = [after.start - before.start - before.dwell for before, after in pairwise(spots)]
    return max(min(pauses), 0.0) if pauses else None


def keep_off_lines(head: Head) -> tuple[KeepOffLine, ...]:
    """Return the places of a head never to heat."""
    return tuple(
        KeepOffLine(station=z.station, side=z.side, radius=z.radius, reason=z.reason) for z in head.keep_off
    )


def _alternatives(head: Head, plan: PassPlan) -> tuple[Alternative, ...]:
    return tuple(
        Alternative(
            words=words.setup(head, other.setup),
            inside=other.chances.both,
            overshoot=other.chances.overshoot,
            loss=other.loss,
            trades=trades(head, plan.best, other),
        )
        for other in plan.runners_up
    )


def _projected(job: Job, plan: PassPlan) -> tuple[ProjectedPass, ...]:
    """Return the bow after this pass, and after each one that would follow until a further one adds nothing."""
    seen, first = plan.forecast, plan.chances
    found = [
        ProjectedPass(
            passes=1,
            deck_after=range_of(seen.column("deck_bow"), seen.weights),
            cam_after=range_of(seen.column("cam_bow"), seen.weights),
            inside=first.both,
            done=first.done,
        )
    ]
    for stage in job.whole.after[1:] if job.whole else ():
        if stage.done <= (found[-1].done or 0.0) + TOLD_MORE:
            break
        deck, cam = _signed(job, stage.deck), _signed(job, stage.cam)
        found.append(
            ProjectedPass(
                passes=stage.passes, deck_after=deck, cam_after=cam, inside=stage.inside, done=stage.done
            )
        )
    return tuple(found)


def _signed(job: Job, found: Foreseen) -> Range:
    """Return a range counted in the direction to go as heights."""
    return Range(*sorted(job.direction * value for value in found.tenths))


def _stacks(head: Head, clamp: ClampSetup) -> tuple[tuple[StackLine, ...], str]:
    """Return the four stacks, and in words the next best stacking that differs and leaves no end without a shim."""
    first, *others = stackings(clamp.shims, head.shim_blades)
    stacks = tuple(
        StackLine(
            corner=stack.corner,
            blades=tuple(blade.thickness for blade in stack.blades),
            height=stack.height,
            warning=SOFT if stack.soft else "",
        )
        for stack in first.stacks
    )
    bare = min(stack.height for stack in first.stacks) <= 0
    standing = [other for other in others if bare or min(stack.height for stack in other.stacks) > 0]
    return stacks, words.second_stacking(standing[0], head.system) if standing else ""


def _bolt_lines(head: Head, clamp: ClampSetup) -> tuple[BoltLine, ...]:
    return tuple(
        BoltLine(
            order=order,
            station=bolt.station,
            side=bolt.side,
            thread=bolt.thread,
            grade=grade_of(bolt.grade, thread_of(bolt.thread)).name,
        )
        for order, bolt in enumerate((head.bolts[n] for n in turning_order(head, clamp)), start=1)
    )


def evenly(belief: Belief, clamp: ClampSetup) -> tuple[Floats, Response]:
    """Return `SIMULATED` states and responses that stand for the weighted draws, spread evenly along the effort of closing.

    Friction, stiffness and the gap make most of what the rounds differ by: 128 draws along their product give the ranges
    of all draws within a few hundredths of a millimetre, four times as many in any order do not.
    """
    draws = belief.draws
    stroke = clamp.front + clamp.rear + 2 * draws.states[:, INDEX["deck_bow"]]
    order = np.argsort(draws.response.friction * draws.response.stiffness * stroke, kind="stable")
    chosen = order[spread_along(draws.weights[order], SIMULATED)]
    return draws.states[chosen], draws.response.take(chosen)


def _source(plan: PassPlan) -> HeatSource:
    return "oven" if plan.setup.soak else "torch"


def _tightening(head: Head, belief: Belief, clamp: ClampSetup) -> TighteningCard:
    states, response = evenly(belief, clamp)
    return tightening_card(head, states, clamp, response)


def _rounds(made: TighteningCard) -> tuple[Round, ...]:
    return tuple(
        Round(torque=t.torque, gap=Range(*t.gap), goes=t.goes, stops=t.does_not, times_round=t.passes)
        for t in made.rounds
    )


def _soak_line(plan: PassPlan) -> SoakLine | None:
    soak, relaxed = plan.setup.soak, plan.forecast.relaxed
    if soak is None or relaxed is None:
        return None
    after = relaxed.hardness_after
    low, high = (range_of(after[:, k], plan.forecast.weights) for k in (0, 1))
    return SoakLine(
        temperature=soak.temperature,
        hold=soak.hold,
        hardness=Range(low=low.low, middle=(low.middle + high.middle) / 2, high=high.high),
    )


def _waits(head: Head, plan: PassPlan) -> Wait:
    """Return the wait until a reading is right to half a blade step and until the head may be unclamped."""
    section, step = section_of(head), min(b - a for a, b in pairwise(head.gauge_blades))
    if plan.setup.soak is not None:
        return wait_after_soak(head, section, plan.setup.soak.temperature, step)
    relaxed = plan.forecast.relaxed
    return wait_after_spots(head, section, 0.0 if relaxed is None else relaxed.heat, step)
