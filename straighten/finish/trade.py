"""Straighten more or sand more: what every remaining bow would cost in metal, timing and compression."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.decide.costs import CLEAN_UP
from straighten.finish.consequences import mean_cut
from straighten.finish.cylinders import cuts_per_cylinder
from straighten.finish.engine import cam_retard, cylinder_of, ratio_after, run_of, volume_lost
from straighten.finish.face import Face, face_of_states
from straighten.finish.land import land_of
from straighten.shape.modes import DECK, INDEX

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from straighten.head.records import Head

    Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trade:
    """One row a remaining bow, `(m,)` each; None where the head file does not say enough.

    `bow` of the deck left by straightening, `height` of its zone, `removal` for full clean-up, `left` metal that may
    come off after it, `cam_bow` that stays whatever is sanded, all [m]; `retard` [rad of the cam]; `ratio_before` the
    compression ratio now, `ratio_most` and `ratio_least` of the cylinders that change most and least; `allowed` where
    no more comes off than may.
    """

    bow: Array
    height: Array
    removal: Array
    left: Array
    cam_bow: Array
    retard: Array | None
    ratio_before: float | None
    ratio_most: Array | None
    ratio_least: Array | None
    allowed: NDArray[np.bool_]


def trade(head: Head, state: ArrayLike, allowed: float, bows: ArrayLike | None = None) -> Trade:
    """Return what is left to sand, and what it does, if straightening stopped at each bow.

    Args:
        head: engine and limits.
        state: the shape now, `(11,)` [m]; its bow is scaled, with its lean and peak, the rest stays.
        allowed: metal that may still come off [m].
        bows: deck bows to look at [m]; by default nine from the present one down to nought.

    Source: Minimum zone (ISO 12781-1:2011, from memory), consequences by `engine` (derived).
    Valid: Deck and cam line come down by the same amount.
    """
    shape = np.asarray(state, dtype=np.float64)
    now = float(shape[INDEX["deck_bow"]])
    wanted = np.linspace(now, 0.0, 9) if bows is None else np.atleast_1d(np.asarray(bows, dtype=np.float64))
    face = face_of_states(_scaled(shape, now, wanted), land=land_of(head))
    inside = np.where(face.zone <= head.limits.deck_overall.value, 0.0, face.height + CLEAN_UP.value)
    depth = np.minimum(inside, face.height)
    run = run_of(head.engine)
    most, least = _ratios(head, face, inside - depth, depth)
    cylinder = cylinder_of(head.engine)
    return Trade(
        bow=wanted, height=face.zone, removal=inside, left=allowed - inside,
        cam_bow=shape[INDEX["cam_bow"]] - (now - wanted),
        retard=None if run is None else cam_retard(run, mean_cut(face, depth) + inside - depth),
        ratio_before=None if cylinder is None else cylinder.ratio, ratio_most=most, ratio_least=least,
        allowed=inside <= allowed,
    )  # fmt: skip


def _scaled(shape: Array, now: float, wanted: Array) -> Array:
    states = np.repeat(shape[None, :], wanted.size, axis=0)
    share = wanted / now if now else np.ones_like(wanted)
    for name in ("deck_bow", "deck_skew", "deck_peak"):
        states[:, INDEX[name]] = shape[INDEX[name]] * share
    if not now:
        states[:, INDEX["deck_bow"]] = wanted
    states[:, DECK.stop :] = 0.0
    return states


def _ratios(head: Head, face: Face, more: Array, depth: Array) -> tuple[Array | None, Array | None]:
    cylinder, bore = cylinder_of(head.engine), head.engine.bore
    if cylinder is None or bore is None:
        return None, None
    cuts = cuts_per_cylinder(head, face, depth) + more[:, None]
    ratios = ratio_after(cylinder, volume_lost(cuts, bore, head.engine.opening))
    return ratios.max(axis=1), ratios.min(axis=1)
