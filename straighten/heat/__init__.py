"""Room `heat`: takes a head, a clamped state and a heat plan, gives what the heat leaves behind; does not know the plan's search."""

from __future__ import annotations

from straighten.heat.cooling import Wait, clock, wait_after_soak, wait_after_spots
from straighten.heat.layout import FRESH, Relaxed, RoofState
from straighten.heat.safety import before_clamping, caution_steps, cautions
from straighten.heat.soak import ageing, cold_yield, relax_soak, soak_choices, soaks
from straighten.heat.spots import relax_spots, work_sets
from straighten.heat.torch import absorbed_power, power_from_trial
from straighten.heat.treatment import (
    HeatSpot,
    HeatStroke,
    Place,
    Response,
    Soak,
    Treatment,
    allowed_places,
    both_curves,
    held_for,
    nominal,
    refusal,
    schedule,
)

__all__ = [
    "FRESH",
    "HeatSpot",
    "HeatStroke",
    "Place",
    "Relaxed",
    "Response",
    "RoofState",
    "Soak",
    "Treatment",
    "Wait",
    "absorbed_power",
    "ageing",
    "allowed_places",
    "before_clamping",
    "both_curves",
    "caution_steps",
    "cautions",
    "clock",
    "cold_yield",
    "held_for",
    "nominal",
    "power_from_trial",
    "refusal",
    "relax_soak",
    "relax_spots",
    "schedule",
    "soak_choices",
    "soaks",
    "wait_after_soak",
    "wait_after_spots",
    "work_sets",
]
