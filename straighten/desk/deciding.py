"""The judgement told at length: the decision with every way to go, and the go or no-go with shape and limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from straighten.decide import Decision, Option
from straighten.desk.sanding_words import trade_rows
from straighten.desk.turning import decision_turns, reach_turns
from straighten.desk.words import reckoned_on
from straighten.errors import closed
from straighten.head.records import Head, metal_left
from straighten.readings.said_back import as_seen, said_back
from straighten.sanding import trade
from straighten.shape import worth_of_more
from straighten.sheet.decision import DecisionReport, OptionLine, WholeJobLine
from straighten.sheet.verdict import CheckReport, shape_lines
from straighten.units import System, show

if TYPE_CHECKING:
    from straighten.desk.job import Job
    from straighten.sheet.figures.shape import ShapePicture


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
        trade=trade_rows(trade(head, state, metal_left(head))) if traded else (),
        prices=_prices(head),
        would_change=(*reach_turns(job), *decision_turns(head, job.outlook, decision)),
    )


def whole_job_line(job: Job) -> WholeJobLine | None:
    """Return what the whole job comes to, with the cost of going on with heat; None where no pass may be planned."""
    heat = next((o for o in job.decision.options if o.choice == "heat again"), None)
    if job.whole is None or heat is None:
        return None
    return WholeJobLine(whole=job.whole, cost=heat.cost.tenths)


def whole_job_words(job: Job) -> str:
    """Return in one sentence what the whole job comes to, or nothing."""
    line = whole_job_line(job)
    return "" if line is None else line.sentence(job.head.system)


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
        for key in (
            "hour",
            "gas_per_pass",
            "gasket_set",
            "replacement_head",
            "line_boring",
            "removal_per_tenth_mm",
        )
    )


# --- go or no-go -------------------------------------------------------------------------------------------------------


WORTH_SHOWN = 4
WORTH_TELLING = 2.5e-6  # m: less does not show in half a thou
_SHAPE_WORDS = {
    "deck_bow": "deck bow, middle over the ends",
    "cam_bow": "cam line bow, middle over the ends",
    "deck_skew": "deck lean of the bow towards the front",
    "deck_side": "inlet edge bow less exhaust edge bow, half",
    "twist": "twist, half",
    "dish": "crosswise dish",
}


def _shape_words(head: Head) -> dict[str, str]:
    """Return the words of the shape's numbers; where the cam line is reckoned on beyond its outer towers, that is said."""
    more = f"{_SHAPE_WORDS['cam_bow']} of the head, reckoned on beyond the outer towers"
    return {**_SHAPE_WORDS, **({"cam_bow": more} if reckoned_on(head) else {})}


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
    return replace(
        report,
        direction=job.assessment.direction_words if job.judgement.next_step == "heat" else "",
        pattern=job.assessment.pattern,
        shape=shape_lines(shape, _shape_words(head)),
        straightness=shape.straightness_sentences(head.system),
        limits=tuple(limit.sentence(head) for limit in shape.limits),
        suspects=(*(s.sentence for s in shape.suspects), *(m.sentence for m in shape.misfits)),
        caveats=(*readings.caveats, *shape.caveats),
        worth=tuple(one.sentence(head) for one in worth if one.before - one.after > WORTH_TELLING),
        understood=said_back(readings),
        as_seen=as_seen(readings, head.system),
        whole_job=whole_job_line(job) if job.judgement.next_step == "heat" else None,
    )


def shape_picture(job: Job) -> ShapePicture:
    """Return the last survey as a picture: the deck as a height map, the cam line with its band."""
    from straighten.sheet.figures.shape import ShapePicture

    return ShapePicture(readings=job.dossier.survey, head=job.head, shape=job.fitted)
