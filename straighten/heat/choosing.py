"""Which soak: the hottest and shortest that takes the wanted share of the bend and leaves the hardness above a limit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.keeping import SNUG
from straighten.heat.soak import HOTTEST, relax_soak
from straighten.heat.treatment import Soak
from straighten.shape.modes import INDEX

if TYPE_CHECKING:
    from collections.abc import Iterable

    from straighten.clamp.clamped import Clamped
    from straighten.clamp.section import Section
    from straighten.head.records import Head
    from straighten.heat.response import Response

COOLEST: Final = 160.0
STEP: Final = 10.0
HOLDS: Final = tuple(60.0 * m for m in (30, 60, 90, 120, 180, 240, 300, 360, 480))


@dataclass(frozen=True, slots=True, kw_only=True)
class SoakChoice:
    """A soak and what it gives: `kept` share of the bend imposed (over one where bolts and base follow), `hardness` (lowest, highest) [HB] expected after, `warning` in words or ""."""

    soak: Soak
    kept: float
    hardness: tuple[float, float]
    warning: str


def weigh_soak(head: Head, section: Section, clamped: Clamped, soak: Soak, response: Response) -> SoakChoice:
    """Return what one soak takes of the bend and leaves of the hardness.

    Args:
        head: alloy, hardness thresholds.
        section: the casting as a beam.
        clamped: the clamped state.
        soak: temperature and hold.
        response: draws.

    Source: `relax_soak`.
    Valid: as `relax_soak`.
    """
    relaxed = relax_soak(head, section, clamped, soak, response)
    bow, bend = (np.median(v) for v in (relaxed.set_state[:, INDEX["deck_bow"]], clamped.bend))
    low, high = (float(v) for v in np.median(relaxed.hardness_after, axis=0))
    reject = head.thresholds.hardness_reject
    warning = ""
    if low < reject.value:
        warning = f"may end at {low:.0f} HB, under the reject line of {reject.value:.0f} HB ({reject.source})"
    return SoakChoice(
        soak=soak, kept=float(abs(bow) / max(abs(bend), SNUG)), hardness=(low, high), warning=warning
    )


def soak_choices(
    head: Head,
    section: Section,
    clamped: Clamped,
    response: Response,
    holds: Iterable[float] = HOLDS,
    *,
    aged_before: float = 0.0,
) -> tuple[SoakChoice, ...]:
    """Return every soak of the oven's range in steps of 10 degrees, hottest first, shortest first.

    Args:
        head: oven limits, alloy, thresholds.
        section: the casting as a beam.
        clamped: the clamped state.
        response: draws.
        holds: times to weigh [s].
        aged_before: what earlier soaks count for [s], as in `Soak`.

    Source: `relax_soak`.
    Valid: as `relax_soak`.
    """
    hottest = min(head.oven.hottest, HOTTEST.value) if head.oven is not None else 260.0
    longest = head.oven.longest if head.oven is not None else max(HOLDS)
    temperatures = np.arange(hottest, COOLEST - 1e-9, -STEP)
    return tuple(
        weigh_soak(
            head, section, clamped, Soak(temperature=float(t), hold=h, aged_before=aged_before), response
        )
        for t in temperatures
        for h in holds
        if h <= longest
    )


def best_soak(choices: Iterable[SoakChoice], wanted: float, least_hardness: float) -> SoakChoice | None:
    """Return the hottest and then shortest soak that takes at least the wanted share and keeps the hardness.

    Args:
        choices: of `soak_choices`.
        wanted: share of the bend to stay.
        least_hardness: the softest place may come down to [HB].

    Source: -
    Valid: None where relaxing the bend and keeping the temper exclude each other, which is common.
    """
    fit = [c for c in choices if c.kept >= wanted and c.hardness[0] >= least_hardness]
    return max(fit, key=lambda c: (c.soak.temperature, -c.soak.hold), default=None)
