r"""From spots to the shape of the head: reciprocity, neighbours, and what the clamp's bend leaves in hot metal.

A spot whose wall shrinks by the inherent volume V at height z over the neutral axis kinks the head by

.. math:: \theta = V z / I

V is that of the spot alone, changed by the strain that reaches it from afar while it is hot: from the clamp, from
other spots burning at the same time (they grow) and from spots already cold (they have shrunk).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.errors import BadInput
from straighten.head.ceiling import heat_ceiling
from straighten.heat.case import heated_wall, spot_case
from straighten.heat.cooling import bulk_rise
from straighten.heat.hardness import hardness_range
from straighten.heat.keeping import ClampFelt, shrunk_volumes
from straighten.heat.layout import spots_on
from straighten.heat.lines import dishing_of, state_of
from straighten.heat.relaxed import Relaxed
from straighten.heat.twist import kept_twist
from straighten.shape.modes import INDEX
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.clamp.clamped import Clamped
    from straighten.clamp.section import Section
    from straighten.head.records import Head
    from straighten.heat.layout import SpotsOnHead
    from straighten.heat.response import Response
    from straighten.heat.treatment import HeatSpot

    Floats = NDArray[np.float64]

LONGEST_TRIED: Final = Cited(
    8.0, "s", "longest dwell held against 3D finite elements; single lines 8 to 15 % off there", "fitted"
)

__all__ = ["heated_wall", "relax_spots", "spot_case"]


def relax_spots(
    head: Head, section: Section, clamped: Clamped | None, spots: Sequence[HeatSpot], response: Response
) -> Relaxed:
    """Return what heat spots leave behind in a free or a clamped head.

    Spots with one `start` burn together, later ones find the earlier ones cold: the head warmer by their heat, its
    free shape changed and the clamp's bend with it.

    Args:
        head: casting, alloy, spot rows.
        section: the casting as a beam.
        clamped: the clamped state of every draw, or None for a free head.
        spots: in any order.
        response: draws of the unknown factors.

    Raises:
        BadInput: no spots, or a spot that makes no sense.
        OutsideModel: a surface would melt.

    Source: Betti's reciprocity (derived); `work_spot`; `mutual_strain`.
    Valid: spots apart, under the middle two thirds of the head, bolts not touched while hot.
    """
    if not spots:
        raise BadInput("no heat spots", where="spots", fix="Name at least one spot.")
    field = spots_on(head, section, tuple(spots))
    per_volume = field.height * section.modulus / (section.EI * response.stiffness[:, None])
    clamp = ClampFelt.of(head, section, clamped, field, response)
    own, kept = shrunk_volumes(field, per_volume, clamp, response.of_spots())
    (spots_shape, spots_fall), (kept_shape, kept_fall) = (
        field.bowing.of(per_volume * along, per_volume * dishing_of(along, across))
        for along, across in (own, kept)
    )
    spots_part, kept_part = state_of(spots_shape, response), state_of(kept_shape, response)
    if clamped is not None:
        shear = np.array([a.sound.lopsided for a in field.answers])
        kept_part[:, INDEX["twist"]] -= (
            kept_twist(head, section, clamped, field.stations, shear) * response.kept
        )
    bend = clamped.bend if clamped is not None else np.zeros(response.draws)
    heat = sum(a.heat for a in field.answers)
    aged = max(a.aged for a in field.answers)
    before, after = hardness_range(head.alloy, aged, max(c.peak for c in field.cases), response.draws)
    return Relaxed(
        set_state=spots_part + kept_part,
        spots_part=spots_part,
        kept_part=kept_part,
        kinks=per_volume * (own[0] + kept[0]),
        kept_share=_share(kept_part[:, INDEX["deck_bow"]], bend),
        lines=spots_fall + kept_fall,
        hardness_before=before,
        hardness_after=after,
        heat=heat,
        warm=bulk_rise(head, section, heat),
        peaks=tuple(c.peak for c in field.cases),
        caveats=_caveats(head, field),
    )


def _share(kept: Floats, bend: Floats) -> Floats:
    return np.divide(kept, bend, out=np.zeros_like(kept), where=np.abs(bend) > 1e-9)


def _caveats(head: Head, field: SpotsOnHead) -> tuple[str, ...]:
    """Say in words where the model is at its limits."""
    length, found = head.casting.length, []
    if any(not 1 / 6 <= s / length <= 5 / 6 for s in field.stations):
        found.append("Spots outside the middle two thirds of the head hardly move it.")
    ceiling = heat_ceiling(head.alloy)
    if any(c.peak > ceiling.highest for c in field.cases):
        found.append(
            f"Over the heat ceiling of {ceiling.highest:.0f} C, and no card asks for it: {ceiling.reason}."
        )
    if any(c.dwell > LONGEST_TRIED.value for c in field.cases):
        found.append(
            f"A dwell over {LONGEST_TRIED.value:g} s warms the roof far around the spot; longer ones were held against nothing, "
            "so expect less certainty than the ranges say."
        )
    return tuple(found)
