"""How a head is set up in the clamp: which shims, which bolts, pulled to what gap."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Corner = Literal["front exhaust", "front inlet", "rear exhaust", "rear inlet"]
CORNERS: tuple[Corner, Corner, Corner, Corner] = (
    "front exhaust",
    "front inlet",
    "rear exhaust",
    "rear inlet",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClampSetup:
    """A set-up on the bench.

    `shims` height of the stack at each of `CORNERS` [m]; `bolts` numbers (from 0) of the head's bolts that pull;
    `gap` left under the middle when the pulling stops [m], or None where `tension` [N] per bolt is given instead;
    `reverse` true where the shims stand in the middle and the ends are pulled (deck crowned).
    """

    shims: tuple[float, float, float, float]
    bolts: tuple[int, ...]
    gap: float | None = 0.0
    tension: float | None = None
    reverse: bool = False

    @property
    def front(self) -> float:
        """Mean shim height at the front [m]."""
        return (self.shims[0] + self.shims[1]) / 2

    @property
    def rear(self) -> float:
        """Mean shim height at the rear [m]."""
        return (self.shims[2] + self.shims[3]) / 2
