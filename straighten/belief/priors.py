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
from straighten.clamp.section import section_of
from straighten.heat.flames import spot_doubts, spread_of
from straighten.heat.soak import SOAK_SPREAD
from straighten.heat.treatment import FARTHEST, Response

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Head
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
        reason="of each tip's flux radius 10 % stay unknown, a fifth of its effect; the next tip is twice as strong",
    ),
)  # fmt: skip
NAMES = tuple(prior.name for prior in PUBLISHED)
_OF = {prior.name: prior for prior in PUBLISHED}
SCATTER = _OF["scatter"]


def priors_for(head: Head) -> tuple[Prior, ...]:
    """Return the published priors with the spreads that this head's own figures leave.

    Args:
        head: its section, alloy, torch, roof.
    """
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


def response_of(priors: tuple[Prior, ...], u: NDArray[np.float64]) -> Response:
    """Return the response factors for standard normal draws.

    Args:
        priors: one a factor, in the order of `NAMES`.
        u: shape `(n, 9)`.
    """
    return Response(**{prior.name: prior.value(u[:, column]) for column, prior in enumerate(priors)})
