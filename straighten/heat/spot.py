"""One heat spot worked through: how much it shrinks, how much of a clamp's strain it keeps, how hot it gets."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.curves import read
from straighten.heat.disc import Mesh, Moment, history, untouched
from straighten.heat.field import Flame, Slab, slab_rise
from straighten.heat.strained import Plate, Sensitivity
from straighten.heat.torch import ROOM, slab_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Alloy

    Floats = NDArray[np.float64]

RINGS: Final = 40
LAYERS: Final = 4
HEATING: Final = 14  # time steps under the flame
COOLING: Final = 28  # and after it
REACH: Final = 4.0  # mesh radius over the spread of the heat at the end of the dwell
COOLED: Final = 25.0  # dwells after which the spot counts as even


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotCase:
    """All that one spot's answer depends on: alloy, wall `thickness` [m], absorbed `power` [W], flux `radius` [m], `dwell` [s], surface `peak` [degC], `start` temperature of the metal [degC], `rounds` of heating."""

    alloy: Alloy
    thickness: float
    power: float
    radius: float
    dwell: float
    peak: float
    start: float = ROOM.value
    rounds: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotAnswer:
    """What one spot does in a large plate; per round of heating, the last one counted.

    `shrinkage` inherent xx strain times volume, > 0 shortens the roof [m3]; `offset` of its centre over the wall's
    mid-plane [m]; `kept` volume that keeps a clamp's uniaxial strain [m3]; `kept_shear` volume that keeps a shear
    angle [m3]; `hot_growth` inherent volume of the hot spot itself (thermal less plastic) while the kept strain
    freezes [m3]; `hot_volume` of metal that had lost nine tenths of its cold yield [m3]; `heat` put in [J].
    """

    shrinkage: float
    offset: float
    kept: float
    kept_shear: float
    hot_growth: float
    hot_volume: float
    heat: float


@lru_cache(maxsize=4096)
def work_spot(case: SpotCase) -> SpotAnswer:
    """Return the answer for one spot, kept in memory for the next time.

    Source: `disc.history` and `strained.Sensitivity`; derived.
    Valid: spots apart by more than four flux radii; wall thinner than about twice the flux radius.
    """
    slab = slab_of(case.alloy, case.thickness, case.peak, case.start)
    mesh = spot_mesh(case, slab)
    heat = temperatures(case, slab, mesh)
    even = Sensitivity(mesh, _plate(case.alloy), 2, even=True)
    lopsided = Sensitivity(mesh, _plate(case.alloy), 2, even=False)
    memory, before = untouched(mesh), np.zeros(6)
    for round_ in range(case.rounds):
        last = None
        for moment in history(mesh, case.alloy, heat, memory):
            far = np.stack([np.ones(1), _growth(mesh, moment)], axis=-1)
            even.feed(moment, far)
            lopsided.feed(moment, far)
            last = moment
        assert last is not None  # noqa: S101 - there is always a step
        memory = last.memory
        after = _sums(case.alloy, mesh, last, (even, lopsided))
        if round_ < case.rounds - 1:
            before = after
    return _answer(case, heat, mesh, after - before)


def _plate(alloy: Alloy) -> Plate:
    return Plate(modulus=alloy.modulus[0][1], poisson=alloy.poisson)


def spot_mesh(case: SpotCase, slab: Slab) -> Mesh:
    """Return rings, finer towards the middle, out to four times the heat's spread, and Gauss layers.

    Source: our own choice; refined, it moves the shrinkage by less than 1 %.
    Valid: Gaussian flux.
    """
    spread = np.sqrt(case.radius**2 / 2 + 4 * slab.diffusivity * case.dwell)
    xi = np.linspace(0, 1, RINGS + 1)
    x, weight = np.polynomial.legendre.leggauss(LAYERS)
    half = case.thickness / 2
    radius = REACH * spread * (0.2 * xi + 0.8 * xi**2)
    return Mesh(radius=radius[None], height=(x * half)[None], weight=(weight * half)[None])


def instants(dwell: float) -> Floats:
    """Return the times worked through [s]: closer after the torch comes on and after it leaves.

    Source: our own choice; refined, it moves the shrinkage by less than 2 %.
    Valid: any dwell.
    """
    on = dwell * (np.arange(1, HEATING + 1) / HEATING) ** 1.5
    off = np.expm1(np.linspace(0, np.log1p(100), COOLING + 1)[1:]) / 100
    return np.concatenate([on, dwell * (1 + (COOLED - 1) * off)])


def temperatures(case: SpotCase, slab: Slab, mesh: Mesh) -> Floats:
    """Return the temperature history [degC] of rings and layers, the cold end included.

    Source: `slab_rise`; derived.
    Valid: as `slab_rise`.
    """
    flame = Flame(power=case.power, radius=case.radius, dwell=case.dwell)
    depth = case.thickness / 2 - mesh.height[0]
    rise = slab_rise(flame, slab, mesh.ring[0], depth, instants(case.dwell))
    heat = np.concatenate([case.start + rise, np.full((1, *rise.shape[1:]), ROOM.value)])
    return heat[:, None]


def _growth(mesh: Mesh, moment: Moment) -> Floats:
    return np.asarray(((moment.thermal + moment.memory.plastic_sum / 2) * mesh.volume).sum(axis=(1, 2)))


def _sums(alloy: Alloy, mesh: Mesh, last: Moment, kept: tuple[Sensitivity, Sensitivity]) -> Floats:
    """Shrinkage, its moment, and what is kept of a static uniaxial strain, of a shear and of the spot's own growth."""
    shrunk = -last.memory.plastic_sum / 2 * mesh.volume
    even, lopsided = kept[0].kept()[0], kept[1].kept()[0]
    nu = alloy.poisson
    uniaxial = (1 - nu) / 2 * even + (1 + nu) / 2 * lopsided
    moment = (shrunk * mesh.height[:, None, :]).sum()
    return np.array([shrunk.sum(), moment, uniaxial[0], uniaxial[1], lopsided[0], 0.0])


def _answer(case: SpotCase, heat: Floats, mesh: Mesh, sums: Floats) -> SpotAnswer:
    shrinkage, moment, kept, followed, shear, _ = (float(v) for v in sums)
    hottest = heat.max(axis=0)
    collapsed = read(case.alloy.yield_short, hottest) < 0.1 * case.alloy.yield_short[0][1]
    return SpotAnswer(
        shrinkage=shrinkage,
        offset=moment / shrinkage if shrinkage else 0.0,
        kept=kept,
        kept_shear=shear,
        hot_growth=followed / kept if kept else 0.0,
        hot_volume=float((mesh.volume * collapsed).sum()),
        heat=case.power * case.dwell,
    )
