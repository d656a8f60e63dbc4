"""The probability that a blade goes and the next one does not."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from straighten.quantiles import Floats

_FAR = 5.0  # standard deviations from which a difference of probabilities loses digits


def log_interval(a: Floats, b: Floats) -> Floats:
    r"""Return log(Phi(b) - Phi(a)) for a < b, without loss far out in either tail.

    Args:
        a: lower bounds in standard deviations, any shape; may be -inf.
        b: upper bounds, same shape; may be +inf.

    Source:
        Reflection of the normal distribution, \Phi(b) - \Phi(a) = \Phi(-a) - \Phi(-b) -- derived.
    """
    from scipy.special import ndtr

    with np.errstate(divide="ignore"):
        found: Floats = np.log(ndtr(b) - ndtr(a))
    above = a > _FAR
    far = (b < -_FAR) | above
    if far.any():
        lower, upper = np.where(above, -b, a), np.where(above, -a, b)
        found[far] = _log_tail(lower[far], upper[far])
    return found


def _log_tail(lower: Floats, upper: Floats) -> Floats:
    """Return log(Phi(upper) - Phi(lower)) for both far below zero."""
    from scipy.special import log_ndtr

    top, bottom = log_ndtr(upper), log_ndtr(lower)
    tail: Floats = top + np.log(-np.expm1(np.minimum(bottom - top, -1e-300)))
    return tail
