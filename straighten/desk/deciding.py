"""The judgement told at length: every way to go, the go or no-go with its shape, and what would change the answer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from typing import Any, Final

from straighten.decide import Decision, Option, Outlook, decide, whole_job
from straighten.desk.job import Job
from straighten.desk.words import reckoned_on
from straighten.errors import NoPlan, closed, counted
from straighten.head.records import Head, Oven, ShimBlade, metal_left
from straighten.heat.flames import LARGEST_RADIUS
from straighten.plan.alternatives import Candidate
from straighten.plan.records import Done, Draws, thinned
from straighten.plan.search import choose_pass
from straighten.quantiles import Floats
from straighten.readings.text import as_seen, said_back
from straighten.sanding.consequences import trade
from straighten.shape import worth_of_more
from straighten.sheet.decision import DecisionReport, OptionLine, WholeJobLine
from straighten.sheet.verdict import CheckReport, shape_lines
from straighten.units import System, show, show_temperature

NEAR: Final = 0.15  # of the cost: less is no reason to go against what one would rather do


def decision_report(job: Job) -> DecisionReport:
    """Return the next step with its reason, and every way to go with what it costs and promises.

    Of a forbidden head nothing is told but the reason and what to do.

    Raises:
        BadInput: the head has not been measured.
    """
    judgement = job.judgement
    open_ways = not judgement.forbidden and judgement.goal is not None
    if not open_ways and not judgement.forbidden:
        job.dossier.survey  # noqa: B018 - names the missing survey
    report = DecisionReport(
        name=job.dossier.name,
        system=job.head.system,
        choice=judgement.choice,
        reason=f"{judgement.choice.capitalize()}: {judgement.reason}",
        stopped_by="" if judgement.next_step == "heat" else judgement.reason,
        go_on=judgement.go_on,
        command=judgement.command,
        judgement=judgement.to_plain(),
    )
    return _with_ways(report, job) if open_ways else report


def _with_ways(report: DecisionReport, job: Job) -> DecisionReport:
    head, decision, dossier = job.head, job.decision, job.dossier
    unmeasured = dossier.passes and not dossier.measured_after_last_pass
    foretold = "As foretold of the last pass. " if unmeasured else ""
    traded = job.may_heat and job.judgement.next_step in ("heat", "hand it on")
    state = job.belief.draws.weights @ job.belief.draws.states
    return replace(
        report,
        reason=closed(foretold + report.reason) + _by_cost(job, decision),
        options=tuple(OptionLine(option=o, reason=_why(head, o)) for o in decision.options),
        cost_by_passes=decision.cost_by_passes,
        whole_job=whole_job_line(job),
        trade=trade(head, state, metal_left(head)) if traded else (),
        prices=_prices(head),
        would_change=(*reach_turns(job), *decision_turns(head, job.outlook, decision)),
    )


def whole_job_line(job: Job) -> WholeJobLine | None:
    """Return what the whole job comes to, with the cost of going on with heat; None where no pass may be planned."""
    heat = next((o for o in job.decision.options if o.choice == "heat again"), None)
    if job.whole is None or heat is None:
        return None
    return WholeJobLine(whole=job.whole, cost=heat.cost.tenths)


def _by_cost(job: Job, decision: Decision) -> str:
    """Return how the ways compare by their cost alone, where costs have a say: heat, sand or hand on."""
    if job.judgement.next_step in ("finish", "measure"):
        return ""
    best, *others = decision.options
    second = min(others, key=lambda option: option.cost.mean)
    reach = (
        f"; one strong pass takes about {show(job.outlook.full_set, job.head.system)}" if job.may_heat else ""
    )
    return (
        f" By cost alone: {best.choice}, expected to cost {second.cost.mean - best.cost.mean:.0f} less than to "
        f"{second.choice}{_tie(best, others)}{reach}."
    )


def _why(head: Head, option: Option) -> str:
    chance = f"{100 * option.chance:.0f} % to end with the cam line inside {show(head.limits.cam_line.value, head.system)}"
    if option.choice == "heat again":
        return f"about {option.passes:.1f} more passes, as long as these prices pay, then {chance}"
    if option.choice == "sand now":
        metal = show(option.metal.mean, head.system)
        return f"takes {metal} off the deck and leaves the cam line as it is: {chance}"
    return "the cam bores are cut true in line, or another head is bought, whichever is cheaper"


def _tie(best: Option, others: Sequence[Option]) -> str:
    """Return a way whose mean cost is little higher and which may turn out cheaper, or nothing."""
    for other in others:
        low, _, high = other.cost.tenths
        if low < best.cost.mean and other.cost.mean < (1 + NEAR) * best.cost.mean:
            return f"; nearly a tie: to {other.choice} may cost anything from {low:.0f} to {high:.0f}"
    return ""


def _price(key: str, system: System) -> str:
    """Return a price in words; an inch person's tenth of a millimetre is four thou."""
    words = key.replace("_", " ")
    return words.replace("per tenth mm", "per 4 thou (0.1 mm)") if system == "inch" else words


def _prices(head: Head) -> tuple[str, ...]:
    prices = head.prices
    return tuple(
        f"{_price(key, head.system)} {getattr(prices, key):g}{' (assumed; set it under [prices])' if key in prices.assumed else ''}"
        for key in (field.name for field in fields(prices) if field.name != "assumed")
    )


# --- go or no-go -------------------------------------------------------------------------------------------------------


WORTH_SHOWN = 4
WORTH_A_LINE = 2.5e-6  # m: less does not show in half a thou
_SHAPE_WORDS = {
    "deck_bow": "deck bow, middle over the ends",
    "cam_bow": "cam line bow, middle over the ends",
    "deck_skew": "deck lean of the bow towards the front",
    "deck_side": "inlet edge bow less exhaust edge bow, half",
    "twist": "twist, half",
    "dish": "crosswise dish",
}
_RECKONED_ON = f"{_SHAPE_WORDS['cam_bow']} of the head, reckoned on beyond the outer towers"


def check_report(job: Job) -> CheckReport:
    """Return what the judgement says of the head, with every number that was looked at.

    Of a forbidden head, or one never measured, nothing is told but the reason and what to do.
    """
    judgement, head = job.judgement, job.head
    report = CheckReport(
        name=job.dossier.name,
        system=head.system,
        verdict=judgement.verdict,
        reason=judgement.reason,
        decided_by=judgement.decided_by,
        findings=judgement.sentences(),
        go_on=judgement.go_on,
        command=judgement.command,
        metal_left=metal_left(head),
        judgement=judgement.to_plain(),
    )
    return report if judgement.goal is None else _with_shape(report, job)


def _with_shape(report: CheckReport, job: Job) -> CheckReport:
    """Return the report with a measured shape; which way to pull only where it is to be pulled."""
    readings, shape, head = job.dossier.survey, job.shape, job.head
    worth = worth_of_more(readings, head, shape)[:WORTH_SHOWN]
    words = _SHAPE_WORDS | {"cam_bow": _RECKONED_ON} if reckoned_on(head) else _SHAPE_WORDS
    return replace(
        report,
        direction=job.assessment.direction_words if job.judgement.next_step == "heat" else "",
        pattern=job.assessment.pattern,
        shape=shape_lines(shape, words),
        straightness=shape.straightness_sentences(head.system),
        limits=tuple(limit.sentence(head) for limit in shape.limits),
        suspects=(*(s.sentence for s in shape.suspects), *(m.sentence for m in shape.misfits)),
        caveats=(*readings.caveats, *shape.caveats),
        worth=tuple(one.sentence(head) for one in worth if one.before - one.after > WORTH_A_LINE),
        understood=said_back(readings),
        as_seen=as_seen(readings, head.system),
        whole_job=whole_job_line(job) if job.judgement.next_step == "heat" else None,
    )


# --- what would change the answer --------------------------------------------------------------------------------------


ASKED_DRAWS: Final = 512
THIN_BLADE: Final = 0.05e-3  # m, that a shop may lack
LIKELY: Final = 0.5  # chance to end straight, under which other equipment is looked at
WORTH_REACH: Final = 0.1  # of chance
LARGER: Final = 1.5
USUAL_OVEN: Final = Oven(hottest=230.0, longest=4 * 3600.0)  # common practice, no source
WORTH_TELLING: Final = 0.02  # passes that a change must save
OTHER_PRICES: Final = (0.5, 2.0)
PRICES: Final = {
    "hour": "an hour cost",
    "replacement_head": "another head cost",
    "line_boring": "line boring cost",
}


def plan_turns(head: Head, draws: Draws, noise: Floats, done: Done) -> tuple[str, ...]:
    """Return what would better the plan: four more of the thin blade, where the shop lacks them."""
    if any(abs(own.thickness - THIN_BLADE) < 5e-6 and own.count >= 4 for own in head.shim_blades):
        return ()
    drawn = thinned(draws, noise, ASKED_DRAWS)
    richer = replace(head, shim_blades=(*head.shim_blades, ShimBlade(thickness=THIN_BLADE, count=4)))
    try:  # both on the same draws
        best, other = (choose_pass(one, *drawn, done=done).best for one in (head, richer))
    except NoPlan:
        return ()
    if best.loss - other.loss < WORTH_TELLING:
        return ()
    gained = 100 * (other.chances.both - best.chances.both)
    blades = f"With four more {show(THIN_BLADE, head.system)} blades the plan would be finer"
    return (f"{blades}: {gained:+.0f} points to end inside after this pass.",)


def reach_turns(job: Job) -> tuple[str, ...]:
    """Return which one thing owned otherwise would bring a head straight that these tools likely do not.

    Where these tools can plan no pass at all they bring nothing. A straight cam line is bent by no tool.
    """
    judged = job.judgement
    straight = judged.goal is None or judged.goal.cam_holds
    if straight or judged.next_step not in ("heat", "hand it on") or job.forbidden_to_clamp:
        return ()
    chance, now = 0.0, "none today"
    if job.whole is not None:
        chance, now = job.whole.chance, f"{100 * job.whole.chance:.0f} %"
    if chance >= LIKELY:
        return ()
    found = []
    for words, other in _better_equipped(job.head):
        outlook = job.outlook_with(other)
        whole = None if outlook is None else whole_job(other, outlook)
        if whole is not None and whole.chance >= chance + WORTH_REACH:
            count = counted(whole.clampings[1], "clamping")
            found.append(
                f"With {words}: {100 * whole.chance:.0f} % to end straight, {count} in the middle, instead of {now}."
            )
    return tuple(found)


def _better_equipped(head: Head) -> Iterator[tuple[str, Head]]:
    """Yield the head with a larger tip, over a thicker base, and with an oven, each in words."""
    if head.torch is not None:
        tips = (head.torch, *head.spare_tips)
        radius = min(LARGER * max(tip.radius for tip in tips), LARGEST_RADIUS.value)
        tip = replace(tips[-1], radius=radius, largest=max(radius, *(tip.largest for tip in tips)))
        yield (
            f"a tip that bites {show(2 * radius, head.system, big=True)} across",
            replace(head, torch=tip, spare_tips=tips),
        )
    if head.base.kind == "plate":
        thick = LARGER * head.base.thickness
        words = f"a base {show(thick, head.system, big=True)} thick"
        yield words, replace(head, base=replace(head.base, thickness=thick))
    if head.oven is None:
        hot = show_temperature(USUAL_OVEN.hottest, head.system)
        yield f"an oven of {hot} for {USUAL_OVEN.longest / 3600:.0f} h", replace(head, oven=USUAL_OVEN)


def trades(head: Head, best: Candidate, other: Candidate) -> str:
    """Return in words what another set-up gives and takes against the chosen one."""
    parts = []
    work = other.work - best.work
    if abs(work) >= 1:
        word = "more" if work > 0 else "less"
        parts.append(
            f"{counted(round(abs(work)), 'spot')} {word}"
            if other.setup.spots
            else f"{abs(work) / 10:.1f} h {word}"
        )
    inside = 100 * (other.chances.both - best.chances.both)
    if abs(inside) >= 1:
        parts.append(f"{abs(inside):.0f} points {'more' if inside > 0 else 'less'} likely inside")
    left = other.left - best.left
    if abs(left) >= 5e-6:
        parts.append(f"{show(abs(left), head.system)} {'more' if left > 0 else 'less'} cam-line bow left")
    if abs(other.hardness - best.hardness) >= 1:
        parts.append(f"{other.hardness - best.hardness:+.0f} HB")
    return ", ".join(parts)


def decision_turns(head: Head, outlook: Outlook, decision: Decision) -> tuple[str, ...]:
    """Return which facts and prices would turn the choice, each asked of the decision itself."""
    found = []
    free = decide(replace(head, prices=replace(head.prices, line_boring=0.0)), outlook).choice
    if free != decision.choice and free == "sand now":
        found.append("If the cam turns free as it is: sand now.")
    for key, words in PRICES.items():
        price = float(getattr(head.prices, key))
        for times in OTHER_PRICES:
            changed: dict[str, Any] = {key: times * price}
            other = decide(replace(head, prices=replace(head.prices, **changed)), outlook).choice
            if other != decision.choice:
                found.append(f"If {words} {times * price:.0f} instead of {price:.0f}: {other}.")
    strengths = ((1.5, "took half as much again"), (0.6, "took only six tenths of that"))
    for share, words in strengths if outlook.passes_left else ():
        other = decide(head, replace(outlook, full_set=share * outlook.full_set)).choice
        if other != decision.choice:
            found.append(f"If one strong pass {words}: {other}.")
    return tuple(found) or (
        "Nothing that was tried: half or double each price, a cam that turns free"
        f"{', passes weaker or stronger' if outlook.passes_left else ''}.",
    )
