"""The unknowns of one head as one standard normal vector: factors, first shape, what every survey misreads alike, each pass's luck."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.belief.priors import NAMES, Prior, response_of
from straighten.plan.forecast import NOISE_SIZE, left_after
from straighten.readings.gauges import UNEVENNESS
from straighten.shape.modes import INDEX, STATE, prior_sd
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.heat import Response
    from straighten.plan.surface import Taken

    Floats = NDArray[np.float64]

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

    def start(self, means: Sequence[Floats]) -> Floats:
        """Return a vector near the posterior: factors at their centre, the first shape as its survey has it."""
        u = np.zeros(self.size)
        u[FACTORS : FACTORS + SHAPE] = means[0] / prior_sd()
        return u
