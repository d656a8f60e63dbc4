"""From a dossier to the next pass card: belief, search, tightening, waits, chances, words."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from straighten.belief.learn import Belief, learn, prior_factors
from straighten.belief.posterior import weighted_quantiles
from straighten.belief.sobol import sobol_normal
from straighten.belief.tightened import with_tightenings
from straighten.clamp import section_of
from straighten.clamp.bolts import grade_of, thread_of
from straighten.clamp.limits import limits_of
from straighten.clamp.shims import stackings
from straighten.clamp.tightening import turning_order
from straighten.clamp.tightening_card import tightening_card
from straighten.desk import words
from straighten.desk.oven import oven_notes
from straighten.desk.turning import plan_turns, trades
from straighten.heat import Wait, cautions, clock, wait_after_soak, wait_after_spots
from straighten.plan.forecast import NOISE_SIZE
from straighten.plan.projection import Stage, project
from straighten.plan.search import PassPlan, choose_pass
from straighten.shape import Assessment, assess, fit_shape
from straighten.shape.modes import INDEX
from straighten.sheet.card import (
    Alternative,
    BoltLine,
    Card,
    ProjectedPass,
    Range,
    Refusal,
    Round,
    SoakLine,
    SpotLine,
    Stack,
)

if TYPE_CHECKING:
    from datetime import datetime

    from numpy.typing import NDArray

    from straighten.clamp import ClampSetup
    from straighten.desk.dossier import Dossier
    from straighten.head.records import Head
    from straighten.heat import Response
    from straighten.plan.records import PassSetup

    Floats = NDArray[np.float64]

NOISE_SEED = 41
SIMULATED = 512  # draws for the tightening rounds


def judged(dossier: Dossier) -> Assessment:
    """Return the go / no-go for the last survey, earlier ones as its history."""
    readings = dossier.survey
    earlier = [s for s in dossier.surveys if s is not None and s is not readings]
    return assess(dossier.head, readings, fit_shape(readings, dossier.head), earlier)


def believed(dossier: Dossier) -> Belief:
    """Return what is believed of the head now."""
    return with_tightenings(
        dossier.head,
        learn(dossier.head, dossier.surveys, dossier.passes, others=dossier.others),
        dossier.tightenings,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What to print, and the set-up it stands for; None where no pass is planned."""

    printed: Card | Refusal
    setup: PassSetup | None


def plan_card(dossier: Dossier, now: datetime, *, anyway: bool = False) -> Planned:
    """Return the next pass card, or the refusal where the head should not be heated.

    Args:
        dossier: the head with its history.
        now: the bench clock.
        anyway: plan although the verdict is against it; the verdict still stands on the card.

    Raises:
        NoPlan: no set-up keeps the limits.
    """
    verdict = judged(dossier)
    if verdict.verdict != "straighten" and not anyway:
        return Planned(printed=_refusal(dossier, verdict), setup=None)
    belief = believed(dossier)
    noise = sobol_normal(belief.draws.weights.size, NOISE_SIZE, NOISE_SEED)
    plan = choose_pass(
        dossier.head, belief.draws, noise, passes_done=dossier.passes_done, used=dossier.used_spots
    )
    return Planned(printed=_card(dossier, verdict, belief, plan, now), setup=plan.setup)


def _refusal(dossier: Dossier, verdict: Assessment) -> Refusal:
    return Refusal(
        name=dossier.name,
        verdict=verdict.verdict,
        reason=verdict.reason,
        decided_by=words.decided_by(verdict.decided, dossier.head.system),
        findings=tuple(f.sentence for f in verdict.findings),
    )


def _card(dossier: Dossier, verdict: Assessment, belief: Belief, plan: PassPlan, now: datetime) -> Card:
    head, forecast = dossier.head, plan.forecast
    clamp, clamped = plan.setup.clamp, forecast.clamped
    assert clamp is not None  # noqa: S101 - the search always clamps
    assert clamped is not None  # noqa: S101
    relaxed = forecast.relaxed
    assert relaxed is not None  # noqa: S101
    weights = forecast.weights

    def spread(values: Floats) -> Range:
        low, middle, high = (float(q) for q in weighted_quantiles(values, weights, (0.1, 0.5, 0.9)))
        return Range(low=low, middle=middle, high=high)

    wait = _waits(head, plan)
    stacks, second = _stacks(head, clamp)
    rounds, most_torque, rule = _rounds(head, belief, clamp)
    return Card(
        name=dossier.name,
        pass_number=dossier.passes_done + 1,
        made_at=now.isoformat(timespec="minutes"),
        system=head.system,
        verdict=verdict.verdict,
        reason=verdict.reason,
        decided_by=words.decided_by(verdict.decided, dossier.head.system),
        direction=words.direction(clamp.reverse),
        reverse=clamp.reverse,
        bow_now=spread(forecast.before[:, INDEX["deck_bow"]]),
        cam_now=spread(forecast.before[:, INDEX["cam_bow"]]),
        stacks=stacks,
        second_stacking=second,
        shim_stations=(head.front_shim, head.rear_shim),
        bolts=_bolt_lines(head, clamp),
        rounds=rounds,
        most_torque=most_torque,
        stop_rule=rule,
        clamp_limits=words.limits(limits_of(head, section_of(head), clamped, clamp), weights),
        gap=clamp.gap or 0.0,
        over_bend=spread(clamped.over_bend),
        clamp_force=spread(clamped.total_force),
        spots=tuple(
            SpotLine(
                order=n,
                station=s.station,
                side=s.side,
                dwell=s.dwell,
                peak=float(relaxed.peaks[n - 1]),
            )
            for n, s in enumerate(plan.setup.spots, start=1)
        ),
        soak=_soak_line(plan, spread),
        ceiling=words.ceiling(head, plan.setup),
        wait=wait.honest,
        wait_reason=wait.why,
        ready_at=clock(now, wait.honest).isoformat(timespec="minutes"),
        unclamp_wait=wait.unclamp,
        unclamp_at=clock(now, wait.unclamp).isoformat(timespec="minutes"),
        deck_after=spread(forecast.column("deck_bow")),
        cam_after=spread(forecast.column("cam_bow")),
        deck_limit=head.limits.deck_overall.value,
        deck_limit_source=words.source(head.limits.deck_overall),
        cam_limit=head.limits.cam_line.value,
        cam_limit_source=words.source(head.limits.cam_line),
        chance_cam=plan.chances.cam,
        chance_deck=plan.chances.deck,
        chance_inside=plan.chances.both,
        chance_overshoot=plan.chances.overshoot,
        kept_share=spread(relaxed.kept_share),
        learned=words.learned(prior_factors(belief.priors), belief.factors, len(dossier.passes)),
        if_then=words.if_then(head),
        alternatives=tuple(
            Alternative(
                words=words.setup(head, other.setup),
                inside=other.chances.both,
                overshoot=other.chances.overshoot,
                loss=other.loss,
                trades=trades(head, plan.best, other),
            )
            for other in plan.runners_up
        ),
        cautions=tuple(line.value for line in cautions(head, "oven" if plan.setup.soak else "torch")),
        notes=(*words.notes(verdict, belief), *oven_notes(head, belief.draws, plan.setup)),
        assumed=(*head.assumed, *words.assumed_section(head)),
        projected=_projected(dossier, belief, plan),
        would_change=plan_turns(
            head,
            belief.draws,
            sobol_normal(weights.size, NOISE_SIZE, NOISE_SEED),
            plan,
            (dossier.passes_done, dossier.used_spots),
        ),
    )


def _projected(dossier: Dossier, belief: Belief, plan: PassPlan) -> tuple[ProjectedPass, ...]:
    """Return the bow after each of the coming passes, had one gone on like this."""
    stages = project(
        dossier.head,
        belief.draws,
        plan,
        np.random.default_rng(NOISE_SEED),
        passes_done=dossier.passes_done,
        used=dossier.used_spots,
    )

    def spread(stage: Stage, name: str) -> Range:
        values = stage.states[:, INDEX[name]]
        low, middle, high = (float(q) for q in weighted_quantiles(values, stage.weights, (0.1, 0.5, 0.9)))
        return Range(low=low, middle=middle, high=high)

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
    """Return the four stacks, and in words the next best stacking that differs."""
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
    return stacks, words.second_stacking(others[0], head.system) if others else ""


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


def evenly(belief: Belief) -> tuple[Floats, Response]:
    """Return `SIMULATED` states and responses that stand for the weighted draws, each as often as it weighs."""
    weights = belief.draws.weights
    places = (np.arange(SIMULATED) + 0.5) / SIMULATED
    chosen = np.searchsorted(np.cumsum(weights), places).clip(0, weights.size - 1)
    return belief.draws.states[chosen], belief.draws.response.take(chosen)


def _rounds(head: Head, belief: Belief, clamp: ClampSetup) -> tuple[tuple[Round, ...], float, str]:
    """Simulate the rounds on evenly weighted draws; with the torque never to pass and the rule to stop by."""
    states, response = evenly(belief)
    made = tightening_card(head, states, clamp, response)
    rounds = tuple(
        Round(
            torque=turn.torque,
            gap=Range(low=turn.gap[0], middle=turn.gap[1], high=turn.gap[2]),
            goes=turn.goes,
            stops=turn.does_not,
            times_round=turn.passes,
        )
        for turn in made.rounds
    )
    return rounds, made.most, made.rule


def _soak_line(plan: PassPlan, spread: Any) -> SoakLine | None:
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
