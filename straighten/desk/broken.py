"""What a set-up breaks: the limits that `try` refuses and a log tells."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.errors import BadInput
from straighten.head.ceiling import heat_ceiling
from straighten.heat.overheat import hottest_over, refused_peak
from straighten.units import show_temperature

if TYPE_CHECKING:
    from straighten.head.records import Head
    from straighten.plan.records import PassSetup

AFTER_OVERHEATING = (
    "Look for melting and cracks there before anything else, and test the hardness of the roof"
)


def broken_limits(head: Head, setup: PassSetup) -> tuple[str, ...]:
    """Return the limits that a set-up breaks, one sentence each, with what to look for; none where it keeps them all."""
    hottest = hottest_over(head, setup.spots)
    return () if hottest is None else (f"{_too_hot(head, hottest)}. {AFTER_OVERHEATING}.",)


def refuse_broken(head: Head, setup: PassSetup, where: str) -> None:
    """Refuse a set-up whose target passes the heat ceiling.

    Raises:
        BadInput: with the limit that binds.
    """
    hottest = refused_peak(head, setup.spots)
    if hottest is not None:
        raise BadInput(
            _too_hot(head, hottest),
            where=f"{where}: spots",
            fix=f"Aim at {show_temperature(heat_ceiling(head.alloy).highest, head.system)} or less.",
        )


def _too_hot(head: Head, hottest: float) -> str:
    ceiling = heat_ceiling(head.alloy)
    target, highest = (show_temperature(t, head.system) for t in (hottest, ceiling.highest))
    return f"{target} on the surface is over the heat ceiling of {highest}: {ceiling.reason}"
