"""From a dossier to the decision: outlook, rules, prices, and the reason in one sentence."""

from __future__ import annotations

from statistics import fmean
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.decide import Decision, Option, decide, outlook_of
from straighten.decide.costs import removal_left
from straighten.decide.rules import PassHistory, stop_rule
from straighten.desk.checking import judged
from straighten.desk.planning import believed
from straighten.desk.sanding_words import trade_rows
from straighten.desk.turning import decision_turns
from straighten.errors import NoPlan, closed
from straighten.finish import trade
from straighten.plan.forecast import NOISE_SIZE, Forecast, forecast, standing
from straighten.plan.loss import direction_of
from straighten.plan.search import strongest_pass
from straighten.shape.modes import INDEX
from straighten.sheet.decision import DecisionReport, OptionLine
from straighten.units import show

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straighten.belief.learn import Belief
    from straighten.desk.dossier import Dossier
    from straighten.head.records import Head
    from straighten.readings import Readings
    from straighten.shape import Assessment
    from straighten.sheet.sanding import TradeRow

NEAR: Final = 0.15  # of the cost: less is no reason to go against what one would rather do


def decision_report(dossier: Dossier) -> DecisionReport:
    """Return heat again, sand now or hand it on, each with what it promises.

    Raises:
        BadInput: the head has not been measured.
    """
    head, belief, verdict = dossier.head, believed(dossier), judged(dossier)[1]
    direction = direction_of(belief.draws.states, belief.draws.weights)
    rule = _rule(dossier, belief, verdict, direction)
    try:
        strongest = _strongest(dossier, belief)
    except NoPlan as fault:
        strongest, rule = standing(belief.draws), rule or fault.problem
    outlook = outlook_of(
        strongest, direction, passes_done=dossier.passes_done, most_passes=head.thresholds.most_passes.value
    )
    decision, done = decide(head, outlook, rule), verdict.verdict == "inside limits"
    return DecisionReport(
        name=dossier.name,
        system=head.system,
        choice="finish" if done else decision.choice,
        reason=f"Finish: {verdict.reason}"
        if done
        else _blind(dossier) + _reason(head, decision, outlook.full_set),
        stopped_by=decision.stopped_by,
        options=tuple(_line(head, option) for option in decision.options),
        cost_by_passes=decision.cost_by_passes,
        trade=_trade(head, belief) if verdict.verdict in ("straighten", "hand it on") else (),
        prices=_prices(head),
        would_change=decision_turns(head, outlook, decision),
    )


def _blind(dossier: Dossier) -> str:
    """Say that the last pass was not measured: what follows stands on what was foretold of it."""
    if not dossier.passes or dossier.measured_after_last_pass:
        return ""
    return (
        "Measure first: no reading was logged after the last pass, and a survey costs little. As foretold: "
    )


def _trade(head: Head, belief: Belief) -> tuple[TradeRow, ...]:
    """Return what stopping at each bow would cost, from the shape believed now."""
    state = belief.draws.weights @ belief.draws.states
    return trade_rows(trade(head, state, removal_left(head)))


def _strongest(dossier: Dossier, belief: Belief) -> Forecast:
    """Return what the strongest pass on hand would do, scatter left out.

    Raises:
        NoPlan: no place is left to heat, or no bolt carries the pull.
    """
    setup = strongest_pass(dossier.head, belief.draws, done=dossier.done)
    return forecast(dossier.head, belief.draws, setup, np.zeros((belief.draws.weights.size, NOISE_SIZE)))


def _rule(dossier: Dossier, belief: Belief, verdict: Assessment, direction: int) -> str:
    if verdict.verdict in ("hand it on", "sand only", "inside limits"):
        return verdict.reason
    weights = belief.draws.weights
    cam = [direction * float(weights @ shape[:, INDEX["cam_bow"]]) for shape in belief.history]
    surveys = [s for s in dossier.surveys if s is not None]
    return stop_rule(
        dossier.head,
        PassHistory(
            passes=dossier.passes_done,
            last_gain=_last_gain(dossier, belief),
            first_bow=cam[0],
            bow=cam[-1],
            hardness_now=_hardness(surveys[-1]),
            hardness_first=_hardness(surveys[0]),
            crack=surveys[-1].intake.cracks == "found",
        ),
    )


def _hardness(survey: Readings) -> float | None:
    return fmean(h.value for h in survey.hardness) if survey.hardness else None


def _last_gain(dossier: Dossier, belief: Belief) -> float | None:
    """Return the bow the last measured soak took over the bend it imposed; spots keep less by design and are not judged so."""
    if not dossier.passes or dossier.passes[-1].soak is None or not dossier.measured_after_last_pass:
        return None
    before, after = belief.history[-2], belief.history[-1]
    taken = float(belief.draws.weights @ (before - after)[:, INDEX["deck_bow"]])
    clamp = dossier.passes[-1].clamp
    bend = float(belief.draws.weights @ before[:, INDEX["deck_bow"]]) + (clamp.front if clamp else 0.0)
    return taken / bend if bend > 0 else None


def _line(head: Head, option: Option) -> OptionLine:
    return OptionLine(
        choice=option.choice,
        cost=option.cost,
        cam_left=option.cam_left,
        deck_left=option.deck_left,
        metal=option.metal,
        chance=option.chance,
        passes=option.passes,
        reason=_why(head, option),
    )


def _why(head: Head, option: Option) -> str:
    chance = f"{100 * option.chance:.0f} % to end with the cam line inside {show(head.limits.cam_line.value, head.system)}"
    if option.choice == "heat again":
        return f"about {option.passes:.1f} more passes, then {chance}"
    if option.choice == "sand now":
        metal = show(option.metal.mean, head.system)
        return f"takes {metal} off the deck and leaves the cam line as it is: {chance}"
    return "the cam bores are cut true in line, or another head is bought, whichever is cheaper"


def _reason(head: Head, decision: Decision, full_set: float) -> str:
    best, *others = decision.options
    second = min(others, key=lambda option: option.cost.mean)
    saved = f"it is expected to cost {second.cost.mean - best.cost.mean:.0f} less than to {second.choice}"
    if decision.stopped_by:
        return closed(f"{decision.choice.capitalize()}: {decision.stopped_by}")
    reach = show(full_set, head.system)
    return (
        f"{decision.choice.capitalize()}: {saved}{_tie(best, others)}; one strong pass takes about {reach}."
    )


def _tie(best: Option, others: Sequence[Option]) -> str:
    """Name a way that is little dearer in the mean and may well turn out cheaper; nothing where there is none."""
    for other in others:
        low, _, high = other.cost.tenths
        if low < best.cost.mean and other.cost.mean < (1 + NEAR) * best.cost.mean:
            return f"; nearly a tie: to {other.choice} may cost anything from {low:.0f} to {high:.0f}"
    return ""


def _prices(head: Head) -> tuple[str, ...]:
    prices = head.prices
    return tuple(
        f"{key.replace('_', ' ')} {getattr(prices, key):g}{' (assumed; set it under [prices])' if key in prices.assumed else ''}"
        for key in (
            "hour",
            "gas_per_pass",
            "gasket_set",
            "replacement_head",
            "line_boring",
            "removal_per_tenth_mm",
        )
    )
