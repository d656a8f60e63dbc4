"""The casting's section as fibres: what bends (deck, roof, walls) and what shears (walls), true to the beam's own figures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.gauss import gauss

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.clamp.section import Section
    from straighten.head.records import Head, Plates

    Floats = NDArray[np.float64]

_IN_FLANGE: Final = 4
_IN_WALL: Final = 12
_IN_BAR: Final = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Fibres:
    """Fibres of a section.

    `height` over the neutral axis [m], `area` [m2], `shear_area` [m2], one per fibre; the sums of area x height^2 and
    of shear area are the beam's second moment and shear area.
    """

    height: Floats
    area: Floats
    shear_area: Floats

    @property
    def inertia(self) -> float:
        """Second moment of the fibres [m4]."""
        return float((self.area * self.height**2).sum())


def fibres_of(head: Head, section: Section) -> Fibres:
    """Return fibres whose bending and shear stiffness are those of the section.

    Deck and roof take what their thickness gives, the walls between them the rest of the second moment.

    Args:
        head: outline, deck and roof thickness.
        section: second moment, shear stiffness.

    Source: parts rule; derived.
    Valid: prismatic castings.
    """
    casting, plates = head.casting, head.casting.plates
    shear = section.kGA / section.shear_modulus
    if plates is not None and plates.solid:
        return _bar(casting.height, casting.width, section, shear)
    clear = casting.height - casting.deck - casting.roof
    z_deck, w_deck = _strip(0.0, casting.deck, _IN_FLANGE)
    z_roof, w_roof = _strip(casting.height - casting.roof, casting.height, _IN_FLANGE)
    z_wall, w_wall = _strip(casting.deck, casting.deck + clear, _IN_WALL)
    z = np.concatenate([z_deck, z_wall, z_roof]) - section.neutral_axis
    flange = np.concatenate([w_deck, 0 * w_wall, w_roof]) * casting.width
    wall = np.concatenate([0 * w_deck, w_wall, 0 * w_roof])
    thick = _wall_thickness(section, plates, (flange, wall, z))
    area = flange + thick * wall
    z = z - float((area * z).sum() / area.sum())
    return Fibres(
        height=z,
        area=area * section.inertia / float((area * z**2).sum()),
        shear_area=shear * wall / wall.sum(),
    )


def _wall_thickness(section: Section, plates: Plates | None, parts: tuple[Floats, Floats, Floats]) -> float:
    """Both side walls together [m]: given, or what is missing from the second moment."""
    if plates is not None:
        return 2 * plates.side_walls
    flange, wall, z = parts
    missing = section.inertia - float((flange * z**2).sum())
    return max(missing, 0.05 * section.inertia) / float((wall * z**2).sum())


def _bar(height: float, width: float, section: Section, shear: float) -> Fibres:
    z, weight = _strip(0.0, height, _IN_BAR)
    z = z - height / 2
    parabola = weight * (1 - (2 * z / height) ** 2)
    area = width * weight
    return Fibres(
        height=z,
        area=area * section.inertia / float((area * z**2).sum()),
        shear_area=shear * parabola / parabola.sum(),
    )


def _strip(low: float, high: float, count: int) -> tuple[Floats, Floats]:
    node, weight = gauss(count)
    return low + (high - low) * (node + 1) / 2, weight * (high - low) / 2
