"""The trade's hard stops: each rule that forbids another heat, in words; none means the costs decide."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from straighten.units import show

if TYPE_CHECKING:
    from collections.abc import Iterator

    from straighten.head.records import Head


@dataclass(frozen=True, slots=True, kw_only=True)
class PassHistory:
    """What the rules look at.

    `passes` logged; `last_gain` bow taken by the last pass over the bend it imposed, None where unknown;
    `first_bow`, `bow` cam-line bow at intake and now [m]; `hardness_now`, `hardness_first` mean [HB] or None; `crack`
    true where one was found.
    """

    passes: int
    last_gain: float | None
    first_bow: float
    bow: float
    hardness_now: float | None
    hardness_first: float | None
    crack: bool


def stop_rule(head: Head, history: PassHistory) -> str:
    """Return the first rule that forbids another heat, in words, or "".

    Args:
        head: gives the thresholds, each with its source.
        history: as measured.

    Source:
        Each threshold's own; order: what ruins a head first.

    Valid:
        Any history.
    """
    return next(filter(None, _rules(head, history)), "")


def _rules(head: Head, history: PassHistory) -> Iterator[str]:
    """Yield every rule's sentence, or "" where it does not bind, in the order of what ruins a head first."""
    rules, now = head.thresholds, history.hardness_now
    yield "a crack was found: no more heat" if history.crack else ""
    if now is not None and now < rules.hardness_reject.value:
        yield f"hardness {now:.0f} HB is under {rules.hardness_reject.value:g} HB ({rules.hardness_reject.source})"
    if now is not None and history.hardness_first is not None:
        lost = history.hardness_first - now
        yield (
            f"hardness fell by {lost:.0f} HB ({rules.hardness_drop.source})"
            if lost > rules.hardness_drop.value
            else ""
        )
    if (
        history.passes
        and history.first_bow * history.bow < 0
        and abs(history.bow) > head.limits.cam_line.value
    ):
        yield f"the bow has changed sign, {show(history.bow, head.system)} now: stop and measure again (common practice, no source)"
    if history.passes >= rules.most_passes.value:
        yield f"{history.passes} passes done, {rules.most_passes.value} are the most ({rules.most_passes.source})"
    if history.last_gain is not None and history.last_gain < rules.least_gain.value:
        yield f"the last pass kept {100 * history.last_gain:.0f} % of its bend ({rules.least_gain.source})"
