"""Which sets of heat spots a pass may use: both sides alike, in the order that follows the line to be straightened."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.lines import triangle
from straighten.heat.places import APART, allowed_places, schedule
from straighten.shape.modes import bow_mode, peak_mode, skew_mode

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from straighten.head.records import Head, Torch
    from straighten.heat import HeatSpot, Place
    from straighten.quantiles import Floats

    Row = tuple[Place, ...]

WEAK: Final = 4  # weak sets that are weighed at the most
SIZES: Final = 7  # sets of different size that are weighed at the most
PARABOLA: Final = (1.0, 0.0, 0.0)
_XI: Final = np.linspace(0.0, 1.0, 25)


def whole_sets(
    head: Head, torch: Torch, line: tuple[float, float, float] = PARABOLA
) -> list[tuple[HeatSpot, ...]]:
    """Return the whole set of one flame, and the smaller one that follows the line best: heated in stages, they stand for the others.

    Args:
        head: webs, bolts and keep-off zones.
        torch: the flame as it is held.
        line: bow, skew and peak of the line to be straightened, the way that heat takes it counted positive.

    Source: `_following`.
    Valid: one flame a pass.
    """
    rows, misfit = _following(head, torch, line)
    best = int(np.argmin(misfit[1:])) + 2 if len(rows) > 1 else len(rows)
    return _scheduled([rows[:n] for n in {best, len(rows)} if n], torch)


def spot_sets(
    head: Head, torch: Torch, line: tuple[float, float, float] = PARABOLA
) -> list[tuple[HeatSpot, ...]]:
    """Return the sets of spots to weigh with one flame; places heated before count too.

    Rows are heated on both sides alike. What a place heated before still gives is the physics' business. Beside the sets
    that follow the line stand weak ones for the last hundredths: an outer row alone, which bows the middle less.

    Args:
        head: as in `whole_sets`.
        torch: as in `whole_sets`.
        line: as in `whole_sets`.

    Source: `_following`.
    Valid: one flame a pass.
    """
    rows, _ = _following(head, torch, line)
    step = -(-len(rows) // SIZES) if rows else 1
    grown = [rows[:n] for n in range(len(rows), 0, -step)]
    outer = sorted(rows, key=lambda row: abs(row[0].station - head.casting.length / 2))
    return _scheduled(grown + [[row] for row in outer[-WEAK:]], torch)


def _scheduled(sets: Iterable[Sequence[Row]], torch: Torch) -> list[tuple[HeatSpot, ...]]:
    timed = {schedule([p for row in some for p in row], torch): None for some in sets}
    return sorted(timed, key=lambda spots: (len(spots), [s.station for s in spots]))


def _following(head: Head, torch: Torch, line: tuple[float, float, float]) -> tuple[list[Row], list[float]]:
    """Return the stations in the order to heat them, and what is left of the line after each, over the line.

    Each one is that which, with those before it, takes off a line most like the one to be straightened: so the set
    leans where the bow leans, spreads where the bow is round, and keeps its shape if the heat stops early.

    Source: least squares of like kinks (derived).
    """
    rows = _rows(allowed_places(head, torch), 0.5 * head.casting.length, APART.value * torch.radius)
    along = np.array([row[0].station for row in rows])
    falls = triangle(_XI * head.casting.length, along, head.casting.length)
    target = line[0] * bow_mode(_XI) + line[1] * skew_mode(_XI) + line[2] * peak_mode(_XI)
    order: list[int] = []
    misfit: list[float] = []
    while len(order) < len(rows):
        left = {
            k: _misfit(target, falls[[*order, k]].sum(axis=0)) for k in range(len(rows)) if k not in order
        }
        order.append(min(left, key=lambda k: (round(left[k], 9), k)))
        misfit.append(left[order[-1]])
    return [rows[k] for k in order], misfit


def _misfit(target: Floats, fall: Floats) -> float:
    """Return what the best multiple of a fall leaves of the line, in squares over the line's."""
    share = max(float(target @ fall), 0.0) ** 2 / float(fall @ fall)
    return 1 - share / max(float(target @ target), 1e-30)


def _rows(places: Iterable[Place], centre: float, apart: float) -> list[Row]:
    """Return the places station by station from the centre outward, stations too near to one already taken left out."""
    by_station: dict[float, list[Place]] = {}
    for place in places:
        by_station.setdefault(round(place.station, 4), []).append(place)
    most = max((len(places) for places in by_station.values()), default=0)
    rows: list[Row] = []
    for station in sorted(by_station, key=lambda x: (round(abs(x - centre), 4), x)):
        whole = len(by_station[station]) == most
        if whole and all(abs(station - row[0].station) >= apart - 1e-9 for row in rows):
            rows.append(tuple(by_station[station]))
    return rows
