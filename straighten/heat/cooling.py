r"""Cooling of the head: how warm the heat leaves it, how long until a reading is honest, until it may be unclamped."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.curves import read
from straighten.heat.torch import ROOM
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.clamp.section import Section
    from straighten.head.records import Head

    Floats = NDArray[np.float64]

GRAVITY: Final = 9.80665
STILL_AIR: Final = Cited(
    10.0,
    "W/(m2 K)",
    "convection and radiation of a dull casting near room temperature, lumped",
    "from memory",
)
START_STEP: Final = 5.0  # K: starts this alike share one answer


def heat_capacity(head: Head, section: Section) -> float:
    """Return the heat capacity of the bare head [J/K].

    Source: weight of the section over standard gravity, the alloy's own table.
    Valid: near room temperature.
    """
    return section.weight / GRAVITY * float(read(head.alloy.heat_capacity, ROOM.value))


def bulk_rise(head: Head, section: Section, heat: float) -> float:
    """Return the rise of the whole head once the heat [J] is even in it [K].

    Source: heat balance.
    Valid: before any of it is lost.
    """
    return heat / heat_capacity(head, section)


def surface(head: Head) -> float:
    """Return the outer surface of the head's outline [m2].

    Source: a box.
    Valid: ports and towers add to it.
    """
    c = head.casting
    return 2 * (c.length * c.width + c.length * c.height + c.width * c.height)


def spot_start(head: Head, section: Section, starts: Floats, heat: Floats) -> list[float]:
    """Return the temperature of the head when each spot's torch comes on [degC], to five degrees.

    Args:
        head: size and alloy.
        section: weight.
        starts: when each torch comes on [s].
        heat: each spot puts in [J].

    Source: heat balance with Newton cooling, `STILL_AIR`.
    Valid: heat even in the head before the next spot; a bit warmer right beside the last one.
    """
    store = heat_capacity(head, section)
    decay = STILL_AIR.value * surface(head) / store
    gap = starts[:, None] - starts
    left = np.where(gap > 0, np.exp(-decay * np.maximum(gap, 0.0)), 0.0) * heat / store
    rise = left.sum(axis=1)
    return [ROOM.value + START_STEP * round(r / START_STEP) for r in rise.tolist()]
