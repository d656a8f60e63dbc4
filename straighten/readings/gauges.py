"""How far blades, straightedge and plate may be trusted, combined by the rules of the GUM."""

from __future__ import annotations

import math

from straighten.readings.records import Gauges
from straighten.sources import Cited

_GRADE_0 = "flat straightedge of grade 0, DIN 874-1: 2 um + length / 100 000"
_GRADE_1 = "surface plate of grade 1, DIN 876: 10 um + length / 100 000"
BLADE = Cited(
    5e-6, "m", "half-width of a feeler blade's thickness tolerance; wear and bends included", "assumed"
)
FEEL = Cited(
    9e-6, "m", "standard deviation of what one hand calls 'goes'; hands differ, 5 to 15 um", "assumed"
)
UNEVENNESS = Cited(
    8e-6,
    "m",
    "standard deviation of a cleaned face, or of bores, about their smooth shape, place to place",
    "assumed",
)
LEVELLING = Cited(10e-6, "m", "how equal 'the same blade at both ends' is, standard deviation", "assumed")
PIVOT = Cited(
    0.06,
    "of the gap",
    "a rocked edge lies on the middle within 3 % of its length, standard deviation",
    "assumed",
)
DIAL = Cited(4e-6, "m", "standard uncertainty of an indicator on a stand over a short sweep", "assumed")
EDGE_FIXED = Cited(2e-6, "m", _GRADE_0, "from memory")
EDGE_SLOPE = Cited(1e-5, "m/m", _GRADE_0, "from memory")
PLATE_FIXED = Cited(10e-6, "m", _GRADE_1, "seen")
PLATE_SLOPE = Cited(1e-5, "m/m", _GRADE_1, "seen")


def rectangular(half_width: float) -> float:
    r"""Return the standard uncertainty of anything within +/- half_width, all places alike.

    .. math:: u = a / \sqrt 3

    Args:
        half_width: a, in any unit.

    Source: JCGM 100:2008 (GUM), 4.3.7 -- seen in public pages that quote it.
    """
    return half_width / math.sqrt(3)


def resolution(step: float) -> float:
    r"""Return the standard uncertainty that a step between neighbouring readings leaves.

    .. math:: u = d / \sqrt{12}

    Args:
        step: d, in any unit.

    Source: JCGM 100:2008 (GUM), F.2.2.1 -- seen in public pages that quote it.
    """
    return step / math.sqrt(12)


def blade_noise(gauges: Gauges) -> float:
    """Return the standard uncertainty of a blade in the hand [m]: its tolerance and the feel of "goes"."""
    half = BLADE.value if gauges.blade is None else gauges.blade
    return math.hypot(rectangular(half), FEEL.value)


def edge_noise(gauges: Gauges, length: float) -> float:
    """Return the standard uncertainty of the straightedge's straightness [m], shared by all readings with it.

    Args:
        gauges: the tools; a measured error counts with its own uncertainty, else the tolerance is taken.
        length: length of the line [m], for the standard's tolerance.
    """
    if gauges.edge_error is not None and gauges.edge_uncertainty is not None:
        return gauges.edge_uncertainty
    if gauges.edge_tolerance is not None:
        return rectangular(gauges.edge_tolerance)
    span = gauges.edge_length or length
    return rectangular(EDGE_FIXED.value + EDGE_SLOPE.value * span)


def plate_noise(gauges: Gauges, length: float) -> float:
    """Return the standard uncertainty of the surface plate's flatness under the head [m]."""
    if gauges.plate_error is not None and gauges.plate_uncertainty is not None:
        return gauges.plate_uncertainty
    span = gauges.plate_length or length
    return rectangular(PLATE_FIXED.value + PLATE_SLOPE.value * span)
