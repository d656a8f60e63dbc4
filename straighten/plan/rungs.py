"""The ladder of a clamping in stages: which gap is foretold after each stage, and what every blade that goes asks for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.plan.slack import gap_of, reading_sd, reading_under
from straighten.plan.stages import READ_AGAIN, ahead, choose
from straighten.quantiles import tenths
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.plan.slack import Gaps
    from straighten.plan.stages import Ahead, Stages

    Floats = NDArray[np.float64]

ODD: Final = Cited(
    0.002,
    "",
    "a reading that leaves no more chance than this beyond it on either side is read again first",
    "assumed",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class IfLine:
    """IF the blade `goes` [m] goes (None: whatever else is found), then `do`: number of a stage, `STOP` or `READ_AGAIN`."""

    goes: float | None
    do: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """One stage of the ladder: `number`; `gap` to be read after it, 10, 50, 90 % [m]; the blade that should go and the one that should not [m]; the lines, the first that holds counts."""

    number: int
    gap: tuple[float, float, float]
    goes: float | None
    stops: float | None
    lines: tuple[IfLine, ...]


def ladder(
    head: Head, path: Sequence[Floats], weights: Floats, stages: Stages, direction: int
) -> tuple[Rung, ...]:
    """Return the rungs that are left: what should be read after each stage, and what follows from what is read.

    Args:
        head: the head with the blades owned.
        path: shapes now and after each stage left, of `path_of`.
        weights: of the draws, `(n,)`.
        stages: the clamping.
        direction: +1 where the middle comes down.

    Source: The same draws weighted with every bracket of blades that may be found (derived).
    Valid: Every rung is read as if the ones before it came as expected; a reading writes the rest anew.
    """
    last, rungs = len(stages.ends), []
    for k, number in enumerate(range(last - len(path) + 2, last + 1), start=1):
        gap = gap_of(head, stages.setup, path[k], "middle")
        left = ahead(head, path[k:], range(number + 1, last + 1), stages, direction)
        expected = tenths(gap, weights)
        rungs.append(
            Rung(
                number=number,
                gap=expected,
                goes=max((b for b in head.gauge_blades if b < expected[0]), default=None),
                stops=min((b for b in head.gauge_blades if b > expected[2]), default=None),
                lines=_lines(head, (gap, expected[1]), weights, left),
            )
        )
    return tuple(rungs)


def _lines(head: Head, gaps: tuple[Floats, float], weights: Floats, found: Ahead) -> tuple[IfLine, ...]:
    """Return the lines from the widest gap down, each blade owned a possible bound; of the gaps all draws and their middle are given."""
    gap, middle = gaps
    bounds = [0.0, *sorted(head.gauge_blades), np.inf]
    under = reading_under(bounds, gap, reading_sd("middle"))
    given = np.diff(under, axis=0)
    heard = (given * weights).sum(axis=1)
    rows = given * weights / np.maximum(heard, 1e-300)[:, None]
    doing = choose(found, weights, rows, np.array(bounds[:-1]) >= middle)
    lines: list[IfLine] = []
    for low, strange, then in reversed(list(zip(bounds, _odd(under, weights), doing, strict=False))):
        do = READ_AGAIN if strange else then.do
        if lines and lines[-1].do == do:
            lines.pop()
        lines.append(IfLine(goes=low or None, do=do))
    return tuple(lines)


def is_odd(found: Gaps, gap: Floats, weights: Floats, sd: float) -> bool:
    """Return whether almost no draw gives a gap as narrow, or as wide, as the one found.

    Args:
        found: the bracket.
        gap: gaps expected `(n,)` [m].
        weights: of the draws.
        sd: of the reading [m].

    Source: Both tails of what was expected; derived.
    Valid: As the lines of the ladder.
    """
    return bool(_odd(reading_under(found, gap, sd), weights)[0])


def _odd(under: Floats, weights: Floats) -> NDArray[np.bool_]:
    """Return for every bracket between two bounds whether it is odd; `under` of `reading_under`."""
    below, above = under[1:] @ weights, (1 - under[:-1]) @ weights
    return np.asarray(np.minimum(below, above) < ODD.value)
