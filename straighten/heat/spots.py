r"""From spots to the shape of the head: reciprocity, and what the clamp's bend leaves in hot metal.

A spot whose roof shrinks by the inherent volume V at height z over the neutral axis kinks the head by

.. math:: \theta = V z / I,\qquad \text{and lowers station } x \text{ by } \theta\, x_<(L - x_>)/L
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from straighten.errors import BadInput
from straighten.heat.curves import read
from straighten.heat.relaxed import Relaxed
from straighten.heat.spot import SpotCase, work_spot
from straighten.heat.torch import ROOM, peak_for_power, power_for_peak
from straighten.shape.modes import INDEX, STATE, project_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.clamp.clamped import Clamped
    from straighten.clamp.section import Section
    from straighten.head.records import Head
    from straighten.heat.response import Response
    from straighten.heat.treatment import HeatSpot

    Floats = NDArray[np.float64]

STATIONS = np.linspace(0.0, 1.0, 101)


def heated_wall(head: Head) -> float:
    """Return the thickness [m] of the wall that the torch heats: the roof, or a solid casting's whole height."""
    plates = head.casting.plates
    return head.casting.height if plates is not None and plates.solid else head.casting.roof


def spot_case(head: Head, spot: HeatSpot) -> SpotCase:
    """Return what the spot's answer depends on, power and peak completed from one another."""
    wall = heated_wall(head)
    if (spot.peak is None) == (spot.power is None):
        raise BadInput("give either the surface peak or the absorbed power of a spot", where="spots")
    if spot.power is not None:
        power, peak = spot.power, peak_for_power(head.alloy, wall, spot, spot.power)
    else:
        peak = float(spot.peak or 0.0)
        power = power_for_peak(head.alloy, wall, spot, peak)
    return SpotCase(
        alloy=head.alloy,
        thickness=wall,
        power=power,
        radius=spot.radius,
        dwell=spot.dwell,
        peak=peak,
        rounds=1 + min(spot.heated_before, 2),
    )


def triangle(x: Floats, at: float, length: float) -> Floats:
    """Return how much a unit kink at station `at` lowers stations x against the line through the ends [m]."""
    return np.minimum(x, at) * (length - np.maximum(x, at)) / length


def relax_spots(
    head: Head, section: Section, clamped: Clamped | None, spots: Sequence[HeatSpot], response: Response
) -> Relaxed:
    """Return what heat spots leave behind in a free or clamped head."""
    n, length = response.draws, head.casting.length
    cases = [spot_case(head, s) for s in spots]
    answers = [work_spot(c) for c in cases]
    stiffness = response.stiffness[:, None]
    wall = heated_wall(head)
    height = np.array([section.height - wall / 2 + a.offset for a in answers]) - section.neutral_axis
    per_volume = height * section.modulus / (section.EI * stiffness)
    own = per_volume * np.array([a.shrinkage for a in answers]) * response.shrinkage[:, None]
    stations = np.array([s.station for s in spots])
    strain = clamped.curvature_at(stations) * height if clamped is not None else np.zeros((n, len(spots)))
    kept = per_volume * strain * np.array([a.kept for a in answers]) * response.kept[:, None]
    x = STATIONS * length
    falls = np.stack([triangle(x, s, length) for s in stations])
    spots_part, kept_part = _state(own @ falls, response), _state(kept @ falls, response)
    bend = clamped.bend if clamped is not None else np.zeros(n)
    kept_bow = kept_part[:, INDEX["deck_bow"]]
    hardness = np.broadcast_to(np.asarray(head.alloy.hardness), (n, 2))
    heat = sum(a.heat for a in answers)
    mass = section.weight / 9.80665
    return Relaxed(
        set_state=spots_part + kept_part,
        spots_part=spots_part,
        kept_part=kept_part,
        kinks=own + kept,
        kept_share=np.divide(kept_bow, bend, out=np.zeros(n), where=np.abs(bend) > 1e-9),
        hardness_before=hardness,
        hardness_after=hardness,
        heat=heat,
        warm=heat / (mass * float(read(head.alloy.heat_capacity, ROOM.value))),
        peaks=tuple(c.peak for c in cases),
    )


def _state(falls: Floats, response: Response) -> Floats:
    """Deck and cam line from one fall line per draw."""
    bow, skew, peak = np.moveaxis(project_line(STATIONS, falls), -1, 0)
    state = np.zeros((bow.size, len(STATE)))
    skew = skew + response.skew * bow
    for line, times in (("deck", 1.0), ("cam", response.cam_ratio)):
        state[:, INDEX[f"{line}_bow"]] = bow * times
        state[:, INDEX[f"{line}_skew"]] = skew * times
        state[:, INDEX[f"{line}_peak"]] = peak * times
    return state
