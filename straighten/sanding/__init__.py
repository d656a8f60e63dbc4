"""Room `sanding`: takes the shape and the head, gives the sanding plan and what the removed metal does; does not know the book."""

from __future__ import annotations

from straighten.sanding.consequences import Consequences, Trade, consequences, trade
from straighten.sanding.face import Face, face_of
from straighten.sanding.learning import Sanding, learn_rate
from straighten.sanding.looks import Check
from straighten.sanding.plan import SandingPlan, sanding_plan
from straighten.sanding.surface import Surface

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
