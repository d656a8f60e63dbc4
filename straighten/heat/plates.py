"""The plates a head is made of, and what one element and one cross wall of them do."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.gauss import gauss
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Head

    Floats = NDArray[np.float64]

WALL: Final = Cited(6e-3, "m", "side wall of a head whose plates are not known", "assumed")

HELD: Final = 1e3  # spring that stands for a fixed point, over the roof's thickness

LOOSE: Final = 1e-7  # spring that keeps plates from drifting away

_IN_WEB: Final = 4  # elements over the height of a web


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """What the elastic answer hangs on [m]: `length`, `width` between the walls' middles, `roof`, `wall`, `deck`, `height` of a wall, `webs` (station, thickness), `poisson`."""

    length: float
    width: float
    roof: float
    wall: float
    deck: float
    height: float
    webs: tuple[tuple[float, float], ...]
    poisson: float


def sizes_of(head: Head) -> Sizes:
    """Return the plates of a head; a solid casting is one plate as thick as it is high.

    Source: the casting's own sizes; `WALL` (assumed).
    Valid: one cell between two side walls.
    """
    casting, plates = head.casting, head.casting.plates
    nu = head.alloy.poisson
    if plates is not None and plates.solid:
        return Sizes(
            length=casting.length, width=casting.width, roof=casting.height, wall=0.0, deck=0.0, height=0.0, webs=(),
            poisson=nu,
        )  # fmt: skip
    wall = plates.side_walls if plates is not None and plates.side_walls else WALL.value
    ends = plates.end_walls if plates is not None and plates.end_walls else wall
    webs = [(0.0, ends), *((w.station, w.thickness) for w in casting.webs), (casting.length, ends)]
    return Sizes(
        length=casting.length,
        width=casting.width - wall,
        roof=casting.roof,
        wall=wall,
        deck=casting.deck,
        height=casting.height - (casting.roof + casting.deck) / 2,
        webs=tuple(webs),
        poisson=nu,
    )


def element(a: float, b: float, nu: float) -> tuple[Floats, Floats, Floats]:
    """Stiffness (8, 8), forces of a unit strain xx and yy (8, 2), plane-stress law (3, 3) of an a by b element, E h = 1."""
    law = np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]]) / (1 - nu**2)
    stiff, force = np.zeros((8, 8)), np.zeros((8, 3))
    sx, sy = np.array([-1.0, 1, 1, -1]), np.array([-1.0, -1, 1, 1])
    for x in gauss(2)[0]:
        for y in gauss(2)[0]:
            dx, dy = sx * (1 + sy * y) / (2 * a), sy * (1 + sx * x) / (2 * b)
            rows = np.zeros((3, 8))
            rows[0, ::2], rows[1, 1::2], rows[2, ::2], rows[2, 1::2] = dx, dy, dy, dx
            stiff += rows.T @ law @ rows * a * b / 4
            force += rows.T @ law * a * b / 4
    return stiff, force[:, :2], law


@lru_cache(maxsize=32)
def web_spring(sizes: Sizes, half: int, dy: float, *, alike: bool) -> Floats:
    """Stiffness along its roof line of a cross wall of unit thickness, the deck a strip at its foot, `(half + 1, half + 1)`."""
    stiff = element(dy, sizes.height / _IN_WEB, sizes.poisson)[0]
    nodes = np.arange((half + 1) * (_IN_WEB + 1)).reshape(_IN_WEB + 1, half + 1)
    whole = np.zeros((2 * nodes.size, 2 * nodes.size))
    for corners in np.stack(
        [nodes[:-1, :-1], nodes[:-1, 1:], nodes[1:, 1:], nodes[1:, :-1]], axis=-1
    ).reshape(-1, 4):
        at = np.stack([2 * corners, 2 * corners + 1], axis=1).ravel()
        whole[np.ix_(at, at)] += stiff
    foot = 2 * nodes[-1]
    strip = sizes.deck * sizes.length / max(len(sizes.webs) - 1, 1) / dy / max(sizes.wall, 1e-3)
    for a, b in pairwise(foot):
        whole[np.ix_([a, b], [a, b])] += strip * np.array([[1, -1], [-1, 1]])
    middle = 2 * nodes[:, 0] + (0 if alike else 1)
    whole[middle, middle] += HELD
    whole[np.diag_indices_from(whole)] += LOOSE
    top = 2 * nodes[0]
    rest = np.setdiff1d(np.arange(whole.shape[0]), top)
    answer = np.linalg.solve(whole[np.ix_(rest, rest)], whole[np.ix_(rest, top)])
    return np.asarray(whole[np.ix_(top, top)] - whole[np.ix_(top, rest)] @ answer)
