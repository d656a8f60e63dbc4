"""What a shape after a pass is worth: bow left over its limit, overshoot heavier than undershoot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.shape.modes import INDEX

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Head

    Floats = NDArray[np.float64]

OVERSHOOT_WEIGHT: Final = (
    4.0  # bending back costs a whole reverse set-up; a missing hundredth costs one more pass
)
DECK_SHARE: Final = 0.35  # the deck can still be sanded, the cam line cannot
TWIST_SHARE: Final = 0.35


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


def shape_loss(head: Head, after: Floats, direction: int) -> Floats:
    """Return the loss of every draw: squares of bow over limit, overshoot weighed heavier.

    Args:
        head: gives the limits.
        after: shapes after the pass [m], `(n, 11)`.
        direction: +1 where the middle comes down.
    """
    cam = direction * after[:, INDEX["cam_bow"]] / head.limits.cam_line.value
    deck = direction * after[:, INDEX["deck_bow"]] / head.limits.deck_overall.value
    twist = 2 * after[:, INDEX["twist"]] / head.limits.deck_overall.value
    return _lopsided(cam) + DECK_SHARE * _lopsided(deck) + TWIST_SHARE * twist**2


def _lopsided(ratio: Floats) -> Floats:
    return np.asarray(ratio**2 * np.where(ratio < 0, OVERSHOOT_WEIGHT, 1.0))


def chances(head: Head, after: Floats, weights: Floats, direction: int) -> Chances:
    """Return the probabilities of ending inside the limits and of overshooting.

    Args:
        head: gives the limits.
        after: shapes after the pass [m], `(n, 11)`.
        weights: `(n,)`, sum one.
        direction: +1 where the middle comes down.
    """
    cam_limit, deck_limit = head.limits.cam_line.value, head.limits.deck_overall.value
    cam, deck = after[:, INDEX["cam_bow"]], after[:, INDEX["deck_bow"]]
    cam_in, deck_in = np.abs(cam) <= cam_limit, np.abs(deck) <= deck_limit
    past = direction * cam < -cam_limit
    return Chances(
        cam=float(weights @ cam_in),
        deck=float(weights @ deck_in),
        both=float(weights @ (cam_in & deck_in)),
        overshoot=float(weights @ past),
    )
