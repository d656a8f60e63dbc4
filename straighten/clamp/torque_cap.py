"""The most torque that a bolt of the clamp may have: the least of bolt, base thread, washer face and casting."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.clamp.bolts import LEAST_FRICTION, clamp_thread, lever
from straighten.clamp.joint import shim_stations
from straighten.clamp.limits import bolt_loads, cold_yield
from straighten.clamp.section import section_of

if TYPE_CHECKING:
    from straighten.clamp.setup import ClampSetup
    from straighten.head.records import Head


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueCap:
    """The most `torque` [N m], the `limit` that binds by name, and the `tension` it allows on slippery threads [N]."""

    torque: float
    limit: str
    tension: float


def torque_cap(head: Head, setup: ClampSetup) -> TorqueCap:
    """Return the most torque of any bolt that pulls, and which limit sets it.

    Everything is taken at the lowest friction believed: the same torque then pulls hardest.

    Args:
        head: bolts, base and alloy.
        setup: which bolts pull, over which shims.

    Raises:
        BadInput: a thread or grade that does not exist.

    Valid: all bolts brought to one torque; the person stops at the gap, not at this torque.
    """
    caps = []
    cast = casting_load(head, setup)
    for bolt in sorted(set(setup.bolts)):
        thread, _ = clamp_thread(head.bolts[bolt])
        pull = lever(thread, LEAST_FRICTION.value)
        loads = {**bolt_loads(head, head.bolts[bolt]), "casting against its cold yield": cast}
        caps += [TorqueCap(torque=load * pull, limit=name, tension=load) for name, load in loads.items()]
    return min(caps, key=lambda cap: cap.torque)


def casting_load(head: Head, setup: ClampSetup) -> float:
    """Return the tension of each bolt at which the casting, held by its shims alone, bends to its cold yield [N].

    Where the middle meets the base before that, the base takes the rest of the pull: so this is what the casting may ever
    see, without the margin for ports and bosses that the bend of a plan keeps, see `limits_of`.

    Source: moment of equal loads on a beam on two supports; `cold_yield`.
    Valid: shims outside the bolts, or inside them for a crowned deck.
    """
    section = section_of(head)
    reach = max(section.neutral_axis, section.height - section.neutral_axis)
    at = np.array([head.bolts[b].station for b in sorted(set(setup.bolts))])
    front, rear = shim_stations(head, reverse=setup.reverse)
    lift = ((rear - at) / (rear - front)).sum()  # share of all pulls that the front support carries
    stations = np.append(at, (front, rear))
    moment = lift * np.maximum(stations - front, 0.0) + (at.size - lift) * np.maximum(stations - rear, 0.0)
    moment -= np.maximum(stations[:, None] - at, 0.0).sum(axis=1)
    most = float(np.abs(moment).max())
    return cold_yield(head.alloy) * section.EI / section.modulus / (reach * most) if most > 0 else np.inf
