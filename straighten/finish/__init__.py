"""Room `finish`: takes the shape and the head, gives the sanding plan, what the removed metal does, the final list; does not know the book."""

from __future__ import annotations

from straighten.finish.consequences import Consequences, Trade, consequences, trade
from straighten.finish.face import Face, face_of
from straighten.finish.learning import Sanding, learn_rate
from straighten.finish.looks import Check
from straighten.finish.plan import SandingPlan, sanding_plan
from straighten.finish.surface import Surface

__all__ = [
    "Check",
    "Consequences",
    "Face",
    "Sanding",
    "SandingPlan",
    "Surface",
    "Trade",
    "consequences",
    "face_of",
    "learn_rate",
    "sanding_plan",
    "trade",
]
