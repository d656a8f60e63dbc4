"""What a shape after a pass is worth: about how many passes are still missing, overshoot weighed far heavier."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.head.records import metal_left
from straighten.shape.limits import zones
from straighten.shape.modes import INDEX, PRIOR, cam_rows, deck_rows
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Head

    Floats = NDArray[np.float64]

OUT: Final = Cited(0.6, "passes", "a head outside a limit needs another pass, or most of one", "assumed")
FURTHER: Final = Cited(0.6, "passes per limit", "the further out, the more passes", "assumed")
LOST: Final = Cited(
    4.0,
    "passes",
    "a job that heat can no longer end: line boring or another head costs so many",
    "assumed",
)
CENTRED: Final = Cited(0.12, "", "inside a limit straighter is still better: less to sand", "assumed")
SANDING: Final = Cited(
    0.3, "passes", "a deck to be sanded, and once more all the metal that may come off", "assumed"
)
CLEAN_UP: Final = Cited(
    15e-6, "m", "sanded off beside the bow before the whole face shines", "common practice, no source"
)
BLUR: Final = Cited(0.08, "of the limit", "a limit is not known, nor met, more sharply than this", "assumed")
REACH_BLUR: Final = Cited(
    0.2,
    "of the limit",
    "how sharply is known what heat can no longer take",
    "assumed",
)
MOST_OVERSHOOT: Final = Cited(
    0.025,
    "",
    "chance of a pass to go past straight by more than the limit: 5 % of a job of two passes",
    "assumed",
)
TIME_LOSS: Final = Cited(0.002, "passes", "per spot, and per tenth of an hour of soak", "assumed")
MOST_METAL: Final = 10.0  # of what may come off
_SWEEPS: Final = 40
UNTOLD: Final = Cited(
    0.7, "of the prior spread", "a shape number known no better was not measured", "assumed"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """Probabilities after a pass: cam line and deck inside their limits, both, and past straight by more than the limit.

    `done` cam line inside its limit, deck inside its own or to be sanded within what may come off.
    """

    cam: float
    deck: float
    both: float
    done: float
    overshoot: float


def direction_of(states: Floats, weights: Floats) -> int:
    """Return +1 where the middle is to come down, -1 where it is to go up: by the cam line first, then the deck."""
    cam = float(weights @ states[:, INDEX["cam_bow"]])
    deck = float(weights @ states[:, INDEX["deck_bow"]])
    return 1 if cam + 0.5 * deck >= 0 else -1


def cam_out(head: Head, states: Floats, bumps: Floats | float = 0.0) -> Floats:
    """Return how far the cam line is out of straight over its towers [m], bow, lean and all, `(n,)`.

    With two cam lines the worse of them counts.

    Args:
        head: towers and number of cam lines.
        states: shapes `(n, 11)` [m].
        bumps: as in `shape_loss`.

    Source: Minimum zone straightness, ISO 12780-1:2011 (from memory).
    Valid: At least three towers; fewer are never out.
    """
    xi = np.asarray(head.towers) / head.casting.length
    lines = (0.0,) if head.cam_lines == 1 else (-1.0, 1.0)
    worst: Floats = np.max([zones(xi, states @ cam_rows(xi, line).T + bumps) for line in lines], axis=0)
    return worst


def deck_out(states: Floats) -> Floats:
    """Return how far the deck is out of flat [m], bow, lean, twist and all, `(n,)`.

    Args:
        states: shapes `(n, 11)` [m].

    Source: Least squares flatness, ISO 12781-1:2011 (from memory).
    Valid: Seven stations on three lines; local dips are not in the state.
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


def shape_loss(head: Head, after: Floats, direction: int, bumps: Floats | float = 0.0) -> Floats:
    r"""Return the loss of every draw, in passes that are still missing.

    With r how far the cam line is out of straight over its limit, d the deck over its own, t the metal that sanding it
    takes over what may come off, and p how much of the cam line's heat on this side can no longer take (`out_of_reach`),

    .. math:: \max(m(r), m(t)) + 0.12\,\min(r, 1)^2 + 0.3\,(o(d) + \min(t, 1)) + 4\,o_{0.2}(p),\qquad
              m(r) = o(r)\,(0.6 + 0.6\,\max(r - 1, 0)),\qquad o(r) = 1 / (1 + e^{-(r - 1)/0.08})

    Args:
        head: gives the limits.
        after: shapes after the pass [m], `(n, 11)`.
        direction: +1 where the middle comes down.
        bumps: height at the towers that the shape's modes do not describe, `(n, towers)` [m].

    Source: Expected loss; the figures are assumed and stand as `Cited` above.
    Valid: Deck and cam line together; twist and lean count as what they put the lines out of straight.
    """
    cam, deck, metal = ratios(head, after, bumps)
    sanding = SANDING.value * (_beyond(deck) + np.minimum(metal, 1.0))
    missing = np.maximum(_missing(cam), _missing(metal)) + CENTRED.value * np.minimum(cam, 1.0) ** 2
    loss: Floats = missing + sanding + LOST.value * lost_after(head, after, direction, bumps)
    return loss


def lost_after(head: Head, states: Floats, direction: int, bumps: Floats | float = 0.0) -> Floats:
    """Return how surely heat can no longer end the job, 0 to 1: bends past straight, or a crown too deep to sand.

    Args:
        head: gives the limits.
        states: shapes [m], `(n, 11)`.
        direction: +1 where the middle comes down.
        bumps: as in `shape_loss`.

    Source: `out_of_reach`.
    """
    _, _, metal = ratios(head, states)
    crown = np.where(direction * states[:, INDEX["deck_bow"]] < 0, metal, 0.0)
    return _beyond(
        np.maximum(out_of_reach(head, states, direction, bumps) / head.limits.cam_line.value, crown),
        REACH_BLUR.value,
    )


def ended_loss(head: Head, states: Floats) -> Floats:
    """Return the loss of every draw if the job ended here: lost where the cam line is out, or the deck takes too much metal.

    Args:
        head: gives the limits.
        states: shapes [m], `(n, 11)`.

    Source: as `shape_loss`.
    """
    cam, _, metal = ratios(head, states)
    lost: Floats = LOST.value * np.maximum(_beyond(cam), _beyond(metal))
    return lost


def ratios(head: Head, states: Floats, bumps: Floats | float = 0.0) -> tuple[Floats, Floats, Floats]:
    """Return cam line and deck over their limits, and the metal that sanding takes over what may come off, `(n,)` each.

    Args:
        head: gives the limits.
        states: shapes [m], `(n, 11)`.
        bumps: as in `shape_loss`.

    Source: `cam_out`, `deck_out`; the whole face is sanded once it must be (common practice, no source).
    Valid: a deck inside its limit takes no metal. Where less may come off than the limit, a deck outside it can only be
    bent inside: it counts over its limit, so that a pass which brings it nearer is seen to.
    """
    flat = deck_out(states)
    deck = flat / head.limits.deck_overall.value
    metal = (flat + CLEAN_UP.value) * _beyond(deck) / max(metal_left(head), head.limits.deck_overall.value)
    return cam_out(head, states, bumps) / head.limits.cam_line.value, deck, np.minimum(metal, MOST_METAL)


def out_of_reach(head: Head, states: Floats, direction: int, bumps: Floats | float = 0.0) -> Floats:
    r"""Return how far the cam line stays out of straight whatever heat still takes [m], `(n,)`.

    Heat on one side bends a line one way only. What is left is the line at the towers less the falls of kinks of
    one sign, the best amounts of them by least squares:

    .. math:: w = \mathrm{zone}(z - F a), \qquad a = \arg\min_{a \ge 0} |z - F a|^2

    A line past straight stays out by its whole bow; one that leans, or was heated in one place alone, by a part.

    Args:
        head: its towers.
        states: shapes [m], `(n, 11)`.
        direction: +1 where the middle comes down.
        bumps: as in `shape_loss`.

    Source: least squares with bounds, by coordinate descent (derived); falls of a beam's kinks.
    Valid: heat can be given on either side of every inner tower.
    """
    xi = np.asarray(head.towers) / head.casting.length
    line = direction * (states @ cam_rows(xi).T + bumps)
    share = (xi - xi[0]) / (xi[-1] - xi[0])
    line = line - line[:, :1] * (1 - share) - line[:, -1:] * share
    falls, gram = _falls(tuple(xi.tolist()))
    pull = line @ falls
    amounts = np.zeros_like(pull)
    for _ in range(_SWEEPS):
        for k in range(len(gram)):
            step = (pull[:, k] - amounts @ gram[k]) / gram[k, k]
            amounts[:, k] = np.maximum(amounts[:, k] + step, 0.0)
    left: Floats = zones(xi, line - amounts @ falls.T)
    return left


@lru_cache(maxsize=64)
def _falls(towers: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Return what a unit kink at each inner tower lowers the towers, over the line through the outer two `(t, k)`, and its Gram matrix.

    A kink between two towers is, at the towers, the sum of one at either.
    """
    xi = (np.array(towers) - towers[0]) / (towers[-1] - towers[0])
    inner = xi[1:-1]
    falls = np.minimum(xi[:, None], inner) * (1 - np.maximum(xi[:, None], inner))
    return falls, falls.T @ falls


def _missing(ratio: Floats) -> Floats:
    """Return about how many passes bring what is so far out, over its limit, inside."""
    missing: Floats = _beyond(ratio) * (OUT.value + FURTHER.value * np.maximum(ratio - 1, 0.0))
    return missing


def settled(states: Floats, weights: Floats) -> Floats:
    """Return the shapes with what no reading has told (twist, dish, belly) put at its mean.

    Lengthwise lines alone say nothing of the twist: its prior spread would drown what a pass does to the bow.

    Args:
        states: shapes `(n, 11)` [m].
        weights: `(n,)`, sum one.

    Source: Posterior spread against prior spread (derived).
    Valid: For comparing set-ups and for chances of what was measured; a caveat tells of what was not.
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

    Source: Counts of weighted draws (derived).
    """
    after = settled(after, weights)
    cam, deck, metal = ratios(head, after)
    cam_in, deck_in = cam <= 1, deck <= 1
    sandable = (metal <= 1) & (metal_left(head) > head.limits.deck_overall.value)
    past = direction * after[:, INDEX["cam_bow"]] < -head.limits.cam_line.value
    return Chances(
        cam=float(weights @ cam_in),
        deck=float(weights @ deck_in),
        both=float(weights @ (cam_in & deck_in)),
        done=float(weights @ (cam_in & (deck_in | sandable))),
        overshoot=float(weights @ past),
    )
