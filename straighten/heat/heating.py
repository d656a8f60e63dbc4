"""The heat of one spot: its case, the disc of a wall with its temperatures, and the bar where a solid casting is heated."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.disc import Heating, Mesh
from straighten.heat.field import (
    Flame,
    age_nodes,
    expanded,
    gauss,
    read,
    slab_rise,
    step_between,
    through_thickness,
)
from straighten.heat.hardness import equivalent_time
from straighten.heat.torch import ROOM, slab_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Alloy
    from straighten.heat.field import Slab

    Floats = NDArray[np.float64]

HEATING: Final = 10  # time steps under the flame
COOLING: Final = 26  # and after it
COOLED: Final = 25.0  # dwells after which the spot counts as even


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotCase:
    """All that one spot's answer depends on.

    `alloy`; `thickness` of the wall [m]; absorbed `power` [W]; flux `radius` [m]; `dwell` [s]; surface `peak` [degC];
    `start` temperature of the metal [degC]; `bar_width` [m] where the casting is a solid bar, None where a wall is heated; `others` spots that burn at the same time, and their and its
    own mirror images at the webs: distance [m] and share of the heat.
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
    """What a spot's answer is worked from: `mesh`, `heating`, `growing` thermal growth of the spot's own heat at every step [m3]."""

    mesh: Mesh
    heating: Heating
    growing: Floats


def spot_heating(case: SpotCase) -> SpotHeating:
    """Return mesh, temperatures and growth of one spot."""
    return _heated(replace(case, alloy=replace(case.alloy, yield_short=(), yield_soaked=())))


@lru_cache(maxsize=256)
def _heated(case: SpotCase) -> SpotHeating:
    """The same, whatever the metal yields at: shared by its yield curves."""
    slab = slab_of(case.alloy, case.thickness, case.peak, case.start)
    mesh = spot_mesh(case, slab)
    own, every = _rises(case, slab, mesh)
    thermal = expanded(case.alloy.expansion, case.start + own, case.start)
    growing = np.append((thermal * mesh.volume[0]).sum(axis=(1, 2)), 0.0)  # nought at the cold end
    heat = case.start + np.concatenate([every, np.zeros((1, *every.shape[1:]))])
    heating = Heating(temperature=heat[:, None], rest=case.start)
    return SpotHeating(mesh=mesh, heating=heating, growing=growing)


def spot_mesh(case: SpotCase, slab: Slab) -> Mesh:
    """Return rings, finer towards the middle, out to four times the heat's spread, and Gauss layers.

    Source: our own choice; refined, it moves the shrinkage by less than 1 %.
    Valid: Gaussian flux.
    """
    spread = np.sqrt(case.radius**2 / 2 + 4 * slab.diffusivity * case.dwell)
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
    slab = slab_of(case.alloy, case.thickness, case.peak, case.start)
    time = instants(case.dwell)
    flame = Flame(power=case.power, radius=case.radius, dwell=case.dwell)
    return float(ageing(case.start + slab_rise(flame, slab, 0.0, 0.0, time), time)[-1, 0, 0])


def hottest_below(case: SpotCase, depth: Floats) -> Floats:
    """Return the highest temperature that places under the middle of the flame reach [degC]."""
    slab = slab_of(case.alloy, case.thickness, case.peak, case.start)
    flame = Flame(power=case.power, radius=case.radius, dwell=case.dwell)
    return np.asarray(case.start + slab_rise(flame, slab, 0.0, depth, instants(case.dwell))[:, 0].max(axis=0))


def _rises(case: SpotCase, slab: Slab, mesh: Mesh) -> tuple[Floats, Floats]:
    """Rise of rings and layers by the spot's own flame and by all, (steps, rings, layers) each."""
    flame = Flame(power=case.power, radius=case.radius, dwell=case.dwell)
    nodes = age_nodes(flame, slab, instants(case.dwell))
    area = (case.radius**2 / 2 + 4 * slab.diffusivity * nodes.age)[:, None]
    r = mesh.ring[0]
    own = np.exp(-(r**2) / area) / (np.pi * area)
    faces = np.hstack([own, own + _beside(case, r, area)]) if case.others else own
    down = through_thickness(case.thickness / 2 - mesh.height[0], nodes.age, slab)
    rise = flame.power / slab.capacity * step_between(nodes, faces, down)
    return rise[:, : r.size], rise[:, -r.size :]


def _beside(case: SpotCase, r: Floats, area: Floats) -> Floats:
    """Heat that comes from the other sources, each averaged around the ring, (ages, rings) [1/m2]."""
    from scipy.special import ive

    away, share = (np.array(v)[:, None, None] for v in zip(*case.others, strict=True))
    faded = (r - away) ** 2 / area
    felt = faded < NOTHING  # young heat has not come so far yet, and the Bessel function is dear
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
class Bar:
    """A solid bar: `width` and `depth` under the heated face [m]."""

    width: float
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fibres:
    """Gauss points: `x` along, `y` across, `depth` below the face, `height` over the middle [m]; weights [m], [m2]."""

    x: Floats
    along: Floats
    y: Floats
    depth: Floats
    height: Floats
    area: Floats


def _fibres(bar: Bar, reach: float) -> _Fibres:
    gx, wx = gauss(_ALONG)
    gy, wy = gauss(_ACROSS)
    gz, wz = gauss(_DOWN)
    depth = bar.depth / 2 * (1 + gz)
    return _Fibres(
        x=reach * (1 + gx) / 2,
        along=wx * reach,
        y=bar.width / 4 * (1 + gy),
        depth=depth,
        height=bar.depth / 2 - depth,
        area=np.outer(wy * bar.width / 2, wz * bar.depth / 2),
    )


def bar_rise(
    flame: Flame, slab: Slab, bar: Bar, points: tuple[Floats, Floats, Floats], time: Floats
) -> Floats:
    """Return the temperature rise in a bar heated on the middle of its face.

    `slab` conductivity and capacity; its thickness is the bar's depth; `points` stations from the spot,
    distances from the middle line, depths [m]; `time` since the torch came on [s].

    Returns:
        Rise [K], shape `(t, x, y, z)`.

    Source: product of three one-dimensional Green's functions with mirrors, Carslaw & Jaeger (from memory); derived.
    Valid: all faces insulated, bar long.
    """
    x, y, depth = points
    nodes = age_nodes(flame, slab, time)
    spread = flame.radius**2 / 2 + 4 * slab.diffusivity * nodes.age
    fading = np.sqrt(np.pi * spread)[:, None]
    along = np.exp(-np.minimum(x**2 / spread[:, None], 700)) / fading
    paths = (y[:, None] - bar.width * _MIRRORS) ** 2
    across = np.exp(-np.minimum(paths / spread[:, None, None], 700)).sum(axis=-1) / fading
    face = (along[:, :, None] * across[:, None, :]).reshape(spread.size, -1)
    rise = step_between(nodes, face, through_thickness(depth, nodes.age, slab))
    return (flame.power / slab.capacity * rise).reshape(time.size, x.size, y.size, depth.size)


def shrink_bar(case: SpotCase, bar: Bar) -> tuple[float, float, float]:
    """Return shrinkage [m3] and its moment [m4] and the mean growth while freezing [m3].

    Source: beam theory with fibres, uniaxial return mapping; derived.
    Valid: a bar narrower than about four spreads of the heat.
    """
    slab = slab_of(case.alloy, bar.depth, case.peak, case.start)
    flame = Flame(power=case.power, radius=case.radius, dwell=case.dwell)
    reach = _REACH * float(np.sqrt(case.radius**2 / 2 + 4 * slab.diffusivity * case.dwell))
    fibres, time = _fibres(bar, reach), instants(case.dwell)
    rise = bar_rise(flame, slab, bar, (fibres.x, fibres.y, fibres.depth), time)
    heat = case.start + np.concatenate([rise, np.zeros((1, *rise.shape[1:]))])
    return _slices(case, fibres, heat)


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
