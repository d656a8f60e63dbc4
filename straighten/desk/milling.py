"""When a face is sooner milled than sanded by hand, and what both cost."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from straighten.decide.costs import HOURS_TO_HAND_ON
from straighten.sanding.learning import sheets_for
from straighten.sources import Cited
from straighten.units import show

if TYPE_CHECKING:
    from straighten.head.records import Head
    from straighten.sanding import SandingPlan

MOST_STROKES: Final = Cited(
    2000, "", "by hand in one job; beyond it a face is milled sooner", "common practice, no source"
)
STROKE_TIME: Final = Cited(2.0, "s", "one stroke there and back", "assumed")
SHEET_TIME: Final = Cited(180.0, "s", "wash, look and lay a fresh sheet", "assumed")


def mill_first(head: Head, plan: SandingPlan, strokes: float) -> tuple[str, ...]:
    """Return the advice to have the face milled, with what both ways cost; nothing where the strokes are few."""
    if strokes <= MOST_STROKES.value:
        return ()
    prices, depth = head.prices, min(plan.depth[1], max(plan.allowed, 0.0))
    most = ", all that may come off," if plan.depth[1] > plan.allowed else ""
    hours = (strokes * STROKE_TIME.value + sheets_for(math.ceil(strokes)) * SHEET_TIME.value) / 3600
    hand = prices.hour * hours
    shop = prices.hour * HOURS_TO_HAND_ON.value + prices.removal_per_tenth_mm * depth / 1e-4
    whose = "assumed prices" if {"hour", "removal_per_tenth_mm"} & set(prices.assumed) else "your prices"
    return (
        f"Mill it first: about {round(strokes, -2):.0f} strokes lie ahead, {hours:.0f} h and {sheets_for(math.ceil(strokes))} sheets, "
        f"{hand:.0f} by hand against {shop:.0f} to have {show(depth, head.system)}{most} faced and fetch it ({whose}). Then measure "
        f"anew: straighten measure {head.name}. If you sand all the same:",
    )
