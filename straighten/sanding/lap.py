"""The lap, a flat surface with papers on it: how flat it must be and is; grain by grade, the finish left, what each gasket wants."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final, Literal

import numpy as np

from straighten.errors import BadInput
from straighten.head.records import Engine, Head
from straighten.quantiles import Floats
from straighten.sanding.face import COLUMNS, ROWS, zone_planes
from straighten.shape import Shape
from straighten.shape.limits import shape_draws
from straighten.shape.modes import deck_rows
from straighten.sources import Cited

SHARE_OF_TARGET: Final = Cited(
    1 / 3, "of the flatness wanted", "a surface at least three times as flat", "common practice, no source"
)
LONGER: Final = Cited(1.5, "times the head", "longer than the head by half", "common practice, no source")
UNKNOWN_ERROR: Final = Cited(
    15e-6,
    "m",
    "float glass 10 mm or more on a flat bench, not measured; no published figure was found",
    "assumed",
)
UNKNOWN_SPREAD: Final = Cited(0.85, "log-sd", "a factor of three either way", "assumed")
PAPER: Final = Cited(
    4e-6, "m", "paper, glue and grit are not of one thickness: full sheets, thin even glue", "assumed"
)
_DIN_876: Final = {0: (4e-6, 250.0), 1: (10e-6, 100.0), 2: (20e-6, 50.0), 3: (40e-6, 25.0)}
DIN_876_SOURCE: Final = "DIN 876, flatness of surface plates: two pages with the printed table"
ISO_8512_SOURCE: Final = "ISO 8512-2 grade 0, 0.003 d + 2.5 um, fits the printed table; grades 1 to 3 double each time (from memory)"
DRAWS: Final = 256


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A reference surface against one head.

    `error` `(n,)` draws of its flatness over the head's own size [m]; `length` [m] or None where not given;
    `bow` middle of its bow over the head's length [m], > 0 hollow, None where only a grade is known; `source` of the
    error; `measured`; `name`.
    """

    name: str
    error: Floats
    length: float | None
    bow: float | None
    source: str
    measured: bool

    @property
    def middle(self) -> float:
        """Median of the error [m]."""
        return float(np.median(self.error))

    def range(self) -> tuple[float, float]:
        """Return the 80 % range of the error [m]."""
        low, high = np.quantile(self.error, [0.1, 0.9])
        return float(low), float(high)


def din_876(length: float, grade: int) -> float:
    """Return the flatness tolerance [m] of a surface plate by its longest side [m].

    Source: DIN 876, as printed in two public tables (seen).
    Valid: Grades 0 to 3.
    """
    start, divisor = _DIN_876[grade]
    return start + length * 1e3 / divisor * 1e-6


def iso_8512(length: float, width: float, grade: int) -> float:
    """Return the flatness tolerance [m] of a granite plate by its diagonal, rounded up to 100 mm.

    Source: ISO 8512-2 table (seen for grade 0; the doubling from grade to grade from memory).
    Valid: Grades 0 to 3.
    """
    diagonal = math.ceil(round(math.hypot(length, width) * 1e3 / 100, 9)) * 100
    return (0.003 * diagonal + 2.5) * 1e-6 * 2.0**grade


def unknown_surface() -> Surface:
    """Return the belief about a sheet of thick glass that nobody has checked."""
    from scipy.special import ndtri

    spread = np.exp(UNKNOWN_SPREAD.value * ndtri((np.arange(DRAWS) + 0.5) / DRAWS))
    return Surface(
        name="not measured", error=UNKNOWN_ERROR.value * spread, length=None, bow=None,
        source=UNKNOWN_ERROR.told, measured=False,
    )  # fmt: skip


def graded_surface(named: str, length: float, width: float) -> Surface:
    """Return a surface of a size [m] of which only the grade is known: its flatness lies anywhere up to the tolerance.

    Raises:
        BadInput: not a grade of these standards.

    Valid: A plate within its calibration.
    """
    match = re.fullmatch(
        r"\s*(DIN\s*876|ISO\s*8512(?:-2)?)\s*[-/, ]?\s*(?:grade)?\s*([0-3])\s*", named, re.IGNORECASE
    )
    if match is None:
        raise BadInput(
            f"found {named[:40]!r}, a grade is due",
            where="grade",
            fix='For example "DIN 876/1" or "ISO 8512-2 grade 0".',
        )
    grade = int(match[2])
    din = match[1].upper().startswith("DIN")
    tolerance = din_876(max(length, width), grade) if din else iso_8512(length, width, grade)
    return Surface(
        name=named.strip(), error=tolerance * (np.arange(DRAWS) + 0.5) / DRAWS, length=length, bow=None,
        source=DIN_876_SOURCE if din else ISO_8512_SOURCE, measured=False,
    )  # fmt: skip


def measured_surface(name: str, shape: Shape, size: tuple[float, float], head: Head) -> Surface:
    """Return a surface from its own survey: its flatness over a piece as large as the head, in its middle.

    The shape is as fitted to the survey, bow > 0 hollow; the size length and width of the surface [m].

    Source: Minimum zone, ISO 12781-1:2011 (from memory).
    Valid: Strokes that keep to the middle of the surface; a head sanded on it takes its form turned over.
    """
    along = min(head.casting.length / size[0], 1.0) / 2
    across = min(head.casting.width / size[1], 1.0)
    xi, eta = np.meshgrid(
        np.linspace(0.5 - along, 0.5 + along, COLUMNS), np.linspace(-across, across, ROWS), indexing="ij"
    )
    states = shape_draws(shape.mean, shape.covariance, DRAWS)
    _, error = zone_planes(xi.ravel(), eta.ravel(), states @ deck_rows(xi.ravel(), eta.ravel()).T)
    return Surface(
        name=name, error=error, length=size[0], bow=shape.value("deck_bow") * (2 * along) ** 2,
        source="its own survey", measured=True,
    )  # fmt: skip


HOW_TO_CHECK: Final = (
    (
        "Lay the straightedge on six lines (four edges, two diagonals) and try a blade under it, with a weight like the "
        "head's on the surface; turn it end for end and read again: what turns with it is the straightedge's own error."
    ),
    "Hold three corners down, an indicator on the fourth, and press: it must not move; choose the support points so.",
    (
        "Three plates: rub A on B, B on C, C on A by turns, a thin blue on one of each pair. Two plates can fit as ball and "
        "socket, three that fit in every pair are flat."
    ),
    "Enter what you read as a survey of the surface (length, width and deck lines) with --surface FILE.",
)


# --- papers -------------------------------------------------------------------------------------------------------------


MICROINCH: Final = 0.0254e-6  # m, exact

_FEPA = "ISO 6344, P grades, median grain size as listed by three abrasives pages"
_CAMI = "CAMI grades, average grain size as listed by a grit comparison page"

P_GRADES: Final = {number: Cited(size * 1e-6, "m", _FEPA, "seen") for number, size in {
    80: 201.0, 100: 162.0, 120: 125.0, 150: 100.0, 180: 82.0, 220: 68.0, 240: 58.5, 280: 52.2, 320: 46.2, 360: 40.5,
    400: 35.0, 600: 25.8, 1000: 18.3,
}.items()}  # fmt: skip
CAMI_GRADES: Final = {number: Cited(size * 1e-6, "m", _CAMI, "seen") for number, size in {
    80: 192.0, 100: 141.0, 120: 116.0, 150: 93.0, 180: 82.0, 220: 68.0, 240: 52.0, 320: 35.0, 400: 22.0,
}.items()}  # fmt: skip

# Roughness of metal against grain size: a chart gives 3.2, 1.6, 0.8, 0.4 um for 80, 120, 240, 400; a second page says
# P180 to P220 for 0.8 um. The line through the logarithms of all five:
ROUGHNESS_AT_100: Final = Cited(
    1.32e-6, "m", "line through a grit and finish chart and a second page that disagrees with it", "fitted"
)
ROUGHNESS_POWER: Final = Cited(1.16, "", "the same line", "fitted")
ROUGHNESS_FACTOR: Final = Cited(2.0, "", "pages disagree by a factor of two for the same number", "seen")
DEPTH_OF_SCRATCHES: Final = Cited(
    6.0, "times Ra", "peak to valley height is 4 to 7 times Ra on ground faces", "from memory"
)

LARGEST_STEP: Final = Cited(2.1, "times", "each paper halves the grain", "common practice, no source")

Gasket = Literal["composite", "graphite", "multi-layer steel"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grit:
    """A paper: its `name` as printed on the back ("P180", "180 CAMI") and its median grain `size` [m]."""

    name: str
    size: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """What a kind of gasket wants: Ra allowed from `least` to `most`, best from `low` to `high` [m]; `note` on what the sources do not agree on."""

    gasket: Gasket
    least: float
    most: float
    low: float
    high: float
    note: str


FINISHES: Final[dict[str, Finish]] = {
    "composite": Finish(
        gasket="composite", least=30 * MICROINCH, most=110 * MICROINCH, low=60 * MICROINCH, high=100 * MICROINCH,
        note=(
            "a trade article gives 55 to 110 uin, best 80 to 100, for older composition gaskets and 30 to 110, best 60 to "
            "100, for newer ones (seen)"
        ),
    ),
    "graphite": Finish(
        gasket="graphite", least=30 * MICROINCH, most=110 * MICROINCH, low=30 * MICROINCH, high=60 * MICROINCH,
        note="not smoother than 30 uin, or the gasket loses its grip (trade article, seen); no upper figure of its own was found",
    ),
    "multi-layer steel": Finish(
        gasket="multi-layer steel", least=0.0, most=50 * MICROINCH, low=20 * MICROINCH, high=30 * MICROINCH,
        note=(
            "three trade pages: 50 uin or smoother in general, 20 to 30 for some gaskets, 50 to 60 on aluminium heads; they do "
            "not agree, the gasket maker's own figure wins (seen)"
        ),
    ),
}  # fmt: skip


def read_grit(found: str) -> Grit:
    """Return the paper that a name means: "P180", "180", "180 CAMI".

    Raises:
        BadInput: no grade of that number is known.

    Source: ISO 6344 and CAMI lists (seen).
    Valid: P80 to P1000. A bare number is taken for the P grade, which is what wet-and-dry is marked with.
    """
    match = re.fullmatch(
        r"\s*(P|FEPA\s*P?|CAMI|ANSI)?\s*#?([0-9]{2,4})\s*(CAMI|ANSI|grit)?\s*", found, re.IGNORECASE
    )
    if match is None:
        raise BadInput(f"found {found[:30]!r}, a grit is due", where="grit", fix="For example P180.")
    words = f"{match[1] or ''} {match[3] or ''}".upper()
    cami = "CAMI" in words or "ANSI" in words
    grades, name = (CAMI_GRADES, f"{match[2]} CAMI") if cami else (P_GRADES, f"P{match[2]}")
    grade = grades.get(int(match[2]))
    if grade is None:
        known = ", ".join(str(n) for n in grades)
        raise BadInput(f"no paper {name} is known", where="grit", fix=f"Known numbers: {known}.")
    return Grit(name=name, size=grade.value)


def grade(number: int) -> Grit:
    """Return the paper of a P grade."""
    return Grit(name=f"P{number}", size=P_GRADES[number].value)


def roughness(size: float) -> float:
    """Return the middle roughness Ra [m] that a paper of a grain size [m] leaves on metal.

    Source: Power law through two public pages (fitted).
    Valid: P80 to P400 on metal; within a factor of two, so a comparison plate decides.
    """
    return float(ROUGHNESS_AT_100.value * (size / 100e-6) ** ROUGHNESS_POWER.value)


def roughness_range(size: float) -> tuple[float, float]:
    """Return the 80 % range of the roughness Ra [m] that a paper leaves."""
    middle = roughness(size)
    return middle / ROUGHNESS_FACTOR.value, middle * ROUGHNESS_FACTOR.value


def chance_of_finish(size: float, wanted: Finish) -> float:
    """Return the probability that a paper's finish lies inside what the gasket allows."""
    spread = math.log(ROUGHNESS_FACTOR.value) / NormalDist().inv_cdf(0.9)
    normal = NormalDist(math.log(roughness(size)), spread)
    below = normal.cdf(math.log(wanted.least)) if wanted.least > 0 else 0.0
    return normal.cdf(math.log(wanted.most)) - below


def last_grit(wanted: Finish) -> Grit:
    """Return the paper whose middle roughness lies nearest to the middle of what the gasket likes best."""
    aim = math.sqrt(wanted.low * wanted.high) / ROUGHNESS_AT_100.value
    return _nearest(100e-6 * aim ** (1 / ROUGHNESS_POWER.value))


def first_grit(depth: float) -> Grit:
    """Return the paper to begin with for a depth to take off [m]: no coarser than it needs to be.

    Source: 120 to 180 to begin with, 80 only where much must go (common practice, no source).
    Valid: By hand on aluminium.
    """
    return grade(120 if depth > 80e-6 else 180 if depth > 25e-6 else 240)


def grit_sequence(depth: float, engine: Engine) -> tuple[Grit, ...]:
    """Return the papers in order for a depth [m], each about twice as fine; the gasket decides the last.

    Source: Each step halves the grain, so that it takes out the scratches before it (common practice, no source).
    Valid: Where the last paper is coarser than the first, the last one is used from the start.
    """
    start, end = first_grit(depth), last_grit(FINISHES[engine.gasket])
    if end.size >= start.size:
        return (end,)
    steps = math.ceil(math.log(start.size / end.size) / math.log(LARGEST_STEP.value))
    sizes = [start.size * (end.size / start.size) ** (n / steps) for n in range(1, steps)]
    return (start, *map(_nearest, sizes), end)


def _nearest(size: float) -> Grit:
    """Return the P grade of the nearest grain size [m]."""
    return grade(min(P_GRADES, key=lambda n: abs(math.log(P_GRADES[n].value / size))))


def scratch_allowance(sequence: tuple[Grit, ...]) -> float:
    """Return what the finer papers take off to clear the first one's scratches [m]; 0 for one paper alone."""
    return DEPTH_OF_SCRATCHES.value * roughness(sequence[0].size) if len(sequence) > 1 else 0.0
