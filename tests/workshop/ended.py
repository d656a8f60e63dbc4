"""What counts: straight, past straight, metal to come off, and why a head was lost."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tests.workshop.castings import XI, Truth

GRID = np.arange(0, XI.size, 6)


def cam_out(truth: Truth) -> float:
    """How far the worst cam line is out of straight over its towers [mm]: minimum zone."""
    towers = np.asarray(truth.casting.towers) / truth.casting.length
    return max(
        _zone(towers, np.interp(towers, XI, line) + off)
        for line, off in zip(truth.cam, truth.tower_off, strict=True)
    )


def _zone(x: np.ndarray, z: np.ndarray) -> float:
    worst = 0.0
    for i in range(x.size):
        for k in range(i + 2, x.size):
            for j in range(i + 1, k):
                share = (x[j] - x[i]) / (x[k] - x[i])
                worst = max(worst, abs(z[j] - (1 - share) * z[i] - share * z[k]))
    return worst


def off_plane(z: np.ndarray, xi: np.ndarray) -> np.ndarray:
    """Heights of the three deck lines over their least squares plane, (3, stations) [mm]."""
    x, eta = np.broadcast_arrays(xi, np.array([-1.0, 0.0, 1.0])[:, None])
    plane = np.stack([np.ones(z.size), x.ravel(), eta.ravel()], axis=1)
    return z - (plane @ np.linalg.lstsq(plane, z.ravel(), rcond=None)[0]).reshape(z.shape)


def deck_out(truth: Truth) -> float:
    """How far the deck is out of flat [mm]: range over the least squares plane, unevenness of the metal with it."""
    return float(np.ptp(off_plane((truth.deck + truth.rough)[:, GRID], XI[GRID])))


def cut(truth: Truth) -> float:
    """What must come off the deck until it is in its limit [mm]: nothing where it is."""
    return max(deck_out(truth) - truth.casting.limits[0], 0.0)


def cam_in(truth: Truth) -> bool:
    return cam_out(truth) <= truth.casting.limits[1]


def straight(truth: Truth) -> bool:
    """The true cam line in its limit, and the true deck in its limit or sandable to it within what may come off."""
    return cam_in(truth) and cut(truth) <= truth.casting.removal_left


@dataclass(frozen=True)
class Job:
    """One head's job as it ended: by whom, clampings, what counts, how it was ended and in which words.

    `chance` that a pass of the program's own making would have brought a head straight that it left (None where
    straight or not ended by the program); `held` the ranges, by stage: [deck held, cam held].
    """

    number: int
    by: str
    bow: float
    heats: int
    straight: bool
    past: bool
    metal: float
    cam_out: float
    deck_out: float
    cam_bow: float
    ended: str
    words: str = ""
    chance: float | None = None
    cause: str = ""
    held: dict[str, list[list[bool]]] = field(default_factory=dict)
    foretold: dict[str, Any] = field(default_factory=dict)
    seconds: dict[str, list[float]] = field(default_factory=dict)


def cause_of(truth: Truth, ended: str, words: str, chance: float | None) -> str:
    """Return in one word why a head was lost; the first that fits, in this order.

    fault        the program failed with an error that is no refusal
    overshot     the cam line is out of its limit and its bow past straight by half of it or more
    judged_early a pass of its own making would have brought it straight with chance over one half
    refused      no heat was given at all
    deck         the cam line is in its limit; more must come off the deck than may
    no_place     ended for want of a place to heat, or of a set-up that holds the limits
    misread      ended as done (finish, sand), though the cam line is out of its limit
    shape        the cam line's bow is under half its limit, lean or single bores hold it out
    weak         heat has been given, as often as allowed or until it no longer paid, and the bow is left
    """
    small = 0.5 * truth.casting.limits[1]
    left = truth.cam_bow * math.copysign(1, truth.start_cam)
    done = ended in ("finish", "sand now", "sand only", "inside limits")
    placeless = ended == "NoPlan" or any(told in words for told in ("fresh place", "no place", "no set-up"))
    found = {
        "fault": ended == "fault", "overshot": not cam_in(truth) and left < -small, "judged_early": (chance or 0.0) > 0.5,
        "refused": truth.passes == 0, "deck": cam_in(truth), "no_place": placeless, "misread": done and left > small,
        "shape": left < small, "weak": True,
    }  # fmt: skip
    return next(cause for cause, holds in found.items() if holds)
