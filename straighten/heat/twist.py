r"""Twist that hot spots keep: a clamp over unequal shims shears the roof, and the hot discs keep some of that shear.

By Bredt a torque T makes the shear flow T / (2 A_m) around a closed box; a disc that keeps the shear angle g over
the volume V turns the section by g V / (2 A_m t).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.clamp.clamped import Clamped
    from straighten.clamp.section import Section
    from straighten.head.records import Head

    Floats = NDArray[np.float64]


def enclosed_area(head: Head) -> float:
    """Return the area inside the box's mid-lines [m2].

    Source: Bredt.
    Valid: one closed cell.
    """
    casting = head.casting
    wall = casting.plates.side_walls if casting.plates is not None else 0.0
    return (casting.width - wall) * (casting.height - (casting.deck + casting.roof) / 2)


def kept_twist(
    head: Head, section: Section, clamped: Clamped, stations: Floats, shear_volume: Floats
) -> Floats:
    """Return how much twist stays of the clamp's, as a state figure [m]: lift of the rear inlet corner, `(n,)`.

    Args:
        head: sizes.
        section: shear modulus.
        clamped: torque along the head.
        stations: of the spots [m].
        shear_volume: volume of each spot that keeps a shear angle [m3].

    Source: Bredt's formulas (Young, Roark's Formulas for Stress and Strain, from memory) and reciprocity; derived.
    Valid: closed hollow castings; solid ones keep none here.
    """
    plates = head.casting.plates
    if plates is not None and plates.solid:
        return np.zeros(clamped.bend.size)
    from straighten.clamp.clamped import between

    flow = 1 / (2 * enclosed_area(head) * head.casting.roof)
    angle = between(clamped.station, clamped.torque, stations) * flow / section.shear_modulus
    turned = (angle * shear_volume).sum(axis=1) * flow
    return np.asarray(turned * head.casting.width / 4)
