"""The unknowns of one head as one standard normal vector: factors, first shape, then each pass's own luck."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.belief.priors import NAMES, Prior, response_of
from straighten.clamp import section_of
from straighten.plan.forecast import NOISE_SIZE, left_after, run_pass
from straighten.shape.modes import STATE
from straighten.shape.prior import prior_sd

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.heat import Response
    from straighten.plan.records import PassSetup

    Floats = NDArray[np.float64]

FACTORS = len(NAMES)
SHAPE = len(STATE)
MOST_PASSES = 6  # the draws' table of directions ends at 96 unknowns


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknowns:
    """How the vector u is read for one head: `head`, `priors` of the factors, `passes` done on it."""

    head: Head
    priors: tuple[Prior, ...]
    passes: tuple[PassSetup, ...]

    @property
    def size(self) -> int:
        """Length of u."""
        return FACTORS + SHAPE + NOISE_SIZE * len(self.passes)

    def response(self, u: Floats) -> Response:
        """Return the factors of draws `(n, size)`."""
        return response_of(self.priors, u[:, :FACTORS])

    def shapes(self, u: Floats) -> list[Floats]:
        """Return the shapes before the first pass and after each, `(n, 11)` each [m]."""
        response, section = self.response(u), section_of(self.head)
        shapes = [u[:, FACTORS : FACTORS + SHAPE] * prior_sd()]
        for number, setup in enumerate(self.passes):
            _, relaxed = run_pass(self.head, section, shapes[-1], response, setup)
            first = FACTORS + SHAPE + NOISE_SIZE * number
            shapes.append(
                left_after(shapes[-1], relaxed.set_state, response, u[:, first : first + NOISE_SIZE])
            )
        return shapes

    def start(self, means: Sequence[Floats]) -> Floats:
        """Return a vector near the posterior: factors at their centre, the first shape as its survey has it."""
        u = np.zeros(self.size)
        u[FACTORS : FACTORS + SHAPE] = means[0] / prior_sd()
        return u
