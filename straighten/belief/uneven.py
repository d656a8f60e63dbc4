"""What the towers stand off the smooth shape after surveys and passes: read, broken by the heat, read again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.plan.forecast import bumps_of
from straighten.shape.modes import INDEX
from straighten.shape.towers import Known, towers_of
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.plan.records import PassSetup
    from straighten.shape.suspects import Examined
    from straighten.shape.towers import Towers

    Floats = NDArray[np.float64]

UNLIKE: Final = Cited(
    0.3, "of the broken line", "places of one heat differ by so much, standard deviation", "assumed"
)
SETTLING: Final = Cited(4e-6, "m", "a tower moves so much by itself in a heat, standard deviation", "assumed")


def towers_after(
    head: Head,
    seen: Sequence[Examined | None],
    passes: Sequence[PassSetup],
    kinks: Sequence[Floats],
    states: Sequence[Floats],
) -> tuple[Towers, ...]:
    """Return the towers of every cam line by the last survey and what was known before it; none without a survey.

    Args:
        head: its towers.
        seen: surveys, one more than passes; None where nothing was measured.
        passes: what was done between them.
        kinks: of every treatment of a pass [rad], `(1, treatments)`; only their ratios count.
        states: shapes believed before the first pass and after each, `(11,)` [m].

    Source: `shape.towers`; the broken line of a set less its modes (`bumps_of`), as large as the cam line moved.
    Valid: Soaks bend a smooth line.
    """
    towers: tuple[Towers, ...] = ()
    known: list[Known] = []
    for number, survey in enumerate(seen):
        if number and known:
            moved = states[number - 1] - states[number]
            setup = passes[number - 1]
            broken = _broken(head, setup, kinks[number - 1]) * moved[INDEX["cam_bow"]]
            known = [_after(one, broken) for one in known]
        if survey is not None:
            towers = towers_of(head, survey, states[number], known)
            known = [one.known(states[number]) for one in towers]
    return towers


def _broken(head: Head, setup: PassSetup, kinks: Floats) -> Floats:
    """Return what a pass leaves at each tower off the smooth shape, over the bow it takes off, `(towers,)`."""
    count = len(head.towers)
    return bumps_of(head, setup.spots, kinks)[0, :count] if setup.spots else np.zeros(count)


def _after(known: Known, broken: Floats) -> Known:
    spread = (UNLIKE.value * broken) ** 2 + SETTLING.value**2
    return Known(mean=known.mean + broken, covariance=known.covariance + np.diag(spread))
