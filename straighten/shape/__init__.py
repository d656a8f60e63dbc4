"""Room `shape`: takes readings and a head, gives a `Shape` and an assessment; does not know clamp or heat."""

from __future__ import annotations

from straighten.shape.assess import assess
from straighten.shape.findings import Assessment, Finding
from straighten.shape.fit import Shape, fit_shape, worth_of_more

__all__ = ["Assessment", "Finding", "Shape", "assess", "fit_shape", "worth_of_more"]
