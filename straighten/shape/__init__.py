"""Room `shape`: takes readings and a head, gives a `Shape` and an assessment; does not know clamp or heat."""

from __future__ import annotations

from straighten.shape.fit import fit_shape
from straighten.shape.likelihood import log_likelihood
from straighten.shape.records import Shape

__all__ = ["Shape", "fit_shape", "log_likelihood"]
