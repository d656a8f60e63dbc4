"""The pass card's parts from the plan: who, clamp, heat and wait, what to expect, what else was weighed."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from straighten.belief.learn import prior_factors
from straighten.clamp import section_of
from straighten.clamp.bolts import grade_of, thread_of
from straighten.clamp.limits import limits_of
from straighten.clamp.shims import stackings
from straighten.clamp.tightening import turning_order
from straighten.clamp.tightening_card import tightening_card
from straighten.desk import words
from straighten.desk.bases import base_words
from straighten.desk.job import NOISE_SEED
from straighten.desk.oven import oven_notes
from straighten.desk.turning import plan_turns, trades
from straighten.head.ceiling import lowered
from straighten.heat import Wait, before_clamping, cautions, clock, wait_after_soak, wait_after_spots
from straighten.heat.costs import cost_lines, cost_plain, heat_cost
from straighten.heat.doubts import measure_next
from straighten.plan.projection import Stage, project
from straighten.quantiles import spread_along, tenths
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
    Stack,
)
from straighten.sheet.plain import Range

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from numpy.typing import NDArray

    from straighten.belief.learn import Belief
    from straighten.clamp import Clamped, ClampSetup
    from straighten.clamp.torque_cap import TorqueCap
    from straighten.desk.dossier import Dossier
    from straighten.desk.job import Job
    from straighten.head.records import Head
    from straighten.heat import Relaxed, Response, Treatment
    from straighten.plan.search import PassPlan

    Floats = NDArray[np.float64]
    Spread = Callable[[Floats], Range]
    Parts = dict[str, Any]

TORCH_TRIAL: Final = "Flame tried with a low crayon ([torch] crayon, crayon_after in the head file): until then its heat is guessed."
SIMULATED = 128  # draws for the tightening rounds


def card_of(job: Job, plan: PassPlan, now: datetime, *, because: str = "") -> Card:
    """Return the card of a plan.

    Args:
        job: the head's work: history, belief, judgement.
        plan: the pass.
        now: the bench clock.
        because: the person's reason to go past what is advised against.
    """
    dossier, belief = job.dossier, job.belief
    clamp, clamped, relaxed = plan.setup.clamp, plan.forecast.clamped, plan.forecast.relaxed
    assert clamp is not None  # noqa: S101 - the search always clamps and heats
    assert clamped is not None  # noqa: S101
    assert relaxed is not None  # noqa: S101
    spread = partial(range_of, weights=plan.forecast.weights)
    return Card(
        **_title(job, now),
        **_clamping(dossier.head, belief, clamp),
        **_held(job, plan, (clamp, clamped), spread),
        **_heating(dossier.head, plan, relaxed, now),
        soak=_soak_line(plan, spread),
        kept_share=spread(relaxed.kept_share),
        **_expected(dossier.head, plan, spread),
        learned=words.learned(prior_factors(belief.priors), belief.factors, len(dossier.passes)),
        if_then=words.if_then(dossier.head),
        alternatives=_alternatives(dossier.head, plan),
        notes=(
            *belief.caveats,
            *relaxed.caveats,
            *oven_notes(dossier.head, belief.draws, plan.setup),
        ),
        assumed=(*dossier.head.assumed, *words.assumed_section(dossier.head)),
        projected=_projected(dossier, belief, plan),
        would_change=_would_change(job, plan),
        before=_before(job),
        **_costs(job, plan),
        advice=_advice(job, because),
        because=because,
        judgement=job.judgement.to_plain(),
    )


def range_of(values: Floats, weights: Floats) -> Range:
    """Return 10, 50 and 90 % of weighted values."""
    return Range(*tenths(values, weights))


def _title(job: Job, now: datetime) -> Parts:
    return {
        "name": job.dossier.name,
        "pass_number": job.dossier.passes_done + 1,
        "made_at": now.isoformat(timespec="minutes"),
        "system": job.head.system,
        "verdict": job.judgement.verdict,
        "reason": job.judgement.reason,
        "decided_by": job.judgement.decided_by,
    }


_ANSWERED: Final = {  # by the kind of the question, what is told where it needs no asking any more
    "magnesium unknown": "not magnesium",
    "crack check": "no crack left",
    "hardness unknown": "hardness read",
}


def _before(job: Job) -> tuple[str, ...]:
    """Return what comes before the clamp, in bench order: answers still missing, then the usual work."""
    asked = {f.kind: f.told for f in job.judgement.of("unknown")}
    told = [words for kind, words in _ANSWERED.items() if kind not in asked]
    torch = job.head.torch
    trial = torch is not None and torch.power is None and torch.trial is None
    return (
        *((f"Told in the surveys: {', '.join(told)}.",) if told else ()),
        *asked.values(),
        *(line.value for line in before_clamping()),
        *((TORCH_TRIAL,) if trial else ()),
    )


def _advice(job: Job, because: str) -> tuple[str, ...]:
    against = [f.told for f in job.judgement.of("advised against")]
    gone = {*job.judgement.accepted.values(), because} - {""}
    return (*against, *(f'Gone on because: "{reason}".' for reason in sorted(gone) if against))


def _clamping(head: Head, belief: Belief, clamp: ClampSetup) -> Parts:
    stacks, second = _stacks(head, clamp)
    rounds, cap, rule = _rounds(head, belief, clamp)
    return {
        "direction": words.direction(clamp.reverse),
        "reverse": clamp.reverse,
        "stacks": stacks,
        "second_stacking": second,
        "shim_stations": (head.front_shim, head.rear_shim),
        "bolts": _bolt_lines(head, clamp),
        "rounds": rounds,
        "most_torque": cap.torque,
        "most_torque_limit": cap.limit,
        "stop_rule": rule,
        "gap": clamp.gap or 0.0,
    }


def _held(job: Job, plan: PassPlan, held: tuple[ClampSetup, Clamped], spread: Spread) -> Parts:
    head, draws, (clamp, clamped) = job.head, job.belief.draws, held
    limits = limits_of(head, section_of(head), clamped, clamp)
    return {
        "bow_now": spread(plan.forecast.before[:, INDEX["deck_bow"]]),
        "cam_now": spread(plan.forecast.before[:, INDEX["cam_bow"]]),
        "clamp_limits": words.limits(limits, plan.forecast.weights),
        "over_bend": spread(clamped.over_bend),
        "base_words": base_words(head, draws, plan.forecast, clamp),
        "clamp_force": spread(clamped.total_force),
    }


def _heating(head: Head, plan: PassPlan, relaxed: Relaxed, now: datetime) -> Parts:
    wait = _waits(head, plan)
    spots = tuple(
        SpotLine(order=n, station=s.station, side=s.side, dwell=s.dwell, peak=float(relaxed.peaks[n - 1]))
        for n, s in enumerate(plan.setup.spots, start=1)
    )
    return {
        "spots": spots,
        "flame": words.flame(head, plan.setup),
        **_around(head, plan.setup.spots),
        "ceiling": words.ceiling(head, plan.setup),
        "lowered": _lowered(head, max(relaxed.peaks)) if plan.setup.spots else None,
        "wait": wait.honest,
        "wait_reason": wait.why,
        "ready_at": clock(now, wait.honest).isoformat(timespec="minutes"),
        "unclamp_wait": wait.unclamp,
        "unclamp_at": clock(now, wait.unclamp).isoformat(timespec="minutes"),
        "cautions": tuple(line.value for line in cautions("oven" if plan.setup.soak else "torch")),
    }


def _costs(job: Job, plan: PassPlan) -> Parts:
    """Return what the heat costs, and before the first pass what is worth measuring."""
    if not plan.setup.spots:
        return {}
    cost = heat_cost(job.head, section_of(job.head), plan.setup.spots)
    first = job.dossier.passes_done == 0
    return {
        "heat_cost": cost_plain(cost),
        "costs": cost_lines(cost, job.head.system),
        "measure_next": tuple(step.sentence for step in measure_next(job.head)) if first else (),
    }


def _lowered(head: Head, aimed: float) -> LoweredLine | None:
    """Return how far the target asked for was lowered: to the ceiling, or further where the plan aims lower still."""
    found = lowered(head.alloy, head.torch)
    if found is None:
        return None
    found = replace(found, used=min(found.used, aimed))
    return LoweredLine(asked=found.asked, used=found.used, reason=found.sentence(head.system))


def _around(head: Head, spots: tuple[Treatment, ...]) -> Parts:
    """Return what places the spots beside their stations: the rows, the pause from one to the next, what to keep off."""
    pauses = [after.start - before.start - before.dwell for before, after in pairwise(spots)]
    return {
        "spot_rows": head.spot_rows if spots else None,
        "spot_pause": max(min(pauses), 0.0) if pauses else None,
        "keep_off": keep_off_lines(head) if spots else (),
    }


def keep_off_lines(head: Head) -> tuple[KeepOffLine, ...]:
    """Return the places of a head never to heat."""
    return tuple(
        KeepOffLine(station=z.station, side=z.side, radius=z.radius, reason=z.reason) for z in head.keep_off
    )


def _expected(head: Head, plan: PassPlan, spread: Spread) -> Parts:
    deck, cam = head.limits.deck_overall, head.limits.cam_line
    return {
        "deck_after": spread(plan.forecast.column("deck_bow")),
        "cam_after": spread(plan.forecast.column("cam_bow")),
        "deck_limit": deck.value,
        "deck_limit_source": words.source(deck),
        "cam_limit": cam.value,
        "cam_limit_source": words.source(cam),
        "chance_cam": plan.chances.cam,
        "chance_deck": plan.chances.deck,
        "chance_inside": plan.chances.both,
        "chance_overshoot": plan.chances.overshoot,
    }


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


def _would_change(job: Job, plan: PassPlan) -> tuple[str, ...]:
    return plan_turns(job.head, job.belief.draws, job.noise, plan, job.dossier.done)


def _projected(dossier: Dossier, belief: Belief, plan: PassPlan) -> tuple[ProjectedPass, ...]:
    """Return the bow after each of the coming passes, had one gone on like this."""
    stages = project(
        dossier.head,
        belief.draws,
        plan,
        np.random.default_rng(NOISE_SEED),
        done=dossier.done,
    )

    def spread(stage: Stage, name: str) -> Range:
        return range_of(stage.states[:, INDEX[name]], stage.weights)

    return tuple(
        ProjectedPass(
            passes=stage.passes,
            deck_after=spread(stage, "deck_bow"),
            cam_after=spread(stage, "cam_bow"),
            inside=stage.chances.both,
        )
        for stage in stages
    )


def _stacks(head: Head, clamp: ClampSetup) -> tuple[tuple[Stack, ...], str]:
    """Return the four stacks, and in words the next best stacking that differs and leaves no end without a shim."""
    first, *others = stackings(clamp.shims, head.shim_blades)
    stacks = tuple(
        Stack(
            corner=stack.corner,
            blades=tuple(blade.thickness for blade in stack.blades),
            height=stack.height,
            warning="soft metal: it creeps and crushes hot, check its height after the pass"
            if stack.soft
            else "",
        )
        for stack in first.stacks
    )
    bare = min(stack.height for stack in first.stacks) <= 0
    standing = [other for other in others if bare or min(stack.height for stack in other.stacks) > 0]
    return stacks, words.second_stacking(standing[0], head.system) if standing else ""


def _bolt_lines(head: Head, clamp: ClampSetup) -> tuple[BoltLine, ...]:
    lines = []
    for order, number in enumerate(turning_order(head, clamp), start=1):
        bolt = head.bolts[number]
        thread = thread_of(bolt.thread)
        lines.append(
            BoltLine(
                order=order,
                station=bolt.station,
                side=bolt.side,
                thread=bolt.thread,
                grade=grade_of(bolt.grade, thread).name,
            )
        )
    return tuple(lines)


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


def _rounds(head: Head, belief: Belief, clamp: ClampSetup) -> tuple[tuple[Round, ...], TorqueCap, str]:
    """Simulate the rounds on evenly spread draws; with the torque never to pass and the rule to stop by."""
    states, response = evenly(belief, clamp)
    made = tightening_card(head, states, clamp, response)
    rounds = tuple(
        Round(
            torque=turn.torque,
            gap=Range(*turn.gap),
            goes=turn.goes,
            stops=turn.does_not,
            times_round=turn.passes,
        )
        for turn in made.rounds
    )
    return rounds, made.most, made.rule


def _soak_line(plan: PassPlan, spread: Spread) -> SoakLine | None:
    soak, relaxed = plan.setup.soak, plan.forecast.relaxed
    if soak is None or relaxed is None:
        return None
    after = relaxed.hardness_after
    low, high = spread(after[:, 0]), spread(after[:, 1])
    return SoakLine(
        temperature=soak.temperature,
        hold=soak.hold,
        hardness=Range(low=low.low, middle=(low.middle + high.middle) / 2, high=high.high),
    )


def _waits(head: Head, plan: PassPlan) -> Wait:
    """Return the wait until a reading is honest to half a blade step and until the head may be unclamped."""
    section, step = section_of(head), min(b - a for a, b in pairwise(head.gauge_blades))
    if plan.setup.soak is not None:
        return wait_after_soak(head, section, plan.setup.soak.temperature, step)
    relaxed = plan.forecast.relaxed
    return wait_after_spots(head, section, 0.0 if relaxed is None else relaxed.heat, step)
