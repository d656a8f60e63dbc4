r"""What single towers stand off the smooth shape, as the blades at each of them tell it.

Eleven numbers describe a smooth head. After a few broken heats a cam line is jagged: a tower stands off them by u, which is
independent from tower to tower before it is read. Given a state x, a reading at a tower is

.. math:: g = A x + b + G u + e

with G one at the tower itself and less the shares of its two rests, and e what blade and hand add, the bracket's own width with
it. All is normal, so that u given x has the mean K (g - b - A x) and the covariance 1 - K G, K = G' (G G' + E)^-1.

Source: normal theory (derived); a bracket as an even spread over its width.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from straighten.head.records import Head
from straighten.quantiles import Floats
from straighten.readings.gauges import UNEVENNESS, rectangular
from straighten.readings.records import cam_title, cams_of
from straighten.shape.modes import STATE, Spot, track
from straighten.shape.records import Misfit
from straighten.shape.seats import FORM, Block, Equations, spot_of
from straighten.sobol import sobol_normal

SEED = 67


@dataclass(frozen=True, slots=True, kw_only=True)
class Towers:
    """What the towers of one cam line stand off the smooth shape.

    `rows` `(k, 11)`, `told` `(k,)` [m]: readings less what they would show over a head without shape; `gain` `(towers, k)`;
    `root` `(towers, towers)` of their covariance [m]; `steps` `(towers,)` heights that were left out of the shape
    because they fit nothing else, and were read twice [m]. Heights count as those of the line do.
    """

    rows: Floats
    told: Floats
    gain: Floats
    root: Floats
    steps: Floats

    def off(self, states: Floats) -> Floats:
        """Return the mean heights off the smooth shape of states `(n, 11)`, `(n, towers)` [m]."""
        mean: Floats = (self.told - states @ self.rows.T) @ self.gain.T + self.steps
        return mean

    @property
    def sd(self) -> float:
        """How well the heights are known for a given state, standard deviation in the mean of the towers [m]."""
        return math.sqrt(float(np.sum(self.root**2)) / len(self.root))

    def draws(self, states: Floats, seed: int = 0) -> Floats:
        """Return one draw of the heights for every state, the first at its mean, `(n, towers)` [m]."""
        luck = sobol_normal(len(states), len(self.root), SEED + seed)
        luck[0] = 0.0
        return self.off(states) + luck @ self.root.T


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """One reading: its `row` `(11,)`, `value` over a head without shape and `noise` [m]; what one standard deviation of each spot moves it by [m]."""

    row: Floats
    value: float
    noise: float
    moved: dict[Spot, float]

    @classmethod
    def every(cls, block: Block, mean: Floats) -> list[_Told]:
        """Return the closed brackets of a block, the edge where a shape lets it touch."""
        seats = block.seats
        way, found = seats.pick(mean), []
        for k in np.flatnonzero(np.isfinite(block.high)).tolist():
            moved: dict[Spot, float] = {block.own_spots[k]: float(block.own[k])}
            for spot, rest in zip(seats.spots[way], seats.rests[way, k], strict=True):
                moved[spot] = moved.get(spot, 0.0) + float(rest)
            width = float(block.high[k] - block.low[k])
            found.append(
                cls(
                    row=seats.rows[way, k],
                    value=float(block.low[k] + block.high[k]) / 2 - float(seats.offset[way, k]),
                    noise=math.hypot(float(block.sd[k]), rectangular(width / 2)),
                    moved=moved,
                )
            )
        return found


def towers_of(
    equations: Equations, head: Head, mean: Floats, misfits: Sequence[Misfit] = ()
) -> tuple[Towers, ...]:
    """Return what the towers of every cam line stand off, in the order of `cams_of`.

    Args:
        equations: of a survey, the readings that do not fit left out.
        head: its towers.
        mean: of the shape `(11,)` [m]; it tells where the edges touch.
        misfits: the readings that were left out.

    Valid: lines read with blades; towers of a line that was not read so are as uneven as the head may be.
    """
    uneven = math.hypot(UNEVENNESS.value, FORM.value * head.bent)
    found = []
    for name in cams_of(head):
        run = track("cam", name, head)
        spots = [spot_of(run, float(share)) for share in run.supports]
        own = [b for b in equations.blocks if spots[0][0] in {spot[0] for spot in b.own_spots}]
        steps = np.zeros(len(spots))
        for misfit in misfits:
            if misfit.part == "cam" and misfit.title == cam_title(name):
                steps[int(np.abs(run.supports - misfit.xi).argmin())] += run.towards * misfit.off
        found.append(
            replace(
                _given([one for b in own for one in _Told.every(b, mean)], spots, run.towards * uneven),
                steps=steps,
            )
        )
    return tuple(found)


def _given(told: Sequence[_Told], spots: list[Spot], uneven: float) -> Towers:
    """Return the towers at some spots under the readings; `uneven` their standard deviation, signed as they stand towards the edge [m]."""
    columns = list(dict.fromkeys([*spots, *(spot for one in told for spot in one.moved)]))
    met = np.array([[one.moved.get(spot, 0.0) for spot in columns] for one in told]).reshape(-1, len(columns))
    noise = np.diag([one.noise**2 for one in told])
    gain = met.T @ np.linalg.inv(met @ met.T + noise) if told else met.T
    here = slice(0, len(spots))
    values, vectors = np.linalg.eigh((np.eye(len(columns)) - gain @ met)[here, here])
    return Towers(
        rows=np.array([one.row for one in told]).reshape(-1, len(STATE)),
        told=np.array([one.value for one in told]),
        gain=uneven * gain[here],
        root=uneven * (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T,
        steps=np.zeros(len(spots)),
    )
