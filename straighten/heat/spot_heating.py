"""The heat of one spot on its disc: rings and layers, their temperatures, and the temper lost on the way."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.curves import expanded
from straighten.heat.disc import Heating, Mesh
from straighten.heat.field import Flame, age_nodes, slab_rise, step_between, through_thickness
from straighten.heat.gauss import gauss
from straighten.heat.hardness import equivalent_time
from straighten.heat.spot_case import SpotCase, instants
from straighten.heat.torch import slab_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.heat.field import Slab

    Floats = NDArray[np.float64]

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
    """Return mesh, temperatures and growth of one spot.

    Args:
        case: alloy, wall, flame and what burns beside it.

    Source: `slab_rise`; derived.
    Valid: as `slab_rise`.
    """
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

    Args:
        heat: temperatures [degC], instants first.
        time: of the instants [s].

    Source: `equivalent_time`; derived.
    Valid: as there.
    """
    pace = equivalent_time(heat, 1.0)
    steps = np.diff(time, prepend=0.0)[:, None, None]
    return np.cumsum((pace + np.concatenate([pace[:1] * 0, pace[:-1]])) / 2 * steps, axis=0)


def surface_ageing(case: SpotCase) -> float:
    """Return the equivalent time at 250 degC of the middle of the heated face [s].

    Source: `slab_rise`; derived.
    Valid: as there.
    """
    slab = slab_of(case.alloy, case.thickness, case.peak, case.start)
    time = instants(case.dwell)
    flame = Flame(power=case.power, radius=case.radius, dwell=case.dwell)
    return float(ageing(case.start + slab_rise(flame, slab, 0.0, 0.0, time), time)[-1, 0, 0])


def hottest_below(case: SpotCase, depth: Floats) -> Floats:
    """Return the highest temperature that places under the middle of the flame reach [degC].

    Source: `slab_rise`; derived.
    Valid: as there.
    """
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
