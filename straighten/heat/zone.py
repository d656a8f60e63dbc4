"""A patch of the roof: a disc about a spot, or a slice along a stroke."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A patch of roof within `radius` of the line from (`x`, `y`) to (`x_end`, `y_end`) [m]; of it the slice `part` of `parts` along that line, which goes on by `cap` at both ends, and only what lies nearer to it than to any line of `beside`."""

    x: float
    y: float
    x_end: float
    y_end: float
    radius: float
    part: int = 0
    parts: int = 1
    cap: float = 0.0
    beside: tuple[tuple[float, float, float, float], ...] = ()


def inside(zone: Zone, x: Floats, y: Floats) -> NDArray[np.bool_]:
    """Return whether points of a grid `x` by `y` [m] lie in a zone, `(x, y)`.

    Source: definition.
    Valid: any grid.
    """
    own = (zone.x, zone.y, zone.x_end, zone.y_end)
    away, along = _from_line(own, x, y)
    inside = away < zone.radius**2
    for line in zone.beside:
        inside &= away <= _from_line(line, x, y)[0]
    if zone.parts > 1:
        length = math.hypot(zone.x_end - zone.x, zone.y_end - zone.y)
        step = (length + 2 * zone.cap) / zone.parts
        inside &= np.floor((along + zone.cap) / step).clip(0, zone.parts - 1) == zone.part
    return np.asarray(inside)


def _from_line(line: tuple[float, float, float, float], x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Squared distance of a grid's points from a line, and how far along it they lie [m2], [m]."""
    run, rise = line[2] - line[0], line[3] - line[1]
    length = max(math.hypot(run, rise), 1e-12)
    along = ((x[:, None] - line[0]) * run + (y - line[1]) * rise) / length
    on = np.clip(along, 0.0, math.hypot(run, rise)) / length
    return (x[:, None] - line[0] - on * run) ** 2 + (y - line[1] - on * rise) ** 2, along
