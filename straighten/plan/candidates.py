"""The set-ups worth weighing: shim heights that can be stacked, bolts that may pull, heat that may be given."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp import ClampSetup, countering
from straighten.clamp.limits import limits_of
from straighten.clamp.shims import like_stacks
from straighten.errors import NoPlan
from straighten.heat import soaks
from straighten.heat.flames import recipes
from straighten.plan.records import Done, Draws, PassSetup
from straighten.shape.modes import INDEX

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straighten.clamp import Clamped, Section
    from straighten.head.records import Head, Torch
    from straighten.plan.spots import Following

SHIM_SHARES: Final = (0.25, 0.5, 1.0, 1.5)  # shim heights tried, over the bow
PART_LEFT: Final = (0.0, 0.25, 0.5, 0.75, 0.9)  # of the bow, left as a gap where more is too much
LEAST_BOW: Final = 0.1e-3  # m: shims are tried up to a multiple of this at least
LEAST_TWIST: Final = 0.02e-3  # m: less is not worth unlike corners
COUNTER_TWISTS: Final = (0.05e-3, 0.10e-3, 0.20e-3)  # m: half of what the diagonals are held apart
FIRST_PASS_SHIMS: Final = 1.0
PULLING_REACH: Final = 1 / 6  # of the length from the middle: bolts further out lift the shims' ends
NEAR: Final = 3  # flames, on either side of a good one
FLAMES: Final = 9  # weighed first, of all that the tips owned can give
OFTEN: Final = 0.10  # share of the draws that may pass a limit of the clamp


def middle_bolts(head: Head) -> tuple[int, ...]:
    """Return the numbers of the bolts nearest to the middle, both sides; stretch bolts do not count.

    Raises:
        NoPlan: no clamp bolt within the middle third.

    Source: Common practice, no source.
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

    Source: Common practice, no source.
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
    """Return the clamp set-ups worth trying first: shim heights up to a multiple of the bow, middle pulled to the base.

    The load is shared by as many bolts near the middle as may pull. A plate bends under the pull, so that the
    over-bend comes out smaller than the shims: the mildness of a first pass is judged on the over-bend itself, later.

    Args:
        head: blades and bolts.
        draws: the shapes believed.
        direction: +1 where the middle comes down.
        passes_done: the first pass gets lower shims.

    Raises:
        NoPlan: no bolts to pull with.

    Source: Common practice, no source.
    Valid: Whole blades, four corners alike.
    """
    bow = max(
        abs(float(draws.weights @ draws.states[:, INDEX["deck_bow"]])),
        abs(float(draws.weights @ draws.states[:, INDEX["cam_bow"]])),
        LEAST_BOW,
    )
    most = FIRST_PASS_SHIMS if passes_done == 0 else SHIM_SHARES[-1]
    heights = np.array(list(like_stacks(head)))
    wanted = {
        float(heights[np.argmin(np.abs(heights - share * bow))]) for share in SHIM_SHARES if share <= most
    }
    bolts = bolt_sets(head)[-1]
    return [
        ClampSetup(shims=(t, t, t, t), bolts=bolts, gap=0.0, reverse=direction < 0) for t in sorted(wanted)
    ]


def part_pulled(head: Head, draws: Draws, direction: int) -> list[ClampSetup]:
    """Return set-ups that pull a head down in part, over the lowest shims: what the bolts of a stiff one carry, what a flat deck may bend.

    Args:
        head: blades and bolts.
        draws: the shapes believed.
        direction: +1 where the middle comes down.

    Source: A gap left for a smaller bend: common practice, no source.
    Valid: Gaps that a blade owned can tell.
    """
    bow = abs(float(draws.weights @ draws.states[:, INDEX["deck_bow"]]))
    low, blades = min(like_stacks(head)), np.array(sorted(head.gauge_blades))
    gaps = {float(blades[np.argmin(np.abs(blades - low - share * bow))]) for share in PART_LEFT}
    bolts = bolt_sets(head)[-1]
    return [ClampSetup(shims=(low,) * 4, bolts=bolts, gap=gap, reverse=direction < 0) for gap in sorted(gaps)]


def finer_clamps(head: Head, clamp: ClampSetup, twist: float) -> list[ClampSetup]:
    """Return set-ups near a good one: a blade more or less, a gap left, fewer bolts, ends unlike, twist countered.

    Args:
        head: blades and bolts.
        clamp: the good one, four corners alike.
        twist: believed lift of the rear inlet corner [m]; corners are countered against it.

    Source:
        Shims at two opposite corners against twist, a gap left for a smaller over-bend: common practice, no source.

    Valid: Whole blades.
    """
    heights = list(like_stacks(head))
    place = int(np.argmin(np.abs(np.array(heights) - clamp.shims[0])))
    near = [heights[k] for k in (place - 1, place + 1) if 0 <= k < len(heights)]
    found = [replace(clamp, shims=(t, t, t, t)) for t in near]
    found += [replace(clamp, bolts=bolts) for bolts in bolt_sets(head) if bolts != clamp.bolts]
    found += [replace(clamp, gap=gap) for gap in _gaps(head) if gap <= clamp.shims[0] + LEAST_BOW]
    low, high = (heights[max(place - 1, 0)], heights[min(place + 1, len(heights) - 1)])
    found += [replace(clamp, shims=s) for s in ((high, high, low, low), (low, low, high, high)) if high > low]
    if abs(twist) > LEAST_TWIST and not clamp.reverse:
        found += [replace(clamp, shims=s) for s in _countered(heights, clamp.shims[0], twist)]
    return list(dict.fromkeys(found))


def _gaps(head: Head) -> list[float]:
    """Return the gaps that may be left in the middle: two blades owned."""
    return [blade for blade in head.gauge_blades if 0.03e-3 <= blade <= 0.11e-3][::3][:2]


def _nearest(heights: list[float], wanted: float) -> float:
    return min(heights, key=lambda height: abs(height - wanted))


def _countered(heights: list[float], height: float, twist: float) -> list[tuple[float, float, float, float]]:
    """Return shims that hold the head twisted the other way, in heights that can be stacked."""
    found = []
    for counter in COUNTER_TWISTS:
        if counter <= height:
            wanted = countering(height, float(np.copysign(counter, twist)))
            a, b, c, d = (_nearest(heights, height) for height in wanted)
            found.append((a, b, c, d))
    return found


def overloaded(head: Head, section: Section, setup: ClampSetup, clamped: Clamped) -> bool:
    """Whether one draw in ten passes a limit of the clamp: bolts, threads, washers, casting, base.

    Args:
        head: its bolts.
        section: its section.
        setup: which bolts pull.
        clamped: what they carry.

    Source: `clamp.limits`.
    Valid: Cold.
    """
    return any(limit.chance() > OFTEN for limit in limits_of(head, section, clamped, setup))


def heats(head: Head, done: Done, following: Following, *, strongest: bool = False) -> list[PassSetup]:
    """Return the heats that are weighed first, without their clamp: the best sets of a few flames from mild to strong, or a grid of soaks.

    A crowned deck gets no spots: they shrink the cam side, which pulls the middle further down.

    Args:
        head: torch or oven.
        done: earlier passes, whose soaks have cost hardness.
        following: the shape, and what rows take off it.
        strongest: of each flame the set that takes most, in place of the best ones.

    Source: Common practice, no source.
    """
    found: list[PassSetup] = []
    if following.direction > 0:
        flames = _unlike(recipes(head))
        following.ready(flames)
        sets = following.fullest if strongest else following.best_sets
        for torch in flames:
            found += [PassSetup(clamp=None, spots=spots) for spots in sets(torch)]
    if head.oven is not None:
        found += [PassSetup(clamp=None, soak=soak) for soak in soaks(head, aged_before=done.aged)]
    return found


def finer_heats(head: Head, setup: PassSetup, following: Following) -> list[PassSetup]:
    """Return the spots near a good set: sets of every size with its flame, the best ones a little milder and stronger.

    Args:
        head: torches.
        setup: the good one.
        following: the shape, and what rows take off it.

    Source: Common practice, no source.
    """
    first, every = setup.spots[0], recipes(head)
    at = next((k for k, r in enumerate(every) if (r.radius, r.dwell) == (first.radius, first.dwell)), None)
    if at is None:
        return []
    near = (*every[max(at - NEAR, 0) : at], *every[at + 1 : at + 1 + NEAR])
    following.ready((every[at], *near))
    found = following.every_size(every[at])
    for torch in near:
        found += following.best_sets(torch)
    return [PassSetup(clamp=setup.clamp, spots=spots) for spots in dict.fromkeys(found)]


def _unlike(flames: Sequence[Torch]) -> list[Torch]:
    """Return a few flames that differ, mildest and strongest among them."""
    last = len(flames) - 1
    return (
        [flames[k] for k in sorted({round(last * n / (FLAMES - 1)) for n in range(FLAMES)})] if flames else []
    )
