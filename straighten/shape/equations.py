r"""Readings to measurement equations: what each blade should find, as a function of the eleven numbers.

Let f be the height of the line over (deck) or under (cam) any straight line, so that a straightedge sees hollows
as f > 0. With rests at shares a and b of the line and the edge's own proud middle p,

.. math:: gap(t) = (f - p)(t) - (1 - \lambda)(f - p)(a) - \lambda (f - p)(b), \quad \lambda = (t - a)/(b - a)

bridged: a, b are the outermost supports. Rocked: a is the end that touches, b the place the edge lies on: on a
bow of height h the other end then gapes by 2 h. Balanced: a, b outermost, and the least value over all supports is
taken off, so that the ends gape alike. A bar that passes with undersize c says that the minimum zone of the line
is at most c, and that zone is the largest distance of a middle tower from the chord of two others.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Literal

import numpy as np

from straighten.readings.gauges import (
    DIAL,
    LEVELLING,
    PIVOT,
    UNEVENNESS,
    blade_noise,
    edge_noise,
    plate_noise,
    rectangular,
)
from straighten.shape.lines import PLATE_POINTS, Track, track_of
from straighten.shape.modes import STATE, deck_rows
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.readings.records import Bracket, Gauges, Line, OnPlate, Readings

    Array = NDArray[np.float64]

SLACK = Cited(20e-6, "m", "an edge lying on a swelling this high is not yet felt to rock", "assumed")
BAR = Cited(5e-6, "m", "half-width of a ground bar's size and straightness", "assumed")
AT_A_REST = 0.012  # a reading this near to a rest, as a share of the line, is taken at the rest


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """The part of an equation that depends on where the edge touches.

    For the readings `which`, the least of `rows @ state + offset` is taken off ("least") or the largest absolute
    value is added ("zone").
    """

    kind: Literal["least", "zone"]
    which: NDArray[np.intp]
    rows: Array
    offset: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """All bracketed readings of one line, as equations.

    `rows` `(k, 11)` and `offset` `(k,)`: gap = rows @ state + offset [m]; `rests` `(k, 2)` and `edge` `(k,)`: what a
    standard deviation of unevenness under each rest, and of the straightedge's own error, adds to the gap [m];
    `low`, `high`, `sd` `(k,)` [m]; `places` index of each reading in its line.
    """

    title: str
    rows: Array
    offset: Array
    rests: Array
    edge: Array
    low: Array
    high: Array
    sd: Array
    places: tuple[int, ...]
    contact: Contact | None = None

    def at(self, state: Array) -> tuple[Array, Array]:
        """Return rows and offset with the contacts of one state put in."""
        if self.contact is None:
            return self.rows, self.offset
        values = self.contact.rows @ state + self.contact.offset
        rows, offset = self.rows.copy(), self.offset.copy()
        if self.contact.kind == "least":
            touch = int(np.argmin(values))
            rows -= self.contact.rows[touch]
            offset -= self.contact.offset[touch]
        else:
            touch = int(np.argmax(np.abs(values)))
            sign = 1.0 if values[touch] >= 0 else -1.0
            rows += sign * self.contact.rows[touch]
        return rows, offset

    def gaps(self, states: Array) -> Array:
        """Return the gaps of many states [m], shape `(n, k)`, over a perfectly even face."""
        gaps: Array = states @ self.rows.T + self.offset
        if self.contact is None:
            return gaps
        values = states @ self.contact.rows.T + self.contact.offset
        least = self.contact.kind == "least"
        gaps += -values.min(axis=1, keepdims=True) if least else np.abs(values).max(axis=1, keepdims=True)
        return gaps


@dataclass(frozen=True, slots=True, kw_only=True)
class Swept:
    """Dial readings of one sweep, free of its setting: `rows` `(d, 11)`, `values` `(d,)`, one `sd` [m]."""

    title: str
    rows: Array
    values: Array
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Equations:
    """Everything that was measured, as blocks of bracketed readings and dial sweeps."""

    blocks: tuple[Block, ...]
    swept: tuple[Swept, ...]

    @property
    def count(self) -> int:
        """Number of readings that carry information."""
        return sum(len(b.places) for b in self.blocks) + sum(s.values.size for s in self.swept)


def equations_of(readings: Readings, head: Head) -> Equations:
    """Return the measurement equations of a survey; blanks are left out."""
    blocks: list[Block] = []
    swept: list[Swept] = []
    for line in readings.lines:
        if line.mode in ("dial", "height"):
            swept.extend(seen_line(line, head))
        else:
            blocks.extend(line_block(line, head, readings.gauges))
    if readings.plate is not None:
        if readings.plate.mode == "dial":
            swept.extend(_swept_plate(readings.plate))
        else:
            blocks.extend(_plate_block(readings.plate, head, readings.gauges))
    return Equations(blocks=tuple(blocks), swept=tuple(swept))


def line_block(line: Line, head: Head, gauges: Gauges) -> list[Block]:
    """Return the equations of one line read with blades or a bar; empty where all of it is blank."""
    places = tuple(n for n, b in enumerate(line.brackets) if not b.blank)
    if not places:
        return []
    run = track_of(line, head)
    if line.mode == "bar":
        return [_bar(line, run, places)]
    return [_edge(line, run, gauges, places)]


def _edge(line: Line, run: Track, gauges: Gauges, places: tuple[int, ...]) -> Block:
    t = np.array([line.brackets[n].station for n in places]) / run.length
    first, second = rests_of(line, run)
    lam = (t - first) / (second - first)
    seen = run.towards * run.rows(t) - _through(run, first, second, lam)
    proud = _proud(t) - (1 - lam) * _proud(first) - lam * _proud(second)
    error = _edge_error(gauges, run.length)
    low, high = bounds(
        [line.brackets[n] for n in places], SLACK.value if line.mode == "bridged" else math.inf
    )
    contact = _least(run, error) if line.mode == "balanced" else None
    return Block(
        title=line.title,
        rows=seen,
        offset=-error * proud,
        rests=_rest_weights(line, lam),
        edge=-edge_noise(gauges, run.length) * _balanced_proud(line, run, proud),
        low=low,
        high=high,
        sd=_noise(line, lam, gauges, np.array([line.brackets[n].middle for n in places])),
        places=places,
        contact=contact,
    )


def rests_of(line: Line, run: Track) -> tuple[float, float]:
    """Return the two places that carry the straightedge, as shares of the line."""
    if line.mode != "rocked":
        return run.first, run.last
    touch = run.first if line.touching == "start" else run.last
    if line.lies_on is not None:
        return touch, line.lies_on / run.length
    middle = (run.first + run.last) / 2
    if run.part == "cam":
        inner = run.supports[np.abs(run.supports - touch) > 1e-6]
        middle = float(inner[np.argmin(np.abs(inner - middle))])
    return touch, middle


def _through(run: Track, first: float, second: float, lam: Array) -> Array:
    ends = run.towards * run.rows(np.array([first, second]))
    line: Array = (1 - lam)[:, None] * ends[0] + lam[:, None] * ends[1]
    return line


def _proud(t: Array | float) -> Array:
    u = np.asarray(t, dtype=np.float64)
    return 4 * u * (1 - u)


def _balanced_proud(line: Line, run: Track, proud: Array) -> Array:
    """Return the edge's own parabola as this way of sitting shows it: balanced, the contact lies near its middle."""
    if line.mode != "balanced":
        return proud
    t = (run.first + run.last) / 2
    top = _proud(t) - (_proud(run.first) + _proud(run.last)) / 2
    shown: Array = proud - top
    return shown


def _edge_error(gauges: Gauges, length: float) -> float:
    """Return the measured proud middle of the straightedge over this line [m]; 0 where it was not measured."""
    if gauges.edge_error is None:
        return 0.0
    span = gauges.edge_length or length
    return gauges.edge_error * (length / span) ** 2


def _least(run: Track, error: float) -> Contact:
    t = run.supports
    lam = (t - run.first) / (run.last - run.first)
    rows = run.towards * run.rows(t) - _through(run, run.first, run.last, lam)
    proud = _proud(t) - (1 - lam) * _proud(run.first) - lam * _proud(run.last)
    return Contact(kind="least", which=np.arange(t.size), rows=rows, offset=-error * proud)


def _rest_weights(line: Line, lam: Array) -> Array:
    """Return what unevenness under the two rests does to each reading [m per standard deviation]."""
    rough = UNEVENNESS.value
    if line.mode == "balanced":
        return np.stack([np.full_like(lam, -rough), LEVELLING.value * (2 * lam - 1)], axis=1)
    return np.stack([-rough * (1 - lam), -rough * lam], axis=1)


def _noise(line: Line, lam: Array, gauges: Gauges, middle: Array) -> Array:
    """Return the noise of each reading by itself [m]: blade, feel, unevenness there, place of a rocked edge."""
    at_rest = np.minimum(np.abs(lam), np.abs(lam - 1)) < AT_A_REST
    rough = np.where(at_rest & (line.mode != "balanced"), 0.0, UNEVENNESS.value)
    pivot = PIVOT.value * np.abs(middle) if line.mode == "rocked" else 0.0
    spread: Array = np.sqrt(blade_noise(gauges) ** 2 + rough**2 + pivot**2)
    return spread


def bounds(brackets: Sequence[Bracket], slack: float) -> tuple[Array, Array]:
    """Return lower and upper bounds [m]; where no blade goes the lower one is `slack` below nought."""
    low = np.array([b.low for b in brackets], dtype=np.float64)
    high = np.array([b.high for b in brackets], dtype=np.float64)
    return np.where(low <= 0, -slack, low), high


def _bar(line: Line, run: Track, places: tuple[int, ...]) -> Block:
    towers = run.supports
    triples = list(combinations(range(towers.size), 3))
    heights = run.rows(towers)
    rows = np.zeros((max(1, len(triples)), len(STATE)))
    for n, (i, j, k) in enumerate(triples):
        lam = (towers[j] - towers[i]) / (towers[k] - towers[i])
        rows[n] = heights[j] - (1 - lam) * heights[i] - lam * heights[k]
    bracket = line.brackets[places[0]]
    low, high = bounds([bracket], math.inf)
    spread = math.hypot(rectangular(BAR.value), UNEVENNESS.value)
    return Block(
        title=line.title,
        rows=np.zeros((1, len(STATE))),
        offset=np.zeros(1),
        rests=np.zeros((1, 2)),
        edge=np.zeros(1),
        low=low,
        high=high,
        sd=np.array([spread]),
        places=places,
        contact=Contact(kind="zone", which=np.arange(1), rows=rows, offset=np.zeros(rows.shape[0])),
    )


def seen_line(line: Line, head: Head) -> list[Swept]:
    """Return a dial or height sweep with its unknown setting and tilt taken out."""
    kept = [b for b in line.brackets if not b.blank]
    run = track_of(line, head)
    t = np.array([b.station for b in kept]) / run.length
    rows = run.rows(t) if line.part == "cam" else -run.rows(t)
    if line.mode == "height" and line.over == "deck":
        rows = rows - deck_rows(t, 0.0)
    free = np.stack([np.ones_like(t), t], axis=1)
    return _free(line.title, rows, kept, free)


def _swept_plate(plate: OnPlate) -> list[Swept]:
    kept = [p for p in plate.places if not p.reading.blank]
    xi, eta = (
        (np.array(c) for c in zip(*(PLATE_POINTS[p.place] for p in kept), strict=True)) if kept else _NONE
    )
    free = np.stack([np.ones_like(xi), xi, eta], axis=1)
    return _free("deck on the plate", -deck_rows(xi, eta), [p.reading for p in kept], free)


_NONE = (np.zeros(0), np.zeros(0))


def _free(title: str, rows: Array, kept: Sequence[Bracket], free: Array) -> list[Swept]:
    """Return the combinations of readings that the unknown setting of the dial cannot change."""
    if len(kept) <= free.shape[1]:
        return []
    complete, _ = np.linalg.qr(free, mode="complete")
    contrast = complete[:, free.shape[1] :].T
    values = np.array([b.middle for b in kept])
    step = max((b.high or 0.0) - (b.low or 0.0) for b in kept)
    spread = math.sqrt(UNEVENNESS.value**2 + DIAL.value**2 + step**2 / 12)
    return [Swept(title=title, rows=contrast @ rows, values=contrast @ values, sd=spread)]


def _plate_block(plate: OnPlate, head: Head, gauges: Gauges) -> list[Block]:
    kept = [
        (n, p) for n, p in enumerate(plate.places) if not p.reading.blank and p.place not in plate.stands_on
    ]
    if not kept or not plate.stands_on:
        return []
    weights = plane_weights(plate.stands_on, [p.place for _, p in kept])
    names = list(PLATE_POINTS)
    xi, eta = np.array([PLATE_POINTS[n] for n in names]).T
    here = np.array([names.index(p.place) for _, p in kept])
    rows_all = deck_rows(xi, eta)
    proud_all = _proud(xi)
    span = gauges.plate_length or head.casting.length
    error = (gauges.plate_error or 0.0) * (head.casting.length / span) ** 2
    low, high = bounds([p.reading for _, p in kept], math.inf)
    rough = UNEVENNESS.value * np.linalg.norm(weights, axis=1)
    own = plate_noise(gauges, head.casting.length)
    return [
        Block(
            title="deck on the plate",
            rows=rows_all[here] - weights @ rows_all,
            offset=-error * (proud_all[here] - weights @ proud_all),
            rests=np.stack([-rough, np.zeros_like(rough)], axis=1),
            edge=np.zeros(len(kept)),
            low=low,
            high=high,
            sd=np.full(len(kept), math.sqrt(blade_noise(gauges) ** 2 + UNEVENNESS.value**2 + own**2)),
            places=tuple(n for n, _ in kept),
        )
    ]


def plane_weights(stands_on: Sequence[str], places: Sequence[str]) -> Array:
    """Return the weights over all plate places that give the plate's height under some of them.

    Three places carry the head, or two opposite corners with equal gaps left under the other two.

    Args:
        stands_on: the places that touch.
        places: where the height is wanted.

    Returns:
        Array `(len(places), 7)` in the order of `PLATE_POINTS`.
    """
    names = list(PLATE_POINTS)
    carried = np.zeros((3, len(names)))
    if len(stands_on) == 3:
        points = [PLATE_POINTS[name] for name in stands_on]
        carried[[0, 1, 2], [names.index(name) for name in stands_on]] = 1.0
    else:
        first, second = stands_on
        others = [name for name in names[:4] if name not in stands_on]
        points = [PLATE_POINTS[first], PLATE_POINTS[second], PLATE_POINTS[others[0]]]
        carried[0, names.index(first)] = carried[1, names.index(second)] = 1.0
        for name, weight in zip((first, second, *others), (0.5, 0.5, 0.5, -0.5), strict=True):
            carried[2, names.index(name)] = weight
    plane = np.array([[1.0, x, y] for x, y in points])
    wanted = np.array([[1.0, *PLATE_POINTS[name]] for name in places])
    weights: Array = wanted @ np.linalg.solve(plane, carried)
    return weights
