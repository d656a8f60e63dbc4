r"""Loss of temper: how long at what temperature softens an age-hardened casting, and how soft it ends.

Over-ageing counts in time corrected for temperature,

.. math:: \theta = \int e^{-\frac{Q}{R}\left(\frac{1}{T} - \frac{1}{T_{250}}\right)}\, dt

the time at 250 degC that does the same. The share of the temper lost is s = x / (1 + x), x = (theta / tau)^m, between
the sound metal and the soft one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.curves import read
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from straighten.head.alloys import Curve
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
    13e3, "J/mol", "130 to 150 kJ/mol are all in use for Al-Mg-Si precipitates", "from memory"
)
HALF_LIFE: Final = Cited(
    1.25 * 3600,
    "s",
    "half of the temper lost at 250 degC: between 0.5 h (yield at 0.87 of T6, from the same two points) and 2 to 4 h "
    "(proof stress 0.40 to 0.44 of T6, LM25 data page)",
    "derived",
)
STEEPNESS: Final = Cited(1.58, "", "slope between the same two figures", "derived")
SOFT_YIELD: Final = Cited(
    0.32,
    "",
    "yield of the soft metal over T6; 0.40 to 0.44 are reached after 2 to 4 h at 250 degC (LM25)",
    "derived",
)
SOFT_HARDNESS: Final = Cited(
    0.60,
    "",
    "hardness of the soft metal over T6; HB 65-75 against 90-110 after 2 to 4 h at 250 degC (LM25)",
    "derived",
)
SPREAD: Final = Cited(
    0.5, "log-sd", "of the softening time: half to twice, the width of the sources at 250 degC", "derived"
)
OVERAGED: Final = Cited(
    3.0 * 3600, "s at 250 degC", "T7 and TB7 stabilise at 250 degC for 2 to 4 h (LM25 data page)", "seen"
)
AGED: Final = ("T5", "T51", "T6", "T61", "T571", "TF", "unknown")
OVER_AGED: Final = ("T7", "T71", "TB7")


def loses_temper(alloy: Alloy) -> bool:
    """Tell whether heat softens this metal beyond its own table.

    A person's own table is taken at its word: only the tempers of the alloy table and an unknown casting soften.

    Source: temper designations, EN 515 (from memory).
    Valid: tempers named as in the alloy table.
    """
    return alloy.temper in AGED


def equivalent_time(
    temperature: ArrayLike, duration: ArrayLike, activation: ArrayLike = ACTIVATION.value
) -> Floats:
    """Return the time at 250 degC [s] that ages as much as `duration` [s] at `temperature` [degC].

    Args:
        temperature: [degC], any shape.
        duration: [s], same shape or scalar.
        activation: [J/mol].

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


def soft_yield(alloy: Alloy) -> Curve:
    """Return the yield curve of the metal without its temper: 0.32 of the sound one, and never above it.

    Source: `SOFT_YIELD` (derived).
    Valid: as `temper_lost`.
    """
    ceiling = SOFT_YIELD.value * alloy.yield_short[0][1]
    return tuple((t, min(value, ceiling)) for t, value in alloy.yield_short)


def hardness_after(alloy: Alloy, before: ArrayLike, aged: ArrayLike, pace: ArrayLike = 1.0) -> Floats:
    """Return the hardness [HB] after an equivalent time at 250 degC.

    Args:
        alloy: its temper tells how far the metal has aged already.
        before: hardness measured now, or the table's [HB].
        aged: equivalent time at 250 degC [s].
        pace: multiplies the time (spread of the softening).

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


def hardness_range(alloy: Alloy, aged: float, softening: Floats) -> tuple[Floats, Floats]:
    """Return lowest and highest hardness before and after an ageing, each `(n, 2)` [HB].

    Args:
        alloy: hardness range of the sound metal.
        aged: equivalent time at 250 degC [s].
        softening: factor on the pace of every draw, `(n,)`.

    Source: `hardness_after`; the 10 and 90 % ends of `SPREAD`.
    Valid: as `hardness_after`.
    """
    sound = np.broadcast_to(np.asarray(alloy.hardness, dtype=np.float64), (softening.size, 2))
    pace = softening[:, None] * np.exp(1.28 * SPREAD.value * np.array([1.0, -1.0]))
    return sound, hardness_after(alloy, sound, aged, pace)


def yield_left(alloy: Alloy, temperature: ArrayLike, lost: ArrayLike) -> Floats:
    """Return the yield stress [Pa] at temperature of metal that has lost a share of its temper.

    Source: straight mixing of the sound and the soft curve (assumed).
    Valid: as `temper_lost`.
    """
    sound, soft = read(alloy.yield_short, temperature), read(soft_yield(alloy), temperature)
    return np.asarray(sound + np.asarray(lost, dtype=np.float64) * (soft - sound))
