r"""The shape of a head in eleven numbers, what is believed of them beforehand, and the lines of the head as rows of them.

With xi = x / length and eta = 2 y / width the deck face stands at

.. math:: z(x, y) = (bow + side\,\eta + belly\,(1 - \eta^2))\, b(\xi) + skew\, s(\xi) + peak\, p(\xi)
          + twist\, \eta\, (2\xi - 1) + dish\, (1 - \eta^2)

and a cam line at the same with its own bow, skew, peak and side (side counts where there are two lines).
All modes but twist and dish vanish at the ends. Skew and peak vanish in the middle too, so `bow` is exactly the
height of the middle over the line through the ends.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from straighten.head.records import Head
from straighten.quantiles import Floats
from straighten.readings.records import Line, Part
from straighten.sources import Cited

STATE = (
    "deck_bow",  # middle over the ends, mean of the two edges [m]
    "deck_skew",  # > 0: the front half stands higher than the rear half [m]
    "deck_peak",  # > 0: flat-topped; < 0: pointed in the middle [m]
    "deck_side",  # half of inlet-edge bow minus exhaust-edge bow [m]
    "deck_belly",  # centre-line bow over the edges' bow [m]
    "twist",  # lift of the rear inlet corner, and of the front exhaust one [m]
    "dish",  # centre line over the edges along the whole length [m]
    "cam_bow",  # cam line, middle over the ends [m]
    "cam_skew",
    "cam_peak",
    "cam_side",  # half of inlet cam bow minus exhaust cam bow [m]
)
INDEX = {name: number for number, name in enumerate(STATE)}
DECK = slice(0, 7)
CAM = slice(7, 11)
DECK_STATIONS = np.linspace(0.0, 1.0, 7)  # of the length: where the deck is looked at along its lines

_SKEW_TOP = float(np.sqrt(3)) / 18  # largest value of xi (1 - xi) (1 - 2 xi)


def bow_mode(xi: ArrayLike) -> Floats:
    """Return the parabola 4 xi (1 - xi): one in the middle, zero at the ends."""
    u = np.asarray(xi, dtype=np.float64)
    return 4 * u * (1 - u)


def skew_mode(xi: ArrayLike) -> Floats:
    """Return the cubic that vanishes at the ends and the middle, largest value one, positive in the front half."""
    u = np.asarray(xi, dtype=np.float64)
    return u * (1 - u) * (1 - 2 * u) / _SKEW_TOP


def peak_mode(xi: ArrayLike) -> Floats:
    """Return the quartic 16 u (1 - 4 u), u = xi (1 - xi): zero at ends and middle, largest value one."""
    u = np.asarray(xi, dtype=np.float64)
    u = u * (1 - u)
    return 16 * u * (1 - 4 * u)


def deck_rows(xi: ArrayLike, eta: ArrayLike) -> Floats:
    """Return the rows `(m, 11)` that turn a state into deck heights: [m] they are `rows @ state`.

    `xi` station over length, `eta` 2 y / width, `(m,)` each.
    """
    u, v = np.broadcast_arrays(np.asarray(xi, dtype=np.float64), np.asarray(eta, dtype=np.float64))
    rows = np.zeros((u.size, len(STATE)))
    crown = 1 - v**2
    rows[:, 0] = bow_mode(u)
    rows[:, 1] = skew_mode(u)
    rows[:, 2] = peak_mode(u)
    rows[:, 3] = v * bow_mode(u)
    rows[:, 4] = crown * bow_mode(u)
    rows[:, 5] = v * (2 * u - 1)
    rows[:, 6] = crown
    return rows


def cam_rows(xi: ArrayLike, line: ArrayLike = 0.0) -> Floats:
    """Return the rows `(m, 11)` that turn a state into cam-line heights over the line through the ends: [m] `rows @ state`.

    `xi` station over length, `(m,)`; `line` 0 for a single or mean cam line, +1 inlet, -1 exhaust cam, `(m,)` or a scalar.
    """
    u, v = np.broadcast_arrays(np.asarray(xi, dtype=np.float64), np.asarray(line, dtype=np.float64))
    rows = np.zeros((u.size, len(STATE)))
    rows[:, 7] = bow_mode(u)
    rows[:, 8] = skew_mode(u)
    rows[:, 9] = peak_mode(u)
    rows[:, 10] = v * bow_mode(u)
    return rows


def project_line(xi: ArrayLike, heights: ArrayLike) -> Floats:
    """Return bow, skew and peak `(..., 3)` [m] of sampled lines, exact in the middle, least squares elsewhere.

    `xi` station over length from 0 to 1, `(m,)`, symmetric about 0.5 and containing it; `heights` [m], `(..., m)`, of which
    the line through the ends is taken off.
    """
    u = np.asarray(xi, dtype=np.float64)
    z = np.asarray(heights, dtype=np.float64)
    z = z - z[..., :1] * (1 - u) - z[..., -1:] * u
    middle = z[..., int(np.argmin(np.abs(u - 0.5)))]
    rest = z - middle[..., None] * bow_mode(u)
    modes = np.stack([skew_mode(u), peak_mode(u)], axis=-1)
    others = rest @ modes @ np.linalg.inv(modes.T @ modes)
    return np.concatenate([middle[..., None], others], axis=-1)


_BOW = "overheated heads come in with up to about 1 mm of bow, 2 mm is reported; either sign is allowed"
_LEAN = (
    "the hottest cylinder need not be the middle one: the top of the bow leans by up to a fifth of the length"
)
_TOP = "flat-topped or pointed bows depart from the parabola by a tenth or two of a common bow"
_SIDE = "the exhaust side runs hotter: the edges' bows differ by up to 0.15 mm"
_SECTION = "the deck between the edges sinks or rises by hundredths where the chambers got hot"
_TWIST = "twist above 0.10 mm is rare and is then the whole trouble"

PRIOR: dict[str, Cited[float]] = {
    "deck_bow": Cited(0.5e-3, "m", _BOW, "assumed"),
    "deck_skew": Cited(0.10e-3, "m", _LEAN, "assumed"),
    "deck_peak": Cited(0.08e-3, "m", _TOP, "assumed"),
    "deck_side": Cited(0.08e-3, "m", _SIDE, "assumed"),
    "deck_belly": Cited(0.05e-3, "m", _SECTION, "assumed"),
    "twist": Cited(0.08e-3, "m", _TWIST, "assumed"),
    "dish": Cited(0.05e-3, "m", _SECTION, "assumed"),
    "cam_bow": Cited(0.5e-3, "m", _BOW, "assumed"),
    "cam_skew": Cited(0.10e-3, "m", _LEAN, "assumed"),
    "cam_peak": Cited(0.08e-3, "m", _TOP, "assumed"),
    "cam_side": Cited(0.08e-3, "m", _SIDE, "assumed"),
}  # standard deviations about zero


def prior_sd() -> Floats:
    """Return the prior standard deviation of every state number [m], shape `(11,)`."""
    return np.array([PRIOR[name].value for name in STATE])


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
    supports: Floats
    across_at: float | None = None

    def points(self, share: ArrayLike) -> tuple[Floats, Floats]:
        """Return station over length and 2 y / width at shares of the line (deck lines)."""
        t = np.asarray(share, dtype=np.float64)
        if self.across_at is not None:
            return np.full_like(t, self.across_at), 2 * t - 1
        if self.name == "front exhaust to rear inlet":
            return t, EDGE * (2 * t - 1)
        if self.name == "front inlet to rear exhaust":
            return t, EDGE * (1 - 2 * t)
        return t, np.full_like(t, _ETA[self.name])

    def rows(self, share: ArrayLike) -> Floats:
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
    """Return the track of a line named as in `DECK_LINES` or `CAM_LINES`; `across_at` station of an across line [m]."""
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
