"""Measurement equations as records: how an edge may touch, the readings of a line, a dial sweep, all of a survey."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.shape.lines import Spot

    Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seats:
    """The ways in which the edge (or bar, or plate) may touch: for a given shape the one with the least `choose`.

    `choose` `(m, 11)`, `choose_offset` `(m,)`; `rows` `(m, k, 11)` and `offset` `(m, k)`: gap = rows @ state +
    offset [m]; `rests` `(m, k, 2)` what a standard deviation of unevenness under either rest adds to each gap [m];
    `spots` the two spots of the head under the rests, per way. The first way is the usual one.
    """

    choose: Array
    choose_offset: Array
    rows: Array
    offset: Array
    rests: Array
    spots: tuple[tuple[Spot, Spot], ...]

    def pick(self, state: Array) -> int:
        """Return which way the edge touches a shape."""
        return int(np.argmin(self.choose @ state + self.choose_offset))

    def gaps(self, states: Array) -> Array:
        """Return the gaps of many states over an even face [m], shape `(n, k)`."""
        if len(self.spots) == 1:
            one: Array = states @ self.rows[0].T + self.offset[0]
            return one
        ways, readings = self.offset.shape
        picked = np.argmin(states @ self.choose.T + self.choose_offset, axis=1)
        every = (states @ self.rows.reshape(ways * readings, -1).T).reshape(
            len(states), ways, readings
        ) + self.offset
        gaps: Array = every[np.arange(len(states)), picked]
        return gaps


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
    edge: Array
    own: Array
    low: Array
    high: Array
    sd: Array
    places: tuple[int, ...]
    own_spots: tuple[Spot, ...]
    two_sided: bool = False

    @property
    def noise(self) -> Array:
        """Noise of each reading by itself [m], the unevenness at its place included."""
        together: Array = np.hypot(self.sd, self.own)
        return together


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
