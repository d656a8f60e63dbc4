"""A table of spots over peak and dwell, filled where it is asked: many draws of a flame for the price of a few discs.

A torch held by hand is never twice the same: peak and dwell scatter from spot to spot. Each draw lies between four
nodes of a grid (25 K, dwell in steps of a fifth); the nodes are worked through once and kept in memory, the draws are
interpolated, straight in the peak and in the logarithm of the dwell, the logarithm of the volumes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.spot import work_spot
from straighten.heat.torch import power_for_peak
from straighten.heat.treatment import HeatSpot
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.heat.spot_case import SpotCase

    Floats = NDArray[np.float64]

PEAK_STEP: Final = 25.0
DWELL_STEP: Final = float(np.log(1.2))
INTERPOLATION: Final = Cited(
    0.02,
    "",
    "largest error of an interpolated shrinkage against the disc itself, 350 degC to melting; tested",
    "measured",
)
KEPT_INTERPOLATION: Final = Cited(
    0.08,
    "",
    "the same of the volumes that keep a clamp's strain; half of all draws within 0.015; tested",
    "measured",
)
_LEAST: Final = 1e-13  # m3: under it a spot counts as none


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotDraws:
    """Volumes of many draws of one flame [m3], each `(n,)`.

    `shrinkage`, `even`, `lopsided` (see `Effect`), `growth`; relative `error` of the shrinkage and `kept_error` of even
    and lopsided, by interpolation.
    """

    shrinkage: Floats
    even: Floats
    lopsided: Floats
    growth: Floats
    error: float = INTERPOLATION.value
    kept_error: float = KEPT_INTERPOLATION.value


def draw_spots(case: SpotCase, peaks: Floats, dwells: Floats) -> SpotDraws:
    """Return the volumes of spots whose peak and dwell differ from the case's.

    Args:
        case: alloy, wall, flux radius, start; its own peak, dwell and power are replaced.
        peaks: surface peaks [degC], shape `(n,)`.
        dwells: [s], shape `(n,)`.

    Source: `work_spot` at the nodes; interpolation errors as stated (measured).
    Valid: as `work_spot`; sound metal.
    """
    p, d = np.asarray(peaks) / PEAK_STEP, np.log(np.asarray(dwells)) / DWELL_STEP
    low_p, low_d = np.floor(p), np.floor(d)
    totals = np.zeros((4, p.size))
    for right in (0, 1):
        for upper in (0, 1):
            weight = np.abs(1 - right - (p - low_p)) * np.abs(1 - upper - (d - low_d))
            totals += weight * _nodes(case, low_p + right, low_d + upper)
    shrinkage, even, lopsided, growth = np.where(np.exp(totals) > 1.01 * _LEAST, np.exp(totals), 0.0)
    return SpotDraws(shrinkage=shrinkage, even=even, lopsided=lopsided, growth=growth)


def _nodes(case: SpotCase, p: Floats, d: Floats) -> Floats:
    """Logarithms of the four volumes at grid nodes, `(4, n)`: every node once."""
    nodes, where = np.unique(np.stack([p, d]), axis=1, return_inverse=True)
    logs = np.stack(
        [_node(case, float(a) * PEAK_STEP, float(np.exp(b * DWELL_STEP))) for a, b in nodes.T], axis=1
    )
    return np.asarray(logs[:, where.ravel()])


def _node(case: SpotCase, peak: float, dwell: float) -> Floats:
    spot = HeatSpot(station=0.0, side="inlet", radius=case.radius, dwell=dwell)
    power = power_for_peak(case.alloy, case.thickness, spot, peak, case.start)
    answer = work_spot(replace(case, power=power, peak=peak, dwell=dwell))
    sound = answer.sound
    return np.log(np.maximum([sound.shrinkage, sound.even, sound.lopsided, answer.growth], _LEAST))
