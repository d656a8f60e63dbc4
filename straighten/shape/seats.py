"""Measurement equations as records: how an edge may touch, the readings of a line, a dial sweep, all of a survey."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from straighten.quantiles import Floats
from straighten.readings.gauges import LEVELLING, PIVOT, UNEVENNESS, blade_noise, edge_noise, rectangular
from straighten.readings.records import Bracket, Gauges, Line
from straighten.shape.modes import SPOT_SIZE, STATE, Spot, Track, bow_mode
from straighten.sources import Cited


@dataclass(frozen=True, slots=True, kw_only=True)
class Seats:
    """The ways in which the edge (or bar, or plate) may touch: for a given shape the one with the least `choose`.

    `choose` `(m, 11)`, `choose_offset` `(m,)`; `rows` `(m, k, 11)` and `offset` `(m, k)`: gap = rows @ state +
    offset [m]; `rests` `(m, k, 2)` what a standard deviation of unevenness under either rest adds to each gap [m];
    `spots` the two spots of the head under the rests, per way. The first way is the usual one.
    """

    choose: Floats
    choose_offset: Floats
    rows: Floats
    offset: Floats
    rests: Floats
    spots: tuple[tuple[Spot, Spot], ...]

    def pick(self, state: Floats) -> int:
        """Return which way the edge touches a shape."""
        return int(np.argmin(self.choose @ state + self.choose_offset))

    def gaps(self, states: Floats) -> Floats:
        """Return the gaps of many states over an even face [m], shape `(n, k)`."""
        if len(self.spots) == 1:
            return np.asarray(states @ self.rows[0].T + self.offset[0])
        ways, readings = self.offset.shape
        picked = np.argmin(states @ self.choose.T + self.choose_offset, axis=1)
        every = (states @ self.rows.reshape(ways * readings, -1).T).reshape(
            len(states), ways, readings
        ) + self.offset
        return np.asarray(every[np.arange(len(states)), picked])


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """All bracketed readings of one line, as equations.

    `seats` how the edge touches and what it then shows; `edge` `(k,)` what a standard deviation of the straightedge's
    own error adds to the gap [m]; `own` `(k,)` unevenness at the reading [m]; `low`, `high` `(k,)` bounds [m]; `sd`
    `(k,)` noise of blade and hand [m]; `places` index of each reading in its line; `own_spots` which spot of the
    head each is, so that lines that cross share its unevenness; `two_sided` where the reading tells a size without
    its sign.
    """

    title: str
    seats: Seats
    edge: Floats
    own: Floats
    low: Floats
    high: Floats
    sd: Floats
    places: tuple[int, ...]
    own_spots: tuple[Spot, ...]
    two_sided: bool = False

    @property
    def noise(self) -> Floats:
        """Noise of each reading by itself [m], the unevenness at its place included."""
        return np.hypot(self.sd, self.own)


@dataclass(frozen=True, slots=True, kw_only=True)
class Swept:
    """Dial readings of one sweep, free of its setting: `rows` `(d, 11)`, `values` `(d,)`, one `sd` [m]."""

    rows: Floats
    values: Floats
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Equations:
    """Everything that was measured, as blocks of bracketed readings and dial sweeps."""

    blocks: tuple[Block, ...]
    swept: tuple[Swept, ...]


SLACK = Cited(20e-6, "m", "no more metal than this stands through the edge, or it would rock", "assumed")
BAR = Cited(5e-6, "m", "half-width of a ground bar's size and straightness", "assumed")
STILL = Cited(0.26, "of the line", "an edge that does not rock has a rest in either outer quarter", "assumed")
FORM = Cited(
    0.03,
    "of the widest gap",
    "a line bowed as 1 - |2 xi - 1|^p, p 1.6 to 3.2, is off bow, lean and flat top by 1 to 2 % (derived), one broken in a place by 7 %",
    "fitted",
)
AT_A_REST = 0.012  # a reading this near to the end rest, as a share of the line, is taken at the rest


@dataclass(frozen=True, slots=True, kw_only=True)
class _Laid:
    """A line under a straightedge whose middle stands proud by one: where it runs, shares of the readings, `uneven` at any place [m]."""

    run: Track
    shares: Floats
    uneven: float = 0.0

    def metal(self, shares: Floats) -> tuple[Floats, Floats]:
        """Return f - p at shares of the line as rows `(m, 11)` and offsets `(m,)`."""
        return self.run.towards * self.run.rows(shares), -bow_mode(shares)


def edge_block(line: Line, run: Track, gauges: Gauges, places: tuple[int, ...], bent: float = 0.0) -> Block:
    """Return the equations of a line read with straightedge and blades.

    `places` the readings that are not blank; `bent` the widest gap that the head ever showed [m].
    """
    shares = np.array([line.brackets[n].station for n in places]) / run.length
    build = {"bridged": _bridged, "balanced": _balanced}.get(line.mode, _rocked)
    uneven = uneven_of(bent)
    seats = build(line, _Laid(run=run, shares=shares, uneven=uneven))
    error = own_error(gauges.edge_error, gauges.edge_length, run.length)
    low, high = bounds([line.brackets[n] for n in places], math.inf if line.mode == "rocked" else SLACK.value)
    lam = (shares - run.first) / (run.last - run.first)
    at_rest = (np.minimum(np.abs(lam), np.abs(1 - lam)) < AT_A_REST) & (line.mode != "balanced")
    return Block(
        title=line.title,
        seats=replace(seats, offset=error * seats.offset, choose_offset=error * seats.choose_offset),
        edge=edge_noise(gauges, run.length) * seats.offset[0],
        own=np.where(at_rest, 0.0, uneven),
        low=low,
        high=high,
        sd=np.full(shares.size, blade_noise(gauges)),
        places=places,
        own_spots=tuple(spot_of(run, float(share)) for share in shares),
    )


def uneven_of(bent: float) -> float:
    """Return how far single places stand off the smooth shape of a head that ever gaped so wide, standard deviation [m].

    Source: `UNEVENNESS`, `FORM`.
    """
    return math.hypot(UNEVENNESS.value, FORM.value * bent)


def own_error(error: float | None, span: float | None, length: float) -> float:
    """Return the proud middle [m] over this length of an edge or plate that was measured over its span; 0 where it was not."""
    return (error or 0.0) * (length / (span or length)) ** 2


def _resting(laid: _Laid, first: Floats, second: Floats) -> tuple[Floats, Floats, Floats]:
    """Return rows `(m, k, 11)` and offsets `(m, k)` of the gaps for m pairs of rests, and the shares between them."""
    lam = (laid.shares - first[:, None]) / (second - first)[:, None]
    rows, offset = laid.metal(laid.shares)
    first_rows, first_offset = laid.metal(first)
    second_rows, second_offset = laid.metal(second)
    line_rows = (1 - lam)[..., None] * first_rows[:, None] + lam[..., None] * second_rows[:, None]
    line_offset = (1 - lam) * first_offset[:, None] + lam * second_offset[:, None]
    return rows - line_rows, offset - line_offset, lam


def _bridged(line: Line, laid: _Laid) -> Seats:
    """Return every pair of rests near the two ends; the edge takes the pair that stands highest under its middle."""
    del line
    run = laid.run
    reach = STILL.value * (run.last - run.first)
    left = run.supports[run.supports <= run.first + reach]
    right = run.supports[run.supports >= run.last - reach][::-1]
    first, second = (grid.ravel() for grid in np.meshgrid(left, right, indexing="ij"))
    first, second = first[first < second], second[first < second]
    rows, offset, lam = _resting(laid, first, second)
    at_middle = _Laid(run=run, shares=np.array([(run.first + run.last) / 2]))
    own_rows, own_offset = at_middle.metal(at_middle.shares)
    middle_rows, middle_offset, _ = _resting(at_middle, first, second)
    spots = {float(share): spot_of(run, float(share)) for share in (*left, *right)}
    return Seats(
        choose=own_rows - middle_rows[:, 0],
        choose_offset=own_offset - middle_offset[:, 0],
        rows=rows,
        offset=offset,
        rests=-laid.uneven * np.stack([1 - lam, lam], axis=2),
        spots=tuple((spots[float(a)], spots[float(b)]) for a, b in zip(first, second, strict=True)),
    )


def _rocked(line: Line, laid: _Laid) -> Seats:
    """Return the one way of a rocked edge; it turns with the place it lies on, which is known to a few hundredths."""
    first, second = rocking_rests(line, laid.run)
    rows, offset, lam = _resting(laid, np.array([first]), np.array([second]))
    far = max((b.middle for b in line.brackets if not b.blank), default=0.0)
    rough, turning = laid.uneven, math.hypot(laid.uneven, PIVOT.value * far / 2)
    return Seats(
        choose=np.zeros((1, len(STATE))),
        choose_offset=np.zeros(1),
        rows=rows,
        offset=offset,
        rests=np.stack([-rough * (1 - lam), -turning * lam], axis=2),
        spots=((spot_of(laid.run, first), (f"{line.title} pivot", 0, 0)),),
    )


def rocking_rests(line: Line, run: Track) -> tuple[float, float]:
    """Return the end that touches and the place a rocked edge lies on, as shares of the line."""
    touch = run.first if line.touching == "start" else run.last
    if line.lies_on is not None:
        return touch, line.lies_on / run.length
    inner = run.supports[np.abs(run.supports - touch) > 1e-6]  # of the deck the middle itself
    return touch, float(inner[np.argmin(np.abs(inner - (run.first + run.last) / 2))])


def _balanced(line: Line, laid: _Laid) -> Seats:
    """Return every place the edge may lie on while its ends gape alike; it takes the one nearest to it."""
    run = laid.run
    ends = np.array([run.first]), np.array([run.last])
    order = np.argsort(np.abs(run.supports - (run.first + run.last) / 2), kind="stable")
    top_rows, top_offset, _ = _resting(_Laid(run=run, shares=run.supports[order]), *ends)
    rows, offset, lam = _resting(laid, *ends)
    rests = np.stack([np.full_like(lam[0], -laid.uneven), LEVELLING.value * (2 * lam[0] - 1)], axis=1)
    level: Spot = (f"{line.title} level", 0, 0)
    return Seats(
        choose=top_rows[0],
        choose_offset=top_offset[0],
        rows=rows - top_rows[0][:, None],
        offset=offset - top_offset[0][:, None],
        rests=np.broadcast_to(rests, (order.size, *rests.shape)),
        spots=tuple((top_spot(line.title, number), level) for number in order.tolist()),
    )


def top_spot(title: str, number: int) -> Spot:
    """Return the spot a balanced edge lies on, by the number of its support."""
    return (f"{title} top", number, 0)


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


def bounds(brackets: Sequence[Bracket], slack: float) -> tuple[Floats, Floats]:
    """Return lower and upper bounds [m]; where no blade goes the lower one is `slack` below zero."""
    low = np.array([b.low for b in brackets], dtype=np.float64)
    high = np.array([b.high for b in brackets], dtype=np.float64)
    return np.where(low <= 0, -slack, low), high


def bar_block(line: Line, run: Track, places: tuple[int, ...]) -> Block:
    """Return the equation of a ground bar through the bores: undersize that passes against the minimum zone.

    `places` index of the one bracket of undersize.
    """
    towers = run.supports
    heights = run.rows(towers)
    rows = [np.zeros(len(STATE))] if towers.size < 3 else []
    widest_first = sorted(
        combinations(range(towers.size), 3), key=lambda n: (n[0] - n[2], abs(2 * n[1] - n[0] - n[2]))
    )
    for i, j, k in widest_first:
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
        two_sided=True,
    )
