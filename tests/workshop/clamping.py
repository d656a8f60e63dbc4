"""The clamp: the head as a beam with shear on two shims, nuts that pull it to a base that bends the other way.

Source: beam on two supports with shear, unit-load method (derived); the box of the elements closes 0.449 mm by
85.4 kN (`test_laws`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.workshop.castings import MIDDLE, XI, Truth

BOLT_MOST = 30e3  # N, what a hand pulls a stud to where nothing tells it a torque
PITCH, FLANK, WASHER = 1.5, 9.03, 6.5  # mm: M10 thread, mean radius under the nut


@dataclass(frozen=True)
class Grip:
    """A head held: curvature along XI per newton [1/(N mm)], mm of closing per newton, force [N], gap left [mm]."""

    curvature: np.ndarray
    closing: float
    force: float
    gap: float


def grip(truth: Truth, shims: tuple[float, ...], pulls: tuple[float, ...], stop: dict[str, float]) -> Grip:
    """Return the head pulled over its shims until the gap in the middle is `stop["gap"]` or the torque is reached.

    Args:
        truth: the head.
        shims: heights at the corners front exhaust, front inlet, rear exhaust, rear inlet, as they really are [mm].
        pulls: stations of the nuts, a pair each.
        stop: gap [mm], torque [Nm] (left out: by hand), reverse 1.0 where shims lie in the middle and the ends are pulled.
    """
    sign = -1.0 if stop.get("reverse") else 1.0
    moment, shear_sag = _moment(truth, pulls, reverse=sign < 0)
    unit = _unit(truth)
    x = XI * truth.casting.length
    head = float(np.trapezoid(moment * unit, x)) / truth.bending + shear_sag / truth.shear
    base = float(np.trapezoid(moment * unit, x)) / truth.base_bending
    closing = head + base + truth.give
    way = sign * _standing(truth) + sum(shims) / 4 - stop.get("gap", 0.0)
    most = 2 * len(pulls) * _most(truth, stop.get("torque"))
    force = min(max(way, 0.0) / closing, most)
    return Grip(
        curvature=sign * moment / truth.bending, closing=closing, force=force,
        gap=stop.get("gap", 0.0) + max(way, 0.0) - force * closing,
    )  # fmt: skip


def _most(truth: Truth, torque: float | None) -> float:
    """Pull of one stud at a torque [N], by the standard torque equation and the true friction."""
    if torque is None:
        return BOLT_MOST
    mu = truth.friction
    return 1e3 * torque / (0.159 * PITCH + 0.577 * mu * FLANK + mu * WASHER)


def _standing(truth: Truth) -> float:
    """Height of the deck's middle over its ends at the shims, mean of the lines [mm]."""
    a, b = (s / truth.casting.length for s in truth.casting.shims)
    deck = truth.deck.mean(axis=0)
    return float(deck[MIDDLE] - (np.interp(a, XI, deck) + np.interp(b, XI, deck)) / 2)


def _moment(truth: Truth, pulls: tuple[float, ...], *, reverse: bool) -> tuple[np.ndarray, float]:
    """Moment of one newton shared by the nuts, and the moment in the middle, which over shear stiffness is its sag."""
    length = truth.casting.length
    x = XI * length
    if reverse:  # shims in the middle, the nuts are the ends
        a, b, loads = min(pulls), max(pulls), (length / 2,)
    else:
        (a, b), loads = truth.casting.shims, pulls
    moment = np.zeros(x.size)
    for load in loads:
        at = min(max(load, a), b)
        moment += ((b - at) / (b - a) * np.clip(x - a, 0, None) - np.clip(x - at, 0, None)) / len(loads)
    moment = np.where((x > a) & (x < b), np.clip(moment, 0, None), 0.0)
    return moment, float(moment[MIDDLE])


def _unit(truth: Truth) -> np.ndarray:
    a, b = truth.casting.shims
    x = XI * truth.casting.length
    return np.clip(np.minimum(x - a, b - x) / 2, 0, None)
