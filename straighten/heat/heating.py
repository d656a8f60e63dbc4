"""The heat of one spot: its case, what warms it besides, and the temperatures of its disc."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from straighten.heat.cooling import equivalent_time
from straighten.heat.disc import Heating, Mesh
from straighten.heat.field import (
    ROOM,
    Flame,
    age_nodes,
    gauss,
    heated_wall,
    slab_of,
    slab_rise,
    step_between,
    through_thickness,
)
from straighten.heat.torch import check_peak, check_sense, peak_for_power, power_for_peak
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from straighten.head.records import Alloy, Head
    from straighten.heat.field import Slab, Webs
    from straighten.heat.treatment import HeatSpot

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotCase:
    """All that one spot's answer depends on.

    `alloy`; `thickness` of the wall [m]; absorbed `power` [W]; flux `radius` [m]; `dwell` [s]; surface `peak` [degC];
    `start` temperature of the metal [degC]; `bar_width` [m] where the casting is a solid bar, None where a wall is
    heated; `others` spots that burn at the same time, and their and its own mirror images at the webs: distance [m] and
    share of the heat. `peak` is by its own flame; the flames that burn with it add `beside` [K].
    """

    alloy: Alloy
    thickness: float
    power: float
    radius: float
    dwell: float
    peak: float
    start: float = ROOM.value
    bar_width: float | None = None
    others: tuple[tuple[float, float], ...] = ()
    beside: float = 0.0

    @property
    def hottest(self) -> float:
        """Highest temperature of the surface, all flames burning [degC]."""
        return self.peak + self.beside

    @property
    def flame(self) -> Flame:
        """The torch, held still."""
        return Flame(power=self.power, radius=self.radius, dwell=self.dwell)

    @property
    def slab(self) -> Slab:
        """The wall as a plate with the heat properties of the heated metal."""
        return slab_of(self.alloy, self.thickness, self.peak, self.start)

    def spread(self, dwells: float = 1.0) -> float:
        """Return the area over which the heat has spread after so many dwells [m2]."""
        return self.radius**2 / 2 + 4 * self.slab.diffusivity * dwells * self.dwell

    def rise(self, radius: ArrayLike, depth: ArrayLike, time: ArrayLike) -> Floats:
        """Return the rise [K], `(t, r, z)`, as `slab_rise`; what the flames beside it add goes with its own."""
        with_others = (self.hottest - self.start) / (self.peak - self.start)
        return with_others * slab_rise(self.flame, self.slab, radius, depth, time)


AROUND: Final = Cited(
    (0.4, 0.9),
    "ways that heat spreads",
    "from how far on the disc takes heat of a flame beside it on its own side as heat all around, not at all to whole: "
    "nearer, that flame softens a place of its own; set on R 20 to 30 held 20 to 40 s in 3D finite elements",
    "fitted",
)
UNFELT: Final = 0.08  # heat of neighbours and mirrors, over the spot's own, that is left out
SPREAD_AGE: Final = 2.0  # dwells: neighbours' heat is looked for while the spot is hot
FAINT: Final = 1e-4  # heat of one of them that is left out: moves a spot's shrinkage by less than 1e-5


def spot_case(head: Head, spot: HeatSpot, start: float = ROOM.value) -> SpotCase:
    """Return what the answer of a spot alone depends on, power and peak completed from one another.

    `spot` with either peak or power; `start` temperature of the head when the torch comes on [degC].

    Raises:
        BadInput: as `check_sense`.
        OutsideModel: as `check_peak`.

    Valid: peaks under first melting; what may be asked for: `safety.refused_peak`.
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
    )


def spot_among(
    case: SpotCase,
    webs: Webs,
    places: tuple[tuple[float, float], ...],
    burning: tuple[int, ...],
    *,
    aimed: bool,
) -> SpotCase:
    """Return a spot's case with the heat of the spots that burn with it and of the webs.

    `places` station and distance from the middle line of each spot [m]; `burning` numbers of the spots that burn
    together, this one first; `aimed` where the peak is given: its own flame then brings what the others leave.

    Raises:
        OutsideModel: as `check_peak`.

    Source: `sources_of`; told peaks of four flames at once within 8 K of 3D finite elements (seen).
    Valid: flames of one power; a spot alone is told as on a roof without webs.
    """
    if case.bar_width is not None:
        return case
    sources = sources_of(webs, places, burning)
    case = replace(case, others=felt_around(sources, case.spread(SPREAD_AGE)))
    if len(burning) == 1 or not case.others:
        return case
    # a flame that is aimed leaves to the others what the disc feels of them, no more
    own = case.peak - case.start
    beside = _rise_beside(case, [Beside(*one) for one in case.others] if aimed else sources)
    share = own / (own + beside) if aimed else 1.0
    check_peak(case.alloy, case.start + share * (own + beside))
    return replace(case, power=share * case.power, peak=case.start + share * own, beside=share * beside)


def _rise_beside(case: SpotCase, sources: list[Beside]) -> float:
    """Rise of the middle of the spot's face by its other sources when the torches leave [K]."""
    slab = case.slab
    nodes = age_nodes(case.flame, slab, np.array([case.dwell]))
    area = case.radius**2 / 2 + 4 * slab.diffusivity * nodes.age
    face = sum(one.share * np.exp(-(one.away**2) / area) for one in sources) / (np.pi * area)
    down = through_thickness(np.zeros(1), nodes.age, slab)
    return float(case.power / slab.capacity * step_between(nodes, face[:, None], down)[0, 0, 0])


class Beside(NamedTuple):
    """A source that warms a spot besides its own flame: how far `away` [m], `share` of one spot's heat, a flame on the `same_side`."""

    away: float
    share: float
    same_side: bool = False


def sources_of(webs: Webs, places: tuple[tuple[float, float], ...], burning: tuple[int, ...]) -> list[Beside]:
    """Return the flames and the mirror images that warm a spot besides its own flame; arguments as `spot_among`.

    At a web of thickness ratio k the roof's heat parts: 2/(2 + k) goes on, k/(2 + k) goes down the web, which acts as
    a mirror image of that much cold. Sources of the same bay have images at its two webs.

    Source: heat at a junction of three half-endless plates, after Carslaw & Jaeger (from memory); derived.
    Valid: webs deep against the spread of the heat.
    """
    x, y = places[burning[0]]
    found: list[Beside] = []
    for other in burning:
        ox, oy = places[other]
        between = [k for k, w in enumerate(webs.stations) if min(x, ox) < w <= max(x, ox)]
        if other != burning[0]:
            passed = math.prod(2 / (2 + webs.ratio[k]) for k in between)
            found.append(Beside(math.hypot(ox - x, oy - y), passed, y * oy > 0))
        if not between:
            found += _mirrored(webs, (x, y), (ox, oy))
    return found


def felt_around(sources: list[Beside], spread: float) -> tuple[tuple[float, float], ...]:
    """Return the sources that a spot's disc feels as heat all around: distances [m] and shares.

    `spread` area over which the heat has spread when neighbours begin to matter [m2].

    Source: `AROUND`, `UNFELT`, `FAINT`.
    """
    told = [
        (one.away, one.share * (_share_around(one.away, spread) if one.same_side else 1.0)) for one in sources
    ]
    felt = [abs(s) * np.exp(-(d**2) / spread) for d, s in told]
    if sum(felt) < UNFELT:
        return ()
    kept = [
        (round(d, 3), round(s, 2))
        for (d, s), part in zip(told, felt, strict=True)
        if d > 1e-4 and part > FAINT
    ]
    return tuple(sorted(kept))


def _share_around(away: float, spread: float) -> float:
    """Share of a flame's heat, so far away on the same side, that the disc takes as heat all around."""
    none, whole = AROUND.value
    return min(max((away / math.sqrt(spread) - none) / (whole - none), 0.0), 1.0)


def _mirrored(webs: Webs, at: tuple[float, float], source: tuple[float, float]) -> list[Beside]:
    """A source's images at the two webs of its bay."""
    where = sorted(range(len(webs.stations)), key=webs.stations.__getitem__)
    left = [k for k in where if webs.stations[k] <= at[0]][-1:]
    right = [k for k in where if webs.stations[k] > at[0]][:1]
    return [
        Beside(
            math.hypot(2 * webs.stations[k] - source[0] - at[0], source[1] - at[1]),
            -webs.ratio[k] / (2 + webs.ratio[k]),
        )
        for k in (*left, *right)
    ]


HEATING: Final = 10  # time steps under the flame
COOLING: Final = 26  # and after it
COOLED: Final = 25.0  # dwells after which the spot counts as even


def instants(dwell: float) -> Floats:
    """Return the times worked through [s]: closer after the torch comes on and after it leaves.

    Source: our own choice; refined, it moves the shrinkage by less than 2 %.
    """
    on = dwell * (np.arange(1, HEATING + 1) / HEATING) ** 1.5
    off = np.expm1(np.linspace(0, np.log1p(100), COOLING + 1)[1:]) / 100
    return np.concatenate([on, dwell * (1 + (COOLED - 1) * off)])


RINGS: Final = 40
LAYERS: Final = 4
REACH: Final = 4.0  # mesh radius over the spread of the heat at the end of the dwell
NOTHING: Final = 40.0  # exponent beyond which heat does not count: 4e-18


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotHeating:
    """What a spot's answer is worked from."""

    mesh: Mesh
    heating: Heating


def spot_heating(case: SpotCase) -> SpotHeating:
    """Return mesh and temperatures of one spot, shared by the metal's yield curves."""
    return _heated(replace(case, alloy=without_curves(case.alloy)))


def without_curves(alloy: Alloy) -> Alloy:
    """Return an alloy without its hot yield curves: what heat, expansion and elastic answer go by."""
    return replace(alloy, yield_short=(), yield_soaked=())


@lru_cache(maxsize=256)
def _heated(case: SpotCase) -> SpotHeating:
    mesh = _mesh(case)
    rise = _rise(case, mesh)
    heat = case.start + np.concatenate([rise, np.zeros((1, *rise.shape[1:]))])
    return SpotHeating(mesh=mesh, heating=Heating(temperature=heat[:, None], rest=case.start))


def _mesh(case: SpotCase) -> Mesh:
    """Rings, finer towards the middle, out to four times the heat's spread, and Gauss layers; twice as many move the shrinkage by under 1 %."""
    spread = np.sqrt(case.spread())
    xi = np.linspace(0, 1, RINGS + 1)
    x, weight = gauss(LAYERS)
    half = case.thickness / 2
    radius = REACH * spread * (0.2 * xi + 0.8 * xi**2)
    return Mesh(radius=radius[None], height=(x * half)[None], weight=(weight * half)[None])


def ageing(heat: Floats, time: Floats) -> Floats:
    """Return the equivalent time at 250 degC of every point up to every instant [s], by the trapezium of the rates.

    `heat` temperatures [degC], instants first; `time` of the instants [s].
    """
    pace = equivalent_time(heat, 1.0)
    steps = np.diff(time, prepend=0.0)[:, None, None]
    return np.cumsum((pace + np.concatenate([pace[:1] * 0, pace[:-1]])) / 2 * steps, axis=0)


def surface_ageing(case: SpotCase) -> float:
    """Return the equivalent time at 250 degC of the middle of the heated face [s]."""
    time = instants(case.dwell)
    return float(ageing(case.start + case.rise(0.0, 0.0, time), time)[-1, 0, 0])


def hottest_below(case: SpotCase, depth: Floats) -> Floats:
    """Return the highest temperature that places under the middle of the flame reach [degC]."""
    return np.asarray(case.start + case.rise(0.0, depth, instants(case.dwell))[:, 0].max(axis=0))


def _rise(case: SpotCase, mesh: Mesh) -> Floats:
    """Rise of rings and layers by all flames, (steps, rings, layers)."""
    slab = case.slab
    nodes = age_nodes(case.flame, slab, instants(case.dwell))
    area = (case.radius**2 / 2 + 4 * slab.diffusivity * nodes.age)[:, None]
    r = mesh.ring[0]
    face = np.exp(-(r**2) / area) / (np.pi * area)
    if case.others:
        face = face + _beside(case, r, area)
    down = through_thickness(case.thickness / 2 - mesh.height[0], nodes.age, slab)
    return np.asarray(case.power / slab.capacity * step_between(nodes, face, down))


def _beside(case: SpotCase, r: Floats, area: Floats) -> Floats:
    """Heat that comes from the other sources, each averaged around the ring, (ages, rings) [1/m2]."""
    from scipy.special import ive

    shares: dict[float, float] = {}
    for distance, share in case.others:  # mirror images of one distance are worked out once
        shares[distance] = shares.get(distance, 0.0) + share
    away = np.array(list(shares))[:, None, None]
    faded = (r - away) ** 2 / area
    felt = faded < NOTHING  # young heat has not come so far yet, and the Bessel function costs much
    around = np.zeros_like(faded)
    around[felt] = np.exp(-faded[felt]) * ive(0, (2 * r * away / area)[felt])
    return np.asarray(np.tensordot(list(shares.values()), around, axes=1) / (np.pi * area))
