"""A torch drawn over the roof: the zones it softens, slice by slice, and what they go through."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.case import heated_wall, webs_of
from straighten.heat.flame import Flame, points_rise, power_and_peak
from straighten.heat.hardness import equivalent_time
from straighten.heat.roof import Roof
from straighten.heat.torch import slab_of
from straighten.heat.warm import Warmth, collapse_temperature, follow
from straighten.heat.zone import Zone
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.heat.field import Slab
    from straighten.heat.treatment import HeatStroke

    Floats = NDArray[np.float64]


SLICE: Final = Cited(
    14e-3, "m", "zones are cut into slices of about this length; halved, it moves the set by 3 %", "measured"
)

DRAWN: Final = Cited(
    (0.92, 0.77),
    "",
    "shares of their own shrinkage and of the clamp's strain that zones of a drawn flame reach of what they would if all were "
    "hot at once; set on a stroke of 12 s, free, clamped and drawn twice, in 3D finite elements: without them the clamped one "
    "comes out 24 % high",
    "fitted",
)
MOST_SLICES: Final = 8

NARROWEST: Final = 4e-3  # m: half-width of a zone at least, so that elements see it
_INSTANTS: Final = 14  # under the flame, and as many again while it cools

_COOLED: Final = 4.0  # times the stroke lasts, or `_LEAST_COOLING`, whichever is longer

_LEAST_COOLING: Final = 12.0  # s


@dataclass(frozen=True, slots=True, kw_only=True)
class StrokeWork:
    """Strokes that burn together, worked through: `zones` with the stroke each belongs to, their `warmth`, `peaks` [degC], `powers` [W], `heat` [J], `aged` equivalent time of the hottest metal [s]."""

    zones: tuple[Zone, ...]
    belongs: tuple[int, ...]
    warmth: Warmth
    peaks: tuple[float, ...]
    powers: tuple[float, ...]
    heat: float
    aged: float


def work_strokes(head: Head, roof: Roof, strokes: tuple[HeatStroke, ...], start: float) -> StrokeWork:
    """Return what strokes that burn together do to the roof.

    Args:
        head: alloy, wall, shims.
        roof: the elastic head.
        strokes: `across` signed by the side already; one start.
        start: temperature of the head before [degC].

    Raises:
        OutsideModel: a surface would melt, or stays too cold.

    Source: Gaussian source in an endless plate, superposed along the path (Carslaw & Jaeger, from memory); `follow`.
    Valid: as `follow`.
    """
    alloy, wall = head.alloy, heated_wall(head)
    powers, peaks = zip(*(power_and_peak(alloy, wall, stroke, start) for stroke in strokes), strict=True)
    slab = slab_of(alloy, wall, max(peaks), start)
    flames = [Flame.of(stroke, power, webs_of(head)) for stroke, power in zip(strokes, powers, strict=True)]
    soft = collapse_temperature(alloy)
    time = _instants(strokes)
    zones: list[Zone] = []
    belongs: list[int] = []
    for number, flame in enumerate(flames):
        found = _zones(flame, flames, slab, (time, soft - start))
        zones += found
        belongs += [number] * len(found)
    return StrokeWork(
        zones=tuple(zones),
        belongs=tuple(belongs),
        warmth=follow(head, roof, flames, slab, tuple(zones), start),
        peaks=peaks,
        powers=powers,
        heat=sum(power * stroke.dwell for power, stroke in zip(powers, strokes, strict=True)),
        aged=_ageing(strokes, max(peaks), start),
    )


def _ageing(strokes: tuple[HeatStroke, ...], peak: float, start: float) -> float:
    """Equivalent time at 250 degC of the hottest metal [s]: it stands at its peak for the passing of the flame."""
    passing = max(
        stroke.passes
        * min(stroke.time, 2 * stroke.radius * stroke.time / max(Flame.of(stroke, 1.0).length, 1e-6))
        for stroke in strokes
    )
    return float(equivalent_time(max(peak, start), passing))


def _instants(strokes: tuple[HeatStroke, ...]) -> Floats:
    """Times looked at [s]: even while the torch is on, ever wider apart while the roof cools."""
    lasts = max(stroke.lasts for stroke in strokes)
    step = max(stroke.time for stroke in strokes) / _INSTANTS
    cooling = max((_COOLED - 1) * max(stroke.time for stroke in strokes), _LEAST_COOLING)
    on = np.linspace(0.0, lasts, max(math.ceil(lasts / step), _INSTANTS) + 1)[1:]
    return np.concatenate([on, lasts + cooling * (np.geomspace(1.0, 12.0, _INSTANTS + 1)[1:] - 1) / 11])


def _zones(flame: Flame, flames: list[Flame], slab: Slab, heat: tuple[Floats, float]) -> list[Zone]:
    """Slices of what a stroke softens: half-widths from how far across its line the rise passes the soft one's."""
    time, soft = heat
    count = min(max(round(flame.length / SLICE.value) + 1, 1), MOST_SLICES)
    away = np.linspace(0.0, 4 * flame.radius, 33)
    line = ((np.arange(count) + 0.5) / count) * (flame.length + 2 * flame.radius) - flame.radius
    line = np.clip(line, 0.0, flame.length) / max(flame.length, 1e-9)
    run, rise = flame.end[0] - flame.begin[0], flame.end[1] - flame.begin[1]
    size = max(flame.length, 1e-9)
    off = (-rise / size, run / size) if flame.length > 0 else (1.0, 0.0)
    x = flame.begin[0] + line[:, None] * run + away * off[0]
    y = flame.begin[1] + line[:, None] * rise + away * off[1]
    hottest = points_rise(flames, slab, time, x, y).max(axis=0)
    beside = tuple((*f.begin, *f.end) for f in flames if f is not flame)
    widths = [_half_width(away, rise, soft) for rise in hottest]
    if max(widths) == 0.0:
        widths[count // 2] = NARROWEST
    ends = (round(v, 4) for v in (*flame.begin, *flame.end))
    x0, y0, x1, y1 = ends
    return [
        Zone(
            x=x0, y=y0, x_end=x1, y_end=y1, radius=round(max(wide, NARROWEST), 4), part=part, parts=count,
            cap=flame.radius, beside=beside,
        )
        for part, wide in enumerate(widths)
        if wide > 0
    ]  # fmt: skip


def _half_width(away: Floats, rise: Floats, soft: float) -> float:
    """Distance from the line at which the rise first falls under the soft one's [m], nought where it never passes it."""
    cold = np.nonzero(rise <= soft)[0]
    if not cold.size:
        return float(away[-1])
    k = int(cold[0])
    if k == 0:
        return 0.0
    part = (rise[k - 1] - soft) / (rise[k - 1] - rise[k])
    return float(away[k - 1] + part * (away[k] - away[k - 1]))
