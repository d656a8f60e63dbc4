r"""The heated spot as a disc in a large plate: plane stress, elastic-plastic, layered through the thickness.

All layers share the radial displacement u(r) (the roof stays flat between its webs); each layer has its own
temperature, yield and stiffness. Radial equilibrium of the layer sums,

.. math:: \frac{d (r N_r)}{d r} - N_t = 0,

is solved by linear elements and Newton steps with the consistent tangent, a tridiagonal system a step. Beyond the
mesh lies an endless elastic plate, N_r = -E h / (1 + nu) u / r. Many discs are solved at once: they stand one
after the other in the same tridiagonal system.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.errors import OutsideModel
from straighten.heat.field import expanded, read
from straighten.heat.flow import Flowed, Leaning, Metal, flow, lean

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Alloy

    Floats = NDArray[np.float64]

_MOST_NEWTON = 40
_AHEAD = (-0.5, 1.5)  # a step is begun with the last one's move, in proportion to the growth of the heat
_MOST_HALVINGS = 6
_CLOSE = 1e-5  # out-of-balance force over the force at yield


@dataclass(frozen=True, slots=True, kw_only=True)
class Mesh:
    """Rings of several discs: node `radius` (discs, nodes) [m], layer `height` over the mid-plane and `weight` (discs, layers) [m]."""

    radius: Floats
    height: Floats
    weight: Floats

    @property
    def discs(self) -> int:
        """Number of discs."""
        return int(self.radius.shape[0])

    @property
    def ring(self) -> Floats:
        """Mid radius of each ring [m], shape (discs, rings)."""
        return (self.radius[:, 1:] + self.radius[:, :-1]) / 2

    @property
    def width(self) -> Floats:
        """Width of each ring [m], shape (discs, rings)."""
        return np.diff(self.radius)

    @property
    def volume(self) -> Floats:
        """Metal of each ring and layer [m3], shape (discs, rings, layers)."""
        return (2 * np.pi * self.ring * self.width)[:, :, None] * self.weight[:, None, :]

    @property
    def thickness(self) -> Floats:
        """Plate thickness [m], shape (discs,)."""
        return np.asarray(self.weight.sum(axis=-1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Frozen:
    """What a disc remembers: plastic strain sum and difference, accumulated slip, each (discs, rings, layers)."""

    plastic_sum: Floats
    plastic_difference: Floats
    slip: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """One instant of the history: temperature [degC], thermal strain, metal, end of the step, memory after it."""

    temperature: Floats
    thermal: Floats
    metal: Metal
    flowed: Flowed
    memory: Frozen
    displacement: Floats
    leaning: Leaning


@dataclass(frozen=True, slots=True, kw_only=True)
class Heating:
    """A temperature history: `temperature` (steps, discs, rings, layers) [degC], `rest` of the plate around each disc [degC]."""

    temperature: Floats
    rest: Floats | float = 20.0


def side_by_side(meshes: Sequence[Mesh]) -> Mesh:
    """Return one mesh of all the discs, in order; all have as many rings and layers.

    Valid: discs do not feel one another.
    """
    return Mesh(
        radius=np.concatenate([m.radius for m in meshes]),
        height=np.concatenate([m.height for m in meshes]),
        weight=np.concatenate([m.weight for m in meshes]),
    )


def heated_together(heatings: Sequence[Heating]) -> Heating:
    """Return one history of all the discs, in order; all have as many steps.

    Valid: steps need not fall on the same times: nothing here hangs on time.
    """
    return Heating(
        temperature=np.concatenate([h.temperature for h in heatings], axis=1),
        rest=np.concatenate([np.broadcast_to(h.rest, h.temperature.shape[1]) for h in heatings]),
    )


def untouched(mesh: Mesh) -> Frozen:
    """Return the memory of metal that was never heated.

    Valid: castings without a strong residual stress at the spot.
    """
    shape = (*mesh.ring.shape, mesh.height.shape[1])
    return Frozen(plastic_sum=np.zeros(shape), plastic_difference=np.zeros(shape), slip=np.zeros(shape))


def metal_at(alloy: Alloy, temperature: Floats, slip: Floats) -> Metal:
    """Return moduli and flow stress at temperature.

    `temperature` [degC], any shape; `slip` plastic strain so far, same shape.

    Source: the alloy's table.
    Valid: 20 degC to the solidus.
    """
    modulus, nu = read(alloy.modulus, temperature), alloy.poisson
    strength = read(alloy.yield_short, temperature)
    return Metal(modulus / (1 - nu), modulus / (1 + nu), strength + alloy.hardening * slip, alloy.hardening)


def history(mesh: Mesh, alloy: Alloy, heating: Heating, memory: Frozen) -> Iterator[Moment]:
    """Yield the disc's state at every instant of a temperature history.

    Raises:
        OutsideModel: the equilibrium was not found.

    Source: radial equilibrium of a thin plate, Timoshenko & Goodier, Theory of Elasticity -- from memory; derived.
    Valid: plate thin against the spot, no buckling, spots apart.
    """
    rows = _Rows.of(mesh)
    outer = _outer_spring(mesh, alloy)
    u, moved, grown = np.zeros(mesh.radius.shape), np.zeros(mesh.radius.shape), np.zeros(mesh.discs)
    rest = np.broadcast_to(heating.rest, mesh.discs)[:, None, None]
    every = expanded(alloy.expansion, heating.temperature, rest)
    growths = np.diff(every.mean(axis=(2, 3)), axis=0, prepend=0.0)
    for step, (heat, thermal) in enumerate(zip(heating.temperature, every, strict=True)):
        metal = metal_at(alloy, heat, memory.slip)
        load = _Load(thermal, metal, memory)
        ahead = u + _pace(growths[step], grown)[:, None] * moved
        moved, (u, flowed) = u, _balance(rows, outer, load, ahead)
        moved, grown = u - moved, growths[step]
        memory = _remember(memory, flowed)
        yield Moment(
            temperature=heat,
            thermal=thermal,
            metal=metal,
            flowed=flowed,
            memory=memory,
            displacement=u,
            leaning=lean(flowed, metal),
        )


def _pace(growth: Floats, last: Floats) -> Floats:
    """Growth of this step over that of the last one, within bounds; nought where there was none."""
    return np.clip(np.divide(growth, last, out=np.zeros_like(last), where=last != 0), *_AHEAD)


@dataclass(frozen=True, slots=True)
class _Rows:
    """Strain rows of the rings: sum and difference from the inner and the outer node, and layer measure."""

    sum_in: Floats
    sum_out: Floats
    difference_in: Floats
    difference_out: Floats
    measure: Floats

    @classmethod
    def of(cls, mesh: Mesh) -> _Rows:
        steep, hoop = 1 / mesh.width, 0.5 / mesh.ring
        return cls(hoop - steep, hoop + steep, -steep - hoop, steep - hoop, mesh.volume / (4 * np.pi))


@dataclass(frozen=True, slots=True)
class _Load:
    thermal: Floats
    metal: Metal
    memory: Frozen


def _outer_spring(mesh: Mesh, alloy: Alloy) -> Floats:
    """Stiffness of the endless plate beyond the mesh, per radian [N/m]."""
    return alloy.modulus[0][1] / (1 + alloy.poisson) * mesh.thickness


def _balance(rows: _Rows, outer: Floats, load: _Load, u: Floats) -> tuple[Floats, Flowed]:
    """Newton steps with halving until the forces balance; each disc goes by itself and rests once it is done."""
    flowed, force = _forces(rows, outer, load, u)
    size = _size(force)
    strength, thick = load.metal.flow_stress.max(axis=(1, 2)), rows.measure.max(axis=(1, 2))
    scale = strength * thick / rows.measure.shape[-1]
    for _ in range(_MOST_NEWTON):
        going = size >= _CLOSE * scale
        if not going.any():
            return u, flowed
        move = np.where(going[:, None], _newton_move(rows, outer, flowed, force), 0.0)
        for halving in reversed(range(_MOST_HALVINGS)):
            flowed, force = _forces(rows, outer, load, u + move)
            left = _size(force)
            too_far = going & (left >= size) & (left >= 1e-3 * scale)
            if not (halving and too_far.any()):
                break
            move = np.where(too_far[:, None], move / 2, move)
        u, size = u + move, left
    raise OutsideModel(
        "the heated disc's equilibrium was not found", fix="Check radius, dwell and temperature of the spot."
    )


def _size(force: Floats) -> Floats:
    """Largest out-of-balance force of each disc, `(discs,)`."""
    return np.asarray(np.abs(force[:, 1:]).max(axis=1))


def _strains(rows: _Rows, u: Floats) -> tuple[Floats, Floats]:
    inner, outer = u[:, :-1], u[:, 1:]
    return (
        rows.sum_in * inner + rows.sum_out * outer,
        rows.difference_in * inner + rows.difference_out * outer,
    )


def _forces(rows: _Rows, outer: Floats, load: _Load, u: Floats) -> tuple[Flowed, Floats]:
    """Stresses at a displacement, and the out-of-balance force at each node."""
    total, difference = _strains(rows, u)
    flowed = flow(
        total[:, :, None] - 2 * load.thermal - load.memory.plastic_sum,
        difference[:, :, None] - load.memory.plastic_difference,
        load.metal,
    )
    a, b = (flowed.a * rows.measure).sum(axis=-1), (flowed.b * rows.measure).sum(axis=-1)
    force = np.zeros_like(u)
    force[:, :-1] += a * rows.sum_in + b * rows.difference_in
    force[:, 1:] += a * rows.sum_out + b * rows.difference_out
    force[:, -1] += outer * u[:, -1]
    return flowed, force


def _newton_move(rows: _Rows, outer: Floats, flowed: Flowed, force: Floats) -> Floats:
    from scipy.linalg.lapack import dptsv

    aa, ab, bb = ((v * rows.measure).sum(axis=-1) for v in (flowed.aa, flowed.ab, flowed.bb))
    si, so, di, do = rows.sum_in, rows.sum_out, rows.difference_in, rows.difference_out
    diagonal, beside = np.zeros(force.shape), np.zeros(force.shape)
    diagonal[:, :-1] += aa * si**2 + 2 * ab * si * di + bb * di**2
    diagonal[:, 1:] += aa * so**2 + 2 * ab * so * do + bb * do**2
    diagonal[:, -1] += outer
    beside[:, :-1] = aa * si * so + ab * (si * do + so * di) + bb * di * do
    diagonal[:, 0], beside[:, 0] = 1.0, 0.0  # the middle does not move; one disc does not feel the next
    right = -force
    right[:, 0] = 0.0
    *_, move, fault = dptsv(diagonal.ravel(), beside.ravel()[:-1], right.ravel())
    if fault:
        raise OutsideModel("the heated disc has lost its stiffness", fix="Aim at a lower peak temperature.")
    return np.asarray(move).reshape(force.shape)


def _remember(memory: Frozen, flowed: Flowed) -> Frozen:
    """Plastic strain after the step: the flow rule in sum and difference."""
    return Frozen(
        plastic_sum=memory.plastic_sum + flowed.x * flowed.a / 2,
        plastic_difference=memory.plastic_difference + flowed.x * flowed.b * 1.5,
        slip=memory.slip + flowed.slip,
    )
