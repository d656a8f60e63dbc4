"""The unknowns of one head as one standard normal vector: factors, first shape, what every survey misreads alike, each pass's luck."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.belief.priors import NAMES, Prior, response_of
from straighten.plan.forecast import NOISE_SIZE, left_after
from straighten.readings.gauges import BORES, UNEVENNESS
from straighten.shape.modes import INDEX, STATE, prior_sd

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
ALIKE = {"deck_bow": 1.2 * UNEVENNESS.value, "cam_bow": 1.2 * BORES.value, "cam_skew": 0.5 * BORES.value, "cam_peak": 0.8 * BORES.value}  # fmt: skip
PASSES_FROM = FACTORS + SHAPE + len(ALIKE)
MOST_PASSES = 6  # the draws' table of directions ends at 96 unknowns


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknowns:
    """How the vector u is read for one head: `priors` of the factors, and what each pass done takes off."""

    priors: tuple[Prior, ...]
    passes: tuple[Taken, ...]

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
            shapes.append(left_after(shapes[-1], taken(shapes[-1], response), response, noise))
        return shapes

    def misread(self, u: Floats) -> Floats:
        """Return what every survey adds to the shape that it reads, `(n, 11)` [m]."""
        off = np.zeros((len(u), SHAPE))
        for column, (name, sd) in enumerate(ALIKE.items(), FACTORS + SHAPE):
            off[:, INDEX[name]] = sd * u[:, column]
        return off

    def start(self, means: Sequence[Floats]) -> Floats:
        """Return a vector near the posterior: factors at their centre, the first shape as its survey has it."""
        u = np.zeros(self.size)
        u[FACTORS : FACTORS + SHAPE] = means[0] / prior_sd()
        return u
