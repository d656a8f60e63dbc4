"""The one judgement of a head: what forbids, what is advised against, what is unknown, and the next step.

Every command reads it and none reasons on its own. The goal of a job: the cam line inside its limit, and the deck
inside its limit or sandable to it within the metal that may come off. While heat is expected to gain on that, the job
goes on; thresholds of the trade advise and never overrule a limit that the person gave.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from straighten.desk.goal import Goal, advice_on_heat, finding, goal_of
from straighten.desk.job import Job
from straighten.desk.words import decided_by
from straighten.errors import NoPlan, counted, in_shell
from straighten.plan.loss import chances, metal_to_sand
from straighten.shape import Assessment, Finding
from straighten.shape.findings import casting_findings
from straighten.shape.limits import LimitCheck
from straighten.units import show, show_range

NextStep = Literal["measure", "heat", "sand", "finish", "hand it on"]
HALF: Final = 0.5
SURE: Final = 0.8  # chance inside from which the cam line is left alone
GAIN: Final = 0.1  # what a pass must add to that chance below it
# As a go / no-go, as a decision, the command that does it.
STEPS: Final[Mapping[NextStep, tuple[str, str, str]]] = {
    "measure": (
        "measure again",
        "measure again",
        "straighten measure {name} survey.toml, once the reading asked for is in it",
    ),
    "heat": ("straighten", "heat again", "straighten plan {name}"),
    "sand": (
        "sand only",
        "sand now",
        "straighten sand {name}; once it is sanded, straighten measure {name} survey.toml",
    ),
    "finish": ("inside limits", "finish", "straighten finish {name}"),
    "hand it on": (
        "hand it on",
        "hand it on",
        "straighten decide {name}, which names the ways that are left",
    ),
}


BY_WHAT_DECIDED: Final[Mapping[str, str]] = {  # where the command of the step says too little
    "not measured": "straighten measure {name} survey.toml",
    "pass not measured": "straighten measure {name} survey.toml",
    "sanded since": "straighten measure {name} survey.toml",
    "stages in hand": (
        "straighten stage {name} as the ladder says, or straighten log {name} survey.toml once it is released cold and measured"
    ),
    "stages done": "straighten log {name} survey.toml, once it is released cold and measured",
    "closed": "straighten sheet {name} --report; to open the head again: straighten measure {name} survey.toml",
    "magnesium": "straighten check {name}, only if that answer was a slip and is struck or put right in head.toml",
    "crack": "straighten measure {name} survey.toml, once it is repaired and has passed a leak test",
    "hardness level": "straighten measure {name} survey.toml, once it is hardened anew, or if it was read wrongly",
    "stretch bolts": "straighten check {name}, once head.toml names plain studs under [[bolts]]",
}


def command_of(step: NextStep, decided: str, name: str) -> str:
    """Return the command that does a step, by the kind of finding that decided it."""
    return BY_WHAT_DECIDED.get(decided, STEPS[step][2]).format(name=in_shell(name))


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What is to be done next with a head, and everything that speaks for or against it.

    `next_step`; `reason` in one line; `decided` the finding that decided, `decided_by` its number with its threshold; `findings` all, in bench order; `accepted`
    the advice gone past, by kind, with the person's reason; `goal` and `assessment` None where no shape was measured;
    `go_on` the command that goes past the advice, or "".
    """

    name: str
    next_step: NextStep
    reason: str
    decided: Finding
    decided_by: str
    findings: tuple[Finding, ...]
    accepted: Mapping[str, str]
    goal: Goal | None = None
    assessment: Assessment | None = None
    go_on: str = ""

    @property
    def verdict(self) -> str:
        """The next step as a go / no-go."""
        return STEPS[self.next_step][0]

    @property
    def choice(self) -> str:
        """The next step as a decision."""
        return STEPS[self.next_step][1]

    @property
    def command(self) -> str:
        """The command that does it."""
        return command_of(self.next_step, self.decided.kind, self.name)

    def of(self, weight: str) -> tuple[Finding, ...]:
        """Return the findings of one kind, in bench order."""
        return tuple(f for f in self.findings if f.weight == weight)

    @property
    def forbidden(self) -> tuple[Finding, ...]:
        """What nothing passes."""
        return self.of("forbidden")

    @property
    def held(self) -> tuple[Finding, ...]:
        """Advice that the work waits for a reason to go past."""
        return tuple(f for f in self.of("advised against") if f.holds and f.kind not in self.accepted)

    def sentences(self) -> tuple[str, ...]:
        """Every finding with its kind, and the reason where it was gone past."""
        return tuple(self._sentence(f) for f in self.findings)

    def _sentence(self, finding: Finding) -> str:
        gone = self.accepted.get(finding.kind) if finding.weight == "advised against" else None
        past = f' Gone past: "{gone}".' if gone else ""
        return f"{finding.weight}: {finding.told}{past}"

    def to_plain(self) -> dict[str, Any]:
        """Return the judgement as JSON scalars, the same object in every answer."""
        return {
            "next": self.next_step,
            "reason": self.reason,
            "decided": self.decided.kind,
            "decided_by": self.decided_by,
            "command": self.command,
            "go_on": self.go_on,
            **{
                weight.replace(" ", "_"): [
                    {
                        "kind": f.kind,
                        "sentence": f.sentence,
                        "do": f.do,
                        "holds": f.holds,
                        "gone_past_because": self.accepted.get(f.kind, ""),
                    }
                    for f in self.of(weight)
                ]
                for weight in ("forbidden", "advised against", "unknown")
            },
            "goal": None if self.goal is None else self.goal.to_plain(),
        }


def judge(job: Job) -> Judgement:
    """Return the judgement of a head from all that is recorded.

    Source: Order: what ruins a head or hurts a person first (common practice, no source).
    """
    dossier = job.dossier
    if job.forbidden:
        return _judgement(job, "hand it on", job.forbidden[0], job.forbidden)
    if not dossier.measured:
        due = _asked("not measured", "The shape has not been measured.", "Read deck and cam line.")
        return _judgement(job, "measure", due, (*casting_findings(job.head, dossier.told), due))
    found, goal = job.assessment.findings, goal_of(job)
    if waiting := _waits_for_readings(job, found):
        return _judgement(job, "measure", waiting, (*found, *(() if waiting in found else (waiting,))), goal)
    step, decided, more = _towards(job, goal)
    findings = (*found, *more, *(() if decided in more or decided in found else (decided,)))
    judged = _judgement(job, step, decided, findings, goal)
    if step == "heat" and judged.held:
        judged = _judgement(job, "hand it on", judged.held[0], findings, goal)
        return replace(judged, go_on=f'straighten plan {in_shell(dossier.name)} --because "..."')
    if step == "hand it on" and decided.weight != "forbidden" and not goal.deck_holds:
        return replace(judged, go_on=f'straighten sand {in_shell(dossier.name)} --because "..."')
    return judged


def _judgement(
    job: Job,
    step: NextStep,
    decided: Finding,
    findings: tuple[Finding, ...],
    goal: Goal | None = None,
) -> Judgement:
    return Judgement(
        name=job.dossier.name,
        next_step=step,
        reason=decided.told if decided.weight != "fine" else decided.sentence,
        decided=decided,
        decided_by=decided_by(decided, job.head.system),
        findings=findings,
        accepted=job.dossier.accepted,
        goal=goal,
        assessment=job.assessment if goal is not None else None,
    )


def _asked(kind: str, sentence: str, do: str) -> Finding:
    return finding(kind, "unknown", sentence, do)


def _waits_for_readings(job: Job, found: tuple[Finding, ...]) -> Finding | None:
    """Return what must be read before anything is decided, or None."""
    dossier = job.dossier
    if dossier.stages:
        from straighten.desk.staging import stages_in_hand

        done, every = len(dossier.stages), len(stages_in_hand(dossier).ends)
        told = f"{counted(done, 'stage')} of the pass in the clamp {'are' if done > 1 else 'is'} done."
        if done >= every:
            return _asked("stages done", told, "Release it, measure it cold, then straighten log.")
        do = "Go on by the ladder with straighten stage; released and cold, measure, then straighten log."
        return _asked("stages in hand", told, do)
    if dossier.sanding and dossier.sanding != "go on":
        return _asked("sanded since", "The deck was sanded since it was last measured.", "Measure it again.")
    if dossier.passes and not dossier.measured_after_last_pass:
        return _asked("pass not measured", "The last pass was not measured.", "Measure deck and cam line.")
    if dossier.sanding:  # begun, with its reason where one was asked for: what is unknown is read after it
        return None
    return next((f for f in found if f.weight == "unknown" and f.holds), None)


def _towards(job: Job, goal: Goal) -> tuple[NextStep, Finding, tuple[Finding, ...]]:
    """Return the step towards the goal, the finding that decides, and what else was found on the way."""
    if (without := _without_bending(job, goal)) is not None:
        return without
    if bolts := job.forbidden_to_clamp:
        return "hand it on", bolts[0], bolts
    planned = job.next_pass
    if isinstance(planned, NoPlan):
        return _without_heat(job, goal, planned)
    return "heat", _bend(job, goal), advice_on_heat(job, planned, goal)


def _without_bending(job: Job, goal: Goal) -> tuple[NextStep, Finding, tuple[Finding, ...]] | None:
    """Return the step where the cam line is inside its limit or the sanding is under way; None where bending is asked for."""
    if job.dossier.sanding == "go on":
        return "sand", finding("sanding begun", "fine", "The sanding is under way."), ()
    if not goal.cam_holds or _heat_makes_surer(job, goal):
        return None
    if goal.deck_holds:
        return "finish", _inside(job), ()
    if goal.deck[0].low <= goal.deck[0].limit.value and (unread := _unread_twist(job)):
        return "measure", unread, (unread,)
    return ("sand", _to_sand(job, goal), ()) if goal.sandable >= HALF else None


def _heat_makes_surer(job: Job, goal: Goal) -> bool:
    """Whether the cam line is not surely inside its limit, and one more pass is expected to make it surer by `GAIN`.

    A plan tells nothing of single towers, so it is held against the chance that the smooth line has now.
    """
    if min(check.chance for check in goal.cam) >= SURE or job.forbidden_to_clamp:
        return False
    planned, draws = job.next_pass, job.belief.draws
    if isinstance(planned, NoPlan):
        return False
    return planned.chances.cam > chances(job.head, draws.states, draws.weights, job.direction).cam + GAIN


def _unread_twist(job: Job) -> Finding | None:
    """Return that a twist nobody read decides whether the deck is sanded at all, or None."""
    unread = next((f for f in job.assessment.findings if f.kind == "twist unknown"), None)
    return None if unread is None else replace(unread, kind="twist decides", holds=True)


def _inside(job: Job) -> Finding:
    """Return that nothing is left to bend or to sand; the least sure limit is named with its chance."""
    least = min((check for check in job.shape.limits if check.read is None), key=lambda check: check.chance)
    if end := job.dossier.closed:
        told = f"Entry {end.number}, the final list, closed this head: nothing is left to do."
        return finding("closed", "fine", told, check=least)
    finer = "" if least.holds else "; read it with finer blades before the head is closed"
    sentence = (
        "Deck and cam line hold their limits: nothing to straighten and nothing to sand (least sure: "
        f"{least.name}, {100 * least.chance:.0f} % inside{finer})."
    )
    return finding("inside limits", "fine", sentence, check=least)


def _to_sand(job: Job, goal: Goal) -> Finding:
    system, deck = job.head.system, goal.deck[0]
    chance = min(check.chance for check in goal.cam)
    inside = "is inside its limit"
    if chance < SURE:
        inside = f"is inside its limit with {100 * chance:.0f} % chance (a bare oiled cam that turns free all round is)"
    sentence = (
        f"The cam line {inside}; the deck stands {show(deck.value, system)} out of flat: sand it, "
        f"{show_range(goal.metal[0], goal.metal[2], system)} of the {show(goal.left, system)} that may come off."
    )
    return finding("deck to sand", "fine", sentence, check=deck)


def _outside(goal: Goal) -> LimitCheck:
    """Return the limit that asks for bending: the first cam line outside its own, else the deck's."""
    return next((c for c in goal.cam if not c.holds), goal.deck[0])


def _bend(job: Job, goal: Goal) -> Finding:
    """Return the reason to heat: what stands outside its limit, and how it is bent."""
    system, shape = job.head.system, job.shape
    deck, cam = shape.value("deck_bow"), shape.value("cam_bow")
    over = ", ".join(c.name for c in (*goal.cam, *goal.deck) if not c.holds)
    sentence = (
        f"{job.assessment.pattern.capitalize()}: deck {'hollow' if deck > 0 else 'crowned'} "
        f"{show(abs(deck), system)}, cam line {'high' if cam > 0 else 'low'} {show(abs(cam), system)}; over the limit: {over}."
    )
    return finding("bend", "fine", sentence, check=_outside(goal))


def _without_heat(job: Job, goal: Goal, planned: NoPlan) -> tuple[NextStep, Finding, tuple[Finding, ...]]:
    """Return what is left where no pass helps: read finer where the limit lies inside the range, else hand it on."""
    system, out = job.head.system, _outside(goal)
    least = float(metal_to_sand(job.head, goal.deck[0].draws).min())
    if goal.cam_holds and least <= goal.left and (unread := _unread_twist(job)):
        return "measure", unread, (unread,)
    stands = f"{out.name} {show(out.value, system)}, range {show_range(out.low, out.high, system)}, limit {show(out.limit.value, system)}"
    stands = stands[:1].upper() + stands[1:]
    if out.low <= out.limit.value and goal.sandable >= HALF:
        told = f"{stands}: it may be inside, and heat gains no more."
        do = "Read it with finer blades, or turn the bare oiled cam by finger: free all round means inside."
        unsure = finding("limit inside the range", "unknown", told, do, out)
        return "measure", unsure, (unsure,)
    if goal.cam_holds:
        ended = _too_deep(job, goal, stands)
    else:
        told = f"{stands}: heat gains no more ({planned.problem})."
        last = "ine boring and facing, or another head."
        do = f"{planned.fix} Else l{last}" if planned.fix else f"L{last}"
        ended = finding("heat gains no more", "advised against", told, do, out)
    return "hand it on", ended, (ended,)


def _too_deep(job: Job, goal: Goal, stands: str) -> Finding:
    """Return that a deck over a straight cam line takes more metal than may come off."""
    system, (low, _, high) = job.head.system, goal.metal
    told = (
        f"{stands}: to sand it inside its limit takes {show_range(low, high, system)}, {show(goal.left, system)} may come off. "
        "The cam line is inside its limit: heat would bend it out."
    )
    do = "Ask a machine shop whether the deck may be faced deeper; else another head."
    return finding("deck too deep to sand", "advised against", told, do, goal.deck[0])
