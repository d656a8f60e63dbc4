"""Where the paper bites first: the face in nine parts, a map of depths, and words for a person at the bench."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.finish.face import COLUMNS, ROWS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.finish.face import Face

    Array = NDArray[np.float64]

FIRST_BITE: Final = 0.15  # of the zone's height: what shines first
_THIRDS: Final = (("front", 0.0, 0.2), ("middle", 0.4, 0.6), ("rear", 0.8, 1.0))
_LINES: Final = (("exhaust", -1.0, -0.5), ("centre", -0.25, 0.25), ("inlet", 0.5, 1.0))
MAP_COLUMNS, MAP_ROWS = 9, 5
_EVEN: Final = 0.5  # of the highest part's bite: as good as the highest


@dataclass(frozen=True, slots=True, kw_only=True)
class Shine:
    """Where the face is cut first.

    `words`; `parts` chance-weighted bite of nine parts by (part of the length, line), 0 to 1; `grid` depth of the cut
    [m] at which every place of the mean shape begins to shine, rows from the inlet edge, columns from the front;
    `last` words for where it shines last; `sure` false where the draws do not agree.
    """

    words: str
    last: str
    parts: dict[tuple[str, str], float]
    grid: Array
    sure: bool


def shine_of(face: Face) -> Shine:
    """Return where a face is cut first and last.

    Args:
        face: in draws, the mean shape first.

    Valid: The head settles on its highest places; turned end for end as it should be.
    """
    lying = face.zone[:, None] - face.proud  # depth at which a place begins to shine
    bites = {key: _bite(face, mask) for key, mask in _parts(face).items()}
    mean = {key: float(bite.mean()) for key, bite in bites.items()}
    of_mean = {key: float(bite[0]) for key, bite in bites.items()}
    depths = {key: float(lying[0, mask].mean()) for key, mask in _parts(face).items()}
    first = _names(of_mean)
    agree = _agreement(bites, first)
    grid = lying[0].reshape(COLUMNS, ROWS)
    across = np.linspace(ROWS - 1, 0, MAP_ROWS).round().astype(int)
    along = np.linspace(0, COLUMNS - 1, MAP_COLUMNS).round().astype(int)
    return Shine(
        words=words_for(first),
        last=words_for(_names({key: depth / max(depths.values()) for key, depth in depths.items()}, 0.8)),
        parts=mean,
        grid=grid[np.ix_(along, across)].T,
        sure=agree >= 0.7,
    )


def _parts(face: Face) -> dict[tuple[str, str], NDArray[np.bool_]]:
    return {
        (third, line): (face.xi >= low) & (face.xi <= high) & (face.eta >= left) & (face.eta <= right)
        for third, low, high in _THIRDS
        for line, left, right in _LINES
    }


def _bite(face: Face, mask: NDArray[np.bool_]) -> Array:
    """Return how much of a part is cut by the first bite, by depth, `(n,)`."""
    relative = face.proud[:, mask] / face.zone[:, None]
    bite: Array = np.maximum(relative - 1 + FIRST_BITE, 0.0).mean(axis=1) / FIRST_BITE
    return bite


def _agreement(bites: dict[tuple[str, str], Array], first: frozenset[tuple[str, str]]) -> float:
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
_SIDE_LINES: Final = ("exhaust", "centre", "inlet")


def _set(thirds: tuple[str, ...], lines: tuple[str, ...]) -> frozenset[tuple[str, str]]:
    return frozenset((third, line) for third in thirds for line in lines)


_ALL: Final = ("front", "middle", "rear")
_WHOLES: Final = (
    (_set(_ALL, _SIDE_LINES), "the whole face at once"),
    (_set(("front", "rear"), _SIDE_LINES), "both ends"),
    (_set(_ALL, ("exhaust",)), "the whole exhaust edge"),
    (_set(_ALL, ("inlet",)), "the whole inlet edge"),
    (_set(_ALL, ("centre",)), "the centre line from end to end"),
    (_set(("front",), _SIDE_LINES), "the front end"),
    (_set(("rear",), _SIDE_LINES), "the rear end"),
    (_set(("middle",), _SIDE_LINES), "the middle, right across"),
    (_set(("front", "rear"), ("exhaust", "inlet")), "all four corners"),
    (_set(("front", "rear"), ("exhaust",)), "the two ends of the exhaust edge"),
    (_set(("front", "rear"), ("inlet",)), "the two ends of the inlet edge"),
    (_set(("front", "rear"), ("centre",)), "the two ends of the centre line"),
    (
        frozenset({("front", "exhaust"), ("rear", "inlet")}),
        "the front exhaust and the rear inlet corner, crosswise (twist)",
    ),
    (
        frozenset({("front", "inlet"), ("rear", "exhaust")}),
        "the front inlet and the rear exhaust corner, crosswise (twist)",
    ),
)
