"""The heat ceiling: the highest metal temperature that a target may have, found here and nowhere else."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from straighten.head.records import Alloy, Torch
from straighten.sources import Cited
from straighten.units import System, show_temperature, turned

INCIPIENT: Final = Cited(
    505.0,
    "degC",
    "phases of copper and magnesium in cast Al-Si-Cu-Mg (319 kind) begin to melt, J. Mater. Sci. 33 (1998) 2283",
    "seen",
)
MARGIN: Final = Cited(
    25.0, "K", "least distance of a target from first melting: a hand and a crayon hold no closer", "assumed"
)
STEP: Final = 5.0  # K: no crayon tells more, and it is printed to that
_COPPER: Final = "Cu"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatCeiling:
    """First `melting` of the metal [degC], the `highest` temperature a target may have [degC], and `reason` of both in words."""

    melting: float
    highest: float
    reason: str


def heat_ceiling(alloy: Alloy) -> HeatCeiling:
    """Return the highest temperature that a target may have on this metal, whatever its temper.

    First melting is the lower of the solidus and, with copper, of the phases that melt before it. Every copper
    alloy of the table holds magnesium, if only as scrap; nobody can tell whether a solution treatment dissolved these
    phases, so no temper raises it. An unknown casting may be any of them. An owner's own table is taken at its solidus.

    Example:
        >>> from straighten.head.alloys import alloy_named
        >>> heat_ceiling(alloy_named("A356-T6")).highest, heat_ceiling(alloy_named("unknown")).highest
        (525.0, 480.0)
    """
    early = _COPPER in alloy.family or alloy.family == "unknown"
    melting = min(alloy.solidus, INCIPIENT.value) if early else alloy.solidus
    what = (
        f"{alloy.name} may hold phases of copper and magnesium that melt first"
        if early and melting < alloy.solidus
        else f"{alloy.name} begins to melt"
    )
    return HeatCeiling(
        melting=melting,
        highest=STEP * math.floor((melting - MARGIN.value) / STEP),
        reason=f"{what} at {melting:.0f} C; a target keeps at least {MARGIN.value:.0f} C ({1.8 * MARGIN.value:.0f} F) under that",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Lowered:
    """A target that was lowered: `asked` and `used` [degC], and the `reason` in words."""

    asked: float
    used: float
    reason: str

    def sentence(self, system: System) -> str:
        """Return it as a person reads it."""
        asked, used = show_temperature(self.asked, system), show_temperature(self.used, system)
        return f"Target lowered from {asked} to {used}: {turned(self.reason, system)}."


def lowered(alloy: Alloy, torch: Torch | None) -> Lowered | None:
    """Return how far the torch's target was lowered to the ceiling, or None where it was not."""
    if torch is None or torch.asked is None:
        return None
    return Lowered(asked=torch.asked, used=torch.peak, reason=heat_ceiling(alloy).reason)
