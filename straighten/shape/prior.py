"""What is believed of a head's shape before it is measured: broad, and stated in one place with reasons."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from straighten.shape.modes import STATE
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

_BOW = "overheated heads come in with up to about 1 mm of bow, 2 mm is reported; either sign is allowed"
_LEAN = (
    "the hottest cylinder need not be the middle one: the top of the bow leans by up to a fifth of the length"
)
_TOP = "flat-topped or pointed bows depart from the parabola by a tenth or two of a common bow"
_SIDE = "the exhaust side runs hotter: the edges' bows differ by up to 0.15 mm"
_SECTION = "the deck between the edges sinks or rises by hundredths where the chambers got hot"
_TWIST = "twist above 0.10 mm is rare and is then the whole trouble"

PRIOR: dict[str, Cited[float]] = {
    "deck_bow": Cited(0.5e-3, "m", _BOW, "assumed"),
    "deck_skew": Cited(0.10e-3, "m", _LEAN, "assumed"),
    "deck_peak": Cited(0.05e-3, "m", _TOP, "assumed"),
    "deck_side": Cited(0.08e-3, "m", _SIDE, "assumed"),
    "deck_belly": Cited(0.05e-3, "m", _SECTION, "assumed"),
    "twist": Cited(0.08e-3, "m", _TWIST, "assumed"),
    "dish": Cited(0.05e-3, "m", _SECTION, "assumed"),
    "cam_bow": Cited(0.5e-3, "m", _BOW, "assumed"),
    "cam_skew": Cited(0.10e-3, "m", _LEAN, "assumed"),
    "cam_peak": Cited(0.05e-3, "m", _TOP, "assumed"),
    "cam_side": Cited(0.08e-3, "m", _SIDE, "assumed"),
}  # standard deviations about nought


def prior_sd() -> NDArray[np.float64]:
    """Return the prior standard deviation of every state number [m], shape `(11,)`."""
    return np.array([PRIOR[name].value for name in STATE])
