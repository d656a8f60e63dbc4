"""The sanding plan: how deep, where first, on what, with which papers, how many strokes until the next check."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

import numpy as np
from numpy.typing import NDArray

from straighten.clamp import section_of
from straighten.head.records import Head, metal_left
from straighten.plan.loss import UNDER_LIMIT
from straighten.quantiles import Floats
from straighten.sanding import lap
from straighten.sanding.consequences import points
from straighten.sanding.engine import land_of
from straighten.sanding.face import COLUMNS, ROWS, Face, Goal, face_of
from straighten.sanding.learning import Sanding, Target, learn_rate
from straighten.sanding.rate import Check, Ground, ground_of
from straighten.shape import Shape
from straighten.sources import Cited

FIRST_BITE: Final = 0.15  # of the zone's height: what shines first
_THIRDS: Final = (("front", 0.0, 0.2), ("middle", 0.4, 0.6), ("rear", 0.8, 1.0))
_LINES: Final = (("exhaust", -1.0, -0.5), ("centre", -0.25, 0.25), ("inlet", 0.5, 1.0))
MAP_COLUMNS, MAP_ROWS = 9, 5
_EVEN: Final = 0.5  # of the highest part's bite: as good as the highest


@dataclass(frozen=True, slots=True, kw_only=True)
class Shine:
    """Where the face is cut first.

    `words`; `last` words for where it shines last; `grid` depth of the cut [m] at which every place of the mean shape
    begins to shine, rows from the inlet edge, columns from the front; `sure` false where the draws do not agree.
    """

    words: str
    last: str
    grid: Floats
    sure: bool


def shine_of(face: Face) -> Shine:
    """Return where a face is cut first and last; its first draw is the mean shape.

    Valid: The head settles on its highest places; turned end for end as it should be.
    """
    lying = face.zone[:, None] - face.proud  # depth at which a place begins to shine
    bites = {key: _bite(face, mask) for key, mask in _parts(face).items()}
    depths = {key: float(lying[0, mask].mean()) for key, mask in _parts(face).items()}
    first = _names({key: float(bite[0]) for key, bite in bites.items()})
    last = _names({key: depth / max(depths.values()) for key, depth in depths.items()}, 0.8)
    grid = lying[0].reshape(COLUMNS, ROWS)
    across = np.linspace(ROWS - 1, 0, MAP_ROWS).round().astype(int)
    along = np.linspace(0, COLUMNS - 1, MAP_COLUMNS).round().astype(int)
    return Shine(
        words=words_for(first),
        last=words_for(last),
        grid=grid[np.ix_(along, across)].T,
        sure=_agreement(bites, first) >= 0.7,
    )


def _parts(face: Face) -> dict[tuple[str, str], NDArray[np.bool_]]:
    return {
        (third, line): (face.xi >= low) & (face.xi <= high) & (face.eta >= left) & (face.eta <= right)
        for third, low, high in _THIRDS
        for line, left, right in _LINES
    }


def _bite(face: Face, mask: NDArray[np.bool_]) -> Floats:
    """Return how much of a part is cut by the first bite, by depth, `(n,)`."""
    relative = face.proud[:, mask] / face.zone[:, None]
    bite: Floats = np.maximum(relative - 1 + FIRST_BITE, 0.0).mean(axis=1) / FIRST_BITE
    return bite


def _agreement(bites: dict[tuple[str, str], Floats], first: frozenset[tuple[str, str]]) -> float:
    """Return the share of the draws whose highest part is one of those named."""
    keys = list(bites)
    highest = np.stack([bites[key] for key in keys]).argmax(axis=0)
    return float(np.isin(highest, [n for n, key in enumerate(keys) if key in first]).mean())


def _names(bites: dict[tuple[str, str], float], share: float = _EVEN) -> frozenset[tuple[str, str]]:
    top = max(bites.values())
    return frozenset(key for key, bite in bites.items() if bite >= share * top)


def words_for(parts: frozenset[tuple[str, str]]) -> str:
    """Return the words for a set of the nine parts: whole ends and edges before single corners."""
    left = set(parts)
    said = []
    for whole, word in _WHOLES:
        if whole <= left:
            said.append(word)
            left -= whole
    said += [_single(*key) for key in _ORDER if key in left]
    return said[0] if len(said) == 1 else ", ".join(said[:-1]) + " and " + said[-1]


def _single(third: str, line: str) -> str:
    if line == "centre":
        return "the middle of the face" if third == "middle" else f"the middle of the {third} end"
    return f"the middle of the {line} edge" if third == "middle" else f"the {third} {line} corner"


_ORDER: Final = [(third, line) for third, *_ in _THIRDS for line, *_ in _LINES]
_ENDS: Final = ("front", "rear")


def _set(thirds: tuple[str, ...], lines: tuple[str, ...]) -> frozenset[tuple[str, str]]:
    return frozenset((third, line) for third in thirds for line in lines)


_ALL: Final = tuple(third for third, *_ in _THIRDS)
_ACROSS: Final = tuple(line for line, *_ in _LINES)
_WHOLES: Final = (
    (_set(_ALL, _ACROSS), "the whole face at once"),
    (_set(_ENDS, _ACROSS), "both ends"),
    (_set(_ALL, ("exhaust",)), "the whole exhaust edge"),
    (_set(_ALL, ("inlet",)), "the whole inlet edge"),
    (_set(_ALL, ("centre",)), "the centre line from end to end"),
    (_set(("front",), _ACROSS), "the front end"),
    (_set(("rear",), _ACROSS), "the rear end"),
    (_set(("middle",), _ACROSS), "the middle, right across"),
    (_set(_ENDS, ("exhaust", "inlet")), "all four corners"),
    (_set(_ENDS, ("exhaust",)), "the two ends of the exhaust edge"),
    (_set(_ENDS, ("inlet",)), "the two ends of the inlet edge"),
    (_set(_ENDS, ("centre",)), "the two ends of the centre line"),
    *(
        (
            frozenset({("front", one), ("rear", other)}),
            f"the front {one} and the rear {other} corner, crosswise (twist)",
        )
        for one, other in (("exhaust", "inlet"), ("inlet", "exhaust"))
    ),
)


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
    surface: lap.Surface
    wanted: float
    grits: tuple[lap.Grit, ...]
    wanted_finish: lap.Finish
    allowance: float
    target: Target
    sanding: Sanding
    ground: Ground
    face: Face


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is asked for: `goal`, the `surface` or None, `hardness` of the face [HB] or None, `grit` of the next run or None for the plan's own."""

    goal: Goal = "limit"
    surface: lap.Surface | None = None
    hardness: float | None = None
    grit: lap.Grit | None = None


def sanding_plan(head: Head, shape: Shape, job: Wanted, checks: Sequence[Check] = ()) -> SandingPlan:
    """Return the plan for a head of the shape last surveyed, after any runs of strokes since.

    Source: Depth by the minimum zone, ISO 12781-1:2011 (from memory); strokes by Preston's law, see `rate`.
    Valid: Weight of the head alone on the paper, long straight strokes, turned end for end.
    """
    face = face_of(shape.mean, shape.covariance, land=land_of(head))
    surface = job.surface or lap.unknown_surface()
    left_over = target_left(head, job.goal, surface)
    allowed = metal_left(head)
    depth = face.depth_for(job.goal, left_over)
    grits = lap.grit_sequence(float(np.median(depth)), head.engine)
    allowance = lap.scratch_allowance(grits)
    target = Target(goal=job.goal, left=left_over, allowed=allowed, allowance=allowance)
    load = head.casting.mass * GRAVITY if head.casting.mass else section_of(head).weight  # on the paper [N]
    ground = ground_of(
        face, area=face_area(head), load=load, hardness=job.hardness or fmean(head.alloy.hardness)
    )
    sanding = learn_rate(ground, checks, target, job.grit or grits[0])
    need = np.where(depth > 0, depth + allowance, 0.0)
    return SandingPlan(
        goal=job.goal, height=points(face.zone), depth=points(depth),
        expected=points(expected_flatness(face.hollow(depth), surface)),
        allowed=allowed, fits=float(np.mean(need <= allowed)), shine=shine_of(face), surface=surface,
        wanted=lap.SHARE_OF_TARGET.value * head.limits.deck_overall.value, grits=grits,
        wanted_finish=lap.FINISHES[head.engine.gasket], allowance=allowance, target=target, sanding=sanding,
        ground=ground, face=face,
    )  # fmt: skip


def target_left(head: Head, goal: Goal, surface: lap.Surface) -> float:
    """Return the hollow that may be left [m], so that with the surface's own error the face keeps its limit."""
    if goal == "clean-up":
        return 0.0
    aim = UNDER_LIMIT.value * head.limits.deck_overall.value
    return max(aim - surface.middle, 0.0)


def expected_flatness(left: Floats, surface: lap.Surface) -> Floats:
    """Return draws of the flatness after sanding [m]: hollow left `(n,)` [m], surface turned over, paper and glue.

    Source: A lapped face takes the form of its lap (common practice, no source); independent parts by JCGM 100
    (from memory).
    Valid: The hollow and the surface's form counted as adding up, which is the worst they can do.
    """
    spread = np.resize(np.random.default_rng(3).permutation(surface.error), left.shape)
    return np.asarray(left + np.hypot(spread, lap.PAPER.value), dtype=np.float64)


def face_area(head: Head) -> float:
    """Return the metal in the deck face [m2]: the outline less chambers and other holes."""
    outline = head.casting.length * head.casting.width
    engine = head.engine
    if engine.bore is None:
        return LAND.value * outline
    chambers = engine.cylinders * engine.opening * math.pi / 4 * engine.bore**2
    return max(outline * (1 - OTHER_HOLES.value) - chambers, 0.25 * outline)
