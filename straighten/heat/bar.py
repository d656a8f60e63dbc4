r"""A spot on a solid bar: no plate around the spot holds it, the section itself does.

Slices along the bar keep plane sections and carry no force and no moment of their own: fibres over width and depth
with uniaxial thermo-elasto-plasticity. The field has mirrors at the sides as well as at top and bottom. Of a spot
on a wide plate this would be a poor model, of a bar narrower than the heated patch it is a good one: 3D finite
elements lie 5 to 12 % under it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.curves import expanded, read
from straighten.heat.field import Flame, age_nodes, step_between, through_thickness
from straighten.heat.gauss import gauss
from straighten.heat.spot_case import instants
from straighten.heat.torch import slab_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.heat.field import Slab
    from straighten.heat.spot_case import SpotCase

    Floats = NDArray[np.float64]

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

    Args:
        flame: absorbed power, flux radius, dwell.
        slab: conductivity and capacity; its thickness is the bar's depth.
        bar: width and depth.
        points: stations from the spot, distances from the middle line, depths [m].
        time: since the torch came on [s].

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

    Args:
        case: alloy and flame.
        bar: width and depth.

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
