"""The surface that is sanded on: how flat it must be, how flat it is, and how its error comes off on the head."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

import numpy as np

from straighten.errors import BadInput
from straighten.head.records import Head
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
        source=f"{UNKNOWN_ERROR.source}; {UNKNOWN_ERROR.mark}", measured=False,
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

    Args:
        name: of the surface.
        shape: as fitted to the survey; bow > 0 means hollow.
        size: length and width of the surface [m].
        head: the head to be sanded.

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
