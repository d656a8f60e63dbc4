r"""Plane-stress von Mises flow with linear hardening, solved exactly for one step (return mapping).

In the sum and difference of the two principal stresses, A = s_r + s_t and B = s_r - s_t, elasticity and flow are
both diagonal, so the whole step hangs on one unknown x = plastic strain increment over flow stress:

.. math:: A = \frac{A_{trial}}{1 + c_A x},\quad B = \frac{B_{trial}}{1 + c_B x},\quad
          q = \tfrac12\sqrt{A^2 + 3 B^2},\quad q (1 - H x) = y
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_ROUNDS: Final = 3  # Newton steps on 1/q, which is nearly straight in x: converged to 1e-9


class Metal(NamedTuple):
    """What the metal is worth at each point now: plane moduli E/(1-nu) and E/(1+nu), flow stress, hardening [Pa]."""

    sum_modulus: Floats
    difference_modulus: Floats
    flow_stress: Floats
    hardening: float


class Flowed(NamedTuple):
    """The step's end: stresses `a`, `b` [Pa], flow factor `x` [1/Pa], plastic increment `slip` [-].

    `aa`, `ab`, `bb`: tangents of a and b with respect to the strain sum and difference [Pa].
    """

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
    for whole, part in zip(
        end, _plastic(trial_a, trial_b, _flow_factor(trial_a, trial_b, some), some), strict=True
    ):
        whole.reshape(-1)[at] = part
    return end


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
    """Equivalent stress and the derivatives of x with respect to the trial stresses and the flow stress.

    g = q (1 - H x) - y = 0 defines x.
    """
    ka, kb, _, hard = metal
    fa, fb, left = 1 + ka / 2 * x, 1 + 1.5 * kb * x, 1 - hard * x
    q = np.sqrt(a * a + 3 * b * b) / 2
    q_x = -(a * a * ka / 2 / fa + 3 * b * b * 1.5 * kb / fb) / (4 * q)
    g_x = q_x * left - hard * q
    both = -left / (4 * q * g_x)
    return q, a / fa * both, 3 * b / fb * both, 1 / g_x


def lean(end: Flowed, metal: Metal) -> Leaning:
    """Return the derivatives of a step's end with respect to its start.

    Source: implicit differentiation of the return mapping; derived.
    """
    zero = np.zeros_like(end.a)
    leaning = Leaning(metal.difference_modulus / 2, *(zero.copy() for _ in range(5)))
    at = np.flatnonzero(end.x > 0)
    if not at.size:
        return leaning
    some = Flowed(*(v.ravel()[at] for v in end))
    for whole, part in zip(leaning, _plastic_leaning(some, _points(metal, at)), strict=True):
        whole.reshape(-1)[at] = part
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
