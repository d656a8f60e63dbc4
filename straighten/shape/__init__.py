"""Room `shape`: takes readings and a head, gives a `Shape` and an assessment; does not know clamp or heat."""

from __future__ import annotations

from straighten.shape.assess import assess
from straighten.shape.fit import fit_shape
from straighten.shape.records import Assessment, Finding, Misfit, Shape, Suspect
from straighten.shape.worth import Worth, worth_of_more

__all__ = [
    "Assessment",
    "Finding",
    "Misfit",
    "Shape",
    "Suspect",
    "Worth",
    "assess",
    "fit_shape",
    "worth_of_more",
]
