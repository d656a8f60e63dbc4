r"""A beam held in a clamp while its metal yields and creeps: fibres, sections, and the held movement.

Moment and shear keep their shape along the head, M = lambda M_0(x), V = lambda V_0(x), since the head stands on the
same points. Curvature and shear angle follow from each section's inelastic strains; lambda from the movement that the
clamp holds, by virtual work:

.. math:: \int M_0 \kappa\, dx + \int V_0 \gamma\, dx + \lambda W_{springs} = W_0
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from straighten.heat.fibres import Fibres

    Floats = NDArray[np.float64]

_ROUNDS: Final = 80
_CLOSE: Final = 1e-7
_FINEST: Final = 0.08  # largest share of a stress that creep may take off in one step
_MOST_STEPS: Final = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """The clamped beam at several levels of bend.

    `curvature`, `angle` elastic ones when cold (levels, x) [1/m], [-]; `weight` of the stations [m]; `springs` work of
    bolts and base per level, which heat does not soften [J]; `give` work of the local give, which softens with the
    casting [J]; `tighten` work that the bolts gain since the head grows more than they do [J]; `fibres`; cold moduli
    `young`, `shear` [Pa] and hot over cold `soft` [-].
    """

    curvature: Floats
    angle: Floats
    weight: Floats
    springs: Floats
    give: Floats
    tighten: Floats
    fibres: Fibres
    young: float
    shear: float
    soft: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Yielded:
    """Inelastic fibre strains `strain`, `slide` (levels, x, fibres) and the share of the elastic load that is left."""

    strain: Floats
    slide: Floats
    load: Floats


def _moments(held: Held) -> tuple[Floats, Floats]:
    """Cold moment and shear force at load one."""
    f = held.fibres
    return held.curvature * held.young * f.inertia, held.angle * held.shear * float(f.shear_area.sum())


def work(held: Held) -> Floats:
    """Return the work of the cold elastic head under the clamp, per level [J]; twice its strain energy.

    Source: virtual work; derived.
    Valid: elastic.
    """
    moment, force = _moments(held)
    return np.asarray(((moment * held.curvature + force * held.angle) * held.weight).sum(axis=1))


def inelastic(held: Held, strain: Floats, slide: Floats) -> tuple[Floats, Floats]:
    """Return curvature and shear angle that inelastic fibre strains leave in a free section, (levels, x).

    Args:
        held: the beam.
        strain: inelastic strain of the fibres, > 0 longer.
        slide: inelastic shear angle of the fibres.

    Source: sections stay plane; derived.
    Valid: small strains. Curvature > 0 pulls the middle down: strain = -curvature x height.
    """
    f = held.fibres
    bent = -(strain * f.area * f.height).sum(axis=-1) / f.inertia
    return bent, (slide * f.shear_area).sum(axis=-1) / float(f.shear_area.sum())


def load_left(held: Held, strain: Floats, slide: Floats) -> Floats:
    """Return the share lambda of the cold load that holds the movement, per level.

    Args:
        held: the beam.
        strain: inelastic strain of the fibres.
        slide: inelastic shear angle of the fibres.

    Source: virtual work; derived.
    Valid: the head keeps its contacts.
    """
    moment, force = _moments(held)
    bent, slid = inelastic(held, strain, slide)
    gone = ((moment * bent + force * slid) * held.weight).sum(axis=1)
    elastic = work(held) + held.give
    return np.asarray((elastic + held.springs + held.tighten - gone) / (elastic / held.soft + held.springs))


def stresses(held: Held, strain: Floats, slide: Floats) -> tuple[Floats, Floats, Floats]:
    """Return fibre stress, shear stress [Pa] and load share for given inelastic strains.

    Args:
        held: the beam.
        strain: inelastic strain of the fibres.
        slide: inelastic shear angle of the fibres.

    Source: beam theory; derived.
    Valid: as `load_left`.
    """
    load = load_left(held, strain, slide)
    bent, slid = inelastic(held, strain, slide)
    curvature = held.curvature * (load / held.soft)[:, None] + bent
    angle = held.angle * (load / held.soft)[:, None] + slid
    axial = -curvature[..., None] * held.fibres.height
    axial = axial - _mean(held.fibres, -strain)[..., None]  # no axial force on the section
    sigma = held.young * held.soft * (axial - strain)
    tau = held.shear * held.soft * (angle[..., None] - slide) * (held.fibres.shear_area > 0)
    return sigma, tau, load


def _mean(fibres: Fibres, strain: Floats) -> Floats:
    return np.asarray((strain * fibres.area).sum(axis=-1) / fibres.area.sum())


def yield_hot(held: Held, limit: float, hardening: float) -> Yielded:
    """Return the plastic strains of the hot head: every fibre brought back to its yield surface, the clamp held.

    Args:
        held: the beam.
        limit: hot yield stress [Pa].
        hardening: tangent modulus after yield [Pa].

    Source: von Mises with sigma and tau, initial-strain iteration to balance; derived.
    Valid: loaded once and in proportion.
    """
    shape = (*held.curvature.shape, held.fibres.height.size)
    strain, slide, slip = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    young = held.young * held.soft
    load = np.ones(shape[0])
    stiff = young + hardening
    for _ in range(_ROUNDS):
        sigma, tau, load = stresses(held, strain, slide)
        q = np.sqrt(sigma**2 + 3 * tau**2) + 1e-3
        more = np.maximum(q - limit - hardening * slip, -slip * stiff) / stiff
        strain = strain + more * sigma / q
        slide = slide + more * 3 * tau / q
        slip = slip + more
        if np.abs(more).max() * young < _CLOSE * limit + 1.0:
            break
    return Yielded(strain=strain, slide=slide, load=load)


def creep(held: Held, start: Yielded, pace: Callable[[Floats], Floats], duration: float) -> Yielded:
    """Return the strains after creep under the held clamp.

    Args:
        held: the beam.
        start: strains at the beginning.
        pace: creep strain rate [1/s] of an equivalent stress [Pa].
        duration: [s], or the end of a pseudo-time that `pace` runs in.

    Source: Runge and Kutta's fourth order, no step takes more than 8 % off any stress; derived.
    Valid: isotropic creep after von Mises.
    """
    strains, clock = np.stack([start.strain, start.slide]), 0.0
    young = held.young * held.soft
    for _ in range(_MOST_STEPS):
        first, worst = _rates(held, strains, pace)
        step = min(_FINEST / (young * worst + 1e-30), duration - clock)
        second, _ = _rates(held, strains + step / 2 * first, pace)
        third, _ = _rates(held, strains + step / 2 * second, pace)
        fourth, _ = _rates(held, strains + step * third, pace)
        strains = strains + step / 6 * (first + 2 * second + 2 * third + fourth)
        clock += step
        if clock >= duration * (1 - 1e-12):
            break
    return Yielded(strain=strains[0], slide=strains[1], load=load_left(held, strains[0], strains[1]))


def _rates(held: Held, strains: Floats, pace: Callable[[Floats], Floats]) -> tuple[Floats, float]:
    """Creep rates of strain and shear angle, and the largest rate over stress."""
    sigma, tau, _ = stresses(held, strains[0], strains[1])
    q = np.sqrt(sigma**2 + 3 * tau**2) + 1e-3
    flow = pace(q) / q
    return np.stack([flow * sigma, 3 * flow * tau]), float(flow.max())
