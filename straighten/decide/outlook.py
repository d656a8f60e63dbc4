"""What lies ahead of a head: the bow now, the reach of a pass, how far lines stay out once bent, what each way costs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np

from straighten.head.records import Head, metal_left
from straighten.plan.forecast import Forecast
from straighten.plan.loss import cam_out, further_heat, metal_to_sand
from straighten.plan.records import Draws
from straighten.quantiles import Floats
from straighten.readings.gauges import UNEVENNESS
from straighten.shape.modes import INDEX
from straighten.sources import Cited

BROKEN: Final = Cited(
    0.08,
    "of what it moved",
    "what a cam line that was straightened by broken places stays out of straight",
    "fitted",
)
BROKEN_DECK: Final = Cited(
    0.25,
    "of what it moved",
    "what a deck stays out of flat: kinks, dishes, edges that answer unlike",
    "fitted",
)
ROUGH: Final = Cited(
    3.0,
    "times the unevenness of a place",
    "zone of five to nine places that are off by themselves",
    "derived",
)
UNEVENLY: Final = Cited(
    0.04, "of the bow", "how much that differs from head to head, standard deviation", "fitted"
)
FLATLY: Final = Cited(
    0.4,
    "log-sd",
    "how far a deck that was moved ends out of flat, over what is foretold, from head to head; set on 38 jobs of the "
    "tests' workshop",
    "fitted",
)
LIKELY: Final = np.array(
    [NormalDist().inv_cdf((k + 0.5) / 9) for k in range(9)]
)  # nine equal parts of a normal
LAST_READ: Final = Cited(
    0.3, "of the doubt now", "misreading of the survey that ends a job, standard deviation", "assumed"
)
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The bow now and the reach of a pass, counted positive in the direction still to go [m].

    `cam`, `cam_sd` cam-line bow and its standard deviation; `deck_less_cam` how much further the deck stands, which moves by
    what the cam line goes over `cam_ratio`; `zone` how far a plain bow puts the cam line out of straight over its size; `other`
    what it is out besides, and `stays` what no heat takes of that [m];
    `full_set` mean set of the strongest pass on hand; `doubt` log-sd of a pass's set from not knowing the response;
    `scatter` log-sd from pass to pass, which no learning removes; `passes_left`.
    """

    cam: float
    cam_sd: float
    deck_less_cam: float
    full_set: float
    doubt: float
    scatter: float
    passes_left: int
    cam_ratio: float = 1.0
    zone: float = 1.0
    other: float = 0.0
    stays: float = 0.0

    def deck(self, cam: Floats) -> Floats:
        """Return the deck bow once the cam-line bow is so [m]."""
        return self.cam + self.deck_less_cam - (self.cam - cam) / self.cam_ratio

    def out(self, cam: Floats) -> Floats:
        """Return how far the cam line is out of straight once its bow is so [m]: by its bow, by what else it is off, as broken."""
        other = self.other + self._share(cam) * (self.stays - self.other)
        return np.hypot(np.hypot(self.zone * cam, other), self._broken(cam, BROKEN.value))

    def flat(self, cam: Floats) -> Floats:
        """Return how far the deck is out of flat once the cam-line bow is so [m]."""
        return np.hypot(self.deck(cam), self._broken(cam, BROKEN_DECK.value / self.cam_ratio))

    def likely_flat(self, cam: Floats) -> Floats:
        """Return nine equally likely values of that, `(9, m)`: a deck that was not moved is as flat as it was read."""
        return self.flat(cam) * np.exp(FLATLY.value * LIKELY[:, None] * self._share(cam))

    def _share(self, cam: Floats) -> Floats:
        """Return which share of its bow the cam line was bent, zero to one."""
        return np.minimum(self._moved(cam) / max(abs(self.cam), 1e-9), 1.0)

    def _moved(self, cam: Floats) -> Floats:
        """Return how far the cam line was bent; nearer than the doubt of the survey it was not."""
        return np.maximum(np.abs(self.cam - cam) - 2 * self.cam_sd, 0.0)

    def _broken(self, cam: Floats, share: float) -> Floats:
        """Return what a line stays out by itself; one that was not moved is judged as it was read."""
        moved = self._moved(cam)
        return np.hypot(share * moved, np.minimum(ROUGH.value * UNEVENNESS.value, moved))

    @property
    def out_sd(self) -> float:
        """How far that differs from head to head, and is misread by the survey that ends the job [m]."""
        return math.hypot(LAST_READ.value * self.cam_sd, UNEVENLY.value * self.cam)


def outlook_of(
    head: Head, draws: Draws, strongest: Forecast, direction: int, *, scatter: float, passes_left: int
) -> Outlook:
    """Return the outlook from the forecast of the strongest pass that may be planned.

    `draws` shape and response now; `strongest` without scatter put in, so that its spread is doubt alone; `direction` +1
    where the middle comes down; `scatter` log-sd from pass to pass; `passes_left` that the trade or the owner allows.

    Source: Moments of the weighted draws (derived).
    Valid: A set that is nearly log-normal over the draws.
    """
    w = strongest.weights
    before, after = (direction * s for s in (strongest.before, strongest.after))
    cam, deck = before[:, INDEX["cam_bow"]], before[:, INDEX["deck_bow"]]
    taken = np.maximum(cam - after[:, INDEX["cam_bow"]], 1e-7)
    logs = np.log(taken)
    middle = float(w @ logs)
    mean_cam = float(w @ cam)
    mean = (w @ strongest.before)[None]
    _, stays = further_heat(head, mean, direction)
    bow = np.zeros_like(mean)
    bow[0, INDEX["cam_bow"]] = 1e-3
    zone, out = 1e3 * float(cam_out(head, bow)[0]), float(cam_out(head, mean)[0])
    return Outlook(
        cam=mean_cam,
        cam_sd=float(np.sqrt(w @ (cam - mean_cam) ** 2)),
        deck_less_cam=float(w @ (deck - cam)),
        full_set=float(np.exp(middle)),
        doubt=float(np.sqrt(w @ (logs - middle) ** 2)),
        scatter=scatter,
        passes_left=passes_left,
        cam_ratio=float(draws.weights @ draws.response.cam_ratio),
        zone=zone,
        other=math.sqrt(max(out**2 - (zone * mean_cam) ** 2, 0.0)),
        stays=float(stays[0]),
    )


def sanding_cost(head: Head, cam: Floats, deck: Floats, cam_sd: float) -> Floats:
    """Return the cost of sanding now: work, metal, and the line boring that a cam line out of limit still needs.

    `cam`, `deck` bows [m], `(m,)`; `cam_sd` how well the cam line's is known [m].
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
