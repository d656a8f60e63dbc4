"""What a shape after a pass is worth: about how many passes are still missing, overshoot weighed far heavier."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.head.records import metal_left
from straighten.heat.lines import STATIONS, triangle
from straighten.heat.treatment import WORKING, allowed_places
from straighten.shape.limits import zones
from straighten.shape.modes import DECK, DECK_STATIONS, INDEX, PRIOR, cam_rows, deck_rows, project_line
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.plan.records import Draws

    Floats = NDArray[np.float64]

OUT: Final = Cited(0.6, "passes", "a head outside a limit needs another pass, or most of one", "assumed")
FURTHER: Final = Cited(0.6, "passes per limit", "the further out, the more passes", "assumed")
LOST: Final = Cited(
    4.0,
    "passes",
    "a job that heat can no longer end: line boring or another head costs so many",
    "assumed",
)
PASS: Final = Cited(1.0, "passes", "what a pass costs, set against a job that ends lost", "derived")
CENTRED: Final = Cited(0.12, "", "inside a limit straighter is still better: less to sand", "assumed")
SANDING: Final = Cited(
    0.3, "passes", "a deck to be sanded, and once more all the metal that may come off", "assumed"
)
UNDER_LIMIT: Final = Cited(
    0.7, "of the limit", "aim of sanding, below the limit so that the check holds", "assumed"
)
FINER_PAPERS: Final = Cited(
    15e-6, "m", "they take off so much besides, to clear the first one's scratches", "assumed"
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
WORTH_TAKING: Final = 0.25  # of the limit: what heat must still take off a cam line over a crowned deck
WELL_INSIDE: Final = 0.75  # of the limit: so far the cam line may stay bowed
MOST_KINKS: Final = 6
_NOUGHT: Final = 1e-12  # m
_ALIKE: Final = 1e-9  # sets of kinks that take the same but for rounding: the one of fewest kinks counts
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


def direction_of(head: Head, draws: Draws) -> int:
    """Return +1 where the middle is to come down, -1 where it is to go up: by the cam line first, then the deck.

    A head without an oven can only come down: it does as long as that takes something off the cam line.

    Args:
        head: its towers and oven.
        draws: the shapes believed.

    Source: `further_heat`; `WORTH_TAKING`.
    """
    mean = (draws.weights @ draws.states)[None]
    down = mean[0, INDEX["cam_bow"]] + 0.5 * mean[0, INDEX["deck_bow"]] >= 0
    if not down and head.oven is None:
        _, stays = further_heat(head, mean, 1)
        down = bool(cam_out(head, mean)[0] - stays[0] > WORTH_TAKING * head.limits.cam_line.value)
    return 1 if down else -1


def cam_out(head: Head, states: Floats, bumps: Floats | float = 0.0) -> Floats:
    """Return how far the cam line is out of straight over its towers [m], bow, lean and all, `(n,)`.

    With two cam lines the worse of them counts.

    Args:
        head: towers and number of cam lines.
        states: shapes `(n, 11)` [m].
        bumps: as in `losses`.

    Source: Minimum zone straightness, ISO 12780-1:2011 (from memory).
    Valid: At least three towers; fewer are never out.
    """
    xi = np.asarray(head.towers) / head.casting.length
    lines, off = (0.0,) if head.cam_lines == 1 else (-1.0, 1.0), _at_towers(head, bumps)
    worst: Floats = np.max([zones(xi, states @ cam_rows(xi, line).T + off) for line in lines], axis=0)
    return worst


def deck_out(states: Floats, bumps: Floats | float = 0.0) -> Floats:
    """Return how far the deck is out of flat [m], bow, lean, twist and all, `(n,)`.

    Args:
        states: shapes `(n, 11)` [m].
        bumps: as in `losses`.

    Source: Least squares flatness, ISO 12781-1:2011 (from memory).
    Valid: Seven stations on three lines; local dips are not in the state.
    """
    rows, lines = _off_plane()
    heights = states @ rows.T
    if isinstance(bumps, np.ndarray):
        heights = heights + bumps[:, -DECK_STATIONS.size :] @ lines.T
    flat: Floats = np.ptp(heights, axis=1)
    return flat


def _at_towers(head: Head, bumps: Floats | float) -> Floats | float:
    return bumps[:, : len(head.towers)] if isinstance(bumps, np.ndarray) else bumps


@lru_cache(maxsize=1)
def _off_plane() -> tuple[Floats, Floats]:
    """Return the rows that turn a state `(21, 11)`, and heights along every line alike `(21, 7)`, into heights over the least squares plane."""
    xi, eta = (v.ravel() for v in np.meshgrid(DECK_STATIONS, np.array([-1.0, 0.0, 1.0])))
    plane = np.stack([np.ones_like(xi), xi, eta], axis=1)
    off = np.eye(xi.size) - plane @ np.linalg.pinv(plane)
    return off @ deck_rows(xi, eta), off @ np.tile(np.eye(DECK_STATIONS.size), (3, 1))


@dataclass(frozen=True, slots=True)
class Losses:
    """What shapes cost, `(n,)` each: `loss` in passes that are still missing; `lost` as `lost_after`; `inside` both limits."""

    loss: Floats
    lost: Floats
    inside: NDArray[np.bool_]


def losses(
    head: Head, after: Floats, direction: int, bumps: Floats | float = 0.0, ratio: Floats | float = 1.0
) -> Losses:
    r"""Return what every draw costs.

    With r how far the cam line is out of straight over its limit, d the deck over its own, t the metal that sanding it
    takes over what may come off, and p how much of the cam line's heat on this side can no longer take (`further_heat`),

    .. math:: \max(m(r), m(t)) + 0.12\,\min(r, 1)^2 + 0.3\,(o(d) + \min(t, 1)) + 4\,o_{0.2}(p),\qquad
              m(r) = o(r)\,(0.6 + 0.6\,\max(r - 1, 0)),\qquad o(r) = 1 / (1 + e^{-(r - 1)/0.08})

    Args:
        head: gives the limits.
        after: shapes after the pass [m], `(n, 11)`.
        direction: +1 where the middle comes down.
        bumps: heights that the shape's modes do not describe, at the towers and on the deck, `(n, towers + 7)` [m].
        ratio: what the cam line moves over the deck, `(n,)`.

    Source: Expected loss; the figures are assumed and stand as `Cited` above.
    Valid: Deck and cam line together; twist and lean count as what they put the lines out of straight.
    """
    cam, deck, metal = ratios(head, after, bumps)
    sanding = SANDING.value * (_beyond(deck) + np.minimum(metal, 1.0))
    missing = np.maximum(_missing(cam), _missing(metal)) + CENTRED.value * np.minimum(cam, 1.0) ** 2
    lost = lost_after(head, after, direction, bumps, ratio)
    return Losses(missing + sanding + LOST.value * lost, lost, (cam <= 1) & (deck <= 1))


def shape_loss(
    head: Head, after: Floats, direction: int, bumps: Floats | float = 0.0, ratio: Floats | float = 1.0
) -> Floats:
    """Return the loss of every draw, as `losses`."""
    return losses(head, after, direction, bumps, ratio).loss


def lost_after(
    head: Head, states: Floats, direction: int, bumps: Floats | float = 0.0, ratio: Floats | float = 1.0
) -> Floats:
    """Return how surely heat can no longer end the job, 0 to 1: bends past straight, or a crown too deep to sand.

    Args:
        head: gives the limits.
        states: shapes [m], `(n, 11)`.
        direction: +1 where the middle comes down.
        bumps: as in `losses`.
        ratio: as in `losses`.

    Source: `further_heat`; the cam line is bent to `WELL_INSIDE`, the deck with it.
    """
    straight, limit = states.copy(), head.limits.cam_line.value
    kinks, stays = further_heat(head, states, direction, bumps)
    share = np.maximum(1 - WELL_INSIDE * limit / np.maximum(cam_out(head, states, bumps), 1e-9), 0.0)
    further = share[:, None] * kinks @ _deck_falls(_heat_at(head))
    straight[:, DECK.start : DECK.start + 3] -= direction * further / np.asarray(ratio)[..., None]
    _, _, metal = ratios(head, straight, bumps)
    crown = np.where(direction * straight[:, INDEX["deck_bow"]] < 0, metal, 0.0)
    return _beyond(np.maximum(stays / limit, crown), REACH_BLUR.value)


def ended_loss(head: Head, states: Floats) -> Floats:
    """Return the loss of every draw if the job ended here: lost where the cam line is out, or the deck takes too much metal.

    Args:
        head: gives the limits.
        states: shapes [m], `(n, 11)`.

    Source: as `losses`.
    """
    cam, _, metal = ratios(head, states)
    lost: Floats = LOST.value * np.maximum(_beyond(cam), _beyond(metal))
    return lost


def ratios(head: Head, states: Floats, bumps: Floats | float = 0.0) -> tuple[Floats, Floats, Floats]:
    """Return cam line and deck over their limits, and the metal that sanding takes over what may come off, `(n,)` each.

    Args:
        head: gives the limits.
        states: shapes [m], `(n, 11)`.
        bumps: as in `losses`.

    Source: `cam_out`, `deck_out`, `metal_to_sand`.
    Valid: a deck inside its limit takes no metal. What is more than may come off can only be bent away: it counts over the
    deck's limit, so that a pass which brings it nearer is seen to.
    """
    flat, limit, left = deck_out(states, bumps), head.limits.deck_overall.value, metal_left(head)
    deck, need = flat / limit, _off(limit, flat)
    metal = np.where(need <= left, need / max(left, need.min()), 1 + (need - left) / limit) * _beyond(deck)
    return cam_out(head, states, bumps) / head.limits.cam_line.value, deck, metal


def metal_to_sand(head: Head, flatness: Floats) -> Floats:
    """Return what must come off a deck so far out of flat [m], `(n,)`, until it is inside its limit; nothing where it is.

    Args:
        head: its limit.
        flatness: of the deck now [m], `(n,)`.

    Source: sanding takes the high places down until `UNDER_LIMIT` is left (derived); `FINER_PAPERS` besides.
    """
    limit = head.limits.deck_overall.value
    need: Floats = np.where(flatness <= limit, 0.0, _off(limit, flatness))
    return need


def _off(limit: float, flatness: Floats) -> Floats:
    return np.maximum(flatness - UNDER_LIMIT.value * limit, 0.0) + FINER_PAPERS.value


def further_heat(
    head: Head, states: Floats, direction: int, bumps: Floats | float = 0.0
) -> tuple[Floats, Floats]:
    r"""Return the best kinks that are still to come, `(n, kinks)`, and how far out of straight the cam line then stays, `(n,)` [m].

    Heat on one side bends a line one way only, and only where a spot may stand. What is left is the line at the towers
    less the falls of kinks of one sign there, the best amounts of them by least squares:

    .. math:: w = \mathrm{zone}(z - F a), \qquad a = \arg\min_{a \ge 0} |z - F a|^2

    A line past straight stays out by its whole bow; one that leans, or was heated in one place alone, by a part.

    Args:
        head: its towers.
        states: shapes [m], `(n, 11)`.
        direction: +1 where the middle comes down.
        bumps: as in `losses`.

    Source: least squares with bounds, every set of kinks (derived); falls of a beam's kinks.
    Valid: six stations at the most stand for all; a soak bends anywhere in the working part.
    """
    xi = np.asarray(head.towers) / head.casting.length
    falls, amounts = _falls(tuple(xi.tolist()), _heat_at(head))
    line = direction * (states @ cam_rows(xi).T + _at_towers(head, bumps))
    share = (xi - xi[0]) / (xi[-1] - xi[0])
    line = line - line[:, :1] * (1 - share) - line[:, -1:] * share
    every = (line @ amounts).reshape(len(line), -1, falls.shape[1])
    taken = np.einsum("nsk,nk->ns", every, line @ falls)  # of |z|^2, by the best amounts of each set
    taken = np.where((every >= -_NOUGHT).all(axis=2), taken, -np.inf)
    best = np.argmax(taken >= (1 - _ALIKE) * taken.max(axis=1, keepdims=True), axis=1)
    kinks = every[np.arange(len(line)), best]
    return kinks, zones(xi, line - kinks @ falls.T)


@lru_cache(maxsize=16)
def _heat_at(head: Head) -> tuple[float, ...]:
    """Return the stations where heat may be given, over the length: those of spots, evenly spread ones without a torch."""
    tips = () if head.torch is None else (head.torch, *head.spare_tips)
    found = sorted(
        {round(place.station / head.casting.length, 4) for tip in tips for place in allowed_places(head, tip)}
    )
    if not found:
        return tuple((0.5 + WORKING.value * np.linspace(-0.5, 0.5, MOST_KINKS)).tolist())
    kept = np.linspace(0, len(found) - 1, min(len(found), MOST_KINKS)).round().astype(int)
    return tuple(found[k] for k in kept)


@lru_cache(maxsize=64)
def _falls(towers: tuple[float, ...], at: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Return what a unit kink at each station lowers the towers, over the line through the outer two `(t, k)`.

    And for every set of kinks what turns a line into their best amounts, side by side `(t, 2^k k)`: with bounds at
    nought the best amounts are those of one of the sets.
    """
    xi = np.array(towers)
    falls = triangle(xi, np.array(at), 1.0).T
    share = ((xi - xi[0]) / (xi[-1] - xi[0]))[:, None]
    falls = falls - falls[:1] * (1 - share) - falls[-1:] * share
    amounts = np.zeros((2 ** len(at), xi.size, len(at)))
    for number, kept in enumerate(sorted(product((False, True), repeat=len(at)), key=sum)):
        amounts[number][:, kept] = np.linalg.pinv(falls[:, kept]).T
    return falls, np.concatenate(list(amounts), axis=1)


@lru_cache(maxsize=64)
def _deck_falls(at: tuple[float, ...]) -> Floats:
    """Return bow, skew and peak of the fall of a unit kink at each station, `(k, 3)`."""
    return project_line(STATIONS, triangle(STATIONS, np.array(at), 1.0))


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


def chances(
    head: Head, after: Floats, weights: Floats, direction: int, bumps: Floats | float = 0.0
) -> Chances:
    """Return the probabilities of ending inside the limits and of overshooting.

    Args:
        head: gives the limits.
        after: shapes after the pass [m], `(n, 11)`.
        weights: `(n,)`, sum one.
        direction: +1 where the middle comes down.
        bumps: as in `losses`.

    Source: Counts of weighted draws (derived).
    """
    after = settled(after, weights)
    cam, deck, _ = ratios(head, after, bumps)
    cam_in, deck_in = cam <= 1, deck <= 1
    sandable = metal_to_sand(head, deck * head.limits.deck_overall.value) <= metal_left(head)
    past = direction * after[:, INDEX["cam_bow"]] < -head.limits.cam_line.value
    return Chances(
        cam=float(weights @ cam_in),
        deck=float(weights @ deck_in),
        both=float(weights @ (cam_in & deck_in)),
        done=float(weights @ (cam_in & (deck_in | sandable))),
        overshoot=float(weights @ past),
    )
