"""What one look after a run of strokes says: share that shines, heights, gap; and how likely it is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.finish.face import ALL_CLEAN
from straighten.finish.rate import FALLS, HOLLOWS, SHARE, Factors, read_curve
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.finish.abrasives import Grit

    Array = NDArray[np.float64]

SHARE_ERROR: Final = Cited(
    0.04, "of the face", "squares of a pen grid counted, those half worn judged by eye", "assumed"
)
HEIGHT_ERROR: Final = Cited(
    4e-6, "m", "a micrometer read twice at the same place, hand and casting warm", "assumed"
)
GAP_ERROR: Final = Cited(6e-6, "m", "straightedge and feeler, blade tolerance in it", "assumed")
MODEL_ERROR: Final = Cited(
    0.04, "of the value", "lands do not grow quite as the smooth shape says", "assumed"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One run of strokes and what was seen after it.

    `strokes` there and back on `sheets` fresh sheets of `grit`; `cleaned` share of the face that shines, 0 to 1; `falls`
    of the height since sanding began at each of `face.RIM` [m]; `gaps` left on each of `face.LINES`, what goes and what
    does not [m]; where only one figure is known: `dropped` mean fall of so many `corners` and the `deepest` fall [m], the
    largest `gap` anywhere; None or empty = not looked at.
    """

    strokes: float
    grit: Grit
    sheets: int
    cleaned: float | None = None
    dropped: float | None = None
    corners: int = 4
    gap: tuple[float, float] | None = None
    deepest: float | None = None
    gaps: tuple[tuple[float, float] | None, ...] = ()
    falls: tuple[float | None, ...] = ()


def of_check(check: Check, depth: Array, factors: Factors) -> Array:
    """Return the log-likelihood of a check, `(n,)`.

    Args:
        check: what was seen.
        depth: off the highest place by then, `(n,)` [m].
        factors: draws.

    Source: Normal errors and a bracket's probability (derived), sizes as named above.
    Valid: Errors of one look independent of each other.
    """
    from scipy.special import log_ndtr

    relative = depth / factors.height
    total: Array = np.zeros(depth.size)
    if check.cleaned is not None:
        share = read_curve(factors.curves[:, SHARE], relative, beyond=0.0)
        if check.cleaned >= ALL_CLEAN:  # all that is known: at least so much
            total = total + log_ndtr((share - ALL_CLEAN + SHARE_ERROR.value) / SHARE_ERROR.value)
        else:
            total = total - 0.5 * ((share - check.cleaned) / SHARE_ERROR.value) ** 2
    if any(fall is not None for fall in check.falls):
        total = total + _of_falls(check.falls, factors, depth)
    elif check.dropped is not None:
        corner = rim_falls(factors, depth)[:4].mean(axis=0)
        error = math.hypot(
            HEIGHT_ERROR.value * math.sqrt(2 / check.corners), MODEL_ERROR.value * abs(check.dropped)
        )
        total = total - 0.5 * ((corner - check.dropped) / error) ** 2
    if any(gap is not None for gap in check.gaps):
        hollows = zip(check.gaps, hollows_left(factors, depth), strict=True)
        total = total + sum(_between(hollow, gap) for gap, hollow in hollows if gap is not None)
    elif check.gap is not None:
        total = total + _between(hollow_left(factors, depth), check.gap)
    return total


def _of_falls(falls: tuple[float | None, ...], factors: Factors, depth: Array) -> Array:
    """Return the log-likelihood of the falls read at the rim, `(n,)`."""
    total: Array = np.zeros(depth.size)
    for fall, found, own in zip(falls, rim_falls(factors, depth), _rim_errors(factors, depth), strict=True):
        if fall is not None:
            error = np.sqrt(2 * HEIGHT_ERROR.value**2 + (MODEL_ERROR.value * fall) ** 2 + own**2)
            total = total - 0.5 * ((found - fall) / error) ** 2 - np.log(error)
    return total


def _rim_errors(factors: Factors, depth: Array) -> Array:
    """Return what the modes of the curves leave open of the fall at each place of the rim [m], `(6, n)`."""
    relative = depth / factors.height
    cut = rim_falls(factors, depth) / factors.height
    rows = [np.broadcast_to(row, (depth.size, row.size)) for row in factors.unexplained[FALLS]]
    sd = np.stack([read_curve(row, relative, beyond=0.0) for row in rows])
    error: Array = factors.height * (2 * np.sqrt(cut) * sd + sd**2)  # of a root's square
    return error


def hollow_left(factors: Factors, depth: Array) -> Array:
    """Return the largest hollow under the straightedge after a depth off the highest place [m], `(n,)`."""
    largest: Array = hollows_left(factors, depth).max(axis=0)
    return largest


def hollows_left(factors: Factors, depth: Array) -> Array:
    """Return the hollow left on each of the five lines after a depth off the highest place [m], `(5, n)`."""
    lines = factors.curves[:, HOLLOWS].transpose(1, 0, 2)
    return factors.height * np.stack([read_curve(line, depth / factors.height, beyond=0.0) for line in lines])


def rim_falls(factors: Factors, depth: Array) -> Array:
    """Return the fall of the height at the six places of the rim after a depth off the highest place [m], `(6, n)`."""
    places = factors.curves[:, FALLS].transpose(1, 0, 2)
    return factors.height * np.stack([read_curve(place, depth / factors.height) for place in places])


def _between(value: Array, gap: tuple[float, float]) -> Array:
    """Return the log-probability that a feeler brackets a value, with the gauges' error."""
    from scipy.special import ndtr

    error = np.hypot(GAP_ERROR.value, MODEL_ERROR.value * value)
    below = ndtr((gap[0] - value) / error) if gap[0] > 0 else 0.0
    above = ndtr((gap[1] - value) / error) if math.isfinite(gap[1]) else 1.0
    logs: Array = np.log(np.maximum(above - below, 1e-12))
    return logs
