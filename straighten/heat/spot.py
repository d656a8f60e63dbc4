"""One heat spot worked through: how much it shrinks, how much of a clamp's strain it keeps, how hot it gets."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.bar import Bar, shrink_bar
from straighten.heat.curves import expanded, read
from straighten.heat.disc import Heating, Mesh, history, untouched
from straighten.heat.field import Flame, age_nodes, slab_rise, step_between, through_thickness
from straighten.heat.gauss import gauss
from straighten.heat.hardness import equivalent_time, loses_temper, soft_yield, temper_lost
from straighten.heat.spot_case import SpotCase, instants
from straighten.heat.strained import Plate, Sensitivity
from straighten.heat.torch import slab_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.heat.field import Slab

    Floats = NDArray[np.float64]

RINGS: Final = 40
LAYERS: Final = 4
REACH: Final = 4.0  # mesh radius over the spread of the heat at the end of the dwell
COLLAPSED: Final = 0.5  # share of the cold yield under which metal counts as hot


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What the last round of heating adds, in a large plate.

    `shrinkage` inherent xx strain times volume, > 0 shortens [m3]; `lift` its first moment over the wall's mid-plane
    [m4]; `even`, `lopsided` volumes that keep the even part (e_x + e_y)/2 and the lopsided part (e_x - e_y)/2 of a
    strain imposed from afar [m3].
    """

    shrinkage: float
    lift: float
    even: float
    lopsided: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotAnswer:
    """One spot's answer.

    `sound` with the table's yield throughout; `softened` with the temper lost where and when the heat takes it;
    `growth` inherent volume of the hot spot (thermal less plastic), averaged over the time while the kept strain
    freezes [m3]; `hot_volume` of metal whose yield fell under half of the cold one [m3]; `soft_volume` that lost half
    its temper [m3]; `aged` equivalent time at 250 degC of the hottest metal [s]; `heat` put in [J].
    """

    sound: Effect
    softened: Effect
    growth: float
    hot_volume: float
    soft_volume: float
    aged: float
    heat: float


@lru_cache(maxsize=4096)
def work_spot(case: SpotCase) -> SpotAnswer:
    """Return the answer for one spot, kept in memory for the next time.

    Args:
        case: alloy, wall, flame.

    Source: `disc.history`, `strained.Sensitivity`, `bar.shrink_bar`; derived.
    Valid: wall thinner than about twice the flux radius, or a bar narrower than four spreads of the heat.
    """
    slab = slab_of(case.alloy, case.thickness, case.peak, case.start)
    mesh = spot_mesh(case, slab)
    heating = heating_of(case, slab, mesh)
    plate = Plate(modulus=case.alloy.modulus[0][1], poisson=case.alloy.poisson)
    kept = Sensitivity(mesh, plate, 2)
    memory, before, after = untouched(mesh), np.zeros((mesh.discs, 6)), np.zeros((mesh.discs, 6))
    growing = _growing(case, slab, mesh)
    for _ in range(case.rounds):
        before = after
        for grown, moment in zip(growing, history(mesh, case.alloy, heating, memory), strict=True):
            plastic = (moment.memory.plastic_sum / 2 * mesh.volume).sum(axis=(1, 2))
            far = np.stack([np.ones(mesh.discs), grown + plastic], axis=-1)
            kept.feed(moment, far)
            memory = moment.memory
        after = _sums(mesh, memory.plastic_sum, kept)
    return _answer(case, mesh, heating, after - before)


def spot_mesh(case: SpotCase, slab: Slab) -> Mesh:
    """Return rings, finer towards the middle, out to four times the heat's spread, and Gauss layers.

    Two discs where the metal loses its temper: the sound one and the softened one.

    Source: our own choice; refined, it moves the shrinkage by less than 1 %.
    Valid: Gaussian flux.
    """
    spread = np.sqrt(case.radius**2 / 2 + 4 * slab.diffusivity * case.dwell)
    xi = np.linspace(0, 1, RINGS + 1)
    x, weight = gauss(LAYERS)
    half, discs = case.thickness / 2, 2 if loses_temper(case.alloy) else 1
    radius = REACH * spread * (0.2 * xi + 0.8 * xi**2)
    return Mesh(
        radius=np.tile(radius, (discs, 1)),
        height=np.tile(x * half, (discs, 1)),
        weight=np.tile(weight * half, (discs, 1)),
    )


def heating_of(case: SpotCase, slab: Slab, mesh: Mesh) -> Heating:
    """Return the temperature history of rings and layers, back to the start, with the temper lost on the way.

    Source: `slab_rise`, `temper_lost`; derived.
    Valid: as `slab_rise`.
    """
    time = instants(case.dwell)
    rise = _rise(case, slab, mesh, ((0.0, 1.0), *case.others))
    heat = case.start + np.concatenate([rise, np.zeros((1, *rise.shape[1:]))])
    every = np.tile(heat[:, None], (1, mesh.discs, 1, 1))
    if mesh.discs == 1:
        return Heating(temperature=every, rest=case.start)
    lost = np.zeros_like(every)
    gone = temper_lost(_ageing(heat[:-1], time))
    lost[:-1, 1], lost[-1, 1] = gone, gone[-1]
    return Heating(temperature=every, rest=case.start, lost=lost, soft=soft_yield(case.alloy))


def _ageing(heat: Floats, time: Floats) -> Floats:
    """Equivalent time at 250 degC of every point up to every instant, by the trapezium of the rates."""
    pace = equivalent_time(heat, 1.0)
    steps = np.diff(time, prepend=0.0)[:, None, None]
    return np.cumsum((pace + np.concatenate([pace[:1] * 0, pace[:-1]])) / 2 * steps, axis=0)


def _surface_ageing(case: SpotCase) -> float:
    """Equivalent time at 250 degC of the middle of the heated face [s]."""
    slab = slab_of(case.alloy, case.thickness, case.peak, case.start)
    time = instants(case.dwell)
    flame = Flame(power=case.power, radius=case.radius, dwell=case.dwell)
    return float(_ageing(case.start + slab_rise(flame, slab, 0.0, 0.0, time), time)[-1, 0, 0])


def _rise(case: SpotCase, slab: Slab, mesh: Mesh, sources: tuple[tuple[float, float], ...]) -> Floats:
    """Rise of rings and layers under sources at distances, each averaged around the ring: (steps, rings, layers)."""
    from scipy.special import ive

    flame = Flame(power=case.power, radius=case.radius, dwell=case.dwell)
    nodes = age_nodes(flame, slab, instants(case.dwell))
    area = (case.radius**2 / 2 + 4 * slab.diffusivity * nodes.age)[:, None]
    r = mesh.ring[0]
    face = np.zeros((area.size, r.size))
    for away, share in sources:
        around = ive(0, 2 * r * away / area) if away else 1.0
        face += share * np.exp(-((r - away) ** 2) / area) * around / (np.pi * area)
    down = through_thickness(case.thickness / 2 - mesh.height[0], nodes.age, slab)
    return flame.power / slab.capacity * step_between(nodes, face, down)


def _growing(case: SpotCase, slab: Slab, mesh: Mesh) -> Floats:
    """Thermal growth of the spot's own heat at every step [m3], nought at the cold end."""
    rise = _rise(case, slab, mesh, ((0.0, 1.0),))
    thermal = expanded(case.alloy.expansion, case.start + rise, case.start)
    return np.append((thermal * mesh.volume[0]).sum(axis=(1, 2)), 0.0)


def _sums(mesh: Mesh, plastic_sum: Floats, kept: Sensitivity) -> Floats:
    """Shrinkage, its moment, and the volumes that keep an even and a lopsided strain, static and growing along."""
    shrunk = -plastic_sum / 2 * mesh.volume
    moment = (shrunk * mesh.height[:, None, :]).sum(axis=(1, 2))
    return np.column_stack([shrunk.sum(axis=(1, 2)), moment, *kept.kept()])


def _answer(case: SpotCase, mesh: Mesh, heating: Heating, sums: Floats) -> SpotAnswer:
    shrinkage, lift, even, even_along, lopsided, lopsided_along = sums.T
    nu = case.alloy.poisson
    uniaxial = (1 - nu) * even[0] + (1 + nu) * lopsided[0]
    along = (1 - nu) * even_along[0] + (1 + nu) * lopsided_along[0]
    growth = along / uniaxial if uniaxial > 0 else 0.0
    if case.bar_width is not None:
        bar = Bar(width=case.bar_width, depth=case.thickness)
        shrinkage, lift, growth = shrink_bar(case, bar, mesh.discs)
    effects = [
        Effect(shrinkage=s, lift=m, even=e, lopsided=d)
        for s, m, e, d in zip(*(v.tolist() for v in (shrinkage, lift, even, lopsided)), strict=True)
    ]
    hottest = heating.temperature[:, 0].max(axis=0)
    weak = read(case.alloy.yield_short, hottest) < COLLAPSED * case.alloy.yield_short[0][1]
    aged = _ageing(heating.temperature[:-1, 0], instants(case.dwell))[-1]
    return SpotAnswer(
        sound=effects[0],
        softened=effects[-1],
        growth=float(growth),
        hot_volume=float((mesh.volume[0] * weak).sum()),
        soft_volume=float((mesh.volume[0] * (temper_lost(aged) > 0.5)).sum()),
        aged=_surface_ageing(case),
        heat=case.power * case.dwell,
    )
