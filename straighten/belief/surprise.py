"""A result that was not thought possible, in words: what to look at before it is believed. It is kept all the same."""

from __future__ import annotations

from typing import Final

from straighten.quantiles import Floats
from straighten.shape.modes import INDEX
from straighten.sources import Cited
from straighten.units import System, show

UNTHOUGHT: Final = Cited(
    2.6, "standard deviations", "one sound result in a hundred lies further from what was foretold", "derived"
)
LEAST: Final = Cited(20e-6, "m", "less is a blade's step", "common practice, no source")
_LINES: Final = (("deck", "deck_bow"), ("cam line", "cam_bow"))


def surprises(
    foretold: tuple[Floats, Floats, Floats], measured: tuple[Floats, Floats], system: System = "mm"
) -> tuple[str, ...]:
    """Return a sentence for each line whose bow after a pass is not one that was thought possible.

    `foretold` shapes before and after the pass `(n, 11)` [m], weights `(n,)`; `measured` what the survey alone says after
    it, mean `(11,)` [m] and covariance `(11, 11)` [m2].

    Source: Posterior predictive tail, normal (derived).
    Valid: One pass between two surveys.
    """
    before, after, weights = foretold
    found = []
    for title, name in _LINES:
        column = INDEX[name]
        middle = float(weights @ after[:, column])
        spread = float(weights @ (after[:, column] - middle) ** 2) + float(measured[1][column, column])
        off = float(measured[0][column]) - middle
        if abs(off) > max(UNTHOUGHT.value * spread**0.5, LEAST.value):
            was = float(weights @ before[:, column])
            found.append(_sentence(title, (was, middle, float(measured[0][column])), system))
    return tuple(found)


def _sentence(title: str, bows: tuple[float, float, float], system: System) -> str:
    was, expected, now = bows
    told = f"The {title} should stand near {show(expected, system)} and reads {show(now, system)}"
    planned, moved = was - expected, was - now
    if planned * moved < 0:
        why = "it went the wrong way: released or measured while hot? shims in the wrong place? a crack? a line read in another mode?"
    elif abs(moved) < abs(planned):
        why = "it moved far less: a shim that slipped or crushed, a gap not closed, a flame too cool or too short, a line read in another mode?"
    else:
        why = "it moved far more: a crack, metal hotter than planned, measured while hot, a blade read wrong?"
    return f"{told}; {why} It is kept and learned from; look before the next pass, and strike the entry if it was wrong."
