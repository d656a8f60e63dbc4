"""Readings to measurement equations: what each blade and dial should show, as a function of the eleven numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from straighten.head.records import Head
from straighten.quantiles import Floats
from straighten.readings.gauges import DIAL, UNEVENNESS, blade_noise, plate_noise
from straighten.readings.records import Bracket, Gauges, Line, OnPlate, Readings
from straighten.shape.modes import PLATE_POINTS, STATE, Spot, bow_mode, deck_rows, track_of
from straighten.shape.seats import Block, Equations, Seats, Swept, bar_block, bounds, edge_block, own_error


def swept_line(line: Line, head: Head) -> list[Swept]:
    """Return a dial or height sweep with its unknown setting and tilt taken out.

    Plus stands proud: a proud deck, lying face down, is low; a proud bore root is high.
    """
    kept = [b for b in line.brackets if not b.blank]
    run = track_of(line, head)
    shares = np.array([b.station for b in kept]) / run.length
    rows = run.rows(shares) if line.part == "cam" else -run.rows(shares)
    if line.mode == "height" and line.over == "deck":
        rows = rows - deck_rows(shares, 0.0)
    return _free(rows, kept, np.stack([np.ones_like(shares), shares], axis=1))


def swept_plate(plate: OnPlate) -> list[Swept]:
    """Return dial readings over the deck with the unknown setting and both tilts taken out."""
    kept = [p for p in plate.places if not p.reading.blank]
    xi, eta = np.array([PLATE_POINTS[p.place] for p in kept]).reshape(-1, 2).T
    free = np.stack([np.ones_like(xi), xi, eta], axis=1)
    return _free(-deck_rows(xi, eta), [p.reading for p in kept], free)


def _free(rows: Floats, kept: Sequence[Bracket], free: Floats) -> list[Swept]:
    """Return the combinations of readings that the unknown setting of the dial cannot change."""
    if len(kept) <= free.shape[1]:
        return []
    complete, _ = np.linalg.qr(free, mode="complete")
    contrast = complete[:, free.shape[1] :].T
    values = np.array([b.middle for b in kept])
    step = max((b.high or 0.0) - (b.low or 0.0) for b in kept)
    spread = math.sqrt(UNEVENNESS.value**2 + DIAL.value**2 + step**2 / 12)
    return [Swept(rows=contrast @ rows, values=contrast @ values, sd=spread)]


def plate_block(plate: OnPlate, head: Head, gauges: Gauges) -> list[Block]:
    """Return the equations of blades under a head that stands deck down on a surface plate."""
    kept = [
        (n, p) for n, p in enumerate(plate.places) if not p.reading.blank and p.place not in plate.stands_on
    ]
    if not kept or not plate.stands_on:
        return []
    weights = plane_weights(plate.stands_on, [p.place for _, p in kept])
    names = list(PLATE_POINTS)
    xi, eta = np.array([PLATE_POINTS[n] for n in names]).T
    here = np.array([names.index(p.place) for _, p in kept])
    heights, swell = deck_rows(xi, eta), bow_mode(xi)
    error = own_error(gauges.plate_error, gauges.plate_length, head.casting.length)
    low, high = bounds([p.reading for _, p in kept], math.inf)
    rough = UNEVENNESS.value * np.linalg.norm(weights, axis=1)
    spots: tuple[Spot, Spot] = ("plate", 1, 0), ("plate", 2, 0)
    count = len(kept)
    return [
        Block(
            title="deck on the plate",
            seats=Seats(
                choose=np.zeros((1, len(STATE))),
                choose_offset=np.zeros(1),
                rows=(heights[here] - weights @ heights)[None],
                offset=-error * (swell[here] - weights @ swell)[None],
                rests=np.stack([-rough, np.zeros_like(rough)], axis=1)[None],
                spots=(spots,),
            ),
            edge=np.zeros(count),
            own=np.full(count, UNEVENNESS.value),
            low=low,
            high=high,
            sd=np.full(count, math.hypot(blade_noise(gauges), plate_noise(gauges, head.casting.length))),
            places=tuple(n for n, _ in kept),
            own_spots=tuple(("plate", 3 + n, 0) for n in range(count)),
        )
    ]


def plane_weights(stands_on: Sequence[str], places: Sequence[str]) -> Floats:
    """Return the weights over all plate places that give the plate's height under some of them.

    Three places carry the head, or two opposite corners with equal gaps left under the other two. `places` is where the
    height is wanted; the weights are `(len(places), 7)` in the order of `PLATE_POINTS`.
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
    return np.asarray(wanted @ np.linalg.solve(plane, carried))


def equations_of(readings: Readings, head: Head) -> Equations:
    """Return the measurement equations of a survey; blanks are left out."""
    blocks: list[Block] = []
    swept: list[Swept] = []
    for line in readings.lines:
        if line.mode in ("dial", "height"):
            swept.extend(swept_line(line, head))
        else:
            blocks.extend(line_block(line, head, readings.gauges))
    if readings.plate is not None:
        if readings.plate.mode == "dial":
            swept.extend(swept_plate(readings.plate))
        else:
            blocks.extend(plate_block(readings.plate, head, readings.gauges))
    return Equations(blocks=tuple(blocks), swept=tuple(swept))


def line_block(line: Line, head: Head, gauges: Gauges) -> list[Block]:
    """Return the equations of one line read with blades or a bar; empty where all of it is blank."""
    places = tuple(n for n, b in enumerate(line.brackets) if not b.blank)
    if not places:
        return []
    run = track_of(line, head)
    return [
        bar_block(line, run, places)
        if line.mode == "bar"
        else edge_block(line, run, gauges, places, head.bent)
    ]
