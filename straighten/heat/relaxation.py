"""How fast a clamped casting lets go in the oven: a creep law where there is one, a fitted curve where there is none.

Numeric tables for cast head alloys are scarce. What the curve rests on: in AlSi7Cu0.5Mg the stress comes to rest after
about 1 h at 180 and 200 degC and after 3.5 h at 230 degC, on a level above nought, at a rate that does not depend on the
stress it began with (Wang et al., Crystals 12 (2022) 1168, abstract, seen); in 319-type castings more quench stress goes the
hotter they age, 190 to 260 degC, 0.3 to 336 h (Godlewski et al., Metall. Mater. Trans. A (2013), abstract, seen);
AA6082-T6 at 160 degC creeps only above a threshold of 70 MPa (Rong et al., Mater. Sci. Eng. A 750 (2019) 108, abstract,
seen); ageing at 150-175 degC relieves 10 to 35 % of quench stress, full relief needs 315-345 degC for 2 to 5 h (ASM
Handbook 4, from memory).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.hardness import GAS_CONSTANT, KELVIN
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from straighten.head.records import NortonCreep

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
    """Return the stress [Pa] under which nothing relaxes: straight through 70 MPa at 160 degC to nought at 220 degC.

    Source: `THRESHOLD`, `THRESHOLD_GONE`.
    Valid: T6-like metal.
    """
    left = (THRESHOLD_GONE.value - temperature) / (THRESHOLD_GONE.value - 160.0)
    return THRESHOLD.value * max(left, 0.0)


def relief(temperature: float, hold_time: float) -> float:
    """Return the share of the stress over the threshold that a soak takes at constant strain.

    Args:
        temperature: [degC].
        hold_time: [s].

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

    Args:
        temperature: [degC].
        hold_time: [s].
        young: modulus at temperature [Pa].

    Source: ds = -(s - threshold) d(phi), phi = -ln(1 - relief); derived.
    Valid: as `relief`.
    """
    base = threshold(temperature)
    return lambda stress: np.maximum(stress - base, 0.0) / young, -float(
        np.log1p(-relief(temperature, hold_time))
    )
