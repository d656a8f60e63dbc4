"""Room `plan`: takes a head, weighted draws of shape and response, gives the next pass; does not know how they were learned."""

from __future__ import annotations

from straighten.plan.alternatives import PassPlan
from straighten.plan.forecast import Forecast, forecast
from straighten.plan.records import Draws, PassSetup, setup_from_plain, setup_to_plain
from straighten.plan.search import choose_pass

__all__ = [
    "Draws",
    "Forecast",
    "PassPlan",
    "PassSetup",
    "choose_pass",
    "forecast",
    "setup_from_plain",
    "setup_to_plain",
]
