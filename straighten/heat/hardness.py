r"""Loss of temper: how long at what temperature softens a casting, hot and cold, and how soft it ends.

Over-ageing counts in time corrected for temperature,

.. math:: \theta = \int e^{-\frac{Q}{R}\left(\frac{1}{T} - \frac{1}{T_{250}}\right)}\, dt

the time at 250 degC that does the same. The share of the temper lost is s = x / (1 + x), x = (theta / tau)^m, between
the sound metal and the soft one.

How fast a clamped casting lets go in the oven: a creep law where there is one, a fitted curve where there is none.

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

from straighten.heat.field import read
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    from straighten.head.records import Alloy, NortonCreep

    Floats = NDArray[np.float64]

GAS_CONSTANT: Final = Cited(8.314462618, "J/(mol K)", "CODATA 2018, exact in the SI of 2019", "from memory")
KELVIN: Final = 273.15
REFERENCE: Final = 250.0 + KELVIN
ACTIVATION: Final = Cited(
    137.5e3,
    "J/mol",
    "6061-T6 and 6063-T6 fall under their specified yield after 16 h at 390 F and 4 h at 425 F (California State "
    "University senior project 2015, abstract seen); Arrhenius through the two points",
    "derived",
)
ACTIVATION_SPREAD: Final = Cited(
    28e3,
    "J/mol",
    "the same two points were read at doublings of time, so each crossing lies in a factor of two: 69 to 206 kJ/mol",
    "derived",
)
PIVOT: Final = Cited(
    209.0, "degC", "middle of those two points: there the activation energy does not matter", "derived"
)
HALF_LIFE: Final = Cited(
    1.25 * 3600,
    "s",
    "half of the temper lost at 250 degC: between 0.5 h (yield at 0.87 of T6, from the same two points) and 2 to 4 h "
    "(proof stress 0.40 to 0.44 of T6, LM25 data page)",
    "derived",
)
STEEPNESS: Final = Cited(1.58, "", "slope between the same two figures", "derived")
SOFT_HARDNESS: Final = Cited(
    0.60,
    "",
    "hardness of the soft metal over T6; HB 65-75 against 90-110 after 2 to 4 h at 250 degC (LM25)",
    "derived",
)
SPREAD: Final = Cited(
    0.5, "log-sd", "of the softening time: half to twice, the width of the sources at 250 degC", "derived"
)
TESTED: Final = Cited(
    600.0,
    "s",
    "a hot tensile test holds the bar at temperature about ten minutes before the pull",
    "from memory",
)
LONG: Final = Cited(100 * 3600.0, "s", "conditioned test bars are soaked 100 h", "from memory")
OVERAGED: Final = Cited(
    3.0 * 3600, "s at 250 degC", "T7 and TB7 stabilise at 250 degC for 2 to 4 h (LM25 data page)", "seen"
)
AGED: Final = ("T5", "T51", "T6", "T61", "T571", "TF", "unknown")
OVER_AGED: Final = ("T7", "T71", "TB7")


def equivalent_time(
    temperature: ArrayLike, duration: ArrayLike, activation: ArrayLike = ACTIVATION.value
) -> Floats:
    """Return the time at 250 degC [s] that ages as much as `duration` [s] at `temperature` [degC].

    `temperature` [degC], any shape; `duration` [s], same shape or scalar; `activation` [J/mol].

    Source: temperature-corrected time, Shercliff & Ashby, Acta Metall. Mater. 38 (1990) 1789 (from memory).
    Valid: below the solvus, about 480 degC; above it the precipitates dissolve, which softens as well.
    """
    kelvin = np.asarray(temperature, dtype=np.float64) + KELVIN
    faster = np.asarray(activation, dtype=np.float64) / GAS_CONSTANT.value * (1 / REFERENCE - 1 / kelvin)
    return np.asarray(np.asarray(duration, dtype=np.float64) * REFERENCE / kelvin * np.exp(faster))


def temper_lost(aged: ArrayLike, pace: ArrayLike = 1.0) -> Floats:
    """Return the share of the temper lost after an equivalent time at 250 degC [s]; `pace` multiplies the time.

    Source: `HALF_LIFE` and `STEEPNESS` (derived).
    Valid: Al-Si-Mg castings in T6; half to twice the time (`SPREAD`).
    """
    x = (
        np.asarray(aged, dtype=np.float64) * np.asarray(pace, dtype=np.float64) / HALF_LIFE.value
    ) ** STEEPNESS.value
    return np.asarray(x / (1 + x))


def yield_at(alloy: Alloy, temperature: ArrayLike, aged: ArrayLike, pace: ArrayLike = 1.0) -> Floats:
    """Return the yield stress [Pa] at temperature of metal that has aged so long, between the alloy's two hot curves.

    The curve of short exposure holds where no more is lost than bars lose while they are warmed and pulled, the soaked one
    where as much is lost as in bars that were conditioned at that temperature before the test.

    `temperature` of the metal now [degC], any shape; `aged` equivalent time at 250 degC so far [s], shape
    that goes with it; `pace` multiplies the time.

    Source: `temper_lost` between its values after `TESTED` and `LONG` at that temperature; mixing of the logs (assumed).
    Valid: metal held at that temperature; what ageing elsewhere costs the cold metal is told by `hardness_after`.
    """
    tested, conditioned = (temper_lost(equivalent_time(temperature, t.value)) for t in (TESTED, LONG))
    share = np.clip((temper_lost(aged, pace) - tested) / np.maximum(conditioned - tested, 1e-12), 0.0, 1.0)
    short, soaked = read(alloy.yield_short, temperature), read(alloy.yield_soaked, temperature)
    return np.asarray(short * (soaked / short) ** share)


def pace_spread(temperature: ArrayLike) -> Floats:
    """Return the log standard deviation of the pace of softening at a temperature [degC].

    Source: `SPREAD`, and `ACTIVATION_SPREAD` about its pivot (derived).
    """
    away = 1 / (PIVOT.value + KELVIN) - 1 / (np.asarray(temperature, dtype=np.float64) + KELVIN)
    return np.hypot(SPREAD.value, ACTIVATION_SPREAD.value / GAS_CONSTANT.value * away)


def hardness_after(alloy: Alloy, before: ArrayLike, aged: ArrayLike, pace: ArrayLike = 1.0) -> Floats:
    """Return the hardness [HB] after an equivalent time at 250 degC.

    `alloy` its temper tells how far the metal has aged already; `before` hardness measured now, or the
    table's [HB]; `aged` equivalent time at 250 degC [s]; `pace` multiplies the time (spread of the
    softening).

    Source: LM25 data page: HB 65-75 after 2 to 4 h at 250 degC against 90-110 (seen); shape derived.
    Valid: Al-Si-Mg castings; metal without a temper keeps its hardness.
    """
    aged_time, start = np.asarray(aged, dtype=np.float64), 0.0
    if alloy.temper in OVER_AGED:
        start = OVERAGED.value
    elif alloy.temper not in AGED and not alloy.family.startswith("own"):
        return np.broadcast_to(
            np.asarray(before, dtype=np.float64), np.broadcast(before, aged_time).shape
        ).copy()
    drop = 1 - SOFT_HARDNESS.value
    now, then = (1 - drop * temper_lost(t, pace) for t in (start, start + aged_time))
    return np.asarray(np.asarray(before, dtype=np.float64) * then / now)


def hardness_range(alloy: Alloy, aged: float, temperature: float, draws: int) -> tuple[Floats, Floats]:
    """Return lowest and highest hardness before and after an ageing, each `(draws, 2)` [HB].

    `aged` equivalent time at 250 degC [s]; `temperature` hottest of the metal [degC]: the pace is known worse
    away from 200 degC; `draws` how many rows, all alike.

    Source: `hardness_after`; the 10 and 90 % ends of `pace_spread`.
    """
    sound = np.broadcast_to(np.asarray(alloy.hardness, dtype=np.float64), (draws, 2))
    pace = np.exp(1.28 * pace_spread(temperature) * np.array([1.0, -1.0]))
    return sound, hardness_after(alloy, sound, aged, pace)


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
