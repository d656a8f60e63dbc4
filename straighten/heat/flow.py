r"""Plane-stress von Mises flow with linear hardening, solved exactly for one step (return mapping).

In the sum and difference of the two principal stresses, A = s_r + s_t and B = s_r - s_t, elasticity and flow are
both diagonal, so the whole step hangs on one unknown x = plastic strain increment over flow stress:

.. math:: A = \frac{A_{trial}}{1 + c_A x},\quad B = \frac{B_{trial}}{1 + c_B x},\quad
          q = \tfrac12\sqrt{A^2 + 3 B^2},\quad q (1 - H x) = y
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_ROUNDS = 4  # Newton steps on 1/q, which is nearly straight in x


class Metal(NamedTuple):
    """What the metal is worth at each point now: plane moduli E/(1-nu) and E/(1+nu), flow stress, hardening [Pa]."""

    sum_modulus: Floats
    difference_modulus: Floats
    flow_stress: Floats
    hardening: float


class Flowed(NamedTuple):
    """The step's end: stresses `a`, `b` [Pa], flow factor `x` [1/Pa], plastic increment `slip` [-].

    `aa`, `ab`, `bb`: tangents of a and b with respect to the strain sum and difference [Pa];
    `shear`: tangent in shear, stress over engineering strain [Pa]; `a_y`, `b_y`, `slip_a`, `slip_b`, `slip_y`:
    derivatives of the stresses and the slip with respect to the starting flow stress and the two strains.
    """

    a: Floats
    b: Floats
    x: Floats
    slip: Floats
    aa: Floats
    ab: Floats
    bb: Floats
    shear: Floats
    a_y: Floats
    b_y: Floats
    slip_a: Floats
    slip_b: Floats
    slip_y: Floats


def _flow_factor(trial_a: Floats, trial_b: Floats, metal: Metal) -> Floats:
    """Solve q(x) (1 - H x) = y for x at points beyond yield."""
    ca, cb = metal.sum_modulus / 2, metal.difference_modulus * 1.5
    aa, bb = trial_a**2, 3 * trial_b**2
    x = np.zeros_like(trial_a)
    for _ in range(_ROUNDS):
        fa, fb = 1 + ca * x, 1 + cb * x
        pa, pb = aa / fa**2, bb / fb**2
        q = np.sqrt(pa + pb) / 2
        value = 1 / q - (1 - metal.hardening * x) / metal.flow_stress
        slope = (pa * ca / fa + pb * cb / fb) / (4 * q**3) + metal.hardening / metal.flow_stress
        x = np.maximum(x - value / slope, 0.0)
    return x


def flow(strain_sum: Floats, strain_difference: Floats, metal: Metal) -> Flowed:
    """Return stresses, slip and consistent tangents for elastic trial strains.

    Args:
        strain_sum: e_r + e_t less thermal and plastic strain, any shape.
        strain_difference: e_r - e_t less plastic strain, same shape.
        metal: moduli, flow stress at the start of the step and hardening at each point.

    Source: Simo & Hughes, Computational Inelasticity, plane-stress projection -- from memory; derived.
    Valid: isotropic, linear hardening, small strains.
    """
    a, b = metal.sum_modulus * strain_sum, metal.difference_modulus * strain_difference
    beyond = a**2 + 3 * b**2 > 4 * metal.flow_stress**2
    at = np.nonzero(beyond)
    zero = np.zeros_like(a)
    elastic = Flowed(
        a, b, zero, zero.copy(), metal.sum_modulus.copy(), zero.copy(), metal.difference_modulus.copy(),
        metal.difference_modulus / 2, *(zero.copy() for _ in range(5)),
    )  # fmt: skip
    if at[0].size:
        some = Metal(
            metal.sum_modulus[at], metal.difference_modulus[at], metal.flow_stress[at], metal.hardening
        )
        for whole, part in zip(elastic, _plastic(a[at], b[at], some), strict=True):
            whole[at] = part
    return elastic


def _plastic(trial_a: Floats, trial_b: Floats, metal: Metal) -> Flowed:
    ka, kb, y, hard = metal
    x = _flow_factor(trial_a, trial_b, metal)
    fa, fb, left = 1 + ka / 2 * x, 1 + 1.5 * kb * x, 1 - hard * x
    a, b = trial_a / fa, trial_b / fb
    q = np.sqrt(a**2 + 3 * b**2) / 2
    # g = q (1 - H x) - y = 0 defines x of the trial stresses and of y
    q_x = -(a**2 * ka / 2 / fa + 3 * b**2 * 1.5 * kb / fb) / (4 * q)
    g_x = q_x * left - hard * q
    x_a, x_b, x_y = -a / fa / (4 * q) * left / g_x, -3 * b / fb / (4 * q) * left / g_x, 1 / g_x
    drop_a, drop_b = a * ka / 2 / fa, b * 1.5 * kb / fb
    # slip = x q, and q = y / (1 - H x) along the solution
    slip_x = y / left**2
    return Flowed(
        a, b, x, x * q,
        (1 / fa - drop_a * x_a) * ka, -drop_a * x_b * kb, (1 / fb - drop_b * x_b) * kb, kb / 2 / fb,
        -drop_a * x_y, -drop_b * x_y,
        slip_x * x_a * ka, slip_x * x_b * kb, x / left + slip_x * x_y,
    )  # fmt: skip
