"""How each flame owned may be used: held nearer or farther, for as long as it takes to the target, with time for the hand."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.head.ceiling import heat_ceiling
from straighten.head.flames import TIMES
from straighten.heat.case import heated_wall
from straighten.heat.field import Flame, slab_rise
from straighten.heat.torch import ROOM, absorbed_power, slab_of
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Alloy, Head, Torch

    Floats = NDArray[np.float64]

HAND: Final = Cited(
    1.5, "s", "least time from the target to the ceiling: a hand takes a flame off no faster", "assumed"
)
SHORTEST: Final = Cited(1.0, "s", "least dwell that a hand can repeat to a fifth", "assumed")
COOLEST: Final = Cited(250.0, "degC", "under it hardly any metal yields, whatever the dwell", "derived")
LARGEST_RADIUS: Final = Cited(
    30e-3, "m", "largest flame whose spots were held against 3D elements", "derived"
)
HELD: Final = (1.0, 1.25, 1.5, 2.0)  # flux radii tried, over the least
_INSTANTS: Final = np.geomspace(0.5, TIMES.value[1], 160)


def recipes(head: Head) -> tuple[Torch, ...]:
    """Return every flame as it may be held: flux radius, dwell and target together, the mildest first.

    A flame of one power reaches the target sooner when it is held nearer. The target stays under the ceiling, and so far
    under it that the hand has `HAND` to take the flame off; a flame that cannot give that is left out.

    Args:
        head: its torch, spare tips, alloy and roof.

    Source: closed-form field of a Gaussian flux on a plate, `heat_ceiling`, `HAND`.
    Valid: roof as thick as told; heat properties as `slab_of`.
    """
    found: list[Torch] = []
    for tip in (head.torch, *head.spare_tips):
        if tip is None:
            continue
        power = absorbed_power(head.alloy, heated_wall(head), tip)
        for times in HELD:
            radius = min(times * tip.radius, tip.largest, LARGEST_RADIUS.value)
            held = _held(head.alloy, heated_wall(head), (power, radius), tip.peak)
            if held is not None and all(radius != r.radius or tip.tip != r.tip for r in found):
                dwell, peak = held
                found.append(replace(tip, radius=radius, dwell=dwell, peak=peak, power=None))
    return tuple(sorted(found, key=lambda r: r.radius**2 * r.dwell))


@lru_cache(maxsize=256)
def _held(alloy: Alloy, wall: float, flame: tuple[float, float], target: float) -> tuple[float, float] | None:
    """Return dwell [s] and the peak it reaches [degC], or None where the flame gives the hand no time or no heat."""
    power, radius = flame
    slab = slab_of(alloy, wall, target)
    on = Flame(power=power, radius=radius, dwell=2 * TIMES.value[1])
    surface = ROOM.value + slab_rise(on, slab, 0.0, 0.0, _INSTANTS)[:, 0, 0]
    ceiling = heat_ceiling(alloy).highest
    until = _when(surface, ceiling) - HAND.value
    dwell = min(_when(surface, min(target, ceiling)), until, TIMES.value[1])
    if dwell < SHORTEST.value:
        return None
    peak = float(np.interp(dwell, _INSTANTS, surface))
    return None if peak < COOLEST.value else (round(dwell, 1), round(peak))


def _when(surface: Floats, temperature: float) -> float:
    """Return when the surface first stands at a temperature [s]; infinite where it never does."""
    if surface[-1] < temperature:
        return np.inf
    return float(np.interp(temperature, surface, _INSTANTS))
