"""The heat of a spot on a solid bar: its temperatures and what it shrinks by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.field import age_nodes, expanded, gauss, read, step_between, through_thickness
from straighten.heat.heating import instants

if TYPE_CHECKING:
    from straighten.heat.heating import SpotCase
    from straighten.quantiles import Floats


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
