"""Where the deck face has metal: the outline less the chambers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.finish.cylinders import centres_of
from straighten.finish.face import COLUMNS, ROWS, area_weights

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Head

    Array = NDArray[np.float64]

_FINE: Final = 6  # points each way in the cell of a place


def land_of(head: Head) -> Array:
    """Return how much metal every place of the face stands for, `(m,)`, sum one.

    Args:
        head: outline, bore, cylinders, chamber opening.

    Source: Chambers as circles of the opening's area on the middle line (derived).
    Valid: Bolt holes and water ways count as spread evenly.
    """
    bore = head.engine.bore
    if bore is None:
        return area_weights()
    radius = bore / 2 * head.engine.opening**0.5
    share = (np.arange(_FINE) + 0.5) / _FINE - 0.5
    x = np.add.outer(np.linspace(0, 1, COLUMNS), share / (COLUMNS - 1)).clip(0, 1) * head.casting.length
    y = np.add.outer(np.linspace(-1, 1, ROWS), 2 * share / (ROWS - 1)).clip(-1, 1) * head.casting.width / 2
    gap = x[:, None, :, None, None] - np.array(centres_of(head)[0])
    far = np.hypot(gap, y[None, :, None, :, None]).min(axis=-1)
    metal = (far > radius).mean(axis=(2, 3)).ravel() * area_weights()
    land: Array = metal / metal.sum()
    return land
