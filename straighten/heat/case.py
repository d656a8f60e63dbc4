"""From a spot as a person gives it to the case that is worked through: power and peak completed, and what warms it besides."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.errors import BadInput, OutsideModel
from straighten.head.ceiling import heat_ceiling
from straighten.head.equipment import COLDEST, RADII, TIMES
from straighten.heat.heating import SpotCase
from straighten.heat.torch import ROOM, heated_wall, peak_for_power, power_for_peak
from straighten.sources import Cited
from straighten.units import show_temperature

if TYPE_CHECKING:
    from straighten.head.records import Alloy, Head
    from straighten.heat.treatment import HeatSpot, Treatment

DOUBT: Final = Cited(
    30.0, "K", "a peak worked out from the power is no better than this; under it a caveat stands", "assumed"
)
SLIP: Final = Cited(10.0, "", "times out of `TIMES`: a slip of the pen, whatever was done", "assumed")
MOST_AT_ONCE: Final = Cited(
    160, "", "treatments in one heat: more would cover any roof several times over", "assumed"
)
MOST_PASSES: Final = Cited(20, "", "passes of one stroke", "assumed")
AROUND: Final = Cited(
    (0.4, 0.9),
    "ways that heat spreads",
    "from how far on the disc takes heat of a flame beside it on its own side as heat all around, not at all to whole: "
    "nearer, that flame softens a place of its own; set on R 20 to 30 held 20 to 40 s in 3D finite elements",
    "fitted",
)
UNFELT: Final = 0.08  # heat of neighbours and mirrors, over the spot's own, that is left out
FAINT: Final = 1e-4  # heat of one of them that is left out: moves a spot's shrinkage by less than 1e-5


def check_sense(head: Head, treatments: tuple[Treatment, ...]) -> None:
    """Refuse what no torch does, whoever asks.

    Raises:
        BadInput: none or too many, off the roof, sizes out of `RADII`, times `SLIP` times out of `TIMES`, peak and power both or
            neither.

    Valid: spots and strokes alike; times and peaks beyond the model are `check_time` and `check_peak`.
    """
    if not treatments:
        raise BadInput("no heat spots", where="spots", fix="Name at least one spot or stroke.")
    if len(treatments) > MOST_AT_ONCE.value:
        raise BadInput(
            f"{len(treatments)} spots and strokes in one heat; {MOST_AT_ONCE.value} are the most",
            where="spots",
            fix="Give several heats.",
        )
    for one in treatments:
        _check_one(head, one)


def _check_one(head: Head, one: Treatment) -> None:
    if (one.peak is None) == (one.power is None):
        raise BadInput("give either the surface peak or the absorbed power of a spot", where="spots")
    passes = getattr(one, "passes", 1)
    if not 1 <= passes <= MOST_PASSES.value:
        raise BadInput(f"{passes} passes of a stroke; allowed is 1 to {MOST_PASSES.value}", where="strokes")
    refuse_slip(one.dwell / passes)
    for value, limits, words, unit, factor in (
        (one.radius, RADII.value, "flux radius", "mm", 1e3),
        (one.power if one.power is not None else 1.0, (0.1, 50e3), "absorbed power", "W", 1.0),
    ):
        low, high = limits
        if not low <= value <= high:
            raise BadInput(
                f"{words} {factor * value:.4g} {unit}; allowed is {factor * low:g} to {factor * high:g} {unit}",
                where="spots",
            )
    ends = ends_of(head, one)
    if any(not 0 <= x <= head.casting.length or abs(y) > head.casting.width / 2 for x, y in ends):
        raise BadInput(
            "a spot or stroke lies off the roof",
            where="spots",
            fix=f"Stations 0 to {1e3 * head.casting.length:.0f} mm, up to {500 * head.casting.width:.0f} mm off the middle.",
        )


def refuse_slip(seconds: float) -> None:
    """Refuse a time under the torch that is a slip of the pen: what was really done is recorded, and this was not.

    Raises:
        BadInput: `SLIP` times out of `TIMES`.
    """
    shortest, longest = TIMES.value
    if not shortest / SLIP.value <= seconds <= SLIP.value * longest:
        raise BadInput(
            f"time under the torch {seconds:.4g} s; allowed is {shortest:g} to {longest:g} s", where="spots"
        )


def check_time(one: Treatment) -> None:
    """Refuse a time under the torch that the model does not know.

    Raises:
        OutsideModel: out of `TIMES`, a pass.
    """
    (shortest, longest), time = TIMES.value, one.dwell / getattr(one, "passes", 1)
    if not shortest <= time <= longest:
        raise OutsideModel(
            f"{time:.4g} s under the torch; {shortest:g} to {longest:g} s can be computed",
            where="spots",
            fix="Heat more places, each for a shorter time." if time > longest else "",
        )


def ends_of(head: Head, one: Treatment) -> list[tuple[float, float]]:
    """Return station and distance from the middle line of a spot, or of both ends of a stroke [m]."""
    from straighten.heat.treatment import HeatSpot

    if isinstance(one, HeatSpot):
        return [(one.station, head.spot_rows if one.across is None else one.across)]
    last = one.station if one.station_to is None else one.station_to
    return [(one.station, one.across_from), (last, one.across_to)]


def check_peak(alloy: Alloy, peak: float) -> None:
    """Refuse a surface peak [degC] that melts the metal, or that does nothing to it.

    `peak` given, or worked out from the power.

    Raises:
        OutsideModel: the surface would melt, or stays colder than `COLDEST`.

    Source: first melting (`head.ceiling`) with `DOUBT`; `COLDEST`. Whether a target may be asked for is `overheat`'s business.
    """
    ceiling = heat_ceiling(alloy)
    if peak > ceiling.melting + DOUBT.value:
        raise OutsideModel(
            f"the surface would reach {show_temperature(peak)}; {ceiling.reason}",
            where="spots",
            fix="Shorten the dwell or hold the torch farther away.",
        )
    if peak < COLDEST.value:
        raise OutsideModel(
            f"the surface would reach {show_temperature(peak)} only; below {show_temperature(COLDEST.value)} a torch leaves nothing behind",
            where="spots",
            fix="Hold the torch longer or nearer.",
        )


def spot_case(
    head: Head,
    spot: HeatSpot,
    start: float = ROOM.value,
    others: tuple[tuple[float, float], ...] = (),
) -> SpotCase:
    """Return what the spot's answer depends on, power and peak completed from one another.

    `spot` with either peak or power; `start` temperature of the head when the torch comes on [degC].

    Raises:
        BadInput: as `check_sense`.
        OutsideModel: as `check_peak`.

    Valid: peaks under first melting; whether a target may be asked for is `overheat`'s business.
    """
    wall = heated_wall(head)
    check_sense(head, (spot,))
    if spot.power is not None:
        power, peak = spot.power, peak_for_power(head.alloy, wall, spot, spot.power, start)
    else:
        peak = float(spot.peak or 0.0)
        power = power_for_peak(head.alloy, wall, spot, peak, start)
    check_peak(head.alloy, peak)
    return SpotCase(
        alloy=head.alloy,
        thickness=wall,
        power=power,
        radius=spot.radius,
        dwell=spot.dwell,
        peak=peak,
        start=start,
        bar_width=head.casting.width if wall == head.casting.height else None,
        others=others if wall < head.casting.height else (),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Webs:
    """Cross walls under the roof: `stations` [m] and `ratio` of web to roof thickness, alike in order."""

    stations: tuple[float, ...]
    ratio: tuple[float, ...]


def webs_of(head: Head) -> Webs:
    """Return the cross walls under the roof, ends included where plates give them.

    Source: the casting's own sizes.
    Valid: webs that reach the roof.
    """
    webs, roof = head.casting.webs, head.casting.roof
    return Webs(stations=tuple(w.station for w in webs), ratio=tuple(w.thickness / roof for w in webs))


def heat_from_others(
    webs: Webs, places: tuple[tuple[float, float], ...], burning: tuple[int, ...], spread: float
) -> tuple[tuple[float, float], ...]:
    """Return the sources that warm a spot besides itself: distances [m] and shares of one spot's heat.

    At a web of thickness ratio k the roof's heat parts: 2/(2 + k) goes on, k/(2 + k) goes down the web, which acts as
    a mirror image of that much cold. Sources of the same bay have images at its two webs.

    `places` station and distance from the middle line of each spot [m]; `burning` numbers of all spots that
    burn together; the sources are those that warm the first; `spread` area over which the heat has spread
    when neighbours begin to matter [m2].

    Source: heat at a junction of three half-endless plates, after Carslaw & Jaeger (from memory); derived.
    Valid: webs deep against the spread of the heat.
    """
    x, y = places[burning[0]]
    found: list[tuple[float, float]] = []
    for other in burning:
        ox, oy = places[other]
        between = [k for k, w in enumerate(webs.stations) if min(x, ox) < w <= max(x, ox)]
        if other != burning[0]:
            passed = math.prod(2 / (2 + webs.ratio[k]) for k in between)
            away = math.hypot(ox - x, oy - y)
            found.append((away, passed * (_around(away, spread) if y * oy > 0 else 1.0)))
        if not between:
            found += _mirrored(webs, (x, y), (ox, oy))
    felt = [abs(s) * np.exp(-(d**2) / spread) for d, s in found]
    if sum(felt) < UNFELT:
        return ()
    told = [
        (round(d, 3), round(s, 2))
        for (d, s), part in zip(found, felt, strict=True)
        if d > 1e-4 and part > FAINT
    ]
    return tuple(sorted(told))


def _around(away: float, spread: float) -> float:
    """Share of a flame's heat, so far away on the same side, that the disc takes as heat all around."""
    none, whole = AROUND.value
    return min(max((away / math.sqrt(spread) - none) / (whole - none), 0.0), 1.0)


def _mirrored(webs: Webs, at: tuple[float, float], source: tuple[float, float]) -> list[tuple[float, float]]:
    """Distances and shares of a source's images at the two webs of its bay."""
    where = sorted(range(len(webs.stations)), key=webs.stations.__getitem__)
    left = [k for k in where if webs.stations[k] <= at[0]][-1:]
    right = [k for k in where if webs.stations[k] > at[0]][:1]
    return [
        (
            math.hypot(2 * webs.stations[k] - source[0] - at[0], source[1] - at[1]),
            -webs.ratio[k] / (2 + webs.ratio[k]),
        )
        for k in (*left, *right)
    ]
