"""What a shape after a pass is worth: about how many passes are still missing, overshoot weighed far heavier."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.shape.limits import zones
from straighten.shape.modes import CAM, INDEX, PRIOR, bow_mode, cam_rows, deck_rows, peak_mode, skew_mode
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Head

    Floats = NDArray[np.float64]

OUT: Final = Cited(0.6, "passes", "a head outside a limit needs another pass, or most of one", "assumed")
FURTHER: Final = Cited(0.30, "passes per limit", "the further out, the more passes", "assumed")
PAST: Final = Cited(
    2.0, "passes", "bending back costs a whole reverse set-up, and heat spots cannot do it", "assumed"
)
CENTRED: Final = Cited(0.12, "", "inside a limit straighter is still better: less to sand", "assumed")
BLUR: Final = Cited(0.08, "of the limit", "a limit is not known, nor met, more sharply than this", "assumed")
REACH_BLUR: Final = Cited(
    0.25, "of the limit", "how sharply is known what heat can no longer take", "assumed"
)
SANDABLE: Final = Cited(0.8, "", "the deck can still be sanded, the cam line cannot", "assumed")
MOST_OVERSHOOT: Final = Cited(
    0.025,
    "",
    "chance of a pass to go past straight by more than the limit: 5 % of a job of two passes",
    "assumed",
)
TIME_LOSS: Final = Cited(0.002, "passes", "per spot, and per tenth of an hour of soak", "assumed")
_BENDS: Final = 17  # stations at which a line's bends are looked at
_POINTS: Final = np.linspace(0.05, 0.95, 7)  # of a line, where its bores may be
_SHARES: Final = (0.0, 0.25, 0.5, 0.75, 1.0)  # of the bends that heat can take, left where they are
UNTOLD: Final = Cited(
    0.7, "of the prior spread", "a shape number known no better was not measured", "assumed"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """Probabilities after a pass: cam line and deck inside their limits, both, and past straight by more than the limit."""

    cam: float
    deck: float
    both: float
    overshoot: float


def direction_of(states: Floats, weights: Floats) -> int:
    """Return +1 where the middle is to come down, -1 where it is to go up: by the cam line first, then the deck."""
    cam = float(weights @ states[:, INDEX["cam_bow"]])
    deck = float(weights @ states[:, INDEX["deck_bow"]])
    return 1 if cam + 0.5 * deck >= 0 else -1


def cam_out(head: Head, states: Floats) -> Floats:
    """Return how far the cam line is out of straight over its towers [m], bow, lean and all, `(n,)`.

    With two cam lines the worse of them counts.

    Args:
        head: towers and number of cam lines.
        states: shapes `(n, 11)` [m].

    Source:
        Minimum zone straightness, ISO 12780-1:2011 (from memory).

    Valid:
        At least three towers; fewer are never out.
    """
    xi = np.asarray(head.towers) / head.casting.length
    lines = (0.0,) if head.cam_lines == 1 else (-1.0, 1.0)
    worst: Floats = np.max([zones(xi, states @ cam_rows(xi, line).T) for line in lines], axis=0)
    return worst


def deck_out(states: Floats) -> Floats:
    """Return how far the deck is out of flat [m], bow, lean, twist and all, `(n,)`.

    Args:
        states: shapes `(n, 11)` [m].

    Source:
        Least squares flatness, ISO 12781-1:2011 (from memory).

    Valid:
        Seven stations on three lines; local dips are not in the state.
    """
    flat: Floats = np.ptp(states @ _off_plane().T, axis=1)
    return flat


@lru_cache(maxsize=1)
def _off_plane() -> Floats:
    """Return the rows that turn a state into heights over the least squares plane, `(21, 11)`."""
    xi, eta = (v.ravel() for v in np.meshgrid(np.linspace(0, 1, 7), np.array([-1.0, 0.0, 1.0])))
    plane = np.stack([np.ones_like(xi), xi, eta], axis=1)
    rows = deck_rows(xi, eta)
    off: Floats = rows - plane @ np.linalg.lstsq(plane, rows, rcond=None)[0]
    return off


def shape_loss(head: Head, after: Floats, direction: int) -> Floats:
    r"""Return the loss of every draw, in passes that are still missing.

    With r how far cam line and deck are out of straight over their limits, and p how much of the cam line's heat on
    this side can no longer take (`out_of_reach`),

    .. math:: m(r_{cam}) + s\,m(r_{deck}) + 2\,o_{0.25}(p),\qquad
              m(r) = o(r)\,(0.6 + 0.3\,(r - 1)^+) + 0.12\,r^2,\qquad o(r) = 1 / (1 + e^{-(r - 1)/0.08})

    Args:
        head: gives the limits.
        after: shapes after the pass [m], `(n, 11)`.
        direction: +1 where the middle comes down.

    Source:
        Expected loss; the figures are assumed and stand as `Cited` above.

    Valid:
        Deck and cam line together; twist and lean count as what they put the lines out of straight.
    """
    cam = cam_out(head, after) / head.limits.cam_line.value
    deck = deck_out(after) / head.limits.deck_overall.value
    past = out_of_reach(after, direction) / head.limits.cam_line.value
    back = PAST.value * _beyond(past, REACH_BLUR.value)
    loss: Floats = _missing(cam) + SANDABLE.value * _missing(deck) + back
    return loss


def out_of_reach(states: Floats, direction: int) -> Floats:
    r"""Return how far the cam line stays out of straight whatever heat still takes [m], `(n,)`.

    Heat on one side bends a line one way only. With its bends split by sign, those the other way stay, and of the rest
    a share may stay to make up for them:

    .. math:: w = \min_{0 \le \lambda \le 1} \mathrm{zone}\left(\int G\, (\max(d z'', 0) + \lambda \min(d z'', 0))\right)

    A line past straight stays out by its whole bow; one that leans, or was heated in the middle alone, by a part.

    Args:
        states: shapes `(n, 11)` [m].
        direction: +1 where the middle comes down.

    Source: Green's function of a string with fixed ends, G (derived).
    Valid: smooth lines; heat can be given at any station.
    """
    curvature, falls = _bends()
    bends = direction * (states[:, CAM][:, :3] @ curvature.T)
    stay, go = np.maximum(bends, 0.0) @ falls, np.minimum(bends, 0.0) @ falls
    least: Floats = np.min([zones(_POINTS, stay + share * go) for share in _SHARES], axis=0)
    return least


@lru_cache(maxsize=1)
def _bends() -> tuple[Floats, Floats]:
    """Return the second derivative of the cam line's modes at stations `(m, 3)`, and how far a bend there lowers the points `(m, p)`."""
    xi = (np.arange(_BENDS) + 0.5) / _BENDS
    line = np.linspace(0.0, 1.0, 4 * _BENDS + 1)
    modes = [bow_mode(line), skew_mode(line), peak_mode(line)]
    second = [np.gradient(np.gradient(mode, line), line) for mode in modes]
    curvature = np.stack([np.interp(xi, line, values) for values in second], axis=1)
    falls = np.minimum(xi[:, None], _POINTS) * (1 - np.maximum(xi[:, None], _POINTS)) / _BENDS
    return curvature, falls


def _missing(ratio: Floats) -> Floats:
    missing: Floats = (
        _beyond(ratio) * (OUT.value + FURTHER.value * np.maximum(ratio - 1, 0.0)) + CENTRED.value * ratio**2
    )
    return missing


def settled(states: Floats, weights: Floats) -> Floats:
    """Return the shapes with what no reading has told (twist, dish, belly) put at its mean.

    Lengthwise lines alone say nothing of the twist: its prior spread would drown what a pass does to the bow.

    Args:
        states: shapes `(n, 11)` [m].
        weights: `(n,)`, sum one.

    Source:
        Posterior spread against prior spread (derived).

    Valid:
        For comparing set-ups and for chances of what was measured; a caveat tells of what was not.
    """
    fixed = states.copy()
    for name in ("twist", "dish", "deck_belly"):
        column = fixed[:, INDEX[name]]
        mean = float(weights @ column)
        if float(weights @ (column - mean) ** 2) ** 0.5 > UNTOLD.value * PRIOR[name].value:
            fixed[:, INDEX[name]] = mean
    return fixed


def _beyond(ratio: Floats, blur: float = BLUR.value) -> Floats:
    """Return 0 inside a limit, 1 outside, blurred."""
    beyond: Floats = 1 / (1 + np.exp(-np.clip((ratio - 1) / blur, -60, 60)))
    return beyond


def chances(head: Head, after: Floats, weights: Floats, direction: int) -> Chances:
    """Return the probabilities of ending inside the limits and of overshooting.

    Args:
        head: gives the limits.
        after: shapes after the pass [m], `(n, 11)`.
        weights: `(n,)`, sum one.
        direction: +1 where the middle comes down.

    Source:
        Counts of weighted draws (derived).

    Valid:
        Any draws.
    """
    after = settled(after, weights)
    cam_in = cam_out(head, after) <= head.limits.cam_line.value
    deck_in = deck_out(after) <= head.limits.deck_overall.value
    past = direction * after[:, INDEX["cam_bow"]] < -head.limits.cam_line.value
    return Chances(
        cam=float(weights @ cam_in),
        deck=float(weights @ deck_in),
        both=float(weights @ (cam_in & deck_in)),
        overshoot=float(weights @ past),
    )
