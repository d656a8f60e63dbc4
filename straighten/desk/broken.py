"""What a set-up breaks: the limits that `try` refuses and a log tells."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.clamp.bolts import FRICTION, clamp_thread, torque_for
from straighten.clamp.tightening import torque_cap
from straighten.clamp.tightening_log import AS_PRINTED
from straighten.errors import BadInput, OutsideModel
from straighten.head.ceiling import heat_ceiling
from straighten.heat.flames import hottest_over, refused_peak
from straighten.units import show_temperature, show_torque

if TYPE_CHECKING:
    from straighten.head.records import Head
    from straighten.plan.records import PassSetup

AFTER_OVERLOAD = "Check bolts, nuts and the base's threads, or put new ones, before they pull again"
AFTER_OVERHEATING = (
    "Look for melting and cracks there before anything else, and test the hardness of the roof"
)


def broken_limits(head: Head, setup: PassSetup) -> tuple[str, ...]:
    """Return the limits that a set-up breaks, one sentence each, with what to look for; none where it keeps them all."""
    hottest, torque = hottest_over(head, setup.spots), _over_torque(head, setup)
    heat = () if hottest is None else (f"{_too_hot(head, hottest)}. {AFTER_OVERHEATING}.",)
    pull = () if torque is None else (f"{_too_tight(head, setup, torque)}. {AFTER_OVERLOAD}.",)
    return (*heat, *pull, *(() if heat else _beyond(head, setup)))


def _beyond(head: Head, setup: PassSetup) -> tuple[str, ...]:
    """Return in a sentence what no model here can compute of a heat, so that nothing can be learned from it."""
    from straighten.clamp import section_of
    from straighten.heat.fires import check_model
    from straighten.heat.soak import check_soak

    try:
        if setup.spots:
            check_model(head, section_of(head), setup.spots)
        if setup.soak is not None:
            check_soak(setup.soak)
    except OutsideModel as fault:
        return (f"{fault.problem[:1].upper()}{fault.problem[1:]}. Nothing can be learned from it.",)
    return ()


def refuse_broken(head: Head, setup: PassSetup, where: str) -> None:
    """Refuse a set-up whose target passes the heat ceiling, or whose torque passes the most that the bolts may have.

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
    torque = _over_torque(head, setup)
    if torque is not None:
        raise BadInput(
            _too_tight(head, setup, torque),
            where=f"{where}: clamp.torque",
            fix="Share the pull among more bolts, or stop at a gap.",
        )


def _over_torque(head: Head, setup: PassSetup) -> float | None:
    """Return the torque that was set, where it is over the cap [N m]; a pull to a gap sets none."""
    clamp = setup.clamp
    if clamp is None or clamp.tension is None:
        return None
    thread, _ = clamp_thread(head.bolts[clamp.bolts[0]])
    torque = torque_for(clamp.tension, thread, FRICTION.value)
    return torque if torque > torque_cap(head, clamp).torque + AS_PRINTED.value else None


def _too_tight(head: Head, setup: PassSetup, torque: float) -> str:
    assert setup.clamp is not None  # noqa: S101 - the caller has looked
    cap = torque_cap(head, setup.clamp)
    set_to, most = (show_torque(t, head.system) for t in (torque, cap.torque))
    return f"{set_to} is over {most}, the most these bolts may have for the {cap.limit} on slippery threads"


def _too_hot(head: Head, hottest: float) -> str:
    ceiling = heat_ceiling(head.alloy)
    target, highest = (show_temperature(t, head.system) for t in (hottest, ceiling.highest))
    return f"{target} on the surface is over the heat ceiling of {highest}: {ceiling.reason}"
