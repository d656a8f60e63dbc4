"""What each way to go costs, and where the default figures come from."""

from __future__ import annotations

from typing import Final

import numpy as np

from straighten.head.records import Head, metal_left
from straighten.plan.loss import metal_to_sand
from straighten.quantiles import Floats
from straighten.sources import Cited

HOURS_PER_PASS: Final = Cited(2.5, "h", "set up, heat, wait, measure; most of the wait is free", "assumed")
HOURS_TO_SAND: Final = Cited(1.5, "h", "sand, check and wash a head by hand", "assumed")
HOURS_TO_HAND_ON: Final = Cited(1.0, "h", "pack, carry, fetch", "assumed")
UNDER_CUT: Final = Cited(
    15e-6,
    "m",
    "a mill faces the whole deck and cuts so far under its lowest place",
    "common practice, no source",
)
PASS_MISHAP: Final = Cited(0.02, "", "crack, loose seat or lost temper in one pass", "assumed")


def sanding_cost(head: Head, cam: Floats, deck: Floats, cam_sd: float) -> Floats:
    """Return the cost of sanding now: work, metal, and the line boring that a cam line out of limit still needs.

    Args:
        head: prices and limits.
        cam: cam-line bow [m], `(m,)`.
        deck: deck bow [m], `(m,)`.
        cam_sd: how well the cam-line bow is known [m].
    """
    prices = head.prices
    metal = metal_to_sand(head, np.abs(deck))
    outside = 1.0 - inside(head.limits.cam_line.value, cam, cam_sd)
    too_deep = metal > metal_left(head)
    work = prices.hour * HOURS_TO_SAND.value * (metal > 0) + prices.removal_per_tenth_mm * metal / 1e-4
    return np.where(too_deep, prices.replacement_head, work) + outside * prices.line_boring


def handing_cost(head: Head, deck: Floats) -> Floats:
    """Return the cost of handing the head on: line boring and facing, or another head where that is cheaper."""
    prices = head.prices
    boring = prices.line_boring + prices.hour * HOURS_TO_HAND_ON.value
    bow = np.abs(deck)
    metal = np.where(bow <= head.limits.deck_overall.value, 0.0, bow + UNDER_CUT.value)
    faced = np.where(metal > metal_left(head), np.inf, boring + prices.removal_per_tenth_mm * metal / 1e-4)
    return np.minimum(faced, prices.replacement_head + prices.hour * HOURS_TO_HAND_ON.value)


def pass_cost(head: Head) -> float:
    """Return the cost of one more pass, mishaps in it."""
    prices = head.prices
    return (
        prices.hour * HOURS_PER_PASS.value + prices.gas_per_pass + PASS_MISHAP.value * prices.replacement_head
    )


def inside(limit: float, value: Floats, sd: float) -> Floats:
    """Return the probability that |x| <= limit for x normal about `value`."""
    from scipy.special import ndtr

    width = max(sd, 1e-9)
    chance: Floats = ndtr((limit - value) / width) - ndtr((-limit - value) / width)
    return chance
