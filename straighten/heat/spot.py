"""One heat spot worked through: how much it shrinks, how much of a clamp's strain it keeps, how hot it gets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.bar import Bar, shrink_bar
from straighten.heat.curves import read
from straighten.heat.disc import Mesh, heated_together, history, side_by_side, untouched
from straighten.heat.spot_case import SpotCase
from straighten.heat.spot_heating import hottest_below, spot_heating, surface_ageing
from straighten.heat.strained import Plate, Sensitivity
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Alloy

    Floats = NDArray[np.float64]

COLLAPSED: Final = 0.5  # share of the cold yield under which metal counts as hot
BOWL: Final = Cited(
    0.62,
    "",
    "what a round pit keeps of a strain from afar, over what a hole right through keeps: 15 (1 - nu) / (7 - 5 nu) of a "
    "sphere over Kirsch's 3, nu = 0.33; in between by the share of the depth that is hot (Goodier 1933, from memory)",
    "derived",
)
MOST_KNOWN: Final = 4096  # answers kept in memory before all are let go


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What the heat leaves in a large plate that was never heated.

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

    `effect` with the yield of short exposure; `growth` inherent volume of the hot spot (thermal less plastic), averaged
    over the time while the kept strain freezes [m3]; `aged` equivalent time at 250 degC of the hottest metal [s]; `heat`
    put in [J].
    """

    effect: Effect
    growth: float
    aged: float
    heat: float


_KNOWN: Final[dict[SpotCase, SpotAnswer]] = {}


def work_spot(case: SpotCase) -> SpotAnswer:
    """Return the answer for one spot, kept in memory for the next time.

    Args:
        case: alloy, wall, flame.

    Source: `worked`.
    Valid: as `worked`.
    """
    return work_spots((case,))[0]


def work_spots(cases: Sequence[SpotCase]) -> tuple[SpotAnswer, ...]:
    """Return the answers for several spots; those not yet in memory are worked through together.

    Args:
        cases: alloy, wall, flame of each.

    Source: `worked`.
    Valid: as `worked`.
    """
    if len(_KNOWN) > MOST_KNOWN:
        _KNOWN.clear()
    fresh = [case for case in dict.fromkeys(cases) if case not in _KNOWN]
    alike: dict[Alloy, list[SpotCase]] = {}
    for case in fresh:
        alike.setdefault(case.alloy, []).append(case)
    for some in alike.values():
        _KNOWN.update(zip(some, worked(some), strict=True))
    return tuple(_KNOWN[case] for case in cases)


def worked(cases: Sequence[SpotCase]) -> tuple[SpotAnswer, ...]:
    """Return the answers for spots of one alloy: their discs stand side by side.

    Args:
        cases: of one alloy; what one answers does not hang on the others.

    Source: `disc.history`, `strained.Sensitivity`, `bar.shrink_bar`; derived.
    Valid: walls thinner than about twice the flux radius, or bars narrower than four spreads of the heat.
    """
    alloy = cases[0].alloy
    fires = [spot_heating(case) for case in cases]
    mesh, heating = side_by_side([f.mesh for f in fires]), heated_together([f.heating for f in fires])
    growing = np.stack([f.growing for f in fires], axis=1)
    plate = Plate(modulus=alloy.modulus[0][1], poisson=alloy.poisson)
    kept = Sensitivity(mesh, plate, 2)
    memory = untouched(mesh)
    for grown, moment in zip(growing, history(mesh, alloy, heating, memory), strict=True):
        plastic = (moment.memory.plastic_sum / 2 * mesh.volume).sum(axis=(1, 2))
        kept.feed(moment, np.stack([np.ones(mesh.discs), grown + plastic], axis=-1))
        memory = moment.memory
    sums = _sums(mesh, memory.plastic_sum, kept)
    return tuple(_answer(case, some) for case, some in zip(cases, sums, strict=True))


def hot_depth(case: SpotCase) -> float:
    """Return how deep under the flame's middle the metal counts as hot [m].

    Source: `hottest_below`; `COLLAPSED`.
    Valid: as there.
    """
    depth = np.linspace(0.0, case.thickness, 41)
    weak = read(case.alloy.yield_short, hottest_below(case, depth)) < COLLAPSED * case.alloy.yield_short[0][1]
    return float(depth[weak].max(initial=0.0))


def _sums(mesh: Mesh, plastic_sum: Floats, kept: Sensitivity) -> Floats:
    """Shrinkage, its moment, and the volumes that keep an even and a lopsided strain, static and growing along."""
    shrunk = -plastic_sum / 2 * mesh.volume
    moment = (shrunk * mesh.height[:, None, :]).sum(axis=(1, 2))
    return np.column_stack([shrunk.sum(axis=(1, 2)), moment, *kept.kept()])


def _answer(case: SpotCase, sums: Floats) -> SpotAnswer:
    shrinkage, lift, even, even_along, lopsided, lopsided_along = sums
    nu = case.alloy.poisson
    uniaxial = (1 - nu) * even + (1 + nu) * lopsided
    along = (1 - nu) * even_along + (1 + nu) * lopsided_along
    growth = along / uniaxial if uniaxial > 0 else 0.0
    if case.bar_width is not None:
        bar = Bar(width=case.bar_width, depth=case.thickness)
        shrinkage, lift, growth = shrink_bar(case, bar)
        bowl = BOWL.value + (1 - BOWL.value) * hot_depth(case) / case.thickness
        even, lopsided = bowl * even, bowl * lopsided
    return SpotAnswer(
        effect=Effect(
            shrinkage=float(shrinkage), lift=float(lift), even=float(even), lopsided=float(lopsided)
        ),
        growth=float(growth),
        aged=surface_ageing(case),
        heat=case.power * case.dwell,
    )
