"""What is believed before anything is measured: centre, spread and reason of every unknown factor.

Multipliers are log-normal around the physics, the skew is normal. The spreads are wide on purpose: a shop's own
passes narrow them quickly, and a prior that is too sure never recovers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from straighten.clamp.bolts import FRICTION, FRICTION_SPREAD
from straighten.heat.response import Response

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.sources import Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """Belief about one factor: `centre` (median), `spread` (standard deviation, of the log for "log"), and why."""

    name: str
    kind: Literal["log", "plain"]
    centre: float
    spread: float
    reason: str
    mark: Mark

    def value(self, u: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the factor for standard normal draws."""
        return self.centre * np.exp(self.spread * u) if self.kind == "log" else self.centre + self.spread * u


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
        name="shrinkage", kind="log", centre=1.0, spread=0.30, mark="assumed",
        reason="flame, dwell by hand and the casting's hot strength each scatter by 15 to 20 %",
    ),
    Prior(
        name="kept", kind="log", centre=1.0, spread=0.30, mark="assumed",
        reason="3D elements 0.095 of the bend for four spots; no measured figure was found for cast heads",
    ),
    Prior(
        name="softening", kind="log", centre=1.0, spread=0.20, mark="assumed",
        reason="how far the temper is lost round a spot is known from long soaks only",
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
)  # fmt: skip
NAMES = tuple(prior.name for prior in PUBLISHED)


def priors_for(section_spread: float, alloy_spread: float) -> tuple[Prior, ...]:
    """Return the published priors, widened by how little is known of this head's section and alloy.

    Args:
        section_spread: log standard deviation of the bending stiffness from the section estimate [-].
        alloy_spread: log standard deviation of the alloy's yield [-]; moves shrinkage and kept share.
    """
    wider = {"stiffness": section_spread, "shrinkage": alloy_spread, "kept": 0.5 * alloy_spread}
    return tuple(
        replace(prior, spread=math.hypot(prior.spread, wider.get(prior.name, 0.0))) for prior in PUBLISHED
    )


def response_of(priors: tuple[Prior, ...], u: NDArray[np.float64]) -> Response:
    """Return the response factors for standard normal draws.

    Args:
        priors: one a factor, in the order of `NAMES`.
        u: shape `(n, 8)`.
    """
    return Response(**{prior.name: prior.value(u[:, column]) for column, prior in enumerate(priors)})
