r"""The heated spot as a disc in a large plate: plane stress, elastic-plastic, layered through the thickness.

Flow is von Mises with linear hardening, solved exactly for one step (return mapping). In A = s_r + s_t and B = s_r - s_t
elasticity and flow are both diagonal; the step has one unknown x = plastic strain increment over flow stress:

.. math:: A = \frac{A_{trial}}{1 + c_A x},\quad B = \frac{B_{trial}}{1 + c_B x},\quad
          q = \tfrac12\sqrt{A^2 + 3 B^2},\quad q (1 - H x) = y

All layers share the radial displacement u(r) (the roof stays flat between its webs); each layer has its own
temperature, yield and stiffness. Radial equilibrium of the layer sums,

.. math:: \frac{d (r N_r)}{d r} - N_t = 0,

is solved by linear elements and Newton steps with the consistent tangent, a tridiagonal system for many discs. Beyond
the mesh lies an endless elastic plate, N_r = -E h / (1 + nu) u / r.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from straighten.errors import OutsideModel
from straighten.heat.field import expanded, read

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from straighten.head.alloys import Curve
    from straighten.head.records import Alloy

    Floats = NDArray[np.float64]
    Load = tuple[Floats, "Metal", "Frozen"]  # thermal strain, metal, what it remembers


_ROUNDS: Final = 3  # Newton steps on 1/q, which is nearly straight in x: converged to 1e-9
_MOST_NEWTON: Final = 40
_AHEAD: Final = (-0.5, 1.5)  # a step begins with the last one's move, over the growth of heat
_MOST_HALVINGS: Final = 6
_CLOSE: Final = 1e-5  # out-of-balance force over the force at yield


class Metal(NamedTuple):
    """What the metal is worth at each point now: plane moduli E/(1-nu) and E/(1+nu), flow stress, hardening [Pa]."""

    sum_modulus: Floats
    difference_modulus: Floats
    flow_stress: Floats
    hardening: float


class Flowed(NamedTuple):
    """The step's end: stresses `a`, `b` [Pa], flow factor `x` [1/Pa], plastic increment `slip` [-]; tangents `aa`, `ab`, `bb` by strain sum and difference [Pa]."""

    a: Floats
    b: Floats
    x: Floats
    slip: Floats
    aa: Floats
    ab: Floats
    bb: Floats


class Leaning(NamedTuple):
    """How the step's end leans on what came before.

    `shear` tangent in shear, stress over engineering strain [Pa]; `a_y`, `b_y`, `slip_y` derivatives with respect to
    the starting flow stress; `slip_a`, `slip_b` of the slip with respect to strain sum and difference.
    """

    shear: Floats
    a_y: Floats
    b_y: Floats
    slip_a: Floats
    slip_b: Floats
    slip_y: Floats


def flow(strain_sum: Floats, strain_difference: Floats, metal: Metal) -> Flowed:
    """Return stresses, slip and consistent tangents for elastic trial strains.

    `strain_sum` e_r + e_t less thermal and plastic strain, any shape; `strain_difference` e_r - e_t less
    plastic strain, same shape.

    Source: Simo & Hughes, Computational Inelasticity, plane-stress projection -- from memory; derived.
    Valid: isotropic, linear hardening, small strains.
    """
    a = np.ascontiguousarray(metal.sum_modulus * strain_sum)
    b = np.ascontiguousarray(metal.difference_modulus * strain_difference)
    at = np.flatnonzero(a * a + 3 * b * b > 4 * metal.flow_stress**2)
    zero = np.zeros_like(a)
    if not at.size:
        return Flowed(a, b, zero, zero, metal.sum_modulus, zero, metal.difference_modulus)
    end = Flowed(
        a, b, zero, zero.copy(), metal.sum_modulus.copy(), zero.copy(), metal.difference_modulus.copy()
    )
    some = _points(metal, at)
    trial_a, trial_b = a.ravel()[at], b.ravel()[at]
    _put(end, _plastic(trial_a, trial_b, _flow_factor(trial_a, trial_b, some), some), at)
    return end


def _put(whole: tuple[Floats, ...], part: tuple[Floats, ...], at: NDArray[np.intp]) -> None:
    """Put figures of some points in their place."""
    for mine, theirs in zip(whole, part, strict=True):
        mine.reshape(-1)[at] = theirs


def _points(metal: Metal, at: NDArray[np.intp]) -> Metal:
    ka, kb, y = (v.ravel()[at] for v in metal[:3])
    return Metal(ka, kb, y, metal.hardening)


def _flow_factor(trial_a: Floats, trial_b: Floats, metal: Metal) -> Floats:
    """Solve q(x) (1 - H x) = y for x at points beyond yield."""
    ca, cb = metal.sum_modulus / 2, metal.difference_modulus * 1.5
    aa, bb = trial_a * trial_a / 4, trial_b * trial_b * 0.75
    soft = 1 / metal.flow_stress
    steep = metal.hardening * soft
    x = np.zeros_like(trial_a)
    for _ in range(_ROUNDS):
        fa, fb = 1 + ca * x, 1 + cb * x
        pa, pb = aa / (fa * fa), bb / (fb * fb)
        square = pa + pb
        q = np.sqrt(square)
        value = 1 / q - soft + steep * x
        slope = (pa * ca / fa + pb * cb / fb) / (q * square) + steep
        x = np.maximum(x - value / slope, 0.0)
    return x


def _plastic(trial_a: Floats, trial_b: Floats, x: Floats, metal: Metal) -> Flowed:
    ka, kb = metal[:2]
    fa, fb = 1 + ka / 2 * x, 1 + 1.5 * kb * x
    a, b = trial_a / fa, trial_b / fb
    q, x_a, x_b, _ = _flow_slopes(a, b, x, metal)
    drop_a, drop_b = a * ka / 2 / fa, b * 1.5 * kb / fb
    return Flowed(
        a, b, x, x * q, (1 / fa - drop_a * x_a) * ka, -drop_a * x_b * kb, (1 / fb - drop_b * x_b) * kb
    )


def _flow_slopes(a: Floats, b: Floats, x: Floats, metal: Metal) -> tuple[Floats, Floats, Floats, Floats]:
    """Equivalent stress and the derivatives of x, of q (1 - H x) = y, by the trial stresses and the flow stress."""
    ka, kb, _, hard = metal
    fa, fb, left = 1 + ka / 2 * x, 1 + 1.5 * kb * x, 1 - hard * x
    q = np.sqrt(a * a + 3 * b * b) / 2
    q_x = -(a * a * ka / 2 / fa + 3 * b * b * 1.5 * kb / fb) / (4 * q)
    g_x = q_x * left - hard * q
    both = -left / (4 * q * g_x)
    return q, a / fa * both, 3 * b / fb * both, 1 / g_x


def lean(end: Flowed, metal: Metal) -> Leaning:
    """Return the derivatives of a step's end, of `flow`, with respect to its start; implicit differentiation, derived."""
    zero = np.zeros_like(end.a)
    leaning = Leaning(metal.difference_modulus / 2, *(zero.copy() for _ in range(5)))
    at = np.flatnonzero(end.x > 0)
    if not at.size:
        return leaning
    some = Flowed(*(v.ravel()[at] for v in end))
    _put(leaning, _plastic_leaning(some, _points(metal, at)), at)
    return leaning


def _plastic_leaning(end: Flowed, metal: Metal) -> Leaning:
    ka, kb, y, hard = metal
    a, b, x = end[:3]
    fa, fb, left = 1 + ka / 2 * x, 1 + 1.5 * kb * x, 1 - hard * x
    _, x_a, x_b, x_y = _flow_slopes(a, b, x, metal)
    slip_x = y / left**2  # slip = x q, and q = y / (1 - H x) along the solution
    return Leaning(
        kb / 2 / fb,
        -a * ka / 2 / fa * x_y,
        -b * 1.5 * kb / fb * x_y,
        slip_x * x_a * ka,
        slip_x * x_b * kb,
        x / left + slip_x * x_y,
    )


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
    """One instant of the history: metal, end of the step, memory after it, radial displacement of the nodes [m]."""

    metal: Metal
    flowed: Flowed
    memory: Frozen
    displacement: Floats
    leaning: Leaning


@dataclass(frozen=True, slots=True, kw_only=True)
class Heating:
    """A temperature history: `temperature` (steps, discs, rings, layers), `rest` of the plate around each disc [degC], hot yield `curves` of the discs where they are not the alloy's."""

    temperature: Floats
    rest: Floats | float = 20.0
    curves: tuple[Curve, ...] = ()


def side_by_side(meshes: Sequence[Mesh]) -> Mesh:
    """Return one mesh of all the discs, in order; all have as many rings and layers, and none feels another."""
    return Mesh(**{f.name: np.concatenate([getattr(m, f.name) for m in meshes]) for f in fields(Mesh)})


def heated_together(heatings: Sequence[Heating]) -> Heating:
    """Return one history of all the discs, in order; all have as many steps, at times of their own."""
    return Heating(
        temperature=np.concatenate([h.temperature for h in heatings], axis=1),
        rest=np.concatenate([np.broadcast_to(h.rest, h.temperature.shape[1]) for h in heatings]),
    )


def untouched(mesh: Mesh) -> Frozen:
    """Return the memory of metal that was never heated, without a strong residual stress at the spot."""
    none = np.zeros_like(mesh.volume)
    return Frozen(plastic_sum=none, plastic_difference=none, slip=none)


def metal_at(alloy: Alloy, temperature: Floats, slip: Floats, curves: Sequence[Curve] = ()) -> Metal:
    """Return moduli and flow stress at temperatures [degC], any shape, of metal with a plastic `slip` so far, same shape.

    `curves` hot yield by disc, the leading axis, where it is not the alloy's.

    Source: the alloy's table, 20 degC to the solidus.
    """
    modulus, nu = read(alloy.modulus, temperature), alloy.poisson
    every = list(map(read, curves, temperature)) if curves else read(alloy.yield_short, temperature)
    strength = np.asarray(every)
    return Metal(modulus / (1 - nu), modulus / (1 + nu), strength + alloy.hardening * slip, alloy.hardening)


def history(mesh: Mesh, alloy: Alloy, heating: Heating, memory: Frozen) -> Iterator[Moment]:
    """Yield the disc's state at every instant of a temperature history.

    Raises:
        OutsideModel: the equilibrium was not found.

    Source: radial equilibrium of a thin plate, Timoshenko & Goodier, Theory of Elasticity -- from memory; derived.
    Valid: plate thin against the spot, no buckling, spots apart.
    """
    rows, outer = _Rows.of(mesh), _outer_spring(mesh, alloy)
    u, moved, grown = np.zeros(mesh.radius.shape), np.zeros(mesh.radius.shape), np.zeros(mesh.discs)
    every = expanded(
        alloy.expansion, heating.temperature, np.broadcast_to(heating.rest, mesh.discs)[:, None, None]
    )
    growths = np.diff(every.mean(axis=(2, 3)), axis=0, prepend=0.0)
    for step, (heat, thermal) in enumerate(zip(heating.temperature, every, strict=True)):
        metal = metal_at(alloy, heat, memory.slip, heating.curves)
        load = thermal, metal, memory
        ahead = u + _pace(growths[step], grown)[:, None] * moved
        moved, (u, flowed) = u, _balance(rows, outer, load, ahead)
        moved, grown = u - moved, growths[step]
        memory = _remember(memory, flowed)
        leaning = lean(flowed, metal)
        yield Moment(metal=metal, flowed=flowed, memory=memory, displacement=u, leaning=leaning)


def _pace(growth: Floats, last: Floats) -> Floats:
    """Growth of this step over that of the last one, within bounds; zero where there was none."""
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


def _outer_spring(mesh: Mesh, alloy: Alloy) -> Floats:
    """Stiffness of the endless plate beyond the mesh, per radian [N/m]."""
    return alloy.modulus[0][1] / (1 + alloy.poisson) * mesh.thickness


def _balance(rows: _Rows, outer: Floats, load: Load, u: Floats) -> tuple[Floats, Flowed]:
    """Newton steps with halving until the forces balance; each disc goes by itself and rests once it is done."""
    flowed, force = _forces(rows, outer, load, u)
    size = np.abs(force[:, 1:]).max(axis=1)
    strength, thick = load[1].flow_stress.max(axis=(1, 2)), rows.measure.max(axis=(1, 2))
    scale = strength * thick / rows.measure.shape[-1]
    for _ in range(_MOST_NEWTON):
        going = size >= _CLOSE * scale
        if not going.any():
            return u, flowed
        move = np.where(going[:, None], _newton_move(rows, outer, flowed, force), 0.0)
        for halving in reversed(range(_MOST_HALVINGS)):
            flowed, force = _forces(rows, outer, load, u + move)
            left = np.abs(force[:, 1:]).max(axis=1)
            too_far = going & (left >= size) & (left >= 1e-3 * scale)
            if not (halving and too_far.any()):
                break
            move = np.where(too_far[:, None], move / 2, move)
        u, size = u + move, left
    raise OutsideModel(
        "the heated disc's equilibrium was not found", fix="Check radius, dwell and temperature of the spot."
    )


def _forces(rows: _Rows, outer: Floats, load: Load, u: Floats) -> tuple[Flowed, Floats]:
    """Stresses at a displacement, and the out-of-balance force at each node."""
    thermal, metal, memory = load
    total = rows.sum_in * u[:, :-1] + rows.sum_out * u[:, 1:]
    difference = rows.difference_in * u[:, :-1] + rows.difference_out * u[:, 1:]
    flowed = flow(
        total[:, :, None] - 2 * thermal - memory.plastic_sum,
        difference[:, :, None] - memory.plastic_difference,
        metal,
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
