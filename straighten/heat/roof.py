r"""The heated roof as an elastic plate between walls: what a shrinking zone does to itself and to the next.

Roof, side walls and deck are membranes of rectangular elements joined along their corners, cross walls hold the roof
sideways. A zone is a patch of the roof that shrinks by the volumes V_x, V_y; the stress (over E) that zone i then feels is

.. math:: s_i = \sum_j M_{ij} V_j,\qquad M_{ij} = D\,\frac{\int w_i w_j}{V_i V_j} - G_i^T K^{-1} G_j

an energy, so that M has no negative eigenvalue, however zones overlap. The head is alike on both sides: K is solved
once for loads alike on both sides and once for loads that are opposite.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.plates import HELD, LOOSE, element, inside, web_spring

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from scipy.sparse.linalg import SuperLU

    from straighten.heat.plates import Sizes, Zone

    Counts = NDArray[np.intp]
    Floats = NDArray[np.float64]


CELL: Final = 5e-3  # m: elements of the roof, as near as whole numbers allow
MOST_CELLS: Final = (130, 34)  # along and across; longer heads get longer elements
_IN_WALL, _IN_DECK = 5, 2  # elements over the height of a wall, half the deck
_FINE: Final = 4  # points a cell and direction that tell how much of it a zone covers
MOST_ZONES: Final = 600  # answers kept in memory: half a megabyte each at the most


@dataclass(frozen=True, slots=True)
class _Section:
    """Unknowns of one cross-section of half the head: roof nodes (m, 2), wall nodes from roof to deck (k, 2), deck nodes from wall to middle (d, 2)."""

    roof: Counts
    wall: Counts
    deck: Counts
    count: int

    @classmethod
    def of(cls, across: int, walled: bool) -> _Section:
        roof = np.arange(2 * (across + 1)).reshape(-1, 2)
        none = np.zeros((0, 2), dtype=np.intp)
        if not walled:
            return cls(roof, none, none, roof.size)
        first = roof.size
        wall = np.concatenate([[[roof[-1, 0], first]], first + 1 + np.arange(2 * _IN_WALL).reshape(-1, 2)])
        first += 1 + 2 * _IN_WALL
        deck = np.concatenate([[[wall[-1, 0], first]], first + 1 + np.arange(2 * _IN_DECK).reshape(-1, 2)])
        return cls(roof, wall, deck, first + 1 + 2 * _IN_DECK)


class Roof:
    """The elastic head of some sizes. A resource: it holds its factors and the answers to the zones it has seen."""

    def __init__(self, sizes: Sizes) -> None:
        self.sizes = sizes
        along = min(math.ceil(sizes.length / CELL), MOST_CELLS[0])
        half = min(math.ceil(sizes.width / CELL / 2), MOST_CELLS[1] // 2)
        self._cells = (along, half)
        self.dx, self.dy = sizes.length / along, sizes.width / 2 / half
        self._section = _Section.of(half, sizes.wall > 0)
        _, self._force, self.law = element(self.dx, self.dy, sizes.poisson)
        self._held: dict[bool, list[tuple[int, Floats]]] = {True: [], False: []}
        self._factors = [self._factor(alike=alike) for alike in (True, False)]
        self._corners = self._strips(self._section.roof)
        self._sides = self._strips(self._section.wall)
        self._known: dict[Zone, Floats] = {}
        self._moved: dict[Zone, list[Floats | None]] = {}
        self._pressed: dict[Zone, tuple[Floats, Floats]] = {}
        self._covers: dict[Zone, Floats] = {}

    @property
    def x(self) -> Floats:
        """Middles of the cells along the head [m]."""
        return np.asarray((np.arange(self._cells[0]) + 0.5) * self.dx, dtype=np.float64)

    @property
    def y(self) -> Floats:
        """Middles of the cells across, from the middle line [m]."""
        half = (np.arange(self._cells[1]) + 0.5) * self.dy
        both: Floats = np.concatenate([-half[::-1], half])
        return both

    def _factor(self, *, alike: bool) -> SuperLU:
        from scipy.sparse import coo_array
        from scipy.sparse.linalg import splu

        rows, columns, values = (np.concatenate(v) for v in zip(*self._stiffness(alike=alike), strict=True))
        size = self._section.count * (self._cells[0] + 1)
        every = np.arange(size)
        loose = np.full(size, LOOSE * self.sizes.roof)
        at = (np.concatenate([rows, every]), np.concatenate([columns, every]))
        matrix = coo_array((np.concatenate([values, loose]), at), shape=(size, size)).tocsc()
        plain = {"SymmetricMode": True, "DiagPivotThresh": 0.0}
        return splu(matrix, permc_spec="MMD_AT_PLUS_A", options=plain)

    def _stiffness(self, *, alike: bool) -> list[tuple[Counts, Counts, Floats]]:
        """Entries of the half head's stiffness: plates, cross walls, and the middle line held as the loads ask."""
        sizes, section, along = self.sizes, self._section, self._cells[0]
        found = [self._plate(section.roof, self.dy, sizes.roof)]
        if sizes.wall:
            found.append(self._plate(section.wall, sizes.height / _IN_WALL, sizes.wall))
            found.append(self._plate(section.deck, sizes.width / 2 / _IN_DECK, sizes.deck))
        for station, thick in sizes.webs:
            found += self._web(station, thick, alike=alike)
        middle = [section.roof[0], *([section.deck[-1]] if sizes.wall else [])]
        held = np.array([pair[1 if alike else 0] for pair in middle])
        at = (np.arange(along + 1)[:, None] * section.count + held).ravel()
        found.append((at, at, np.full(at.size, HELD * sizes.roof)))
        return found

    def _plate(self, nodes: Counts, wide: float, thick: float) -> tuple[Counts, Counts, Floats]:
        stiff = element(self.dx, wide, self.sizes.poisson)[0] * thick
        corners = self._strips(nodes).reshape(-1, 8)
        rows, columns = np.repeat(corners, 8, axis=1), np.tile(corners, (1, 8))
        return rows.ravel(), columns.ravel(), np.tile(stiff.ravel(), len(corners))

    def _strips(self, nodes: Counts) -> Counts:
        """Unknowns of all elements of a plate, `(along, strips, 8)`."""
        n = self._section.count
        one = np.concatenate([nodes[:-1], n + nodes[:-1], n + nodes[1:], nodes[1:]], axis=1)
        return np.asarray(one[None] + (np.arange(self._cells[0]) * n)[:, None, None])

    def _web(self, station: float, thick: float, *, alike: bool) -> list[tuple[Counts, Counts, Floats]]:
        """A cross wall, its own nodes solved away: it holds the roof sideways along its line."""
        along = station / self.dx
        first = min(int(along), self._cells[0])
        share = along - first
        held = web_spring(self.sizes, self._cells[1], self.dy, alike=alike) * thick
        found = []
        for section, part in ((first, 1 - share), (first + 1, share)):
            if part > 1e-6 and section <= self._cells[0]:
                at = section * self._section.count + self._section.roof[:, 1]
                self._held[alike].append((section, part * held))
                found.append((np.repeat(at, at.size), np.tile(at, at.size), part * held.ravel()))
        return found

    def forget(self) -> None:
        """Let go of the answers kept in memory."""
        self._known.clear()
        self._moved.clear()
        self._pressed.clear()
        self._covers.clear()

    def cover(self, zone: Zone) -> Floats:
        """Return how much of every cell a zone covers, `(along, across)`.

        Source: definition; `_FINE` squared points a cell.
        Valid: zones that touch the roof; cut off at its edges.
        """
        if zone not in self._covers:
            self._covers[zone] = self._covered(zone)
        return self._covers[zone]

    def _covered(self, zone: Zone) -> Floats:
        """Cover of every cell; only those near the zone's line are looked at."""
        found = np.zeros((self.x.size, self.y.size))
        near = []
        for middles, size, ends in (
            (self.x, self.dx, (zone.x, zone.x_end)),
            (self.y, self.dy, (zone.y, zone.y_end)),
        ):
            reach = zone.radius + size
            near.append(np.nonzero((middles > min(ends) - reach) & (middles < max(ends) + reach))[0])
        rows, columns = near
        if rows.size and columns.size:
            points = inside(zone, _finer(self.x[rows], self.dx), _finer(self.y[columns], self.dy))
            shape = (rows.size, _FINE, columns.size, _FINE)
            found[np.ix_(rows, columns)] = points.reshape(shape).mean(axis=(1, 3))
        if (
            not found.any()
        ):  # cut to a sliver, or beside the roof's plates: the least that is seen, at the nearest cell
            x, y = (zone.x + zone.x_end) / 2, (zone.y + zone.y_end) / 2
            found[np.abs(self.x - x).argmin(), np.abs(self.y - y).argmin()] = 1 / _FINE**2
        return found

    def answer(self, zone: Zone) -> Floats:
        """Return the elastic stress over E in every cell per shrinkage along and across, `(along, across, 2, 2)` [1/m3], the zone's own strain not taken off.

        Source: membrane elements; derived.
        Valid: roof flat between its walls; solid castings: no bending.
        """
        if zone not in self._known:
            if len(self._known) > MOST_ZONES:
                self.forget()
            other = zone.mirrored()
            if other in self._known:
                self._known[zone] = self._known[other][:, ::-1]
                alike, opposite = self._moved[other]
                self._moved[zone] = [alike, None if opposite is None else -opposite]
            else:
                self._known[zone], self._moved[zone] = self._solved(self.cover(zone))
        return self._known[zone]

    def _solved(self, cover: Floats) -> tuple[Floats, list[Floats | None]]:
        """Stress in every cell, and what moved under loads alike on both sides and under opposite ones."""
        half = self._cells[1]
        weight = cover / (
            cover.sum() * self.dx * self.dy
        )  # per area; the thickness cancels between load and spring
        right, left = weight[:, half:], weight[:, half - 1 :: -1]
        total = np.zeros((self.x.size, 2 * half, 2, 2))
        every: list[Floats | None] = []
        for factor, part, sign in zip(
            self._factors, ((right + left) / 2, (right - left) / 2), (1.0, -1.0), strict=True
        ):
            if not part.any():
                every.append(None)
                continue
            moved = factor.solve(self._load(part))
            every.append(moved)
            felt = np.einsum("xykc,ka->xyac", moved[self._corners], self._force) / (self.dx * self.dy)
            total[:, half:] += felt
            total[:, half - 1 :: -1] += sign * felt
        return total, every

    def _load(self, part: Floats) -> Floats:
        size = self._section.count * (self._cells[0] + 1)
        at, across = np.nonzero(part)
        where = self._corners[at, across].ravel()
        push = part[at, across][:, None, None] * self._force
        return np.stack([np.bincount(where, push[..., k].ravel(), size) for k in (0, 1)], axis=1)

    @property
    def unfolded(self) -> Floats:
        """Distances across from the middle line of the cells of roof and walls, walls folded up into the roof's plane [m]."""
        if not self.sizes.wall:
            return self.y
        depth = self.sizes.width / 2 + (np.arange(_IN_WALL) + 0.5) * self.sizes.height / _IN_WALL
        return np.concatenate([-depth[::-1], self.y, depth])

    def inside(self, unfolded: Floats) -> Floats:
        """Return what of a figure on the cells of `unfolded` lies on the roof, `(along, across)`."""
        middle, half = unfolded.shape[-1] // 2, self._cells[1]
        return unfolded[..., middle - half : middle + half]

    def squeezed(self, zones: tuple[Zone, ...], grown: Floats, down: Floats | float = 0.0) -> Floats:
        """Return the mean stress over E, compression positive, in zones of a roof that grows with its walls.

        `grown` strain of the cells of `unfolded`, `(..., along, unfolded)`; `down` how far the heat has gone
        down the cross walls [m], `(...)`: they grow with the roof above them.

        Returns:
            `(..., zones, 2)`, along and across.

        Source: membrane elements; reciprocity: what growth does to a zone is what the zone's shrinkage does to the growth (derived).
        Valid: deck as cold as before.
        """
        plain, webs = (np.stack(part) for part in zip(*map(self._felt_of_growth, zones), strict=True))
        depth = self.sizes.width / (
            2 * np.pi
        )  # the part of a cross wall that holds the roof, warm at its top
        share = np.maximum(1 - depth / (np.maximum(down, 1e-9) * math.sqrt(np.pi)), 0.0)
        by_cells = ((-2, -1), (1, 2))
        felt = np.tensordot(grown, plain, axes=by_cells)
        return np.asarray(
            felt + np.asarray(share)[..., None, None] * np.tensordot(grown, webs, axes=by_cells)
        )

    def _felt_of_growth(self, zone: Zone) -> tuple[Floats, Floats]:
        """Stress over E in a zone per strain of each cell of `unfolded`: of roof and walls, and of cross walls as warm as the roof, `(along, unfolded, 2)` each."""
        if zone not in self._pressed:
            self.answer(zone)
            cover, half, middle = self.cover(zone), self._cells[1], self.unfolded.size // 2
            plain, webs = np.zeros((2, self.x.size, 2 * middle, 2))
            law = self.law[:2, :2].sum(axis=0)
            plain[:, middle - half : middle + half] = cover[..., None] / cover.sum() * law
            for moved, sign in zip(self._moved[zone], (1.0, -1.0), strict=True):
                if moved is not None:
                    for told, felt in (
                        (plain, self._work(moved)),
                        (webs, self._work_of_webs(moved, alike=sign > 0)),
                    ):
                        told[:, middle : middle + felt.shape[1]] -= felt
                        told[:, middle - felt.shape[1] : middle] -= sign * felt[:, ::-1]
            self._pressed[zone] = plain, webs
        return self._pressed[zone]

    def _work(self, moved: Floats) -> Floats:
        """Work on what moved, per strain of each cell of half a roof and its wall, `(along, half unfolded, 2)`."""
        sizes = self.sizes
        parts = [np.einsum("xyki,k->xyi", moved[self._corners], sizes.roof * self._force.sum(axis=1))]
        if sizes.wall:
            force = element(self.dx, sizes.height / _IN_WALL, sizes.poisson)[1].sum(axis=1)
            parts.append(np.einsum("xyki,k->xyi", moved[self._sides], sizes.wall * force))
        return np.concatenate(parts, axis=1)

    def _work_of_webs(self, moved: Floats, *, alike: bool) -> Floats:
        """The same for cross walls that grow as the roof above them does, `(along, half across, 2)`."""
        found = np.zeros((self.x.size, self._cells[1], 2))
        for section, spring in self._held[alike]:
            at = section * self._section.count + self._section.roof[:, 1]
            pushed = (spring @ moved[at])[1:]
            above = slice(max(section - 1, 0), section + 1)
            found[above] += (
                np.cumsum(pushed[::-1], axis=0)[::-1] * self.dy / len(range(*above.indices(self.x.size)))
            )
        return found

    @cached_property
    def bent(self) -> Floats:
        """Return the roof's stresses along and across over the stress along that plain bending gives, `(along, across, 2)`: cross walls hold it sideways.

        Source: membrane elements under end moments; derived.
        Valid: away from the ends by a width; one and zero for a solid casting.
        """
        half = self._cells[1]
        told = np.zeros((self.x.size, 2 * half, 2))
        if not self.sizes.wall:
            told[..., 0] = 1.0
            return told
        moved = self._factors[0].solve(self._end_moment())
        felt = moved[self._corners] @ self._force / (self.dx * self.dy)
        told[:, half:], told[:, half - 1 :: -1] = felt, felt
        return told

    def _end_moment(self) -> Floats:
        """Forces on both ends that bend the head so that its roof bears a unit stress."""
        sizes, section = self.sizes, self._section
        depth = sizes.height * np.arange(_IN_WALL + 1) / _IN_WALL
        parts = (
            (section.roof[:, 0], np.zeros(section.roof.shape[0]), self.dy * sizes.roof),
            (section.wall[:, 0], depth, sizes.height / _IN_WALL * sizes.wall),
            (
                section.deck[:, 0],
                np.full(_IN_DECK + 1, sizes.height),
                sizes.width / 2 / _IN_DECK * sizes.deck,
            ),
        )
        area = sum(size * (at.size - 1) for at, _, size in parts)
        neutral = sum(size * float((z[1:] + z[:-1]).sum() / 2) for _, z, size in parts) / area
        load = np.zeros(section.count * (self._cells[0] + 1))
        last = section.count * self._cells[0]
        for at, z, size in parts:
            stress = 1 - (z[1:] + z[:-1]) / 2 / neutral
            for nodes in (at[:-1], at[1:]):
                np.add.at(load, last + nodes, stress * size / 2)
                np.add.at(load, nodes, -stress * size / 2)
        return load


def _finer(middles: Floats, size: float) -> Floats:
    off = ((np.arange(_FINE) + 0.5) / _FINE - 0.5) * size
    return np.asarray((middles[:, None] + off).ravel())


@lru_cache(maxsize=16)
def roof_of(sizes: Sizes) -> Roof:
    """Return the elastic roof of some sizes, factored once."""
    return Roof(sizes)
