"""The heat of one spot: its case and what warms it besides, the disc of a wall with its temperatures, and the bar where a solid casting is heated."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.cooling import equivalent_time
from straighten.heat.disc import Heating, Mesh
from straighten.heat.field import (
    ROOM,
    Flame,
    age_nodes,
    expanded,
    gauss,
    heated_wall,
    read,
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
    share of the heat.
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
        """Return the rise by its own flame [K], `(t, r, z)`, as `slab_rise`."""
        return slab_rise(self.flame, self.slab, radius, depth, time)


AROUND: Final = Cited(
    (0.4, 0.9),
    "ways that heat spreads",
    "from how far on the disc takes heat of a flame beside it on its own side as heat all around, not at all to whole: "
    "nearer, that flame softens a place of its own; set on R 20 to 30 held 20 to 40 s in 3D finite elements",
    "fitted",
)
UNFELT: Final = 0.08  # heat of neighbours and mirrors, over the spot's own, that is left out
FAINT: Final = 1e-4  # heat of one of them that is left out: moves a spot's shrinkage by less than 1e-5


def spot_case(
    head: Head,
    spot: HeatSpot,
    start: float = ROOM.value,
    others: tuple[tuple[float, float], ...] = (),
) -> SpotCase:
    """Return what the spot's answer depends on, power and peak completed from one another.

    `spot` with either peak or power; `start` temperature of the head when the torch comes on [degC]; `others` of
    `heat_from_others`.

    Raises:
        BadInput: as `check_sense`.
        OutsideModel: as `check_peak`.

    Valid: peaks under first melting; what may be asked for: `torch.refused_peak`.
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


def heat_from_others(
    webs: Webs, places: tuple[tuple[float, float], ...], burning: tuple[int, ...], spread: float
) -> tuple[tuple[float, float], ...]:
    """Return the sources that warm a spot besides itself: distances [m] and shares of one spot's heat.

    At a web of thickness ratio k the roof's heat parts: 2/(2 + k) goes on, k/(2 + k) goes down the web, which acts as
    a mirror image of that much cold. Sources of the same bay have images at its two webs.

    `places` station and distance from the middle line of each spot [m]; `burning` numbers of the spots that burn
    together, the warmed one first; `spread` area over which the heat has spread when neighbours begin to matter [m2].

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
            found.append((away, passed * (_share_around(away, spread) if y * oy > 0 else 1.0)))
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


def _share_around(away: float, spread: float) -> float:
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
    return _heated(replace(case, alloy=replace(case.alloy, yield_short=(), yield_soaked=())))


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

    away, share = (np.array(v)[:, None, None] for v in zip(*case.others, strict=True))
    faded = (r - away) ** 2 / area
    felt = faded < NOTHING  # young heat has not come so far yet, and the Bessel function costs much
    around = np.zeros_like(faded)
    around[felt] = np.exp(-faded[felt]) * ive(0, (2 * r * away / area)[felt])
    return np.asarray((share * around).sum(axis=0) / (np.pi * area))


_ALONG: Final = 20
_ACROSS: Final = 6
_DOWN: Final = 10
_REACH: Final = 3.5
_MIRRORS: Final = np.arange(-4, 5)
_MOST_NEWTON: Final = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fibres:
    """Gauss points: `x` along, `y` across, `depth` below the face, `height` over the middle [m]; weights [m], [m2]."""

    x: Floats
    along: Floats
    y: Floats
    depth: Floats
    height: Floats
    area: Floats


def _fibres(width: float, thick: float, reach: float) -> _Fibres:
    gx, wx = gauss(_ALONG)
    gy, wy = gauss(_ACROSS)
    gz, wz = gauss(_DOWN)
    depth = thick / 2 * (1 + gz)
    return _Fibres(
        x=reach * (1 + gx) / 2,
        along=wx * reach,
        y=width / 4 * (1 + gy),
        depth=depth,
        height=thick / 2 - depth,
        area=np.outer(wy * width / 2, wz * thick / 2),
    )


def shrink_bar(case: SpotCase, width: float) -> tuple[float, float, float]:
    """Return shrinkage [m3] and its moment [m4] and the mean growth while freezing [m3] of a solid bar `width` wide [m].

    Source: beam theory with fibres, uniaxial return mapping; derived.
    Valid: a bar narrower than about four spreads of the heat.
    """
    fibres = _fibres(width, case.thickness, _REACH * float(np.sqrt(case.spread())))
    rise = _bar_rise(case, width, fibres)
    heat = case.start + np.concatenate([rise, np.zeros((1, *rise.shape[1:]))])
    return _slices(case, fibres, heat)


def _bar_rise(case: SpotCase, width: float, fibres: _Fibres) -> Floats:
    """Rise in a bar heated on the middle of its face [K], `(t, x, y, z)`.

    Source: product of three one-dimensional Green's functions with mirrors, Carslaw & Jaeger (from memory); derived.
    Valid: all faces insulated, bar long.
    """
    slab, time = case.slab, instants(case.dwell)
    nodes = age_nodes(case.flame, slab, time)
    spread = case.radius**2 / 2 + 4 * slab.diffusivity * nodes.age
    fading = np.sqrt(np.pi * spread)[:, None]
    along = np.exp(-np.minimum(fibres.x**2 / spread[:, None], 700)) / fading
    paths = (fibres.y[:, None] - width * _MIRRORS) ** 2
    across = np.exp(-np.minimum(paths / spread[:, None, None], 700)).sum(axis=-1) / fading
    face = (along[:, :, None] * across[:, None, :]).reshape(spread.size, -1)
    rise = step_between(nodes, face, through_thickness(fibres.depth, nodes.age, slab))
    return np.asarray(case.power / slab.capacity * rise).reshape(time.size, fibres.x.size, fibres.y.size, -1)


def _slices(case: SpotCase, fibres: _Fibres, heat: Floats) -> tuple[float, float, float]:
    """Shrinkage, its moment, mean growth: all slices through the whole history."""
    plastic, slip = np.zeros(heat.shape[1:]), np.zeros(heat.shape[1:])
    tilt = np.zeros((2, heat.shape[1]))
    flowing, grown = 0.0, 0.0
    for warm in heat:
        thermal = expanded(case.alloy.expansion, warm, case.start)
        strength = read(case.alloy.yield_short, warm)
        modulus = read(case.alloy.modulus, warm)
        metal = (modulus, strength + case.alloy.hardening * slip, case.alloy.hardening)
        tilt, added = _even_out(fibres, metal, thermal + plastic, tilt)
        plastic, slip = plastic + added, slip + np.abs(added)
        moved = float(np.abs(_volume(fibres, added)).sum())
        grown += moved * float(_volume(fibres, thermal + plastic)[0])
        flowing += moved
    shrunk = -_volume(fibres, plastic)
    return float(shrunk[0]), float(shrunk[1]), grown / flowing if flowing else 0.0


def _volume(fibres: _Fibres, strain: Floats) -> Floats:
    """Strain times volume, and times height over the middle."""
    part = strain * fibres.area
    return np.array(
        [
            (part.sum(axis=(1, 2)) * fibres.along).sum(),
            ((part * fibres.height).sum(axis=(1, 2)) * fibres.along).sum(),
        ]
    )


def _even_out(
    fibres: _Fibres, metal: tuple[Floats, Floats, float], free: Floats, tilt: Floats
) -> tuple[Floats, Floats]:
    """Find stretch and curvature of every slice that leave no force and no moment; return them and the plastic step."""
    modulus, strength, hard = metal
    area, height = fibres.area, fibres.height
    for _ in range(_MOST_NEWTON):
        trial = modulus * (tilt[0][:, None, None] + tilt[1][:, None, None] * height - free)
        excess = np.maximum(np.abs(trial) - strength, 0.0) / (modulus + hard)
        added = np.sign(trial) * excess
        stress = trial - modulus * added
        stiff = np.where(excess > 0, modulus * hard / (modulus + hard), modulus) * area
        force, moment = (stress * area).sum(axis=(1, 2)), (stress * area * height).sum(axis=(1, 2))
        a, b, c = (v.sum(axis=(1, 2)) for v in (stiff, stiff * height, stiff * height**2))
        move = np.stack([c * force - b * moment, a * moment - b * force]) / (a * c - b * b)
        tilt = tilt - move
        if np.abs(move[0]).max() < 1e-11 and np.abs(move[1]).max() * height.max() < 1e-11:
            break
    return tilt, added
