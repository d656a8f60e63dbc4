r"""Loss of temper: how long at what temperature softens a casting, hot and cold, and how soft it ends.

Over-ageing counts in time corrected for temperature,

.. math:: \theta = \int e^{-\frac{Q}{R}\left(\frac{1}{T} - \frac{1}{T_{250}}\right)}\, dt

the time at 250 degC that does the same. The share of the temper lost is s = x / (1 + x), x = (theta / tau)^m, between
the sound metal and the soft one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.field import read
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from straighten.head.records import Alloy

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
