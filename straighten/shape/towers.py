r"""What single towers stand off the smooth shape, as the blades at each of them tell it.

Eleven numbers describe a smooth head. After a few broken heats a cam line is jagged: a tower stands off them by u. Given a
state x, a reading at a tower is

.. math:: g = A x + b + G u + e

with G one at the tower itself and less the shares of its two rests, and e what blade and hand add, the bracket's own width with
it. All is normal: with mean m and covariance P before the survey, u given x has the mean m + K (g - b - A x - G m) and the
covariance P - K G P, K = P G' (G P G' + E)^-1.

Source: normal theory, Kalman's filter (derived); a bracket as an even spread over its width.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from straighten.head.records import Head
from straighten.quantiles import Floats
from straighten.readings.gauges import rectangular
from straighten.readings.records import cam_title, cams_of
from straighten.shape.modes import STATE, Spot, track
from straighten.shape.seats import Block, spot_of, top_spot, uneven_of
from straighten.shape.suspects import Examined
from straighten.sobol import sobol_normal

SEED = 67


@dataclass(frozen=True, slots=True, kw_only=True)
class Towers:
    """What the towers of one cam line stand off the smooth shape, heights counted as those of the line [m].

    `rows` `(k, 11)`, `told` `(k,)`: readings less what they would show over a head without shape; `gain` `(towers, k)`;
    `level` `(towers,)` what does not depend on the shape; `root` `(towers, towers)` of the covariance.
    """

    rows: Floats
    told: Floats
    gain: Floats
    level: Floats
    root: Floats

    def off(self, states: Floats) -> Floats:
        """Return the mean heights off the smooth shape of states `(n, 11)`, `(n, towers)` [m]."""
        return np.asarray((self.told - states @ self.rows.T) @ self.gain.T + self.level)

    def known(self, state: Floats) -> Known:
        """Return mean and covariance for one shape `(11,)`."""
        return Known(mean=self.off(state[None])[0], covariance=self.root @ self.root.T)

    def held(self, state: Floats) -> Towers:
        """Return them as they stand off one shape `(11,)`, whatever shape they are asked for."""
        nothing = self.rows[:0]
        return replace(
            self, rows=nothing, told=self.told[:0], gain=self.gain[:, :0], level=self.off(state[None])[0]
        )

    def draws(self, states: Floats, seed: int = 0) -> Floats:
        """Return one draw of the heights for every state, the first at its mean, `(n, towers)` [m]."""
        luck = sobol_normal(len(states), len(self.root), SEED + seed)
        luck[0] = 0.0
        return self.off(states) + luck @ self.root.T


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """Heights of the towers of one line off the smooth shape: `mean` `(towers,)` [m], `covariance` `(towers, towers)` [m2]."""

    mean: Floats
    covariance: Floats


def uneven_before(head: Head) -> Known:
    """Return what is known of the towers of a line that was never read: as uneven as the head may be."""
    count = len(head.towers)
    return Known(mean=np.zeros(count), covariance=uneven_of(head.bent) ** 2 * np.eye(count))


def towers_of(
    head: Head, seen: Examined, mean: Floats | None = None, known: Sequence[Known] = ()
) -> tuple[Towers, ...]:
    """Return what the towers of every cam line stand off, in the order of `cams_of`.

    What fits nothing else in the survey and was left out is a step of its tower. `mean` of the shape `(11,)` [m] tells where
    the edges touch; that of the survey alone where it is None; `known` before the survey, line by line.

    Valid: lines read with blades.
    """
    shape, found = seen.posterior.mean if mean is None else mean, []
    for number, name in enumerate(cams_of(head)):
        run = track("cam", name, head)
        spots = [spot_of(run, float(share)) for share in run.supports]
        own = [b for b in seen.equations.blocks if spots[0][0] in {spot[0] for spot in b.own_spots}]
        told = [one for block in own for one in _told(block, shape, spots, run.towards)]
        line = _given(told, known[number] if known else uneven_before(head))
        steps = np.zeros(len(spots))
        for misfit in seen.misfits:
            if misfit.part == "cam" and misfit.title == cam_title(name):
                steps[int(np.abs(run.supports - misfit.xi).argmin())] += run.towards * misfit.off
        found.append(replace(line, level=line.level + steps))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """One reading: its `row` `(11,)`; `value` over a head without shape and `noise` [m]; `moved` `(towers,)` by each tower over what that stands off; `other` what one standard deviation of each rest beside them adds [m]."""

    row: Floats
    value: float
    noise: float
    moved: Floats
    other: dict[Spot, float]


def _told(block: Block, mean: Floats, spots: list[Spot], towards: int) -> list[_Told]:
    """Return the closed brackets of a block, the edge where a shape lets it touch; one at its rest tells nothing."""
    seats, found = block.seats, []
    at = {spot: number for number, spot in enumerate(spots)}
    at |= {top_spot(block.title, number): number for number in range(len(spots))}
    way = seats.pick(mean)
    for k in np.flatnonzero(np.isfinite(block.high) & (block.own > 0)).tolist():
        moved, other = np.zeros(len(spots)), {}
        rests = zip(seats.spots[way], seats.rests[way, k].tolist(), strict=True)
        for spot, size in ((block.own_spots[k], float(block.own[k])), *rests):
            if spot in at:
                moved[at[spot]] += towards * size / block.own[k]
            else:
                other[spot] = size
        found.append(
            _Told(
                row=seats.rows[way, k],
                value=float(block.low[k] + block.high[k]) / 2 - float(seats.offset[way, k]),
                noise=math.hypot(float(block.sd[k]), rectangular(float(block.high[k] - block.low[k]) / 2)),
                moved=moved,
                other=other,
            )
        )
    return found


def _given(told: Sequence[_Told], known: Known) -> Towers:
    """Return the towers of a line under its readings."""
    count, others = len(known.mean), list(dict.fromkeys(spot for one in told for spot in one.other))
    met = np.array([[*one.moved, *(one.other.get(spot, 0.0) for spot in others)] for one in told])
    met = met.reshape(-1, count + len(others))
    before = np.eye(count + len(others))
    before[:count, :count] = known.covariance
    noise = np.diag([one.noise**2 for one in told])
    gain = (before @ met.T @ np.linalg.inv(met @ before @ met.T + noise))[:count] if told else met.T[:count]
    values, vectors = np.linalg.eigh((before[:count] - gain @ met @ before)[:, :count])
    return Towers(
        rows=np.array([one.row for one in told]).reshape(-1, len(STATE)),
        told=np.array([one.value for one in told]),
        gain=gain,
        level=known.mean - gain @ met[:, :count] @ known.mean,
        root=(vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T,
    )
