"""What is unknown of a head and believed before anything is measured: factors with reasons, and one vector of all.

Multipliers are log-normal around the physics, the skew is normal. The spreads are wide on purpose: a shop's own
passes narrow them quickly, and a prior that is too sure never recovers. The vector is standard normal: factors, first shape,
what every survey misreads alike, each pass's luck.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from straighten.clamp.bolts import FRICTION, FRICTION_SPREAD
from straighten.clamp.section import section_of
from straighten.head.records import Head
from straighten.heat.flames import spot_doubts, spread_of
from straighten.heat.soak import SOAK_SPREAD
from straighten.heat.treatment import FARTHEST, Response
from straighten.plan.forecast import NOISE_SIZE, left_after
from straighten.plan.surface import Taken
from straighten.quantiles import Floats
from straighten.readings.gauges import UNEVENNESS
from straighten.shape.modes import INDEX, STATE, prior_sd
from straighten.sources import Cited, Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """Belief about one factor: `centre` (median), `spread` (standard deviation, of the log for "log"), and why."""

    name: str
    kind: Literal["log", "plain"]
    centre: float
    spread: float
    reason: str
    mark: Mark

    def value(self, u: Floats) -> Floats:
        """Return the factor for standard normal draws."""
        if self.kind == "plain":
            return self.centre + self.spread * u
        return self.centre * np.exp(np.clip(self.spread * u, -FARTHEST, FARTHEST))


PUBLISHED = (
    Prior(
        name="stiffness", kind="log", centre=1.0, spread=0.10, mark="assumed",
        reason="section from plates agrees with 3D elements within 10 %; a section from mass adds its own spread",
    ),
    Prior(
        name="friction", kind="log", centre=FRICTION.value, spread=FRICTION_SPREAD.value, mark=FRICTION.mark,
        reason=f"{FRICTION.source}; {FRICTION_SPREAD.source}",
    ),
    Prior(
        name="shrinkage", kind="log", centre=1.0, spread=0.43, mark="assumed",
        reason="flame's radius, roof, peak by hand and what the model misses, with nothing measured",
    ),
    Prior(
        name="kept", kind="log", centre=1.0, spread=0.30, mark="assumed",
        reason="share of the bend kept beside the spot's own size; no measured figure was found for cast heads",
    ),
    Prior(
        name="softening", kind="log", centre=0.45, spread=0.70, mark="assumed",
        reason="0 follows the yield curve of short exposure, 1 the soaked one: nobody knows which holds under a torch",
    ),
    Prior(
        name="cam_ratio", kind="log", centre=1.12, spread=0.33, mark="common practice, no source",
        reason="a beam moves both alike (3D elements within 3 %); in one job of the trade the cam line moved 1.7 times as far",
    ),
    Prior(
        name="skew", kind="plain", centre=0.0, spread=0.08, mark="assumed",
        reason="castings are not alike front and rear: chain case, thicker end walls",
    ),
    Prior(
        name="scatter", kind="log", centre=0.15, spread=0.35, mark="assumed",
        reason="pass-to-pass scatter of hand-held heat; single heats scatter widely in flame straightening of steel",
    ),
    Prior(
        name="growth", kind="plain", centre=0.0, spread=0.25, mark="assumed",
        reason="of each tip's flux radius 10 % stay unknown, a fifth of its effect, and the next tip is twice as strong",
    ),
)  # fmt: skip
NAMES = tuple(prior.name for prior in PUBLISHED)
_OF = {prior.name: prior for prior in PUBLISHED}
SCATTER = _OF["scatter"]


def priors_for(head: Head) -> tuple[Prior, ...]:
    """Return the published priors with the spreads that this head's own figures leave."""
    doubts = tuple(d for d in spot_doubts(head) if d.of != "hot yield curve")  # that one is `softening`
    kept = SOAK_SPREAD.value if head.torch is None and head.alloy.creep is None else _OF["kept"].spread
    spreads = {
        "stiffness": math.hypot(_OF["stiffness"].spread, section_of(head).bending_spread),
        "shrinkage": spread_of(doubts),
        "kept": math.hypot(kept, 0.5 * head.alloy.spread),
    }
    told = ", ".join(f"{d.of} {d.spread:.2f}" for d in doubts)
    reasons = {"shrinkage": f"first range of a spot's effect, log-sd in parts: {told}"}
    return tuple(
        replace(
            prior, spread=spreads.get(prior.name, prior.spread), reason=reasons.get(prior.name, prior.reason)
        )
        for prior in PUBLISHED
    )


def response_of(priors: tuple[Prior, ...], u: Floats) -> Response:
    """Return the response factors for standard normal draws `(n, 9)`; one prior a factor, in the order of `NAMES`."""
    return Response(**{prior.name: prior.value(u[:, column]) for column, prior in enumerate(priors)})


FACTORS = len(NAMES)
SHAPE = len(STATE)
# What every survey of a head misreads alike [m]: a rough face, and bores off their line, stay where they are. Least
# squares through five towers, and a middle over two rests.
ALIKE = {
    name: share * UNEVENNESS.value
    for name, share in (("deck_bow", 1.2), ("cam_bow", 1.5), ("cam_skew", 0.7), ("cam_peak", 1.1))
}
AS_IT_WENT = Cited(
    0.25,
    "",
    "log-sd of cam line over deck as heat moves them about that of the bow it came with, where nobody faced it: in one "
    "job of the trade it came with 2.2 and moved by 1.7; no measured figure was found",
    "common practice, no source",
)
PASSES_FROM = FACTORS + SHAPE + len(ALIKE)
LEAST_BOW = 0.05e-3  # m: a smaller bow tells no ratio
FARTHEST_RATIO = 0.9  # of the log: beyond it the deck was faced, whatever is told
MOST_PASSES = 6  # the draws' table of directions ends at 96 unknowns


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknowns:
    """How the vector u is read for one head: `priors` of the factors, what each pass done takes off, and whether the first shape is that with which the head `came`, never faced."""

    priors: tuple[Prior, ...]
    passes: tuple[Taken, ...]
    came: bool = False

    @property
    def size(self) -> int:
        """Length of u."""
        return PASSES_FROM + NOISE_SIZE * len(self.passes)

    def response(self, u: Floats) -> Response:
        """Return the factors of draws `(n, size)`."""
        return response_of(self.priors, u[:, :FACTORS])

    def shapes(self, u: Floats) -> list[Floats]:
        """Return the shapes before the first pass and after each, `(n, 11)` each [m]."""
        response = self.response(u)
        shapes = [u[:, FACTORS : FACTORS + SHAPE] * prior_sd()]
        for number, taken in enumerate(self.passes):
            first = PASSES_FROM + NOISE_SIZE * number
            noise = u[:, first : first + NOISE_SIZE]
            shapes.append(left_after(shapes[-1], taken(shapes[-1], response), response, noise, taken.again))
        return shapes

    def misread(self, u: Floats) -> Floats:
        """Return what every survey adds to the shape that it reads, `(n, 11)` [m]."""
        off = np.zeros((len(u), SHAPE))
        for column, (name, sd) in enumerate(ALIKE.items(), FACTORS + SHAPE):
            off[:, INDEX[name]] = sd * u[:, column]
        return off

    def as_it_went(self, u: Floats) -> Floats:
        """Return how far cam line over deck lies from that of the bow the head came with, in standard deviations `(n, 1)`; `(n, 0)` where that tells nothing."""
        if not self.came:
            return np.zeros((len(u), 0))
        first = u[:, FACTORS : FACTORS + SHAPE] * prior_sd()
        deck, cam = first[:, INDEX["deck_bow"]], first[:, INDEX["cam_bow"]]
        went = np.log(np.maximum(np.abs(cam), LEAST_BOW) / np.maximum(np.abs(deck), LEAST_BOW))
        told = np.clip(went, -FARTHEST_RATIO, FARTHEST_RATIO)
        off = (np.log(self.response(u).cam_ratio) - told) / AS_IT_WENT.value
        return np.where(deck * cam > 0, off, 0.0)[:, None]

    def start(self, first: Floats | None) -> Floats:
        """Return a vector near the posterior: factors at their centre, the first shape as its survey has it, if any."""
        u = np.zeros(self.size)
        if first is not None:
            u[FACTORS : FACTORS + SHAPE] = first / prior_sd()
        return u
