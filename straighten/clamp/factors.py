"""What the clamp needs to know of the draws of the unknown factors; the record itself belongs to a later room."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class Factors(Protocol):
    """Draws of the unknown factors, each of shape `(n,)`.

    `stiffness` of the casting against its section estimate [-]; `friction` coefficient of the clamp bolts [-].
    """

    @property
    def stiffness(self) -> NDArray[np.float64]:
        """Multiplier of the section's stiffness."""

    @property
    def friction(self) -> NDArray[np.float64]:
        """Friction coefficient of thread and nut face."""
