r"""How a straightedge or a bar sits on a line, and what gaps it then shows.

Let f be the height of the metal away from the straightedge over any straight line, so that hollows count as f > 0,
and p the edge's own profile, proud towards the metal. With the edge resting at shares a and b of the line,

.. math:: gap(t) = (f - p)(t) - (1 - \lambda)(f - p)(a) - \lambda (f - p)(b), \quad \lambda = (t - a)/(b - a)

Bridged: it lies still, so it rests on one place near either end, and on the two that carry it highest under its
middle. Rocked: a is the end that touches, b the place it lies on; on a bow of height h the other end then gapes by
2 h. Balanced: parallel to the chord of the ends and touching the highest place, so that both ends gape alike. A bar
that passes with undersize c says that the minimum zone of the line is at most c, and that zone is the largest
distance of a tower from the chord of two others.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from straighten.readings.gauges import LEVELLING, PIVOT, UNEVENNESS, blade_noise, edge_noise, rectangular
from straighten.shape.equations import Block, Seats
from straighten.shape.lines import SPOT_SIZE, Spot, Track
from straighten.shape.modes import STATE
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.readings.records import Bracket, Gauges, Line

    Array = NDArray[np.float64]

SLACK = Cited(20e-6, "m", "an edge lying on a swelling this high is not yet felt to rock", "assumed")
BAR = Cited(5e-6, "m", "half-width of a ground bar's size and straightness", "assumed")
STILL = Cited(0.26, "of the line", "an edge that does not rock has a rest in either outer quarter", "assumed")
AT_A_REST = 0.012  # a reading this near to the end rest, as a share of the line, is taken at the rest


@dataclass(frozen=True, slots=True, kw_only=True)
class _Laid:
    """A line under its straightedge: shares of the readings, and the metal less the edge as rows and offsets."""

    run: Track
    shares: Array
    error: float

    def metal(self, shares: Array) -> tuple[Array, Array]:
        """Return f - p at shares of the line as rows `(m, 11)` and offsets `(m,)`."""
        return self.run.towards * self.run.rows(shares), -self.error * proud(shares)


def edge_block(line: Line, run: Track, gauges: Gauges, places: tuple[int, ...]) -> Block:
    """Return the equations of a line read with straightedge and blades.

    Args:
        line: the readings.
        run: where the line runs.
        gauges: the tools.
        places: the readings that are not blank.
    """
    shares = np.array([line.brackets[n].station for n in places]) / run.length
    laid = _Laid(run=run, shares=shares, error=_edge_error(gauges, run.length))
    build = {"bridged": _bridged, "balanced": _balanced}.get(line.mode, _rocked)
    seats = build(line, laid)
    low, high = bounds(
        [line.brackets[n] for n in places], SLACK.value if line.mode == "bridged" else math.inf
    )
    lam = (shares - run.first) / (run.last - run.first)
    at_rest = (np.minimum(np.abs(lam), np.abs(1 - lam)) < AT_A_REST) & (line.mode != "balanced")
    shown = _Laid(run=run, shares=shares, error=1.0)
    return Block(
        title=line.title,
        seats=seats,
        edge=edge_noise(gauges, run.length) * build(line, shown).offset[0],
        own=np.where(at_rest, 0.0, UNEVENNESS.value),
        low=low,
        high=high,
        sd=np.full(shares.size, blade_noise(gauges)),
        places=places,
        own_spots=tuple(spot_of(run, float(share)) for share in shares),
    )


def _edge_error(gauges: Gauges, length: float) -> float:
    """Return the measured proud middle of the straightedge over this line [m]; 0 where it was not measured."""
    span = gauges.edge_length or length
    return (gauges.edge_error or 0.0) * (length / span) ** 2


def proud(shares: Array | float) -> Array:
    """Return the parabola of an edge whose middle stands proud by one."""
    u = np.asarray(shares, dtype=np.float64)
    return 4 * u * (1 - u)


def _resting(laid: _Laid, first: float, second: float) -> tuple[Array, Array, Array]:
    """Return rows and offsets of the gaps with two rests, and the share between them of every reading."""
    lam = (laid.shares - first) / (second - first)
    rows, offset = laid.metal(laid.shares)
    rest_rows, rest_offset = laid.metal(np.array([first, second]))
    weights = np.stack([1 - lam, lam], axis=1)
    return rows - weights @ rest_rows, offset - weights @ rest_offset, lam


def _bridged(line: Line, laid: _Laid) -> Seats:
    del line
    run = laid.run
    middle = (run.first + run.last) / 2
    reach = STILL.value * (run.last - run.first)
    left = [float(s) for s in run.supports if s <= run.first + reach]
    right = [float(s) for s in run.supports[::-1] if s >= run.last - reach]
    pairs = [(a, b) for a in left for b in right if a < b]
    ways = [_resting(laid, a, b) for a, b in pairs]
    share = np.array([(middle - a) / (b - a) for a, b in pairs])
    first_rows, first_offset = laid.metal(np.array([a for a, _ in pairs]))
    second_rows, second_offset = laid.metal(np.array([b for _, b in pairs]))
    rough = UNEVENNESS.value
    return Seats(
        choose=(1 - share)[:, None] * first_rows + share[:, None] * second_rows,
        choose_offset=(1 - share) * first_offset + share * second_offset,
        rows=np.stack([rows for rows, _, _ in ways]),
        offset=np.stack([offset for _, offset, _ in ways]),
        rests=np.stack([-rough * np.stack([1 - lam, lam], axis=1) for _, _, lam in ways]),
        spots=tuple((spot_of(run, a), spot_of(run, b)) for a, b in pairs),
    )


def _rocked(line: Line, laid: _Laid) -> Seats:
    """Return the one way of a rocked edge; it turns with the place it lies on, which is known to a few hundredths."""
    first, second = rocking_rests(line, laid.run)
    rows, offset, lam = _resting(laid, first, second)
    far = max((b.middle for b in line.brackets if not b.blank), default=0.0)
    rough, turning = UNEVENNESS.value, math.hypot(UNEVENNESS.value, PIVOT.value * far / 2)
    return Seats(
        choose=np.zeros((1, len(STATE))),
        choose_offset=np.zeros(1),
        rows=rows[None],
        offset=offset[None],
        rests=np.stack([-rough * (1 - lam), -turning * lam], axis=1)[None],
        spots=((spot_of(laid.run, first), (f"{line.title} pivot", 0, 0)),),
    )


def rocking_rests(line: Line, run: Track) -> tuple[float, float]:
    """Return the end that touches and the place a rocked edge lies on, as shares of the line."""
    touch = run.first if line.touching == "start" else run.last
    if line.lies_on is not None:
        return touch, line.lies_on / run.length
    middle = (run.first + run.last) / 2
    if run.part == "cam":
        inner = run.supports[np.abs(run.supports - touch) > 1e-6]
        middle = float(inner[np.argmin(np.abs(inner - middle))])
    return touch, middle


def _balanced(line: Line, laid: _Laid) -> Seats:
    run = laid.run
    every = _Laid(run=run, shares=run.supports, error=laid.error)
    top_rows, top_offset, _ = _resting(every, run.first, run.last)
    rows, offset, lam = _resting(laid, run.first, run.last)
    order = np.argsort(np.abs(run.supports - (run.first + run.last) / 2), kind="stable")
    top_rows, top_offset = top_rows[order], top_offset[order]
    ways = len(order)
    rests = np.stack([np.full_like(lam, -UNEVENNESS.value), LEVELLING.value * (2 * lam - 1)], axis=1)
    spots: tuple[Spot, Spot] = (f"{line.title} top", 0, 0), (f"{line.title} level", 0, 0)
    return Seats(
        choose=top_rows,
        choose_offset=top_offset,
        rows=rows[None] - top_rows[:, None],
        offset=offset[None] - top_offset[:, None],
        rests=np.broadcast_to(rests, (ways, *rests.shape)),
        spots=(spots,) * ways,
    )


def spot_of(run: Track, share: float) -> Spot:
    """Return which spot of the head a place of a line is: lines that cross meet in the same spot."""
    if run.part == "cam":
        return (f"{run.name} cam", round(share * run.length / SPOT_SIZE), 0)
    xi, eta = run.points(share)
    return (
        "deck",
        round(float(xi) * run.head_length / SPOT_SIZE),
        round(float(eta) * run.half_width / SPOT_SIZE),
    )


def bounds(brackets: Sequence[Bracket], slack: float) -> tuple[Array, Array]:
    """Return lower and upper bounds [m]; where no blade goes the lower one is `slack` below nought."""
    low = np.array([b.low for b in brackets], dtype=np.float64)
    high = np.array([b.high for b in brackets], dtype=np.float64)
    return np.where(low <= 0, -slack, low), high


def bar_block(line: Line, run: Track, places: tuple[int, ...]) -> Block:
    """Return the equation of a ground bar through the bores: undersize that passes against the minimum zone.

    Args:
        line: the one bracket of undersize.
        run: where the cam line runs.
        places: index of that bracket.
    """
    towers = run.supports
    heights = run.rows(towers)
    rows = [np.zeros(len(STATE))] if towers.size < 3 else []
    triples = combinations(range(towers.size), 3)
    for i, j, k in sorted(
        triples, key=lambda n: (n[0] - n[2], abs(2 * n[1] - n[0] - n[2]))
    ):  # the widest first
        lam = (towers[j] - towers[i]) / (towers[k] - towers[i])
        rows.append(heights[j] - (1 - lam) * heights[i] - lam * heights[k])
    zone = np.concatenate([np.array(rows), -np.array(rows)])
    low, high = bounds([line.brackets[places[0]]], math.inf)
    spots: tuple[Spot, Spot] = (f"{line.name} bar", 0, 0), (f"{line.name} bar", 1, 0)
    return Block(
        title=line.title,
        seats=Seats(
            choose=-zone,
            choose_offset=np.zeros(len(zone)),
            rows=zone[:, None],
            offset=np.zeros((len(zone), 1)),
            rests=np.zeros((len(zone), 1, 2)),
            spots=(spots,) * len(zone),
        ),
        edge=np.zeros(1),
        own=np.full(1, UNEVENNESS.value),
        low=low,
        high=high,
        sd=np.full(1, rectangular(BAR.value)),
        places=places,
        own_spots=((f"{line.name} bar", 2, 0),),
    )
