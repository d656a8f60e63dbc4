"""From a job to the next pass card: the judgement first, then the pass it allows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from straighten.desk.pass_card import card_of
from straighten.desk.staging import laid_out, with_ladder
from straighten.errors import NoPlan
from straighten.sheet.card import Card, Refusal

if TYPE_CHECKING:
    from straighten.desk.job import Job
    from straighten.desk.judgement import Judgement
    from straighten.plan.records import PassSetup
    from straighten.plan.stages import Stages


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What to print, and the set-up it stands for; None where no pass is planned.

    `stages` in which it may be heated; `because` the reason given to go past advice, `against` the kinds of that advice.
    """

    printed: Card | Refusal
    setup: PassSetup | None
    stages: Stages | None = None
    because: str = ""
    against: tuple[str, ...] = ()


def plan_card(job: Job, now: datetime, *, because: str = "", ahead: bool = True) -> Planned:
    """Return the next pass card, or the refusal where the head should not be heated.

    Args:
        job: the head's work.
        now: the bench clock.
        because: the person's reason to go past what is advised against; nothing forbidden is passed by it.
        ahead: as `card_of`.

    Raises:
        BadInput: the head has not been measured.
        NoPlan: a reason was given, and no set-up keeps the limits.
    """
    judgement = job.judgement
    if not judgement.forbidden:
        job.dossier.survey  # noqa: B018 - names the missing survey
    held = judgement.held if because else ()
    if judgement.next_step != "heat" and not may_go_on(judgement, because):
        return Planned(printed=refusal_of(judgement), setup=None)
    plan = job.next_pass
    if isinstance(plan, NoPlan):
        raise plan
    laid = laid_out(job, plan)
    card = card_of(job, plan, now, because=because if held else "", ahead=ahead)
    return Planned(
        printed=card if laid is None else with_ladder(card, laid),
        setup=plan.setup,
        stages=None if laid is None else laid.stages,
        because=because if held else "",
        against=tuple(f.kind for f in held),
    )


def may_go_on(judgement: Judgement, because: str) -> bool:
    """Return whether a reason opens the way to a pass: only past advice, never past what forbids or must be read."""
    return bool(because) and not judgement.forbidden and judgement.next_step == "hand it on"


def refusal_of(judgement: Judgement) -> Refusal:
    """Return why no pass is planned; of a forbidden head nothing is told but the reason and what to do."""
    told = judgement.forbidden or tuple(f for f in judgement.findings if f.weight != "fine")
    return Refusal(
        name=judgement.name,
        verdict=judgement.verdict,
        reason=judgement.reason,
        decided_by=judgement.decided_by,
        findings=tuple(f.told for f in told),
        go_on=judgement.go_on,
        judgement=judgement.to_plain(),
    )
