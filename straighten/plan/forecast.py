"""The forward model of one pass: from weighted draws before it to weighted draws after it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp import Clamped, clamp_head, section_of
from straighten.errors import BadInput, OutsideModel
from straighten.heat import FRESH, Relaxed, RoofState, both_curves, cold_yield, relax_soak, relax_spots
from straighten.heat.lines import STATIONS, triangle
from straighten.heat.treatment import FARTHEST
from straighten.shape.modes import (
    CAM,
    DECK_STATIONS,
    INDEX,
    STATE,
    bow_mode,
    peak_mode,
    project_line,
    skew_mode,
)
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.clamp import Section
    from straighten.head.records import Head
    from straighten.heat import Response, Treatment
    from straighten.plan.records import Done, Draws, PassSetup

    Floats = NDArray[np.float64]

# What one pass does to each shape number beside the model: castings are not beams, and hands are not machines.
MODEL_ERROR: Final[dict[str, Cited[float]]] = {
    name: Cited(value, "m", "one pass beside the beam model; half a blade step", "assumed")
    for name, value in zip(
        STATE, (10e-6, 8e-6, 12e-6, 6e-6, 10e-6, 6e-6, 6e-6, 10e-6, 8e-6, 12e-6, 6e-6), strict=True
    )
}
PLACE_LUCK: Final = Cited(
    0.25,
    "log-sd",
    "of one place, both sides: a peak within 20 K and a dwell within a tenth by hand (14 %), and what the model misses, which "
    "from head to head is 20 %",
    "assumed",
)
MOST_AGAIN: Final = (
    0.7  # of what a heat drives: places that hold more add so little that their share tells nothing
)
NO_FALL: Final = 1e-12  # m: of less no shape is told
NOISE_SIZE: Final = 1 + len(STATE)  # one factor for the pass, one shift a shape number


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """A pass as the draws see it.

    `before`, `after` `(n, 11)` [m]; `weights` `(n,)`; `clamped` the head in the clamp, None where it lies free;
    `relaxed` what the heat leaves, None where nothing was done.
    """

    before: Floats
    after: Floats
    weights: Floats
    clamped: Clamped | None
    relaxed: Relaxed | None

    def column(self, name: str) -> Floats:
        """Return the draws of one shape number after the pass [m]."""
        return self.after[:, INDEX[name]]


def forecast(head: Head, draws: Draws, setup: PassSetup, noise: Floats, past: RoofState = FRESH) -> Forecast:
    """Return what a pass does to every draw: after = before - set * scatter + what the model misses.

    Args:
        head: the head.
        draws: shape and response before the pass.
        setup: clamp and heat.
        noise: standard normal numbers `(n, 12)`; zeros for the physics without scatter.
        past: what earlier heats have left in the roof.

    Raises:
        BadInput: a set-up that cannot be built.
        OutsideModel: the pull cannot close the gap.

    Source: Superposition of the spots' kinks and of the kept share of the clamp's bend (derived).
    Valid: Small deflections; spots apart by more than their hot zones.
    """
    clamped, relaxed = run_pass(head, section_of(head), draws.states, draws.response, setup, past)
    after = left_after(draws.states, relaxed.set_state, draws.response, noise, relaxed.again)
    return Forecast(before=draws.states, after=after, weights=draws.weights, clamped=clamped, relaxed=relaxed)


def standing(draws: Draws) -> Forecast:
    """Return the forecast of doing nothing: every draw stays as it is.

    Args:
        draws: shape and response now.
    """
    return Forecast(
        before=draws.states, after=draws.states, weights=draws.weights, clamped=None, relaxed=None
    )


def run_pass(
    head: Head,
    section: Section,
    states: Floats,
    response: Response,
    setup: PassSetup,
    past: RoofState = FRESH,
) -> tuple[Clamped | None, Relaxed]:
    """Return the clamped head and what the heat leaves of it, without scatter.

    Args:
        head: the head.
        section: its section.
        states: shapes before the pass [m], `(n, 11)`.
        response: factors, `(n,)` each.
        setup: clamp and heat.
        past: what earlier heats have left in the roof.

    Raises:
        BadInput: a set-up that cannot be built.

    Source: Rooms `clamp` and `heat`.
    Valid: As those rooms.
    """
    clamped = None if setup.clamp is None else clamp_head(head, states, setup.clamp, response)
    return clamped, heated(head, section, clamped, setup, response, past)


def heated(
    head: Head,
    section: Section,
    clamped: Clamped | None,
    setup: PassSetup,
    response: Response,
    past: RoofState = FRESH,
) -> Relaxed:
    """Return what the heat of a set-up leaves of a clamped head.

    Args:
        head: the head.
        section: its section.
        clamped: the head in the clamp, or None.
        setup: spots, a soak, or neither.
        response: factors, `(n,)` each.
        past: what earlier heats have left in the roof.

    Source: Room `heat`.
    Valid: As that room.
    """
    if setup.soak is not None and clamped is not None:
        return replace(relax_soak(head, section, clamped, setup.soak, response), left=past)
    if setup.spots:
        return relax_spots(head, section, clamped, setup.spots, response, past)
    cold = None if clamped is None else cold_yield(head, section, clamped, response)
    return replace(cold or unheated(head, response.draws), left=past)


def roof_after(head: Head, setups: Sequence[PassSetup], bow: float) -> RoofState:
    """Return what passes done have left in the roof, by the physics without scatter.

    The bow before the first of them is found from the bow after the last, by what the passes take.

    Args:
        head: the head.
        setups: passes in order.
        bow: of deck and cam line after them [m].

    Source: `run_pass` forward, twice.
    Valid: Passes heated as recorded; what a place holds depends little on the bow it was held in.
    """
    return _roof_after(head, tuple(setups), round(bow, 5))


def roof_believed(head: Head, draws: Draws, done: Done) -> RoofState:
    """Return what the passes done have left in the roof of a head that now stands as believed.

    Source: `roof_after`.
    Valid: as there.
    """
    return roof_after(head, done.setups, float(draws.weights @ draws.states[:, INDEX["deck_bow"]]))


@lru_cache(maxsize=64)
def _roof_after(head: Head, setups: tuple[PassSetup, ...], bow: float) -> RoofState:
    section, taken = section_of(head), 0.0
    left: RoofState = FRESH
    for _ in range(2 if any(setup.spots for setup in setups) else 0):
        state, left, before = np.zeros((1, len(STATE))), FRESH, bow + taken
        state[0, [INDEX["deck_bow"], INDEX["cam_bow"]]] = before
        for setup in setups:
            try:
                relaxed = run_pass(head, section, state, both_curves(), setup, left)[1]
            except (BadInput, OutsideModel):
                continue
            state, left = state - relaxed.set_state, relaxed.left
        taken = before - float(state[0, INDEX["deck_bow"]])
    return left


def unheated(head: Head, draws: int) -> Relaxed:
    """Return what a cold pull below the yield leaves: nothing (`heat.cold_yield` beyond it).

    Args:
        head: gives the hardness, which stays.
        draws: number of draws.

    Source: A cold over-bend of 1 mm left 0.008 mm in 3D elements of a hollow box (seen).
    Valid: Clamp stress below the cold yield; the clamp room refuses more.
    """
    nothing, hardness = np.zeros((draws, len(STATE))), np.asarray(head.alloy.hardness)
    return Relaxed(
        set_state=nothing, spots_part=nothing, kept_part=nothing, kinks=np.zeros((draws, 0)),
        kept_share=np.zeros(draws), held=np.zeros(draws), lines=np.zeros((draws, 4)), hardness_before=hardness, hardness_after=hardness,
        heat=0.0, warm=0.0, peaks=(),
    )  # fmt: skip


def left_after(
    states: Floats, set_state: Floats, response: Response, noise: Floats, again: float = 0.0
) -> Floats:
    r"""Return the shapes after a pass [m], `(n, 11)`, scatter and model error put in.

    Args:
        states: shapes before [m], `(n, 11)`.
        set_state: what the physics takes off [m], `(n, 11)`.
        response: its `scatter` sizes the pass's own factor.
        noise: standard normal numbers, `(n, 12)`.
        again: share of what a fresh roof would shrink by that was there before, `Relaxed.again`.

    Source: Log-normal scatter of single heats (assumed form); `luck_again`.
    """
    scatter = response.scatter * luck_again(again)
    factor = np.exp(np.clip(scatter * noise[:, 0], -FARTHEST, FARTHEST))[:, None]
    error = np.array([MODEL_ERROR[name].value for name in STATE])
    left: Floats = states - set_state * factor + error * noise[:, 1:]
    return left


def luck_again(again: Floats | float) -> Floats:
    r"""Return how much more the luck of places counts that were heated before, in what they add.

    A place heated again adds what a fresh one would give less what it holds, and each of the two came with its own luck. With
    h the share held, the scatter s of a fresh heat is, over what is added,

    .. math:: s\,\sqrt{1 + h^2} / (1 - h)

    Args:
        again: h, `Relaxed.again` or `Relaxed.again_each`; what is over `MOST_AGAIN` counts as that.

    Source: sum of independent variances (derived).
    """
    held = np.minimum(again, MOST_AGAIN)
    return np.asarray(np.hypot(1.0, held) / (1.0 - held))


def bumps_of(head: Head, spots: Sequence[Treatment], kinks: Floats, luck: Floats | float = 0.0) -> Floats:
    """Return the heights that a set of spots leaves and the modes do not describe, over what it takes off the bow, `(n, towers + 7)`.

    A kink is no smooth line: a quarter of what one place takes off the middle stands near by as a bump. First the cam line
    at its towers, then the deck at `DECK_STATIONS`.

    Args:
        head: its towers.
        spots: the set.
        kinks: of every spot [rad], `(n, spots)`.
        luck: log of what each spot takes over its kink, `(n, spots)`; what the bow takes as a whole is left as it is.

    Source: falls of kinks less their modes (derived).
    Valid: not for spots that take nothing.
    """
    modes, rest, smooth = kink_falls(head, spots)
    bow, lucky = (kinks @ modes[:, :1]), kinks * np.exp(luck)
    lucky = lucky * bow / divisor(lucky @ modes[:, :1])
    bumps: Floats = -(lucky @ rest + (lucky - kinks) @ modes @ smooth) / divisor(bow)
    return bumps


def divisor(amount: Floats) -> Floats:
    """Return what may be divided by: endless where there is next to nothing."""
    return np.where(np.abs(amount) > NO_FALL, amount, np.inf)


def kink_falls(head: Head, spots: Sequence[Treatment]) -> tuple[Floats, Floats, Floats]:
    """Return what a unit kink at every spot lowers: the line's modes `(spots, 3)`, and the rest at the towers and at `DECK_STATIONS`, `(spots, towers + 7)` [m].

    And the heights of the three modes there, `(3, towers + 7)`.

    Args:
        head: its towers.
        spots: where.

    Source: falls of a beam's kinks (`heat.lines`).
    """
    length = head.casting.length
    xi = np.concatenate([np.asarray(head.towers) / length, DECK_STATIONS])
    at = np.array([spot.station for spot in spots])
    modes = project_line(STATIONS, triangle(STATIONS * length, at, length))
    smooth = np.stack([bow_mode(xi), skew_mode(xi), peak_mode(xi)])
    return modes, triangle(xi * length, at, length) - modes @ smooth, smooth


def cam_after(after: Floats) -> Floats:
    """Return the largest cam-line bow of each draw [m]: the mean line's bow with the side difference put on."""
    bow, side = after[:, CAM.start], after[:, INDEX["cam_side"]]
    return np.where(bow >= 0, bow + np.abs(side), bow - np.abs(side))
