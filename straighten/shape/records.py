"""What the readings say of the head's shape, as plain records in SI."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from straighten.shape.modes import INDEX

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """The shape of a head as the survey knows it.

    `mean` `(11,)` and `covariance` `(11, 11)` in the order of `STATE` [m, m2]; `evidence` log-probability of the
    readings; `caveats` sentences for the reader.
    """

    mean: NDArray[np.float64]
    covariance: NDArray[np.float64]
    evidence: float
    caveats: tuple[str, ...] = ()

    def value(self, name: str) -> float:
        """Return the mean of one of `STATE` [m]."""
        return float(self.mean[INDEX[name]])

    def sd(self, name: str) -> float:
        """Return the standard deviation of one of `STATE` [m]."""
        return float(np.sqrt(self.covariance[INDEX[name], INDEX[name]]))

    def range(self, name: str, share: float = 0.8) -> tuple[float, float]:
        """Return the central interval [m] that holds one of `STATE` with the probability `share`."""
        reach = NormalDist().inv_cdf(0.5 + share / 2) * self.sd(name)
        return self.value(name) - reach, self.value(name) + reach
