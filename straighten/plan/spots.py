"""Which sets of heat spots a pass may use: both sides alike, in the order that follows the line to be straightened."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.treatment import APART, allowed_places, schedule
from straighten.plan.forecast import divisor, kink_falls
from straighten.plan.loss import TIME_LOSS, shape_loss
from straighten.shape.modes import CAM, DECK, DECK_STATIONS, INDEX, bow_mode, peak_mode, skew_mode

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from straighten.head.records import Head, Torch
    from straighten.heat import HeatSpot, Place, Relaxed
    from straighten.quantiles import Floats


BEST: Final = 3  # sets of one flame that are weighed first
MOST_ROWS: Final = 14  # of which every set is looked at
GAINS: Final = (0.7, 1.0, 1.4)  # of what is believed: so far a head may answer otherwise
SIZES: Final = 7  # sets of different size that are weighed at the most
HAIR: Final = 1e-9  # m
_XI: Final = np.linspace(0.0, 1.0, 25)
_MODES: Final = np.stack([bow_mode(_XI), skew_mode(_XI), peak_mode(_XI)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One station heated on both sides: its `places`; what it takes off the shape `(11,)`, and the rest it leaves at the towers and on the deck `(towers + 7,)` [m]."""

    places: tuple[Place, ...]
    taken: Floats
    bumps: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Following:
    """The shape to be straightened in the mean `(11,)` [m], the way to go, and `rows` of a flame with what each takes now.

    `ready` works through the spots of several flames together: one by one they take three times as long.
    """

    head: Head
    state: Floats
    direction: int
    ratio: float
    rows: Callable[[Torch], list[Row]]
    ready: Callable[[Sequence[Torch]], None]

    def best_sets(self, torch: Torch) -> list[tuple[HeatSpot, ...]]:
        """Return the sets of one flame of least loss, each with its rows in the order to heat them.

        Args:
            torch: the flame as it is held.

        Source: every set by the sum of its rows, three answers of the head.
        Valid: for choosing what to weigh; rows near one another give less together.
        """
        some, masks = self._sets(torch)
        if not some:
            return []
        taken: Floats = masks @ np.stack([row.taken for row in some])
        bumps: Floats = masks @ np.stack([row.bumps for row in some])
        losses = [
            shape_loss(self.head, self.state - gain * taken, self.direction, gain * bumps, self.ratio)
            for gain in GAINS
        ]
        loss = np.mean(losses, axis=0) + TIME_LOSS.value * masks.sum(axis=1)
        best = masks[np.argsort(loss, kind="stable")[:BEST]]
        return _scheduled([self._in_order([some[k] for k in np.flatnonzero(mask)]) for mask in best], torch)

    def fullest(self, torch: Torch) -> list[tuple[HeatSpot, ...]]:
        """Return the set of one flame that takes most off the cam line; none where there is no place.

        Args:
            torch: the flame as it is held.

        Source: `best_sets`.
        Valid: as there.
        """
        some, masks = self._sets(torch)
        if not some:
            return []
        taken = masks @ np.array([self.direction * row.taken[INDEX["cam_bow"]] for row in some])
        return _scheduled([self._in_order([some[k] for k in np.flatnonzero(masks[np.argmax(taken)])])], torch)

    def _sets(self, torch: Torch) -> tuple[list[Row], Floats]:
        """Return the rows of one flame that take most, and which of them each set has `(sets, rows)`."""
        some = sorted(self.rows(torch), key=lambda row: -float(np.abs(row.taken).max()))[:MOST_ROWS]
        return some, _sets_apart([row.places[0].station for row in some], APART.value * torch.radius)

    def every_size(self, torch: Torch) -> list[tuple[HeatSpot, ...]]:
        """Return the sets of least loss with one flame, and sets of every size that follow the line.

        Args:
            torch: the flame as it is held.

        Source: `best_sets`.
        Valid: as there.
        """
        order = self._in_order(self.rows(torch), APART.value * torch.radius)
        step = -(-len(order) // SIZES) if order else 1
        grown = [order[:n] for n in range(len(order), 0, -step)]
        return list(dict.fromkeys([*self.best_sets(torch), *_scheduled(grown, torch)]))

    def _in_order(self, rows: list[Row], apart: float = 0.0) -> list[Row]:
        """Return rows in the order to heat them, those left out that are not `apart` from an earlier one [m].

        Each one is that which, with those before it, takes off a line most like the one to be straightened: so the set
        leans where the bow leans, spreads where the bow is round, and keeps its shape if the heat stops early.

        Source: least squares of like falls (derived).
        """
        line = self.direction * self.state[CAM][:3] @ _MODES
        falls = {id(row): self.direction * row.taken[CAM][:3] @ _MODES for row in rows}
        rest, order, fallen = list(rows), list[Row](), np.zeros(_XI.size)
        while rest:
            nearest = min(rest, key=lambda row: round(_misfit(line, fallen + falls[id(row)]), 9))
            order.append(nearest)
            rest = [
                row for row in rest if row is not nearest and _are_apart(row.places, nearest.places, apart)
            ]
            fallen = fallen + falls[id(nearest)]
        return order


def _scheduled(sets: Iterable[Sequence[Row]], torch: Torch) -> list[tuple[HeatSpot, ...]]:
    return list({schedule([p for row in some for p in row.places], torch): None for some in sets if some})


def _misfit(target: Floats, fall: Floats) -> float:
    """Return what the best multiple of a fall leaves of the line, in squares over the line's."""
    share = max(float(target @ fall), 0.0) ** 2 / max(float(fall @ fall), 1e-30)
    return 1 - share / max(float(target @ target), 1e-30)


def rows_of_one_heat(
    head: Head,
    places: Sequence[tuple[Place, ...]],
    spots: Sequence[HeatSpot],
    relaxed: Relaxed,
    weights: Floats,
) -> list[Row]:
    """Return what each row took off in a heat of them all, in the mean of the draws.

    Args:
        head: its length and towers.
        places: of every row.
        spots: the heat, a spot a place.
        relaxed: what it left, draws on the leading axis.
        weights: of the draws `(n,)`, sum one.

    Source: falls of the spots' kinks, in proportion (derived).
    Valid: what a row takes alone is up to a fifth more where the flame is strong.
    """
    modes, rest, _ = kink_falls(head, spots)
    own = relaxed.kinks[:, :, None] * modes
    whole = own.sum(axis=1, keepdims=True)
    share = own[:, :, :1] / divisor(whole[:, :, :1])
    taken = share * relaxed.set_state[:, None, :]
    for line in (DECK, CAM):
        first = slice(line.start, line.start + 3)  # bow, skew, peak: a row leans where it stands
        per_kink = relaxed.set_state[:, None, [line.start]] / divisor(whole[:, :, :1])
        taken[:, :, first] += per_kink * (own - share * whole)
    lines = np.repeat([CAM.start, DECK.start], [len(head.towers), DECK_STATIONS.size])
    bumps = relaxed.set_state[:, None, lines] / divisor(whole[:, :, :1]) * relaxed.kinks[:, :, None] * -rest
    taken, bumps = np.tensordot(weights, taken, 1), np.tensordot(weights, bumps, 1)
    found = []
    for row in places:
        at = [
            k
            for k, spot in enumerate(spots)
            if any(abs(spot.station - place.station) < HAIR for place in row)
        ]
        found.append(Row(places=row, taken=taken[at].sum(axis=0), bumps=bumps[at].sum(axis=0)))
    return found


def rows_for(head: Head, torch: Torch) -> list[tuple[Place, ...]]:
    """Return the places of one flame station by station, from the centre outward; a station that lacks a side is left out.

    Args:
        head: webs, bolts and keep-off zones.
        torch: the flame as it is held.

    Source: `heat.treatment`.
    Valid: stations nearer to one another than `APART` are a choice: no pass heats both.
    """
    places, centre = allowed_places(head, torch), 0.5 * head.casting.length
    by_station: dict[float, list[Place]] = {}
    for place in places:
        by_station.setdefault(round(place.station, 4), []).append(place)
    most = max((len(row) for row in by_station.values()), default=0)
    inner_first = sorted(by_station, key=lambda x: (round(abs(x - centre), 4), x))
    return [tuple(by_station[station]) for station in inner_first if len(by_station[station]) == most]


def apart_in_heats(head: Head, torch: Torch) -> list[tuple[list[tuple[Place, ...]], tuple[HeatSpot, ...]]]:
    """Return all rows of a flame in a few heats, in each of which they are apart: rows and spots of each.

    Args:
        head: as in `rows_for`.
        torch: the flame as it is held.

    Source: `rows_for`; each row goes to the first heat that has room for it.
    """
    heats: list[list[tuple[Place, ...]]] = []
    for row in rows_for(head, torch):
        room = (h for h in heats if all(_are_apart(row, other, APART.value * torch.radius) for other in h))
        if (heat := next(room, None)) is None:
            heats.append(heat := [])
        heat.append(row)
    return [(heat, schedule([place for row in heat for place in row], torch)) for heat in heats]


def _are_apart(row: Sequence[Place], other: Sequence[Place], apart: float) -> bool:
    return abs(row[0].station - other[0].station) >= apart - HAIR


def _sets_apart(stations: Sequence[float], apart: float) -> Floats:
    """Return every set of stations that are so far apart [m] as ones and noughts `(sets, stations)`, the empty one left out."""
    count = len(stations)
    masks = ((np.arange(1, 2**count)[:, None] >> np.arange(count)) & 1).astype(np.float64)
    at = np.array(stations)
    near = np.triu(np.abs(at[:, None] - at) < apart - HAIR, 1)
    kept: Floats = masks[np.einsum("mi,mi->m", masks @ near, masks) == 0]
    return kept
