"""What the base does to the pass: how far it bends itself, and whether a stiffer one that is owned would be better."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp import clamp_head
from straighten.clamp.joint import base_beam
from straighten.quantiles import spread_along
from straighten.units import show

if TYPE_CHECKING:
    from straighten.clamp import ClampSetup
    from straighten.head.records import Base, Head
    from straighten.plan.forecast import Forecast
    from straighten.plan.records import Draws

FEW: Final = 32  # draws: the bend of a base is told as a middle
MUCH: Final = 0.2  # of the head's bend: a base that takes more is worth changing


def base_words(head: Head, draws: Draws, seen: Forecast, clamp: ClampSetup) -> str:
    """Return how far the base bends under the pull, and a stiffer base among those owned where it takes much of it.

    Args:
        head: its base in use and its spare ones.
        draws: as believed.
        seen: the pass on all draws.
        clamp: the set-up.
    """
    if head.base.kind == "rigid" or seen.clamped is None:
        return ""
    own = abs(float(seen.weights @ seen.clamped.base_bend))
    told = f"The base itself bends by {show(own, head.system)} under this pull."
    stiffest = max((head.base, *head.spare_bases), key=_stiffness)
    if own < MUCH * float(seen.weights @ np.abs(seen.clamped.bend)) or stiffest == head.base:
        return told
    part = spread_along(draws.weights, FEW)
    other = clamp_head(replace(head, base=stiffest), draws.states[part], clamp, draws.response.take(part))
    less, size = abs(float(np.mean(other.base_bend))), show(stiffest.thickness, head.system, big=True)
    return f"{told} Your {size} {stiffest.material} {stiffest.kind} would bend by {show(less, head.system)}: use that one."


def _stiffness(base: Base) -> float:
    beam = base_beam(base)
    return np.inf if beam is None else float(beam.EI)
