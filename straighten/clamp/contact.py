r"""Unilateral contact solved exactly, many parameter draws at once.

Every point i pushes with a force v_i >= 0 or is open by g_i >= 0, never both:

.. math:: g = M v + R q + d \ge 0,\quad v \ge 0,\quad v^T g = 0,\quad R^T v = e

M is the flexibility of the two beams and of the points' own give, q the rigid movement of the head (front end, rear
end, roll), e the load that the points must carry. These are the optimality conditions of a convex quadratic
programme. Points are swapped in blocks between pushing and open; where a block swap stops helping, one at a time.
No stiffness is invented: each set of pushing points is solved as a linear system.

All draws share M = H / s + B up to their stiffness s, so draws with the same set of pushing points are solved
together.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from straighten.errors import OutsideModel
from straighten.quantiles import Floats

Mask = NDArray[np.bool_]

OPEN = 1e-12  # gaps [m] and forces relative to the largest one count as zero below this
SLACK = 1e-9
BALANCE = 1e-6  # of the largest force may be missing in the balance by rounding
PATIENCE = 5  # block swaps without progress before going one at a time (Judice and Pires)
MOST_SWAPS = 400
STANDS = 1e-9  # determinant below which the pushing points leave the head a way to tip
LOOSE = 1e-2  # N/m: holds a head on fewer than three points, while sets are tried or where it rocks on two corners


@dataclass(frozen=True, slots=True)
class PerDraw:
    """A record of arrays that all have the draws on their leading axis."""

    def rows(self, rows: NDArray[np.intp]) -> Self:
        """Return it for some of the draws."""
        return replace(self, **{f.name: getattr(self, f.name)[rows] for f in fields(self)})

    def put(self, rows: NDArray[np.intp], part: Self) -> None:
        """Put what holds for some of the draws in its place."""
        for f in fields(self):
            getattr(self, f.name)[rows] = getattr(part, f.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flexibility:
    """What all draws share, for p points, and the stiffness in which they differ.

    `head` H and `base` B [m/N], shape `(p, p)`, signs of the points already in; `rigid` R, shape `(p, 3)`;
    `stiffness` s of each draw, shape `(n,)`.
    """

    head: Floats
    base: Floats
    rigid: Floats
    stiffness: Floats

    def rows(self, rows: NDArray[np.intp]) -> Flexibility:
        """Return it for some of the draws."""
        return replace(self, stiffness=self.stiffness[rows])

    def times(self, points: NDArray[np.intp], forces: Floats) -> Floats:
        """Return M v at all points, `(n, p)`, of forces v `(n, points)` at some."""
        moved = (forces / self.stiffness[:, None]) @ self.head[:, points].T
        moved += forces @ self.base[:, points].T
        return np.asarray(moved)


@dataclass(frozen=True, slots=True, kw_only=True)
class Loads(PerDraw):
    """Offsets and loads of each draw: `gaps` d [m], shape `(n, p)`; `carried` e [N, N, N m], shape `(n, 3)`."""

    gaps: Floats
    carried: Floats

    def with_pull(self, tension: Floats, per_newton: Loads) -> Loads:
        """Return them with bolts that pull at a tension [N], shape `(n, 1)`."""
        return Loads(
            gaps=self.gaps + tension * per_newton.gaps, carried=self.carried + tension * per_newton.carried
        )

    @property
    def right(self) -> Floats:
        """Right-hand sides -d over e, `(n, p + 3)`."""
        return np.concatenate([-self.gaps, self.carried], axis=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class System:
    """The conditions of touching, bordered by the rigid movement: `head` / s + `rest`, each `(p + 3, p + 3)`.

    `stiffness` s of each draw; `footing` R over its largest entries, `(p, 3)`; `movement` the last three numbers.
    """

    head: Floats
    rest: Floats
    stiffness: Floats
    footing: Floats
    reach: Floats
    movement: NDArray[np.intp]

    @classmethod
    def of(cls, flexibility: Flexibility) -> System:
        """Return it for a flexibility."""
        points = flexibility.head.shape[0]
        head, rest = np.zeros((2, points + 3, points + 3))
        head[:points, :points] = flexibility.head
        rest[:points, :points] = flexibility.base
        rest[:points, points:] = flexibility.rigid
        rest[points:, :points] = flexibility.rigid.T
        reach = np.abs(flexibility.rigid).max(axis=0)
        return cls(
            head=head,
            rest=rest,
            stiffness=flexibility.stiffness,
            footing=flexibility.rigid / reach,
            reach=reach,
            movement=points + np.arange(3),
        )

    def tips(self, points: NDArray[np.intp]) -> bool:
        """Whether the head has a way to tip on some points."""
        feet = self.footing[points]
        return bool(np.linalg.det(feet.T @ feet) < STANDS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Touching(PerDraw):
    """The solved contact: `forces` v [N] and `gaps` g [m], shape `(n, p)`; `rigid` q, shape `(n, 3)`; `pushing`."""

    forces: Floats
    gaps: Floats
    rigid: Floats
    pushing: Mask

    @classmethod
    def empty(cls, pushing: Mask) -> Touching:
        """Return the contact before anything is solved, with who pushes."""
        count, points = pushing.shape
        forces, gaps = np.zeros((2, count, points))
        return cls(forces=forces, gaps=gaps, rigid=np.zeros((count, 3)), pushing=pushing)


def solve_contact(flexibility: Flexibility, loads: Loads, pushing: Mask) -> Touching:
    """Return the contact forces and gaps of every draw.

    `pushing` first guess of the pushing points, shape `(n, p)`; any guess will do.

    Raises:
        OutsideModel: the head cannot stand on these points under this load.

    Source: Block principal pivoting with Murty's rule as fallback: Judice and Pires, Computers & Operations
    Research 21 (1994) 587 (from memory).
    Valid: M positive definite on movements without rigid part; finite end is assured for nondegenerate problems.
    """
    state, system = _Swapping.start(pushing), System.of(flexibility)
    answer, right = Touching.empty(pushing.copy()), loads.right[..., None]
    for _ in range(MOST_SWAPS):
        todo = np.flatnonzero(~state.done)
        if todo.size == 0:
            if not np.all(carries(flexibility, loads.carried, answer.forces)):
                break
            return answer
        for members, points in sets_of(state.pushing, todo):
            forces, gaps, rigid = linear_set(system, members, points, right[members])
            answer.forces[members], answer.gaps[members] = forces[..., 0], gaps[..., 0]
            answer.rigid[members] = rigid[..., 0]
        answer.pushing[todo] = state.pushing[todo]
        state.swap(todo, wrong_points(answer.forces[todo], answer.gaps[todo], state.pushing[todo]))
    raise OutsideModel(
        "the head finds no rest on its shims and base", fix="Check shims, bolts and base of the set-up."
    )


def carries(flexibility: Flexibility, carried: Floats, forces: Floats) -> Mask:
    """Return which draws' forces balance their load; others stand on fewer than three points and would tip."""
    reach = np.abs(flexibility.rigid).max(axis=0)
    off = np.abs(forces @ flexibility.rigid - carried) / reach
    return np.asarray(off.max(axis=1) <= BALANCE * (1 + np.abs(forces).max(axis=1)))


def sets_of(pushing: Mask, draws: NDArray[np.intp]) -> list[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Return the draws grouped by their set of pushing points: (draws, points) of each group."""
    if draws.size == 1:
        return [(draws, np.flatnonzero(pushing[draws[0]]))]
    packed = np.packbits(pushing[draws], axis=1)
    words = np.zeros((draws.size, -(-packed.shape[1] // 8) * 8), dtype=np.uint8)
    words[:, : packed.shape[1]] = packed
    keys = words.view(np.uint64)
    kinds = keys[:, 0] if keys.shape[1] == 1 else keys  # numbers sort faster than rows
    _, first, group = np.unique(kinds, axis=0, return_index=True, return_inverse=True)
    group = group.reshape(-1)
    return [(draws[group == k], np.flatnonzero(pushing[draws[f]])) for k, f in enumerate(first)]


def linear_set(
    system: System, members: NDArray[np.intp], points: NDArray[np.intp], right: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return forces, gaps and rigid movement when exactly `points` touch, for one or more right-hand sides.

    `right` -d over e, `(members, p + 3, k)`; v and g come back as `(members, p, k)`, q as `(members, 3, k)`.
    """
    count, every = points.size, right.shape[1] - 3
    at = np.concatenate([points, system.movement])
    head, rest, stiffness = system.head[at], system.rest[at], system.stiffness[members]
    matrix = head[:, at] / stiffness[:, None, None] + rest[:, at]
    if system.tips(points):
        matrix[:, count:, count:] = -LOOSE * np.diag(system.reach**2)
    found = np.linalg.solve(matrix, right[:, at])
    lines = found.transpose(0, 2, 1).reshape(-1, at.size)  # all right-hand sides one under the other
    moved = (lines / np.repeat(stiffness, right.shape[2])[:, None]) @ head[:, :every]
    moved += lines @ rest[:, :every]
    gaps = moved.reshape(len(members), -1, every).transpose(0, 2, 1) - right[:, :every]
    gaps[:, points] = 0.0
    forces = np.zeros_like(gaps)
    forces[:, points] = found[:, :count]
    return forces, gaps, found[:, count:]


def wrong_points(forces: Floats, gaps: Floats, pushing: Mask) -> Mask:
    """Return the points that pull where they should push, or overlap where they should be open.

    Valid: up to `SLACK` of the largest force and `OPEN` of gap.
    """
    least = -SLACK * np.maximum(np.abs(forces).max(axis=1, keepdims=True), 1.0)
    return np.where(pushing, forces < least, gaps < -OPEN)


@dataclass(slots=True)
class _Swapping:
    """Who pushes now, who is done, and how patient the block swaps still are."""

    pushing: Mask
    done: Mask
    best: NDArray[np.intp]
    patience: NDArray[np.intp]

    @classmethod
    def start(cls, pushing: Mask) -> _Swapping:
        count, points = pushing.shape
        return cls(
            pushing=pushing.copy(),
            done=np.zeros(count, dtype=np.bool_),
            best=np.full(count, points + 1),
            patience=np.full(count, PATIENCE),
        )

    def swap(self, draws: NDArray[np.intp], wrong: Mask) -> None:
        """Swap the wrong points of the draws: all of them while that helps, else only the last one."""
        count = wrong.sum(axis=1)
        better = count < self.best[draws]
        self.best[draws] = np.where(better, count, self.best[draws])
        self.patience[draws] = np.where(better, PATIENCE, self.patience[draws] - 1)
        single = self.patience[draws] < 0
        last = wrong.shape[1] - 1 - np.argmax(wrong[:, ::-1], axis=1)
        only = np.zeros_like(wrong)
        only[np.arange(draws.size), last] = True
        self.pushing[draws] ^= np.where(single[:, None], only & wrong, wrong)
        self.done[draws] = count == 0
