"""From readings to shape: the posterior of the eleven numbers, and what else the survey tells."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.shape.equations import equations_of
from straighten.shape.moments import posterior_of
from straighten.shape.records import Shape

if TYPE_CHECKING:
    from straighten.head.records import Head
    from straighten.readings.records import Readings


def fit_shape(readings: Readings, head: Head) -> Shape:
    """Return the shape of a head from all its readings at once.

    Args:
        readings: the survey.
        head: the head.
    """
    found = posterior_of(equations_of(readings, head))
    return Shape(mean=found.mean, covariance=found.covariance, evidence=found.evidence)
