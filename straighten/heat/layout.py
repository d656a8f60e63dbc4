"""Spots on one head: their answers, their places, and how they warm and strain one another."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.head.records import side_sign
from straighten.heat.case import heated_wall, spot_case
from straighten.heat.cooling import spot_start
from straighten.heat.lines import Bowing
from straighten.heat.neighbours import Strip, Webs, heat_from_others, lopsided_strain, mutual_strain
from straighten.heat.spot import Effect, SpotAnswer, work_spots
from straighten.heat.spot_case import SpotCase
from straighten.heat.torch import slab_of
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from straighten.clamp.section import Section
    from straighten.head.records import Head
    from straighten.heat.treatment import HeatSpot

    Floats = NDArray[np.float64]

WALL_DEPTH: Final = Cited(
    1 / 3,
    "",
    "share of a side wall's height that stretches along with the roof's edge near a spot",
    "assumed",
)
WALL: Final = Cited(6e-3, "m", "side wall of a head whose plates are not known", "assumed")
HALFWAY: Final = Cited(
    2.0, "dwells", "age of the heat while neighbouring spots act on one another", "assumed"
)


@dataclass(frozen=True, slots=True)
class SpotsOnHead:
    """The spots on one head: answers and geometry, ready for arithmetic over draws."""

    answers: tuple[SpotAnswer, ...]
    cases: tuple[SpotCase, ...]
    stations: Floats
    starts: Floats
    across: Floats
    height: Floats  # of the shrinkage over the neutral axis [m]
    mutual: Floats  # (at, of, 2) strain per volume [1/m3]
    lopsided: Floats  # (at, of, 2) strain per lopsided volume [1/m3]
    spread: Floats  # area over which the heat has spread halfway [m2]
    bowing: Bowing  # what a kink at each of them does to the lines


@lru_cache(maxsize=512)
def spots_on(head: Head, section: Section, spots: tuple[HeatSpot, ...]) -> SpotsOnHead:
    """Return the spots' answers on this head, each with the warmth and the neighbours it has when it burns.

    Args:
        head: casting, alloy, spot rows.
        section: height, neutral axis, weight.
        spots: in any order.

    Raises:
        BadInput: a spot that makes no sense.
        OutsideModel: a surface would melt.

    Source: `work_spots`, `heat_from_others`, `mutual_strain`; derived.
    Valid: spots apart by more than their hot diameter.
    """
    wall = heated_wall(head)
    places, cases = _places(head, spots), _cases(head, section, spots)
    answers, stations = work_spots(cases), np.array([s.station for s in spots])
    offset = np.array([_offset(a.sound) for a in answers])
    disc = tuple(math.sqrt(a.hot_volume / (math.pi * wall)) for a in answers)
    return SpotsOnHead(
        answers=answers,
        cases=cases,
        stations=stations,
        starts=np.array([s.start for s in spots]),
        across=np.array([across for _, across in places]),
        height=section.height - wall / 2 + offset - section.neutral_axis,
        mutual=mutual_strain(strip_of(head), places),
        lopsided=lopsided_strain(strip_of(head), places, disc),
        spread=np.array([_spread(c, wall) for c in cases]),
        bowing=Bowing.at(stations, head),
    )


def work_sets(head: Head, section: Section, sets: Iterable[tuple[HeatSpot, ...]]) -> None:
    """Work through the spots of several sets together, so that `spots_on` finds each one's answer known.

    Args:
        head: as in `spots_on`.
        section: as in `spots_on`.
        sets: of spots that will be asked about.

    Raises:
        BadInput: as `spots_on`.
        OutsideModel: as `spots_on`.

    Source: `work_spots`.
    Valid: any sets; it saves time and changes no answer.
    """
    work_spots([case for spots in sets for case in _cases(head, section, spots)])


@lru_cache(maxsize=512)
def _cases(head: Head, section: Section, spots: tuple[HeatSpot, ...]) -> tuple[SpotCase, ...]:
    """Return what each spot's answer depends on: the head's warmth when it burns, and what burns beside it."""
    wall, places = heated_wall(head), _places(head, spots)
    starts = np.array([s.start for s in spots])
    cold = [spot_case(head, s) for s in spots]
    warm = spot_start(head, section, starts, np.array([c.power * c.dwell for c in cold]))
    return tuple(
        spot_case(
            head,
            s,
            warm[k],
            heat_from_others(webs_of(head), places, _together(starts, k), _spread(cold[k], wall)),
        )
        for k, s in enumerate(spots)
    )


def _places(head: Head, spots: tuple[HeatSpot, ...]) -> tuple[tuple[float, float], ...]:
    """Return station and distance from the middle line of each spot [m]."""
    across = [side_sign(s.side) * (head.spot_rows if s.across is None else s.across) for s in spots]
    return tuple((float(s.station), float(y)) for s, y in zip(spots, across, strict=True))


def _together(starts: Floats, spot: int) -> tuple[int, ...]:
    """The spot itself first, then those that burn with it."""
    others = np.nonzero(starts == starts[spot])[0].tolist()
    return (spot, *(k for k in others if k != spot))


def webs_of(head: Head) -> Webs:
    """Return the cross walls under the roof, ends included where plates give them.

    Source: the casting's own sizes.
    Valid: webs that reach the roof.
    """
    webs = head.casting.webs
    roof = head.casting.roof
    return Webs(stations=tuple(w.station for w in webs), ratio=tuple(w.thickness / roof for w in webs))


def _offset(effect: Effect) -> float:
    return effect.lift / effect.shrinkage if effect.shrinkage > 0 else 0.0


def _spread(case: SpotCase, wall: float) -> float:
    slab = slab_of(case.alloy, wall, case.peak, case.start)
    return case.radius**2 / 2 + 4 * slab.diffusivity * HALFWAY.value * case.dwell


def strip_of(head: Head) -> Strip:
    """Return the roof as a strip between the side walls.

    Source: the casting's own sizes; `WALL_DEPTH`, `WALL` (assumed).
    Valid: hollow castings and bars.
    """
    casting, plates = head.casting, head.casting.plates
    if plates is not None and plates.solid:
        return Strip(
            half_width=casting.width / 2, thickness=casting.height, wall_area=0.0, poisson=head.alloy.poisson
        )
    wall = plates.side_walls if plates is not None and plates.side_walls else WALL.value
    return Strip(
        half_width=casting.width / 2 - wall / 2,
        thickness=casting.roof,
        wall_area=wall * casting.height * WALL_DEPTH.value,
        poisson=head.alloy.poisson,
    )
