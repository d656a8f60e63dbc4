"""A published surface plate, measured line by line with an autocollimator, and its published answers.

J. C. Moody, "How to Calibrate Surface Plates in the Plant", The Tool Engineer, October 1955, plate 48 x 72 in; data and
answers as reproduced, with two misprints corrected, in B. Allen, "Comments on Moody's method", 2019 (seen). Readings in
seconds of arc over 4 in steps; heights are their running sums times 4 in per second of arc.

The three straightness values per line and the least squares and minimum zone values of the whole plate were worked out
from those data (derived); the end-point values and the largest height of the plate are printed in the article.
"""

from __future__ import annotations

import numpy as np
import pytest

from straighten.shape.flatness import flatness, straightness

SOURCE = "Moody, The Tool Engineer, October 1955, surface plate; data after Allen, 2019"
MARK = "seen"

STEP = 4 * 25.4e3  # um
PER_SECOND = STEP * np.pi / 180 / 3600  # um of rise over one step and second of arc

READINGS = {
    "NW_SE": "6.5 6.0 5.0 5.2 5.5 5.6 5.5 5.0 5.5 4.8 5.0 5.2 5.3 4.9 4.6 4.2 5.3 4.9 4.5 3.5",
    "NE_SW": "6.6 5.4 5.4 5.2 5.5 5.7 5.0 5.0 5.4 4.5 4.4 4.5 4.5 4.8 4.2 4.2 4.2 4.8 4.3 3.2",
    "NE_NW": "20.5 19.7 20.5 20.3 20.2 19.9 19.0 19.5 18.8 18.6 18.7 18.6 18.4 18.5 19.0 17.9",
    "NE_SE": "3.5 2.1 2.5 2.8 3.4 3.2 3.5 4.0 4.2 3.5",
    "SE_SW": "16.4 15.0 15.6 15.5 15.1 15.3 15.1 14.6 14.0 13.5 13.5 13.3 13.3 13.4 14.0 13.9",
    "NW_SW": "6.0 4.6 4.5 4.7 5.0 4.5 5.9 6.0 6.0 4.9",
    "E_W": "11.7 12.4 12.1 12.5 12.0 11.5 11.5 11.3 11.3 10.3 10.8 10.3 10.0 10.7 10.4 10.4",
    "N_S": "6.6 6.4 6.3 6.5 6.6 6.9 7.5 7.4 7.1 7.0",
}

# line: end-point, least squares, minimum zone [um]; derived from the data above, to half a unit of the last digit
ANSWERS = {
    "NW_SE": (1.9210, 1.9618, 1.9210),
    "NE_SW": (2.7781, 2.8800, 2.7781),
    "NE_NW": (2.7399, 2.8405, 2.7399),
    "NE_SE": (1.1871, 1.1495, 1.1493),
    "SE_SW": (3.3741, 3.7126, 3.3741),
    "NW_SW": (1.3546, 1.2135, 1.2068),
    "E_W": (2.7091, 2.7689, 2.7091),
    "N_S": (0.8620, 0.8866, 0.8620),
}

# printed: departure of the first diagonal from the line through its ends, seconds of arc
FIRST_DIAGONAL = (
    0, 1.4, 2.3, 2.2, 2.3, 2.7, 3.2, 3.6, 3.5, 3.9, 3.6, 3.5, 3.6, 3.8, 3.6, 3.1, 2.2, 2.4, 2.2, 1.6, 0,
)  # fmt: skip

CORNER = {"NW": (0.0, 1.0), "NE": (1.0, 1.0), "SE": (1.0, 0.0), "SW": (0.0, 0.0)}
MIDDLE = {"N": (0.5, 1.0), "E": (1.0, 0.5), "S": (0.5, 0.0), "W": (0.0, 0.5)}


def heights(line: str) -> np.ndarray:
    return np.concatenate([[0.0], np.cumsum([float(r) for r in READINGS[line].split()])])


def over_ends(line: str) -> np.ndarray:
    z = heights(line)
    return z - np.linspace(z[0], z[-1], z.size)


def plate() -> tuple[np.ndarray, np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Join the eight lines: both diagonals cross at one height, each other line hangs between what it meets."""
    named: dict[str, np.ndarray] = {}
    for diagonal in ("NW_SE", "NE_SW"):
        z = over_ends(diagonal)
        named[diagonal] = z - z[z.size // 2]
    corner = {
        "NW": named["NW_SE"][0],
        "SE": named["NW_SE"][-1],
        "NE": named["NE_SW"][0],
        "SW": named["NE_SW"][-1],
    }
    for edge in ("NE_NW", "NE_SE", "SE_SW", "NW_SW"):
        first, last = edge.split("_")
        z = over_ends(edge)
        named[edge] = z + np.linspace(corner[first], corner[last], z.size)
    middle = {"N": "NE_NW", "E": "NE_SE", "S": "SE_SW", "W": "NW_SW"}
    at = {name: named[edge][named[edge].size // 2] for name, edge in middle.items()}
    for centre in ("E_W", "N_S"):
        first, last = centre.split("_")
        z = over_ends(centre)
        named[centre] = z + np.linspace(at[first], at[last], z.size)
    where = CORNER | MIDDLE
    x = np.concatenate(
        [np.linspace(where[n.split("_")[0]][0], where[n.split("_")[1]][0], z.size) for n, z in named.items()]
    )
    y = np.concatenate(
        [np.linspace(where[n.split("_")[0]][1], where[n.split("_")[1]][1], z.size) for n, z in named.items()]
    )
    return 72 * x, 48 * y, np.concatenate(list(named.values())) * PER_SECOND, named


@pytest.mark.parametrize("line", READINGS)
def test_each_line_has_its_three_straightness_values_to_a_ten_thousandth_of_a_micrometre(
    line, published
) -> None:
    z = heights(line) * PER_SECOND
    found = straightness(np.arange(z.size) * 4.0, z)
    ours = found.end_point, found.least_squares, found.minimum_zone
    told = {"unit": "um", "abs": 0.5001e-4, "mark": "derived", "case": line}
    for by, value, answer in zip(
        ("end points", "least squares", "minimum zone"), ours, ANSWERS[line], strict=True
    ):
        published(f"straightness by {by}", value, answer, **told)


@pytest.mark.parametrize("line", READINGS)
def test_the_minimum_zone_of_each_line_is_the_linear_programme_s(line: str) -> None:
    from scipy.optimize import linprog

    z = heights(line) * PER_SECOND
    x = np.linspace(-1, 1, z.size)
    rows = np.stack([np.ones_like(x), x], axis=1)
    one = np.ones((x.size, 1))
    programme = linprog(
        [0, 0, 1],
        A_ub=np.vstack([np.hstack([-rows, -one]), np.hstack([rows, -one])]),
        b_ub=np.concatenate([-z, z]),
        bounds=[(None, None)] * 2 + [(0, None)],
    )
    assert straightness(x, z).minimum_zone == pytest.approx(2 * programme.fun, abs=1e-9)


def test_the_first_diagonal_departs_from_its_end_line_as_printed(published) -> None:
    assert np.allclose(over_ends("NW_SE"), FIRST_DIAGONAL, rtol=0, atol=0.05)
    highest = np.max(over_ends("NW_SE"))
    published("first diagonal, largest departure", highest, 3.9, unit="seconds of arc", abs=0.05)


def test_the_height_per_second_of_arc_is_the_printed_one(published) -> None:
    published("rise over 4 in per second of arc", PER_SECOND, 0.492571, unit="um", abs=5e-7)
    assert pytest.approx(19.3925, abs=1e-4) == PER_SECOND / 25.4e-3  # millionths of an inch


def test_the_whole_plate_stands_over_its_base_plane_as_printed(published) -> None:
    x, y, z, named = plate()
    found = flatness(x, y, z)
    published("whole plate", found.end_point / PER_SECOND, 9.2, unit="seconds of arc", abs=0.05)
    published("whole plate, printed in inches", found.end_point / 25.4e-3, 178.4, unit="microinch", abs=0.05)
    published("whole plate, in micrometres", found.end_point, 4.53, unit="um", abs=0.005)
    top = max(named, key=lambda n: named[n].max())
    bottom = min(named, key=lambda n: named[n].min())
    assert (top, bottom) == ("SE_SW", "NE_SE")


def test_the_whole_plate_by_least_squares_and_minimum_zone(published) -> None:
    x, y, z, _ = plate()
    assert z.size == 126
    found = flatness(x, y, z)
    # derived from Allen's 126 points; they are rounded to a tenth of a millionth of an inch
    told = {"unit": "microinch", "abs": 0.1, "mark": "derived"}
    published("flatness by least squares", found.least_squares / 25.4e-3, 175.4, **told)
    published("flatness by minimum zone", found.minimum_zone / 25.4e-3, 163.7, **told)
