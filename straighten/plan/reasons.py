"""Why no pass is planned, and what would change that."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.errors import NoPlan
from straighten.heat.flames import recipes
from straighten.plan.loss import MOST_OVERSHOOT
from straighten.plan.spots import rows_for
from straighten.plan.weighing import LEAST_CHANCE, least_gain, worth_a_pass

if TYPE_CHECKING:
    from straighten.plan.alternatives import Candidate
    from straighten.plan.weighing import Question, Stand


def nothing_to_do(ask: Question) -> NoPlan:
    """Return why nothing could be tried: no heat to give, or no clamp that holds."""
    if ask.head.torch is None and ask.head.oven is None:
        return NoPlan(
            "the head file names neither a torch nor an oven",
            where="spots",
            fix="Write [torch] or [oven] into it; without heat nothing stays.",
        )
    if ask.head.oven is not None or (
        ask.direction > 0 and any(rows_for(ask.head, one) for one in recipes(ask.head))
    ):
        return _none_in_bounds()
    if ask.direction < 0:
        why = "the deck is crowned: heat spots on the cam side would pull its middle further down, and there is no oven"
    else:
        why = "no fresh place is left to heat, and a place heated before gives next to nothing"
    return NoPlan(why, where="spots")


def _none_in_bounds() -> NoPlan:
    return NoPlan(
        "no set-up keeps the bolts under their load, the first pass mild and its first stage under "
        f"{100 * MOST_OVERSHOOT.value:g} % to overshoot",
        fix="Own a thinner shim blade, use stronger studs, or a smaller flame.",
    )


def binding(ask: Question, judged: list[Candidate], found: list[Candidate], now: Stand) -> NoPlan:
    """Return the limit that no set-up keeps, with what to do about it."""
    most = 100 * MOST_OVERSHOOT.value
    if found and worth_a_pass(ask, found[0], now):
        return NoPlan(
            "every set-up that gains is as likely to bend the head past what heat can still straighten",
            fix="Sand what is left, or hand it on.",
        )
    if not judged:
        return _none_in_bounds()
    if all(one.chances.overshoot > MOST_OVERSHOOT.value for one in judged):
        return NoPlan(
            f"every set-up goes past straight by more than the limit in over {most:g} % of cases",
            fix="Own a thinner shim blade, or heat with a smaller flame.",
        )
    nearest = min(
        (one for one in judged if one.chances.overshoot <= MOST_OVERSHOOT.value), key=lambda one: one.out
    )
    gain, least = max(now.out - nearest.out, 0.0), least_gain(ask, nearest, now)
    return NoPlan(
        f"the best set-up that may be planned brings the head {_share(gain, now)} nearer to its limits; a heat must win "
        f"{_share(least, now)}, or {100 * LEAST_CHANCE.value:.0f} points of chance to end the job",
        fix="Sand what is left, aim at a hotter spot under [torch] peak, or use a larger flame.",
    )


def _share(gain: float, now: Stand) -> str:
    return f"{100 * gain / now.out:.1f} %" if now.out else "0 %"
