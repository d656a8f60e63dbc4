"""Room `heat`: takes a head, a clamped state and a heat plan, gives what the heat leaves behind; does not know the plan's search."""

from __future__ import annotations

from straighten.heat.relaxed import Relaxed
from straighten.heat.response import Response, nominal
from straighten.heat.soak import relax_soak
from straighten.heat.spots import relax_spots
from straighten.heat.treatment import HeatSpot, Soak

__all__ = ["HeatSpot", "Relaxed", "Response", "Soak", "nominal", "relax_soak", "relax_spots"]
