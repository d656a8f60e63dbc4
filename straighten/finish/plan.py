"""The sanding plan: how deep, where first, on what, with which papers, how many strokes until the next check."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import fmean
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from straighten.finish.abrasives import FINISHES, Finish, Grit, grit_sequence, scratch_allowance
from straighten.finish.face import Face, face_of
from straighten.finish.land import land_of
from straighten.finish.learning import Sanding, Target, learn_rate
from straighten.finish.rate import Ground, ground_of
from straighten.finish.shine import Shine, shine_of
from straighten.finish.surface import PAPER, Surface, flatness_wanted, unknown_surface
from straighten.head.records import metal_left
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.finish.checks import Check
    from straighten.head.records import Head
    from straighten.shape import Shape

    Array = NDArray[np.float64]

Goal = Literal["limit", "clean-up"]

UNDER_LIMIT: Final = Cited(0.7, "of the limit", "aim below the limit, so that the check holds", "assumed")
LAND: Final = Cited(
    0.55, "of the outline", "chambers, bolt holes and water ways take the rest; not measured", "assumed"
)
OTHER_HOLES: Final = Cited(0.12, "of the outline", "bolt holes, oil and water ways", "assumed")
GRAVITY: Final = 9.80665


@dataclass(frozen=True, slots=True, kw_only=True)
class SandingPlan:
    """What to sand and how far.

    `goal`; `height` of the zone, `depth` to take off the highest place, `expected` flatness after, each 10, 50, 90 %
    points [m]; `allowed` metal that may still come off [m]; `fits` chance that the depth stays inside it; `shine` where
    first; `surface` with the flatness `wanted` of it [m]; `grits` in order, `wanted_finish`; `allowance` that the finer
    papers take [m]; `sanding` what is known of the rate, with the next count of strokes; `ground`, `face` behind it.
    """

    goal: Goal
    height: tuple[float, float, float]
    depth: tuple[float, float, float]
    expected: tuple[float, float, float]
    allowed: float
    fits: float
    shine: Shine
    surface: Surface
    wanted: float
    grits: tuple[Grit, ...]
    wanted_finish: Finish
    allowance: float
    target: Target
    sanding: Sanding
    ground: Ground
    face: Face


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What is asked for: `goal`, the `surface` or None, `hardness` of the face [HB] or None, metal `taken` off in earlier sandings [m], `used` paper of the next run or None for the plan's own."""

    goal: Goal = "limit"
    surface: Surface | None = None
    hardness: float | None = None
    taken: float = 0.0
    grit: Grit | None = None
    left: float | None = None


def sanding_plan(head: Head, shape: Shape, job: Job, checks: Sequence[Check] = ()) -> SandingPlan:
    """Return the plan for a head of a believed shape, after any checks so far.

    Args:
        head: limits, mass, engine.
        shape: of the last survey before sanding.
        job: what is asked for.
        checks: runs of strokes since that survey.

    Source: Depth by the minimum zone, ISO 12781-1:2011 (from memory); strokes by Preston's law, see `rate`.
    Valid: Weight of the head alone on the paper, long straight strokes, turned end for end.
    """
    face = face_of(shape.mean, shape.covariance, land=land_of(head))
    surface = job.surface or unknown_surface()
    left_over = target_left(head, job.goal, surface)
    allowed = (metal_left(head) if job.left is None else job.left) - job.taken
    depth = depth_wanted(face, job.goal, left_over)
    grits = grit_sequence(float(np.median(depth)), head.engine)
    allowance = scratch_allowance(grits)
    target = Target(goal=job.goal, left=left_over, allowed=allowed, allowance=allowance)
    ground = ground_of(
        face, area=face_area(head), load=load_of(head), hardness=job.hardness or fmean(head.alloy.hardness)
    )
    sanding = learn_rate(ground, checks, target, job.grit or grits[0])
    need = np.where(depth > 0, depth + allowance, 0.0)
    return SandingPlan(
        goal=job.goal, height=_points(face.zone), depth=_points(depth),
        expected=_points(expected_flatness(face.hollow(depth), surface)),
        allowed=allowed, fits=float(np.mean(need <= allowed)), shine=shine_of(face), surface=surface,
        wanted=flatness_wanted(head.limits.deck_overall.value), grits=grits,
        wanted_finish=FINISHES[head.engine.gasket], allowance=allowance, target=target, sanding=sanding,
        ground=ground, face=face,
    )  # fmt: skip


def depth_wanted(face: Face, goal: Goal, left: float) -> Array:
    """Return the depth to take off the highest place for a goal [m], `(n,)`."""
    return face.depth_to_clean() if goal == "clean-up" else face.depth_to_leave(left)


def target_left(head: Head, goal: Goal, surface: Surface) -> float:
    """Return the hollow that may be left [m], so that with the surface's own error the face keeps its limit."""
    if goal == "clean-up":
        return 0.0
    aim = UNDER_LIMIT.value * head.limits.deck_overall.value
    return max(aim - surface.middle, 0.0)


def expected_flatness(left: Array, surface: Surface) -> Array:
    """Return draws of the flatness after sanding [m]: the hollow left, the surface's form turned over, paper and glue.

    Args:
        left: hollow left, `(n,)` [m].
        surface: its error in draws.

    Source: A lapped face takes the form of its lap (common practice, no source); independent parts by JCGM 100
    (from memory).
    Valid: The hollow and the surface's form counted as adding up, which is the worst they can do.
    """
    spread = np.resize(np.random.default_rng(3).permutation(surface.error), left.shape)
    return np.asarray(left + np.hypot(spread, PAPER.value), dtype=np.float64)


def face_area(head: Head) -> float:
    """Return the metal in the deck face [m2]: the outline less chambers and other holes."""
    outline = head.casting.length * head.casting.width
    engine = head.engine
    if engine.bore is None:
        return LAND.value * outline
    chambers = engine.cylinders * engine.opening * math.pi / 4 * engine.bore**2
    return max(outline * (1 - OTHER_HOLES.value) - chambers, 0.25 * outline)


def load_of(head: Head) -> float:
    """Return the head's weight on the paper [N]."""
    from straighten.clamp import section_of

    return head.casting.mass * GRAVITY if head.casting.mass else section_of(head).weight


def _points(values: Array) -> tuple[float, float, float]:
    low, middle, high = np.quantile(values, [0.1, 0.5, 0.9])
    return float(low), float(middle), float(high)
