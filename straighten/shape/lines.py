"""Where the lines run: every line of the deck and the cams as points of the head and rows of the state."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.shape.modes import cam_rows, deck_rows

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from straighten.head.records import Head
    from straighten.readings.records import Line, Part

    Array = NDArray[np.float64]

Spot = tuple[str, int, int]  # a place of the head, coarse enough that lines which cross there share it
SPOT_SIZE = 15e-3  # readings nearer to each other than this meet the same unevenness [m]
EDGE = 0.9  # an edge line is read a twentieth of the width inside the edge: 2 y / width
_ETA = {"exhaust edge": -EDGE, "centre": 0.0, "inlet edge": EDGE}
_CAM_SIDE = {"single": 0.0, "exhaust": -1.0, "inlet": 1.0}
PLATE_POINTS = {
    "front exhaust": (0.0, -1.0),
    "front inlet": (0.0, 1.0),
    "rear exhaust": (1.0, -1.0),
    "rear inlet": (1.0, 1.0),
    "middle exhaust": (0.5, -1.0),
    "middle inlet": (0.5, 1.0),
    "middle": (0.5, 0.0),
}  # station over length, 2 y / width


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """One line of the head: where it runs and over which stretch a straightedge can rest.

    `length` of the line, `head_length`, `half_width` of the head [m]; `first`, `last` the outermost places of support as shares of the length; `supports` all shares at
    which an edge can touch.
    """

    part: Part
    name: str
    length: float
    head_length: float
    half_width: float
    first: float
    last: float
    supports: NDArray[np.float64]
    across_at: float | None = None

    def points(self, share: ArrayLike) -> tuple[Array, Array]:
        """Return station over length and 2 y / width at shares of the line (deck lines)."""
        t = np.asarray(share, dtype=np.float64)
        if self.across_at is not None:
            return np.full_like(t, self.across_at), 2 * t - 1
        if self.name == "front exhaust to rear inlet":
            return t, EDGE * (2 * t - 1)
        if self.name == "front inlet to rear exhaust":
            return t, EDGE * (1 - 2 * t)
        return t, np.full_like(t, _ETA[self.name])

    def rows(self, share: ArrayLike) -> Array:
        """Return the rows that turn a state into heights z [m] at shares of the line, shape `(m, 11)`."""
        if self.part == "cam":
            return cam_rows(share, _CAM_SIDE[self.name])
        return deck_rows(*self.points(share))

    @property
    def towards(self) -> int:
        """Sign of z for metal that stands away from the straightedge: an edge lies under the deck, over the cams."""
        return 1 if self.part == "deck" else -1


def track_of(line: Line, head: Head) -> Track:
    """Return where a line of readings runs on a head."""
    return track(line.part, line.name, head, line.across_at)


def track(part: Part, name: str, head: Head, across_at: float | None = None) -> Track:
    """Return the track of a named line.

    Args:
        part: deck or cam.
        name: as in `DECK_LINES` or `CAM_LINES`.
        head: the head.
        across_at: station of an across line [m].
    """
    length = head.casting.width if across_at is not None else head.casting.length
    supports = np.sort(np.array(head.towers)) / length if part == "cam" else np.linspace(0.0, 1.0, 17)
    return Track(
        part=part,
        name=name,
        length=length,
        head_length=head.casting.length,
        half_width=head.casting.width / 2,
        first=float(supports[0]),
        last=float(supports[-1]),
        supports=supports,
        across_at=None if across_at is None else across_at / head.casting.length,
    )
