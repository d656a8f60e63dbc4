"""What the heat leaves behind, as every later room takes it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from straighten.heat.layout import RoofState

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxed:
    """Result of one heat, draws on the leading axis.

    `set_state` (n, 11): shape after = shape before - set_state; `spots_part`, `kept_part` (n, 11) its two shares:
    what the spots' own shrinkage does, and what the clamp's bend leaves; `kinks` (n, spots) [rad], > 0 lowers the
    middle; `kept_share` (n,) kept deck bow over the bend imposed; `lines` (n, 4) how much deck edges, deck centre, cam
    face edges and cam face centre fall in the middle [m]; `hardness_before`, `hardness_after` (n, 2) lowest
    and highest [HB] at the hottest place, with the spread of the alloy and of the softening time in them; `heat` put in [J]; `warm` bulk temperature rise of the head once even [K];
    `peaks` (treatments,) surface temperatures reached [degC]; `powers` absorbed [W]; `left` what this heat and those
    before it have left in the roof, for the next one; `caveats` in words.
    """

    set_state: Floats
    spots_part: Floats
    kept_part: Floats
    kinks: Floats
    kept_share: Floats
    lines: Floats
    hardness_before: Floats
    hardness_after: Floats
    heat: float
    warm: float
    peaks: tuple[float, ...]
    powers: tuple[float, ...] = ()
    left: RoofState = ()
    caveats: tuple[str, ...] = ()
