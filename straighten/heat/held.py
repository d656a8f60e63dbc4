r"""A beam held in a clamp while its metal yields and creeps: how fast it lets go, fibres, sections, the held movement.

Moment and shear keep their shape along the head, M = lambda M_0(x), V = lambda V_0(x), since the head stands on the
same points. Curvature and shear angle follow from each section's inelastic strains; lambda from the movement that the
clamp holds, by virtual work:

.. math:: \int M_0 \kappa\, dx + \int V_0 \gamma\, dx + \lambda W_{springs} = W_0

The casting's section stands as fibres: what bends (deck, roof, walls) and what shears (walls).

Creep follows a law where there is one, a fitted curve where there is none. Numeric tables for cast head alloys are
scarce. What the curve rests on: in AlSi7Cu0.5Mg the stress comes to rest after about 1 h at 180 and 200 degC and after
3.5 h at 230 degC, on a level above zero, at a rate that does not depend on the stress it began with (Wang et al.,
Crystals 12 (2022) 1168, abstract, seen); in 319-type castings more quench stress goes the hotter they age, 190 to
260 degC, 0.3 to 336 h (Godlewski et al., Metall. Mater. Trans. A (2013), abstract, seen); AA6082-T6 at 160 degC creeps
only above a threshold of 70 MPa (Rong et al., Mater. Sci. Eng. A 750 (2019) 108, abstract, seen); ageing at 150-175 degC
relieves 10 to 35 % of quench stress, full relief needs 315-345 degC for 2 to 5 h (ASM Handbook 4, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.cooling import GAS_CONSTANT, KELVIN
from straighten.heat.field import gauss, is_solid
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from straighten.clamp.section import Section
    from straighten.head.records import Head, NortonCreep, Plates

    Floats = NDArray[np.float64]


HALF_RELIEF: Final = Cited(
    190.0, "degC", "temperature at which half of the stress over the threshold goes in the end", "fitted"
)
RELIEF_WIDTH: Final = Cited(50.0, "K", "width of that curve; 0.94 at 330 degC", "fitted")
REST: Final = {  # degC: when 95 % of what goes in the end has gone, and the power of the stretched exponential
    200.0: (
        Cited(3600.0, "s", "at rest after about 1 h at 180 and 200 degC, Wang et al. 2022", "seen"),
        Cited(1.0, "", "plain exponential", "assumed"),
    ),
    230.0: (
        Cited(3.5 * 3600.0, "s", "at rest after 3.5 h at 230 degC, Wang et al. 2022", "seen"),
        Cited(0.45, "", "hotter metal never lags behind cooler metal (Godlewski et al. 2013)", "fitted"),
    ),
}
AT_REST: Final = Cited(0.95, "", "share gone at which a curve reads as level", "assumed")
THRESHOLD: Final = Cited(
    70e6, "Pa", "threshold stress at 160 degC, AA6082-T6, Rong et al. 2019 (abstract seen)", "seen"
)
THRESHOLD_GONE: Final = Cited(
    220.0,
    "degC",
    "no threshold from here on: casting stress relaxes at 230 degC whatever it began with",
    "derived",
)
COLD: Final = Cited(100.0, "degC", "below it nothing relaxes in hours", "common practice, no source")


def creep_pace(law: NortonCreep, temperature: float) -> Callable[[Floats], Floats]:
    """Return the creep strain rate [1/s] as a function of equivalent stress [Pa] at a temperature [degC].

    Source: Norton's law with an Arrhenius factor about the law's own temperature; constants given by the person.
    Valid: near the law's own temperature.
    """
    warmth = 1 / (law.temperature + KELVIN) - 1 / (temperature + KELVIN)
    factor = law.factor * np.exp(law.activation / GAS_CONSTANT.value * warmth)
    return lambda stress: np.asarray(factor * stress**law.exponent)


def threshold(temperature: float) -> float:
    """Return the stress [Pa] under which nothing relaxes: straight through 70 MPa at 160 degC to zero at 220 degC.

    Valid: T6-like metal.
    """
    left = (THRESHOLD_GONE.value - temperature) / (THRESHOLD_GONE.value - 160.0)
    return THRESHOLD.value * max(left, 0.0)


def relief(temperature: float, hold_time: float) -> float:
    """Return the share of the stress over the threshold that a soak takes at constant strain.

    `temperature` [degC]; `hold_time` [s].

    Source: see the head of this module (fitted, derived).
    Valid: cast Al-Si alloys, within `soak.SOAK_SPREAD`.
    """
    if temperature <= COLD.value or hold_time <= 0:
        return 0.0
    final = 1 / (1 + np.exp(-(temperature - HALF_RELIEF.value) / RELIEF_WIDTH.value))
    return float(final * _gone(temperature, hold_time))


def _gone(temperature: float, hold_time: float) -> float:
    """Return the share of what goes in the end that has gone: the two curves of `REST`, in parts between them."""
    (cool, slow), (hot, fast) = REST.items()
    part = min(max((temperature - cool) / (hot - cool), 0.0), 1.0)
    early, late = (
        -math.expm1(math.log1p(-AT_REST.value) * (hold_time / rest.value) ** power.value)
        for rest, power in (slow, fast)
    )
    return early + part * (late - early)


def relaxation_pace(
    temperature: float, hold_time: float, young: float
) -> tuple[Callable[[Floats], Floats], float]:
    """Return a creep rate in a pseudo-time and the pseudo-time's end that give `relief` at constant strain.

    `temperature` [degC]; `hold_time` [s]; `young` modulus at temperature [Pa].

    Source: ds = -(s - threshold) d(phi), phi = -ln(1 - relief); derived.
    """
    base = threshold(temperature)
    return lambda stress: np.maximum(stress - base, 0.0) / young, -float(
        np.log1p(-relief(temperature, hold_time))
    )


_IN_FLANGE: Final = 4
_IN_WALL: Final = 12
_IN_BAR: Final = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Fibres:
    """Fibres of a section.

    `height` over the neutral axis [m], `area` [m2], `shear_area` [m2], one per fibre; the sums of area x height^2 and
    of shear area are the beam's second moment and shear area.
    """

    height: Floats
    area: Floats
    shear_area: Floats

    @property
    def inertia(self) -> float:
        """Second moment of the fibres [m4]."""
        return float((self.area * self.height**2).sum())


def fibres_of(head: Head, section: Section) -> Fibres:
    """Return fibres whose bending and shear stiffness are those of the section.

    Deck and roof take what their thickness gives, the walls between them the rest of the second moment.

    Source: parts rule; derived.
    Valid: prismatic castings.
    """
    casting, plates = head.casting, head.casting.plates
    shear = section.kGA / section.shear_modulus
    if is_solid(head):
        return _bar(casting.height, casting.width, section, shear)
    clear = casting.height - casting.deck - casting.roof
    z_deck, w_deck = _strip(0.0, casting.deck, _IN_FLANGE)
    z_roof, w_roof = _strip(casting.height - casting.roof, casting.height, _IN_FLANGE)
    z_wall, w_wall = _strip(casting.deck, casting.deck + clear, _IN_WALL)
    z = np.concatenate([z_deck, z_wall, z_roof]) - section.neutral_axis
    flange = np.concatenate([w_deck, 0 * w_wall, w_roof]) * casting.width
    wall = np.concatenate([0 * w_deck, w_wall, 0 * w_roof])
    thick = _wall_thickness(section, plates, (flange, wall, z))
    area = flange + thick * wall
    z = z - float((area * z).sum() / area.sum())
    return Fibres(
        height=z,
        area=area * section.inertia / float((area * z**2).sum()),
        shear_area=shear * wall / wall.sum(),
    )


def _wall_thickness(section: Section, plates: Plates | None, parts: tuple[Floats, Floats, Floats]) -> float:
    """Both side walls together [m]: given, or what is missing from the second moment."""
    if plates is not None:
        return 2 * plates.side_walls
    flange, wall, z = parts
    missing = section.inertia - float((flange * z**2).sum())
    return max(missing, 0.05 * section.inertia) / float((wall * z**2).sum())


def _bar(height: float, width: float, section: Section, shear: float) -> Fibres:
    z, weight = _strip(0.0, height, _IN_BAR)
    z = z - height / 2
    parabola = weight * (1 - (2 * z / height) ** 2)
    area = width * weight
    return Fibres(
        height=z,
        area=area * section.inertia / float((area * z**2).sum()),
        shear_area=shear * parabola / parabola.sum(),
    )


def _strip(low: float, high: float, count: int) -> tuple[Floats, Floats]:
    node, weight = gauss(count)
    return low + (high - low) * (node + 1) / 2, weight * (high - low) / 2


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

    `strain` inelastic strain of the fibres, > 0 longer; `slide` inelastic shear angle of the fibres.

    Source: sections stay plane; derived.
    Valid: small strains. Curvature > 0 pulls the middle down: strain = -curvature x height.
    """
    f = held.fibres
    bent = -(strain * f.area * f.height).sum(axis=-1) / f.inertia
    return bent, (slide * f.shear_area).sum(axis=-1) / float(f.shear_area.sum())


def load_left(held: Held, strain: Floats, slide: Floats) -> Floats:
    """Return the share lambda of the cold load that holds the movement, per level.

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

    Source: beam theory; derived.
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

    `limit` hot yield stress [Pa]; `hardening` tangent modulus after yield [Pa].

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

    `pace` creep strain rate [1/s] of an equivalent stress [Pa]; `duration` [s], or the end of a pseudo-time
    that `pace` runs in.

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
