"""The set-ups worth weighing: shim heights that can be stacked, bolts that may pull, heat that may be given."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp import ClampSetup
from straighten.clamp.limits import limits_of
from straighten.errors import NoPlan
from straighten.heat import HeatSpot, Soak
from straighten.plan.records import Draws, PassSetup
from straighten.plan.spots import spot_sets
from straighten.plan.stacks import stacks
from straighten.shape.modes import INDEX

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straighten.clamp import Clamped, Section
    from straighten.head.records import Head

SHIM_SHARES: Final = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0)  # shim heights tried, over the bow
FIRST_PASS_SHIMS: Final = 1.0
OVEN_STEP: Final = 10.0  # K
COOLEST_SOAK: Final = 160.0  # degC: below it nothing relaxes in a day
PULLING_REACH: Final = 1 / 6  # of the length from the middle: bolts further out lift the shims' ends
OFTEN: Final = 0.10  # share of the draws that may pass a limit of the clamp


def middle_bolts(head: Head) -> tuple[int, ...]:
    """Return the numbers of the bolts nearest to the middle, both sides; stretch bolts do not count.

    Raises:
        NoPlan: no clamp bolt within the middle third.

    Source:
        Common practice, no source.

    Valid:
        Any head.
    """
    middle = head.casting.length / 2
    usable = [(abs(b.station - middle), number) for number, b in enumerate(head.bolts) if not b.stretch]
    if not usable or min(usable)[0] > PULLING_REACH * head.casting.length:
        raise NoPlan(
            "no clamp bolt within the middle third of the head",
            where="bolts",
            fix="Give plain studs there; reused stretch bolts are refused.",
        )
    nearest = min(usable)[0]
    return tuple(number for distance, number in usable if distance <= nearest + 2e-3)


def bolt_sets(head: Head) -> list[tuple[int, ...]]:
    """Return the bolts that may pull together: the middle ones, then those with the next stations on either side.

    Raises:
        NoPlan: as `middle_bolts`.

    Source:
        Common practice, no source.

    Valid:
        Any head.
    """
    first = middle_bolts(head)
    middle = head.casting.length / 2
    distances = sorted({round(abs(b.station - middle), 3) for b in head.bolts if not b.stretch})
    further = [d for d in distances if d > max(abs(head.bolts[n].station - middle) for n in first) + 2e-3]
    if not further or further[0] > 2 * PULLING_REACH * head.casting.length:
        return [first]
    wider = tuple(
        n for n, b in enumerate(head.bolts) if not b.stretch and abs(b.station - middle) <= further[0] + 2e-3
    )
    return [first, wider]


def clamps(head: Head, draws: Draws, direction: int, passes_done: int) -> list[ClampSetup]:
    """Return the clamp set-ups worth trying: shim heights up to a multiple of the bow, middle pulled to the base.

    A plate bends under the pull, so that the over-bend comes out smaller than the shims: the mildness of a first
    pass is judged on the over-bend itself, later.

    Args:
        head: blades and bolts.
        draws: the shapes believed.
        direction: +1 where the middle comes down.
        passes_done: the first pass gets lower shims.

    Raises:
        NoPlan: no bolts to pull with.

    Source:
        Common practice, no source.

    Valid:
        Whole blades, four corners alike.
    """
    bow = max(
        abs(float(draws.weights @ draws.states[:, INDEX["deck_bow"]])),
        abs(float(draws.weights @ draws.states[:, INDEX["cam_bow"]])),
    )
    most = FIRST_PASS_SHIMS if passes_done == 0 else SHIM_SHARES[-1]
    heights = np.array(list(stacks(head)))
    wanted = {
        float(heights[np.argmin(np.abs(heights - share * bow))]) for share in SHIM_SHARES if share <= most
    }
    small = [float(h) for h in heights if 0 < h <= max(most * bow, 1e-4)]
    return [
        ClampSetup(shims=(t, t, t, t), bolts=bolts, gap=0.0, reverse=direction < 0)
        for bolts in bolt_sets(head)
        for t in sorted(wanted | set(small[:2]))
    ]


def overloaded(head: Head, section: Section, setup: ClampSetup, clamped: Clamped) -> bool:
    """Whether one draw in ten passes a limit of the clamp: bolts, threads, washers, casting, base.

    Args:
        head: its bolts.
        section: its section.
        setup: which bolts pull.
        clamped: what they carry.

    Source:
        `clamp.limits`.

    Valid:
        Cold.
    """
    return any(limit.chance() > OFTEN for limit in limits_of(head, section, clamped, setup))


def heats(head: Head, clamp: ClampSetup, used: Sequence[HeatSpot]) -> list[PassSetup]:
    """Return the heats that may go with a clamp set-up: nested sets of spots, or a grid of soaks.

    Args:
        head: torch or oven.
        clamp: the set-up they go with.
        used: spots of earlier passes.

    Source:
        Common practice, no source.

    Valid:
        Any head.
    """
    found: list[PassSetup] = []
    found += [PassSetup(clamp=clamp, spots=spots) for spots in spot_sets(head, used)]
    if head.oven is not None:
        found += [PassSetup(clamp=clamp, soak=soak) for soak in _soaks(head)]
    return found


def _soaks(head: Head) -> list[Soak]:
    oven = head.oven
    assert oven is not None  # noqa: S101 - the caller has looked
    temperatures = np.arange(COOLEST_SOAK, oven.hottest + 0.1, OVEN_STEP)
    holds = [h * 3600.0 for h in (1, 2, 3, 4, 6, 8) if h * 3600.0 <= oven.longest]
    return [Soak(temperature=float(t), hold=hold) for t in temperatures for hold in holds]
