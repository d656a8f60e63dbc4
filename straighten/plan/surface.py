"""A pass as a smooth function: what it takes off, fitted once to the full physics, then called for any number of draws.

The clamp's contact and the spots' plasticity are worked out for a few hundred points spread over what is believed;
a polynomial in the factors and the shape goes through them. Hold-out points say how far it is off; where that is
more than a blade could ever show, the full physics is called instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.errors import OutsideModel
from straighten.heat import FRESH
from straighten.heat.flames import strength_over_reference
from straighten.plan.forecast import run_pass
from straighten.shape.modes import CAM, STATE

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from straighten.clamp import Section
    from straighten.head.records import Head
    from straighten.heat import Response, RoofState
    from straighten.plan.records import PassSetup

    Floats = NDArray[np.float64]
    Takes = Callable[[Floats, Response], Floats]

FACTORS: Final = ("shrinkage", "kept", "softening", "cam_ratio", "skew")
GOOD_ENOUGH: Final = (
    8e-6  # m: root mean square error at the points held out, as large as a pass's model error
)
SHARE_ENOUGH: Final = 0.05  # of what the pass takes: a third of the scatter from pass to pass
STRAYS: Final = 8  # draws that share the rougher answer of one among them
HELD_OUT: Final = 4  # every so many points are kept to judge by


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What a pass takes off [m], called with shapes `(n, 11)` and factors `(n,)`; `again` as `Relaxed.again`.

    `error` of the fitted surface at the points held out [m], None where the full physics is called.
    """

    takes: Takes
    again: float = 0.0
    error: float | None = None

    def __call__(self, states: Floats, response: Response) -> Floats:
        """Return what the pass takes off [m], `(n, 11)`."""
        return self.takes(states, response)


@dataclass(frozen=True, slots=True, kw_only=True)
class PassSurface:
    """The fitted pass: `weights` `(features, 11)`, `error` root mean square at the points held out [m], `strength` of its flame.

    Fitted is what the pass takes with cam line and deck alike; `Response.cam_ratio` is put on outside.
    """

    weights: Floats
    middle: Floats
    scale: Floats
    error: float
    strength: float

    def __call__(self, states: Floats, response: Response) -> Floats:
        """Return what the pass takes off [m], `(n, 11)`."""
        taken: Floats = (
            _features((_inputs(states, response.under(self.strength)) - self.middle) / self.scale)
            @ self.weights
        )
        return taken * _cam_apart(response)


def pass_taker(
    head: Head,
    section: Section,
    setup: PassSetup,
    states: Floats,
    response: Response,
    past: RoofState = FRESH,
) -> Taken:
    """Return what a pass takes off, as a function of shape and factors.

    Args:
        head: the head.
        section: its section.
        setup: clamp and heat.
        states: shapes spread over what is believed before the pass, `(n, 11)`, a few hundred.
        response: factors spread likewise, `(n,)` each.
        past: what earlier heats have left in the roof.

    Returns:
        A fitted surface, or the full physics where the surface misses by more than `GOOD_ENOUGH` and `SHARE_ENOUGH`.

    Source: Response surface by least squares; error by points held out (derived).
    Valid: Within about three standard deviations of the points given.
    """

    def physics(some_states: Floats, some_response: Response) -> Floats:
        return run_pass(head, section, some_states, some_response, setup, past)[1].set_state

    relaxed = run_pass(head, section, states, response, setup, past)[1]
    known = relaxed.set_state
    strength = strength_over_reference(setup.spots)
    surface = _fitted(states, response.under(strength), known, strength)
    if surface.error > max(GOOD_ENOUGH, SHARE_ENOUGH * float(np.sqrt(np.mean(known**2, axis=0)).max())):
        return Taken(takes=_with_fallback(physics, surface), again=relaxed.again)
    return Taken(takes=surface, again=relaxed.again, error=surface.error)


def _with_fallback(physics: Takes, surface: PassSurface) -> Takes:
    """Return the full physics, and the surface for the few draws about one that strays so far that no clamp could hold it."""

    def taken(states: Floats, response: Response) -> Floats:
        try:
            return physics(states, response)
        except OutsideModel:
            if len(states) <= STRAYS:
                return surface(states, response)
        halves = np.array_split(np.arange(len(states)), 2)
        return np.concatenate([taken(states[half], response.take(half)) for half in halves])

    return taken


def _fitted(states: Floats, response: Response, taken: Floats, strength: float) -> PassSurface:
    inputs = _inputs(states, response)
    middle, scale = inputs.mean(axis=0), np.maximum(inputs.std(axis=0), 1e-12)
    features = _features((inputs - middle) / scale)
    judge = np.arange(len(states)) % HELD_OUT == 0
    apart = _cam_apart(response)
    weights = np.linalg.lstsq(features[~judge], (taken / apart)[~judge], rcond=None)[0]
    off = (features[judge] @ weights) * apart[judge] - taken[judge]
    return PassSurface(
        weights=weights,
        middle=middle,
        scale=scale,
        error=float(np.sqrt(np.mean(off**2, axis=0)).max()),
        strength=strength,
    )


def _cam_apart(response: Response) -> Floats:
    """Return what the cam line moves over the deck, as a factor of every shape number, `(n, 11)`."""
    apart = np.ones((response.draws, len(STATE)))
    apart[:, CAM] = response.cam_ratio[:, None]
    return apart


def _inputs(states: Floats, response: Response) -> Floats:
    """Return shape, stiffness and factors side by side, `(n, 17)`; what a pass takes is nearly linear in each."""
    columns = [np.log(response.stiffness), *(getattr(response, name) for name in FACTORS)]
    return np.concatenate([np.stack(columns, axis=1), states], axis=1)


def _features(inputs: Floats) -> Floats:
    """Return one, every input, all products of the factors, factors times bows, and cubes of the heat's factors."""
    count = 1 + len(FACTORS)
    factors, states = inputs[:, :count], inputs[:, count:]
    first, second = np.triu_indices(count)
    pairs = factors[:, first] * factors[:, second]
    bows = factors[:, :, None] * states[:, None, [0, 1, 2, 7]]
    heat = factors[:, 1:4]
    a, b, c = np.array([(i, j, k) for i in range(3) for j in range(i, 3) for k in range(j, 3)]).T
    return np.concatenate(
        [
            np.ones((len(inputs), 1)),
            inputs,
            pairs,
            bows.reshape(len(inputs), -1),
            heat[:, a] * heat[:, b] * heat[:, c],
        ],
        axis=1,
    )
