"""What would change the answer: one more blade for the plan, other facts and prices for the decision, a mill for the sanding."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from straighten.decide import Decision, Outlook, decide, whole_job
from straighten.decide.costs import HOURS_TO_HAND_ON
from straighten.errors import NoPlan, counted, in_shell
from straighten.head.records import Head, Oven, Prices, ShimBlade
from straighten.heat.flames import LARGEST_RADIUS
from straighten.plan.alternatives import Candidate
from straighten.plan.records import Done, Draws
from straighten.plan.search import choose_pass, thinned
from straighten.quantiles import Floats
from straighten.sanding import SandingPlan
from straighten.sanding.learning import sheets_for
from straighten.sources import Cited
from straighten.units import show, show_temperature

if TYPE_CHECKING:
    from straighten.desk.job import Job

ASKED_DRAWS: Final = 512
THIN_BLADES: Final = (0.05e-3,)  # m, that a shop may lack
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
    """Return what would better the plan: a thinner blade, or a reading that was not taken."""
    lacking = [
        b
        for b in THIN_BLADES
        if not any(abs(o.thickness - b) < 5e-6 and o.count >= 4 for o in head.shim_blades)
    ]
    if not lacking:
        return ()
    line = _with_blade(head, thinned(draws, noise, ASKED_DRAWS), done, lacking[0])
    return (line,) if line else ()


def _with_blade(head: Head, drawn: tuple[Draws, Floats], done: Done, blade: float) -> str:
    """Say what four more blades of a thickness would bring, or nothing."""
    richer = replace(head, shim_blades=(*head.shim_blades, ShimBlade(thickness=blade, count=4)))
    try:  # both on the same draws
        best, other = (choose_pass(one, *drawn, done=done).best for one in (head, richer))
    except NoPlan:
        return ""
    if best.loss - other.loss < WORTH_TELLING:
        return ""
    gained = 100 * (other.chances.both - best.chances.both)
    return f"With four more {show(blade, head.system)} blades the plan would be finer: {gained:+.0f} points to end inside after this pass."


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


def _priced(prices: Prices, key: str, value: float) -> Prices:
    changed: dict[str, Any] = {key: value}
    return replace(prices, **changed)


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
            other = decide(replace(head, prices=_priced(head.prices, key, times * price)), outlook).choice
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


# --- by machine instead of by hand ----------------------------------------------------------------------------

MOST_STROKES: Final = Cited(
    2000, "", "by hand in one job; beyond it a face is milled sooner", "common practice, no source"
)
STROKE_TIME: Final = Cited(2.0, "s", "one stroke there and back", "assumed")
SHEET_TIME: Final = Cited(180.0, "s", "wash, look and lay a fresh sheet", "assumed")


def mill_first(head: Head, plan: SandingPlan, strokes: float) -> tuple[str, ...]:
    """Return the advice to have the face milled, with what both ways cost; nothing where the strokes are few."""
    if strokes <= MOST_STROKES.value:
        return ()
    prices, depth = head.prices, min(plan.depth[1], max(plan.allowed, 0.0))
    most = ", all that may come off," if plan.depth[1] > plan.allowed else ""
    hours = (strokes * STROKE_TIME.value + sheets_for(math.ceil(strokes)) * SHEET_TIME.value) / 3600
    hand = prices.hour * hours
    shop = prices.hour * HOURS_TO_HAND_ON.value + prices.removal_per_tenth_mm * depth / 1e-4
    whose = "assumed prices" if {"hour", "removal_per_tenth_mm"} & set(prices.assumed) else "your prices"
    return (
        f"Mill it first: about {round(strokes, -2):.0f} strokes lie ahead, {hours:.0f} h and {sheets_for(math.ceil(strokes))} sheets, "
        f"{hand:.0f} by hand against {shop:.0f} to have {show(depth, head.system)}{most} faced and fetch it ({whose}). Then measure "
        f"anew: straighten measure {in_shell(head.name)}. If you sand all the same:",
    )
