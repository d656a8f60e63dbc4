"""Which sets of heat spots a pass may use: both sides alike, from the middle or from a leaning bow's top outward."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from straighten.heat.places import APART, allowed_places, schedule
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Iterable

    from straighten.head.records import Head, Torch
    from straighten.heat import HeatSpot, Place

LEAN: Final = Cited(
    0.12,
    "of the length",
    "where a leaning set of spots is centred, from the middle: a bow's top leans by about as much",
    "assumed",
)
WEAK: Final = 4  # weak sets that are weighed at the most
SIZES: Final = 7  # sets of different size that are weighed at the most


def whole_sets(head: Head, torch: Torch) -> list[tuple[HeatSpot, ...]]:
    """Return the whole set of one flame, and the half of it about the middle: heated in stages, they stand for all smaller ones.

    Args:
        head: webs, bolts and keep-off zones.
        torch: the flame as it is held.

    Source:
        Room `heat`, places.
    """
    places = allowed_places(head, torch)
    rows = _rows(places, 0.5 * head.casting.length, APART.value * torch.radius)
    halves = [n for n in _sizes(rows, 0.0) if n >= len(rows) / 2][:1]
    return _scheduled([rows[:n] for n in {*halves, len(rows)} if n], head, torch)


def spot_sets(head: Head, torch: Torch, lean: float = 0.0) -> list[tuple[HeatSpot, ...]]:
    """Return the sets of spots to weigh with one flame, growing outward from a centre; places heated before count too.

    Rows are heated on both sides alike. What a place heated before still gives is the physics' business.

    Args:
        head: webs, bolts and keep-off zones.
        torch: the flame as it is held.
        lean: where the set is centred, from the middle towards the rear, over the length.

    Source:
        Room `heat`, places.

    Valid:
        One flame a pass.
    """
    places = allowed_places(head, torch)
    rows = _rows(places, (0.5 + lean) * head.casting.length, APART.value * torch.radius)
    grown = [rows[:n] for n in _sizes(rows, lean)]
    others = [] if lean else _weak(rows) + _even(rows)
    return _scheduled(grown + others, head, torch)


def _scheduled(
    sets: Iterable[list[tuple[Place, ...]]], head: Head, torch: Torch
) -> list[tuple[HeatSpot, ...]]:
    timed = {schedule([p for row in some for p in row], head, torch) for some in sets}
    return sorted(timed, key=lambda spots: (len(spots), [s.station for s in spots]))


def _even(rows: list[tuple[Place, ...]]) -> list[list[tuple[Place, ...]]]:
    """Return sets spread evenly along the head: they take off a parabola, where a crowd in the middle leaves a flat top."""
    along = sorted(rows, key=lambda row: row[0].station)
    last = len(along) - 1
    return [
        [along[k] for k in sorted({round(last * (2 * i + 1) / (2 * count)) for i in range(count)})]
        for count in range(2, len(along))
    ]


def _weak(rows: list[tuple[Place, ...]]) -> list[list[tuple[Place, ...]]]:
    """Return sets that do little, for the last hundredths: the outer rows alone, which bow the middle less."""
    outer = [rows[n - 1 : n] for n in range(2, len(rows) + 1)] + [
        rows[n - 2 : n] for n in range(4, len(rows) + 1, 2)
    ]
    return outer[-WEAK:]


def _rows(places: Iterable[Place], centre: float, apart: float) -> list[tuple[Place, ...]]:
    """Return the places station by station from the centre outward, stations too near to one already taken left out."""
    by_station: dict[float, list[Place]] = {}
    for place in places:
        by_station.setdefault(round(place.station, 4), []).append(place)
    most = max((len(places) for places in by_station.values()), default=0)
    rows: list[tuple[Place, ...]] = []
    for station in sorted(by_station, key=lambda x: (round(abs(x - centre), 4), x)):
        whole = len(by_station[station]) == most
        if whole and all(abs(station - row[0].station) >= apart - 1e-9 for row in rows):
            rows.append(tuple(by_station[station]))
    return rows


def _sizes(rows: list[tuple[Place, ...]], lean: float) -> list[int]:
    """Return after how many rows a set is whole: front and rear together where it does not lean."""
    counts = list(range(1, len(rows) + 1))
    if lean == 0.0 and len(rows) > 2:
        counts = [n for n in counts if n == len(rows) or n % 2 == 0 or _in_the_middle(rows, n)]
    step = -(-len(counts) // SIZES)
    return counts[::-1][::step][::-1] if counts else []


def _in_the_middle(rows: list[tuple[Place, ...]], n: int) -> bool:
    """Whether the first n rows lie alike about their first one."""
    first = rows[0][0].station
    return abs(sum(row[0].station - first for row in rows[:n])) < 1e-3
