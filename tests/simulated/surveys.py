"""Survey files of a head whose true shape is known: every gap told by the blades owned."""

import bisect
import math
from collections.abc import Iterable

import numpy as np

from straighten.head.records import Head
from straighten.readings.records import Line
from straighten.shape.modes import cam_rows, deck_rows

LINES = {"exhaust edge": -1.0, "centre": 0.0, "inlet edge": 1.0}
SHARES = (1 / 6, 1 / 3, 1 / 2, 2 / 3, 5 / 6)


def bracket(gap: float, blades: tuple[float, ...]) -> tuple[float | None, float | None]:
    """Return the thickest blade that goes and the thinnest that does not."""
    place = bisect.bisect_right(blades, gap)
    return (blades[place - 1] if place else None, blades[place] if place < len(blades) else None)


def cell(gap: float, blades: tuple[float, ...]) -> str:
    goes, stops = bracket(gap, blades)
    low = "0" if goes is None else f"{1e3 * goes:.2f}"
    high = f"{1e3 * stops:.2f}" if stops is not None else ""
    return f'"{low}-{high}"' if high else f'">{low}"'


def deck_gaps(
    head: Head, state: np.ndarray, eta: float, rng: np.random.Generator, rough: float
) -> np.ndarray:
    """Return what a straightedge bridged over the ends shows: height over the chord, hollow = gap."""
    xi = np.array([0.0, *SHARES, 1.0])
    z = deck_rows(xi, np.full(xi.size, eta)) @ state + rough * rng.standard_normal(xi.size)
    chord = z[0] * (1 - xi) + z[-1] * xi
    return np.maximum((z - chord)[1:-1], 0.0)


def cam_gaps(head: Head, state: np.ndarray, rng: np.random.Generator, rough: float) -> np.ndarray:
    """Return what a straightedge balanced in the bores of a line high in the middle shows: equal gaps at both ends."""
    xi = np.asarray(head.towers) / head.casting.length
    z = cam_rows(xi) @ state + rough * rng.standard_normal(xi.size)
    level = z - (z[0] + (z[-1] - z[0]) * (xi - xi[0]) / (xi[-1] - xi[0]))
    return level.max() - level


def survey_text(
    head: Head,
    state: np.ndarray,
    seed: int,
    *,
    hardness: tuple[int, int, int, int] = (83, 84, 88, 89),
    rough: float = 4e-6,
) -> str:
    """Return the survey file that a careful person would write for a head of this true shape."""
    rng = np.random.default_rng(seed)
    blades = head.gauge_blades
    lines = [
        'units = "mm"', 'mode = "bridged"',
        "stations = [" + ", ".join(f"{1e3 * s * head.casting.length:.0f}" for s in SHARES) + "]",
        "", "[intake]", 'cracks = "none found"', 'magnesium = "no"', 'skimmed = "no"', "",
    ]  # fmt: skip
    for name, eta in LINES.items():
        gaps = ", ".join(cell(g, blades) for g in deck_gaps(head, state, eta, rng, rough))
        lines += ["[[deck]]", f'line = "{name}"', f"gaps = [{gaps}]", ""]
    gaps = ", ".join(cell(g, blades) for g in cam_gaps(head, state, rng, rough))
    lines += ["[[cam]]", 'line = "single"', 'mode = "balanced"', f"gaps = [{gaps}]", ""]
    for side, values in (("exhaust", hardness[:2]), ("inlet", hardness[2:])):
        lines += ["[[hardness]]", f'side = "{side}"', f"values = [{values[0]}, {values[1]}]", ""]
    return "\n".join(lines)


def lines_text(lines: Iterable[Line]) -> str:
    """Return the tables of a survey file for lines that were read, as a person writes them."""
    return "\n".join(_line_text(line) for line in lines)


def _line_text(line: Line) -> str:
    stations = ", ".join(f"{1e3 * bracket.station:g}" for bracket in line.brackets)
    gaps = ", ".join(_gap(1e3 * (bracket.low or 0.0), 1e3 * bracket.high) for bracket in line.brackets)
    table = f'[[{line.part}]]\nline = "{line.name}"\nmode = "{line.mode}"\n'
    return f"{table}stations = [{stations}]\ngaps = [{gaps}]\n"


def _gap(low: float, high: float) -> str:
    return f'"{low:.2f}-{high:.2f}"' if math.isfinite(high) else f'">{low:.2f}"'
