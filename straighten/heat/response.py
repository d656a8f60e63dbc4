"""The unknown factors of a head's response, one array per factor with the draws along it.

Every factor is a multiplier of what the physics predicts, one where the physics is exactly right; the two
scatters and the skew are plain quantities. `belief` learns them, `plan` uses them as weighted draws.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

import numpy as np

from straighten.clamp.bolts import FRICTION

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """Draws of the unknown factors, each of shape `(draws,)`.

    `stiffness` of the casting against its section estimate; `friction` coefficient of the clamp bolts [-];
    `shrinkage` inherent strain volume of a spot, own and kept of the clamp alike; `kept` share of the imposed bend that a
    hot spot or a soak keeps, beside that; `softening` how far metal under the torch follows the soaked yield curve, 0 that of
    short exposure, 1 the soaked one; `cam_ratio` set of the cam line over the deck's;
    `skew` lean of the set towards the front, as a share of the set [-]; `scatter` standard deviation of the log
    of one pass's set against its prediction [-].
    """

    stiffness: NDArray[np.float64]
    friction: NDArray[np.float64]
    shrinkage: NDArray[np.float64]
    kept: NDArray[np.float64]
    softening: NDArray[np.float64]
    cam_ratio: NDArray[np.float64]
    skew: NDArray[np.float64]
    scatter: NDArray[np.float64]

    @property
    def draws(self) -> int:
        """Number of draws."""
        return int(self.stiffness.size)

    def take(self, which: NDArray[np.intp] | slice) -> Response:
        """Return the response of some of the draws."""
        return Response(**{f.name: getattr(self, f.name)[which] for f in fields(self)})

    def of_spots(self) -> Response:
        """Return the response as spots feel it: a larger hot zone shrinks more and keeps more of the clamp alike."""
        return replace(self, kept=self.kept * self.shrinkage)


def nominal(draws: int = 1) -> Response:
    """Return the response that takes the physics at its word: multipliers one, the middle friction, short exposure under the torch, no skew."""
    one = np.ones(draws)
    return Response(
        stiffness=one,
        friction=FRICTION.value * one,
        shrinkage=one,
        kept=one,
        softening=0 * one,
        cam_ratio=one,
        skew=0 * one,
        scatter=0 * one,
    )


def both_curves() -> Response:
    """Return the nominal response with a trace of the soaked curve, so that what a heat leaves is known on both.

    Source: definition.
    Valid: where `Relaxed.left` is asked for.
    """
    return replace(nominal(), softening=np.full(1, 1e-9))
