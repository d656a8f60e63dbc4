"""How far a head is from the goal of its job, and what speaks against one more heat or forbids the clamp."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from straighten.head.records import Head, metal_left
from straighten.plan.alternatives import PassPlan
from straighten.plan.loss import WELL_INSIDE, metal_to_sand
from straighten.quantiles import tenths
from straighten.shape import Finding
from straighten.shape.findings import Weight
from straighten.shape.limits import LimitCheck
from straighten.shape.modes import INDEX
from straighten.sheet.layout import percent
from straighten.sheet.plain import LEFT_OUT, Answer, Triple, called
from straighten.units import show, show_range

if TYPE_CHECKING:
    from straighten.desk.job import Job


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal(Answer):
    """How far the head is from the goal of a job.

    `cam`, `deck` the limits as they stand; `metal` to come off the deck to reach its limit, 10, 50 and 90 % [m];
    `left` that may come off [m]; `sandable` the chance that it is enough.
    """

    cam: tuple[LimitCheck, ...] = field(metadata=LEFT_OUT)
    deck: tuple[LimitCheck, ...] = field(metadata=LEFT_OUT)
    metal: Triple = field(metadata=called("metal_to_sand_mm"))
    left: float = field(metadata=called("metal_left_mm"))
    sandable: float = field(metadata=called("chance_sandable"))

    @property
    def cam_holds(self) -> bool:
        """Whether every cam line is inside its overall limit."""
        return all(check.holds for check in self.cam)

    @property
    def deck_holds(self) -> bool:
        """Whether the deck is inside its limit as it lies."""
        return all(check.holds for check in self.deck)

    def to_plain(self) -> dict[str, Any]:
        """Return it as JSON scalars, the deck's limits first."""
        return Answer.to_plain(self) | {"limits": [_plain(check) for check in (*self.deck, *self.cam)]}


def _plain(check: LimitCheck) -> dict[str, Any]:
    lengths = {
        "value_mm": check.value,
        "low_mm": check.low,
        "high_mm": check.high,
        "limit_mm": check.limit.value,
    }
    told = {"name": check.name, "holds": check.holds, "chance_inside": check.chance}
    return told | {key: 1e3 * length for key, length in lengths.items()}


def goal_of(job: Job) -> Goal:
    """Return how far the head is from its goal, by the shape believed now."""
    limits = job.shape.limits
    deck = tuple(check for check in limits if check.name == "deck overall")
    cam = tuple(check for check in limits if check.name.endswith("cam line overall"))
    flatness = deck[0].draws
    metal = metal_to_sand(job.head, flatness)
    left = metal_left(job.head)
    low, middle, high = (float(q) for q in np.quantile(metal, [0.1, 0.5, 0.9]))
    return Goal(
        cam=cam, deck=deck, metal=(low, middle, high), left=left, sandable=float(np.mean(metal <= left))
    )


LIKELY: Final = 0.5  # chance of one pass to end the job, above which a count of passes is told only
HOPELESS: Final = 0.02  # chance of the whole job to end straight, under which no heat is advised
SURELY_TOO_DEEP: Final = 0.25  # chance that the metal is enough, under which a crown holds the work
TOLD_CROWN: Final = 20e-6  # m
OWN_PRICES: Final = ("hour", "replacement_head", "line_boring")


def finding(
    kind: str, weight: Weight, sentence: str, do: str = "", check: LimitCheck | None = None
) -> Finding:
    """Return what was found, with the number and the limit of a check that it rests on."""
    found = Finding(kind=kind, weight=weight, holds=weight != "fine", sentence=sentence, do=do)
    return found if check is None else replace(found, value=check.value, unit="m", threshold=check.limit)


def forbidden_bolts(head: Head) -> Finding | None:
    """Return that no bolt named may pull: stretch bolts break when they are used again."""
    if not all(bolt.stretch for bolt in head.bolts):
        return None
    told = "Only stretch bolts are named to clamp with: used once they break without warning."
    do = "Clamp with plain studs and nuts, and name those under [[bolts]]."
    return finding("stretch bolts", "forbidden", told, do)


def advice_on_heat(job: Job, planned: PassPlan, goal: Goal) -> tuple[Finding, ...]:
    """Return what speaks against one more heat, in bench order; nothing of it overrules a limit by itself.

    Source: Thresholds of the head, each with its source.
    """
    return (
        *_passes(job, planned),
        *_sign(job),
        *_gain(job),
        *_crown(job, goal),
        *_road(job, planned),
        *_cost(job),
    )


def _passes(job: Job, planned: PassPlan) -> Iterator[Finding]:
    done, most = job.dossier.passes_done, job.head.thresholds.most_passes
    if done < most.value:
        return
    chance = planned.chances.done
    told = (
        f"{done} passes done, {most.value} are the most ({most.source}); one more has a "
        f"{100 * chance:.0f} % chance to end the job."
    )
    found = finding("passes", "advised against", told)
    yield replace(found, holds=chance < LIKELY, value=float(done), threshold=most)


def _road(job: Job, planned: PassPlan) -> Iterator[Finding]:
    """Yield that the whole job hardly ends straight with the tools owned, however many passes are given."""
    if planned.chances.done >= HOPELESS:
        return
    whole = job.whole
    if whole is None or whole.chance >= HOPELESS:
        return
    told = f"With these tools the whole job has a chance of {percent(whole.chance)} to end straight."
    do = "Other tools, line boring and facing, or another head."
    yield finding("no way to straight", "advised against", told, do)


def _sign(job: Job) -> Iterator[Finding]:
    """Yield that the cam line went past straight, where the next pass would bend the other way."""
    if not job.dossier.passes:
        return
    weights, name = job.belief.draws.weights, INDEX["cam_bow"]
    first, now = (float(weights @ job.belief.history[k][:, name]) for k in (0, -1))
    if first * now >= 0 or first * job.direction > 0:
        return
    told = f"The cam line has gone past straight, {show(now, job.head.system)} now."
    do = "Measure everything again before it is bent the other way (common practice, no source)."
    yield replace(finding("sign", "advised against", told, do), value=now, unit="m")


def _gain(job: Job) -> Iterator[Finding]:
    """Yield a soak that kept little of its bend; spots keep less by design and are not judged so."""
    dossier, rule = job.dossier, job.head.thresholds.least_gain
    if not dossier.passes or dossier.passes[-1].soak is None or not dossier.measured_after_last_pass:
        return
    weights, name = job.belief.draws.weights, INDEX["deck_bow"]
    before, after = (float(weights @ job.belief.history[k][:, name]) for k in (-2, -1))
    clamp = dossier.passes[-1].clamp
    bend = before + (clamp.front if clamp else 0.0)
    if bend <= 0 or (before - after) / bend >= rule.value:
        return
    told = f"The last soak kept {100 * (before - after) / bend:.0f} % of its bend ({rule.source})."
    yield replace(finding("gain", "advised against", told), value=(before - after) / bend, threshold=rule)


def _crown(job: Job, goal: Goal) -> Iterator[Finding]:
    """Yield how far the deck will stand past flat, the metal that costs, and whether it may come off.

    The deck moves by what the cam line goes over their ratio, which is not known before a pass has told it.
    """
    draws, system = job.belief.draws, job.head.system
    weights, sign = draws.weights, 1.0 if job.direction > 0 else -1.0
    cam, deck = (draws.states[:, INDEX[name]] for name in ("cam_bow", "deck_bow"))
    goes = np.maximum(sign * cam - WELL_INSIDE * job.head.limits.cam_line.value, 0.0)
    crown = np.maximum(goes / draws.response.cam_ratio - sign * deck, 0.0)
    low, middle, high = tenths(crown, weights)
    if middle < TOLD_CROWN:
        return
    need = metal_to_sand(job.head, crown)
    enough = float(weights @ (need <= goal.left))
    found = finding(
        "deck flatter than cam line",
        "advised against",
        (
            f"With the cam line well inside its limit the deck will stand {'crowned' if job.direction > 0 else 'hollow'} by about "
            f"{show(middle, system)}, range {show_range(low, high, system)}. Sanding that inside its limit takes about "
            f"{show(float(weights @ need), system)} of the {show(goal.left, system)} that may come off: enough with "
            f"{100 * enough:.0f} % chance."
        ),
        "The alternative is line boring and facing.",
    )
    most = job.head.limits.largest_removal
    yield replace(found, holds=enough < SURELY_TOO_DEEP, value=middle, unit="m", threshold=most)


def _cost(job: Job) -> Iterator[Finding]:
    """Yield another way that costs less by the person's own prices; prices that were only assumed say nothing here."""
    if all(key in job.head.prices.assumed for key in OWN_PRICES):
        return
    heat = next((o for o in job.decision.options if o.choice == "heat again"), None)
    best = job.decision.options[0]
    if heat is None or best.choice in {"heat again", "sand now"}:
        return
    less = heat.cost.mean - best.cost.mean
    told = f"To {best.choice} is expected to cost {less:.0f} less than to go on heating, by the prices of the head file."
    yield replace(finding("cost", "advised against", told), value=less)
