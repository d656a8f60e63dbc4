"""What one look after a run of strokes says: share that shines, heights, gap; and how likely it is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.finish.face import ALL_CLEAN
from straighten.finish.rate import Factors, read_curve
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

    `strokes` there and back on `sheets` fresh sheets of `grit`; `cleaned` share of the face that shines, 0 to 1;
    `dropped` fall of the height at the corners since sanding began, mean [m], with `corners` how many were measured and
    the `deepest` fall of any of them [m];
    `gap` largest gap left under the straightedge, what goes and what does not [m]; None = not looked at.
    """

    strokes: float
    grit: Grit
    sheets: int
    cleaned: float | None = None
    dropped: float | None = None
    corners: int = 4
    gap: tuple[float, float] | None = None
    deepest: float | None = None


def of_check(check: Check, depth: Array, factors: Factors) -> Array:
    """Return the log-likelihood of a check, `(n,)`.

    Args:
        check: what was seen.
        depth: off the highest place by then, `(n,)` [m].
        factors: draws.

    Source:
        Normal errors and a bracket's probability (derived), sizes as named above.

    Valid:
        Errors of one look independent of each other.
    """
    from scipy.special import log_ndtr

    relative = depth / factors.height
    total: Array = np.zeros(depth.size)
    if check.cleaned is not None:
        share = read_curve(factors.curves[:, 0], relative, beyond=0.0)
        if check.cleaned >= ALL_CLEAN:  # all that is known: at least so much
            total = total + log_ndtr((share - ALL_CLEAN + SHARE_ERROR.value) / SHARE_ERROR.value)
        else:
            total = total - 0.5 * ((share - check.cleaned) / SHARE_ERROR.value) ** 2
    if check.dropped is not None:
        corner = factors.height * read_curve(factors.curves[:, 2], relative)
        error = math.hypot(
            HEIGHT_ERROR.value * math.sqrt(2 / check.corners), MODEL_ERROR.value * abs(check.dropped)
        )
        total = total - 0.5 * ((corner - check.dropped) / error) ** 2
    if check.gap is not None:
        total = total + _between(hollow_left(factors, depth), check.gap)
    return total


def hollow_left(factors: Factors, depth: Array) -> Array:
    """Return the largest hollow under the straightedge after a depth off the highest place [m], `(n,)`."""
    return factors.height * read_curve(factors.curves[:, 3], depth / factors.height, beyond=0.0)


def _between(value: Array, gap: tuple[float, float]) -> Array:
    """Return the log-probability that a feeler brackets a value, with the gauges' error."""
    from scipy.special import ndtr

    error = np.hypot(GAP_ERROR.value, MODEL_ERROR.value * value)
    below = ndtr((gap[0] - value) / error) if gap[0] > 0 else 0.0
    above = ndtr((gap[1] - value) / error) if math.isfinite(gap[1]) else 1.0
    logs: Array = np.log(np.maximum(above - below, 1e-12))
    return logs
