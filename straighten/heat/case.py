"""From a spot as a person gives it to the case that is worked through: power and peak completed from one another."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from straighten.errors import BadInput, OutsideModel
from straighten.head.ceiling import heat_ceiling
from straighten.heat.spot_case import SpotCase
from straighten.heat.torch import ROOM, peak_for_power, power_for_peak
from straighten.sources import Cited

if TYPE_CHECKING:
    from straighten.head.records import Head
    from straighten.heat.treatment import HeatSpot

MOST_ROUNDS: Final = 3  # a place heated more often is taken as heated so often: it has settled
DOUBT: Final = Cited(
    30.0, "K", "a peak worked out from the power is no better than this; under it a caveat stands", "assumed"
)


def heated_wall(head: Head) -> float:
    """Return the thickness of the metal under the torch [m]: the roof, or a solid casting's whole height.

    Source: definition.
    Valid: spots on the cam side.
    """
    plates = head.casting.plates
    return head.casting.height if plates is not None and plates.solid else head.casting.roof


def spot_case(
    head: Head,
    spot: HeatSpot,
    start: float = ROOM.value,
    others: tuple[tuple[float, float], ...] = (),
) -> SpotCase:
    """Return what the spot's answer depends on, power and peak completed from one another.

    Args:
        head: alloy and wall.
        spot: with either peak or power.
        start: temperature of the head when the torch comes on [degC].
        others: sources of heat beside it, of `heat_from_others`.

    Raises:
        BadInput: neither or both of peak and power, or sizes that no spot has.
        OutsideModel: the surface would melt.

    Source: `power_for_peak`, `peak_for_power`; derived.
    Valid: peaks under first melting; whether a target may be asked for is `overheat`'s business.
    """
    wall = heated_wall(head)
    if (spot.peak is None) == (spot.power is None):
        raise BadInput("give either the surface peak or the absorbed power of a spot", where="spots")
    if min(spot.radius, spot.dwell) <= 0:
        raise BadInput("flux radius and dwell of a spot must be above nought", where="spots")
    if spot.power is not None:
        power, peak = spot.power, peak_for_power(head.alloy, wall, spot, spot.power, start)
    else:
        peak = float(spot.peak or 0.0)
        power = power_for_peak(head.alloy, wall, spot, peak, start)
    ceiling = heat_ceiling(head.alloy)
    if peak > ceiling.melting + DOUBT.value:
        raise OutsideModel(
            f"the surface would reach {peak:.0f} C; {ceiling.reason}",
            where="spots",
            fix="Shorten the dwell or hold the torch farther away.",
        )
    return SpotCase(
        alloy=head.alloy,
        thickness=wall,
        power=power,
        radius=spot.radius,
        dwell=spot.dwell,
        peak=peak,
        start=start,
        rounds=min(1 + spot.heated_before, MOST_ROUNDS),
        bar_width=head.casting.width if wall == head.casting.height else None,
        others=others if wall < head.casting.height else (),
    )
