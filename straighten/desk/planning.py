"""From a dossier to the next pass card: verdict, belief, search."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from straighten.belief.learn import Belief, learn
from straighten.belief.sobol import sobol_normal
from straighten.belief.tightened import with_tightenings
from straighten.desk import words
from straighten.desk.checking import judged
from straighten.desk.pass_card import NOISE_SEED, card_of
from straighten.plan.forecast import NOISE_SIZE
from straighten.plan.search import choose_pass
from straighten.sheet.card import Card, Refusal

if TYPE_CHECKING:
    from datetime import datetime

    from straighten.desk.dossier import Dossier
    from straighten.plan.records import PassSetup
    from straighten.shape import Assessment


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
    _, verdict = judged(dossier)
    if verdict.verdict != "straighten" and not anyway:
        return Planned(printed=_refusal(dossier, verdict), setup=None)
    belief = believed(dossier)
    noise = sobol_normal(belief.draws.weights.size, NOISE_SIZE, NOISE_SEED)
    plan = choose_pass(dossier.head, belief.draws, noise, done=dossier.done)
    return Planned(printed=card_of(dossier, verdict, belief, plan, now), setup=plan.setup)


def _refusal(dossier: Dossier, verdict: Assessment) -> Refusal:
    return Refusal(
        name=dossier.name,
        verdict=verdict.verdict,
        reason=verdict.reason,
        decided_by=words.decided_by(verdict.decided, dossier.head.system),
        findings=tuple(f.sentence for f in verdict.findings),
    )
