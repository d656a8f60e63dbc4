"""What warm zones of the roof go through: squeezed by its growth, flowing where that passes the hot yield, pulled as they cool."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.case import webs_of
from straighten.heat.curves import expanded, read
from straighten.heat.flame import Flame, grid_rise, walls_passed
from straighten.heat.influence import inverse_of, mutual
from straighten.heat.lines import triangle
from straighten.heat.roof import Roof
from straighten.heat.spot import COLLAPSED
from straighten.heat.torch import slab_of
from straighten.heat.zone import Zone
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Alloy, Head
    from straighten.heat.field import Slab
    from straighten.heat.spot_case import SpotCase

    Floats = NDArray[np.float64]


HOT: Final = Cited(
    0.85,
    "",
    "share of the hot yield at which a zone as a whole flows, since its middle is hotter than its mean; set on wide slow "
    "spots in 3D finite elements (350 to 450 C, 20 to 30 s)",
    "fitted",
)


AT_YIELD: Final = 1 - 1e-6  # of the yield: a zone brought back to it still flows while the others do


@dataclass(frozen=True, slots=True, kw_only=True)
class Warmth:
    """What warm zones go through.

    `press` stress over E that the warm roof puts on them when they freeze, compression positive, and `alone` what each
    one's own heat would put on it in an endless plate; `drive` stress over E that hot flow leaves in them, > 0 tension,
    < 0 where they never flow: how far they stay from it; `(2 zones,)` each; `rise` growth of the roof when they freeze
    times its arm to the middle [m4].
    """

    press: Floats
    alone: Floats
    drive: Floats
    rise: float


def collapse_temperature(alloy: Alloy) -> float:
    """Return the temperature [degC] above which the metal counts as soft: less than half of its cold yield is left.

    Source: the alloy's short-exposure curve; `COLLAPSED`.
    Valid: curves that fall with temperature.
    """
    t = np.linspace(20.0, alloy.solidus, 541)
    weak = read(alloy.yield_short, t) < COLLAPSED * alloy.yield_short[0][1]
    return float(t[np.argmax(weak)]) if weak.any() else alloy.solidus


def spots_warmth(
    head: Head, roof: Roof, spots: tuple[tuple[float, float, SpotCase], ...], zones: tuple[Zone, ...]
) -> Warmth:
    """Return what the zones of spots that burn together go through.

    Args:
        head: alloy, webs, shims.
        roof: the elastic head.
        spots: station and distance from the middle line [m] and case of each.
        zones: one a spot.

    Source: `follow`.
    Valid: as there.
    """
    case = spots[0][2]
    slab = slab_of(case.alloy, case.thickness, max(c.peak for *_, c in spots), case.start)
    held = walls_passed(webs_of(head))
    flames = [Flame((x, y), (x, y), c.dwell, (0.0,), c.power, c.radius, held) for x, y, c in spots]
    return follow(head, roof, flames, slab, zones, case.start)


def follow(
    head: Head, roof: Roof, flames: list[Flame], slab: Slab, zones: tuple[Zone, ...], start: float
) -> Warmth:
    """Follow warm zones in time: the roof's growth squeezes them, they flow where it passes their hot yield, and are pulled as they cool.

    Args:
        head: alloy, shims.
        roof: the elastic head.
        flames: all that burn together.
        slab: heat properties.
        zones: that they soften.
        start: temperature of the head before [degC].

    Source: elastic roof, walls and cross walls (`roof`) with one plane-stress von Mises law a zone, its means standing
        for it; derived. In an endless plate an even strain meets half of itself (Timoshenko & Goodier, from memory).
    Valid: deck still cold.
    """
    if not zones:
        none = np.zeros(0)
        return Warmth(press=none, alone=none, drive=none, rise=0.0)
    alloy, stiff = head.alloy, mutual(roof, zones)
    covers = np.stack([roof.cover(zone) / roof.cover(zone).sum() for zone in zones])
    over = max(f.starts[-1] + f.time for f in flames)
    soft = max(collapse_temperature(alloy), start + 1.0)
    times, rise, own = _rises(roof, tuple(flames), slab, over)
    grown = expanded(alloy.expansion, start + rise, start)
    means = start + np.tensordot(roof.inside(rise), covers, axes=((1, 2), (1, 2)))
    squeezed = roof.squeezed(zones, grown, np.sqrt(4 * slab.diffusivity * times)).reshape(times.size, -1)
    alone = np.zeros((times.size, len(zones)))
    if len(flames) == len(zones):
        alone = np.einsum("kxy,ktxy->tk", covers, expanded(alloy.expansion, start + own, start)) / 2
    flown, nearest = np.zeros(2 * len(zones)), np.full(len(zones), -np.inf)
    for mean, press in zip(means, squeezed, strict=True):
        limit = HOT.value * read(alloy.yield_short, mean) / alloy.modulus[0][1]
        flown, near = _flowed(stiff, press, flown, limit)
        nearest = np.maximum(nearest, near)
    frozen = np.nonzero((times >= over) & (means.mean(axis=1) <= soft))[0]
    at = int(frozen[0]) if frozen.size else times.size - 1
    last, cooler = means[max(at - 1, 0)].mean(), means[at].mean()
    part = float(np.clip((last - soft) / (last - cooler), 0.0, 1.0)) if last > cooler else 1.0

    def then(told: Floats) -> Floats:
        return np.asarray((1 - part) * told[max(at - 1, 0)] + part * told[at])

    short = np.repeat(nearest, 2)
    return Warmth(
        press=then(squeezed),
        alone=np.repeat(then(alone), 2),
        drive=np.where(short < 0, short, stiff @ flown),
        rise=_lift(head, roof, roof.inside(then(grown))),
    )


@lru_cache(maxsize=32)
def _rises(roof: Roof, flames: tuple[Flame, ...], slab: Slab, over: float) -> tuple[Floats, Floats, Floats]:
    """Instants looked at [s], the rise on the cells of `unfolded` at each `(t, along, unfolded)`, and on the roof by each flame alone without walls `(flames, t, along, across)` [K]."""
    times = _looks(over, max(f.time for f in flames))
    own = [grid_rise([replace(flame, webs=())], slab, times, roof.x, roof.y) for flame in flames]
    return times, grid_rise(flames, slab, times, roof.x, roof.unfolded), np.stack(own)


def _looks(over: float, longest: float) -> Floats:
    """Instants looked at [s]: a few under the flame, then ever wider apart."""
    under = over - longest * np.array([0.6, 0.3, 0.0])
    return np.concatenate(
        [under[under > 0], over + longest * np.array([0.12, 0.28, 0.5, 0.8, 1.3, 2.2, 4.0])]
    )


def _flowed(stiff: Floats, squeezed: Floats, flown: Floats, limit: Floats) -> tuple[Floats, Floats]:
    """Return the zones' shrinkage after they have flowed back to their yield, and how far beyond it they were (negative: short of it)."""
    near = np.full(limit.size, -np.inf)
    for sweep in range(3):
        stress = (squeezed - stiff @ flown).reshape(-1, 2)
        along, across = stress.T
        size = np.sqrt(np.maximum(along**2 + across**2 - along * across, 1e-20))
        if not sweep:
            near = size - limit
        beyond = np.nonzero(size > AT_YIELD * limit)[0]
        if not beyond.size:
            break
        at = np.stack([2 * beyond, 2 * beyond + 1], axis=1).ravel()
        back = stress[beyond] * (1 - limit[beyond] / size[beyond])[:, None]
        flown = flown.copy()
        flown[at] += inverse_of(stiff[np.ix_(at, at)]) @ back.ravel()
    return flown, near


def _lift(head: Head, roof: Roof, grown: Floats) -> float:
    """Growth of the roof times its arm to the middle [m4]."""
    arm = arm_of(head, roof.x)
    return float((grown.sum(axis=1) * arm).sum()) * roof.dx * roof.dy * roof.sizes.roof


def arm_of(head: Head, stations: Floats) -> Floats:
    """Return the rise of the middle against the shims per kink at stations [m].

    Source: `triangle`.
    Valid: between the shims; nought beyond.
    """
    span = head.rear_shim - head.front_shim
    inside = np.clip(stations - head.front_shim, 0.0, span)
    return triangle(np.array([head.casting.length / 2 - head.front_shim]), inside, span)[:, 0]
