r"""What a disc keeps of a strain imposed from far away while it is heated and cooled.

The derivative of the disc's whole history with respect to the clamp's strain, carried along step by step with the
consistent tangents of the return mapping. A strained plate far from the spot, (e_x, e_y), splits into an even part
m = (e_x + e_y)/2, which stays a ring problem, and a lopsided part d = (e_x - e_y)/2, which goes with cos 2 theta:

.. math:: u_r = U(r)\cos 2\theta,\quad u_\theta = W(r)\sin 2\theta

A disc that carries nothing while hot is a hole: Kirsch's factors 3 and -1 are the limit of this calculation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.heat.disc import Mesh, Moment
    from straighten.heat.flow import Flowed, Leaning

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """The cold plate around: `modulus` [Pa], `poisson`."""

    modulus: float
    poisson: float


@dataclass(frozen=True, slots=True)
class _Trace:
    """Derivatives of what the metal remembers, shape (discs, rings, layers, loads)."""

    total: Floats
    difference: Floats
    shear: Floats
    slip: Floats


class Sensitivity:
    """Carries d(history)/d(far strain) for one part of the far strain: `even` or lopsided.

    A resource, since it must be fed every `Moment` in order; `kept` may be asked at any time.
    """

    def __init__(self, mesh: Mesh, plate: Plate, loads: int, *, even: bool) -> None:
        self._mesh = mesh
        self._even = even
        self._rows = _even_rows(mesh) if even else _lopsided_rows(mesh)
        self._measure = mesh.volume / (4 * np.pi)
        self._outer, self._far = _surround(mesh, plate, even=even)
        shape = (*mesh.volume.shape, loads)
        self._trace = _Trace(*(np.zeros(shape) for _ in range(4)))

    def feed(self, moment: Moment, far: Floats) -> None:
        """Take the next instant, at which the far strain stands at `far` (discs, loads)."""
        flowed, leaning, trace = moment.flowed, moment.leaning, self._trace
        right = self._memory_force(flowed, leaning, moment.metal.hardening)
        right[:, -self._nodal :] += self._far[:, :, None] * far[:, None, :]
        moved = self._solve(moment, right)
        strains = np.einsum("pdri,dril->pdrl", self._rows, self._by_ring(moved))[:, :, :, None, :]
        total, difference = strains[0] - trace.total, strains[1] - trace.difference
        hard = moment.metal.hardening * trace.slip
        a = _c(flowed.aa) * total + _c(flowed.ab) * difference + _c(leaning.a_y) * hard
        b = _c(flowed.ab) * total + _c(flowed.bb) * difference + _c(leaning.b_y) * hard
        slip = _c(leaning.slip_a) * total + _c(leaning.slip_b) * difference + _c(leaning.slip_y) * hard
        self._trace = _Trace(
            strains[0] - a / _c(moment.metal.sum_modulus),
            strains[1] - b / _c(moment.metal.difference_modulus),
            self._shear_kept(strains, moment),
            trace.slip + slip,
        )

    def kept(self) -> Floats:
        """Return the kept xx strain times volume per unit far strain [m3], shape (discs, loads)."""
        volume = _c(self._mesh.volume)
        if self._even:
            return np.asarray((self._trace.total / 2 * volume).sum(axis=(1, 2)))
        return np.asarray(((self._trace.difference - self._trace.shear) / 4 * volume).sum(axis=(1, 2)))

    @property
    def _nodal(self) -> int:
        return 1 if self._even else 2

    def _shear_kept(self, strains: Floats, moment: Moment) -> Floats:
        if self._even:
            return self._trace.shear
        stress = _c(moment.leaning.shear) * (strains[2] - self._trace.shear)
        return np.asarray(strains[2] - stress / _c(moment.metal.difference_modulus / 2))

    def _memory_force(self, flowed: Flowed, leaning: Leaning, hardening: float) -> Floats:
        """Nodal forces of what is already kept, on the right-hand side."""
        trace, hard = self._trace, hardening * self._trace.slip
        a = _c(flowed.aa) * trace.total + _c(flowed.ab) * trace.difference - _c(leaning.a_y) * hard
        b = _c(flowed.ab) * trace.total + _c(flowed.bb) * trace.difference - _c(leaning.b_y) * hard
        sums = [(v * _c(self._measure)).sum(axis=2) for v in (a, b)]
        if not self._even:
            sums.append(2 * (_c(leaning.shear * self._measure) * trace.shear).sum(axis=2))
        nodal = self._nodal
        push = np.einsum("pdri,pdrl->dril", self._rows, np.stack(sums))
        force = np.zeros((push.shape[0], nodal * (push.shape[1] + 1), push.shape[3]))
        for i in range(2 * nodal):
            start, stop = i % nodal + nodal * (i // nodal), None if i >= nodal else -nodal
            force[:, start:stop:nodal] += push[:, :, i]
        return force

    def _by_ring(self, moved: Floats) -> Floats:
        nodal = self._nodal
        nodes = moved.reshape(moved.shape[0], -1, nodal, moved.shape[-1])
        return np.concatenate([nodes[:, :-1], nodes[:, 1:]], axis=2)

    def _solve(self, moment: Moment, right: Floats) -> Floats:
        from scipy.linalg.lapack import dpbsv

        nodal, (discs, size, loads) = self._nodal, right.shape
        stiff = self._stiffness(moment.flowed, moment.leaning)
        wide = 2 * nodal
        band = np.zeros((wide, discs, size))
        for i in range(wide):
            for j in range(i, wide):
                column = j % nodal + nodal * (j // nodal)
                stop = None if j >= nodal else -nodal
                band[wide - 1 - (j - i), :, column:stop:nodal] += stiff[:, :, i, j]
        for i in range(nodal):
            for j in range(i, nodal):
                band[wide - 1 - (j - i), :, size - nodal + j] += self._outer[:, i, j]
        for i in range(nodal):  # the middle does not move, one disc does not feel the next
            band[:, :, i] = 0.0
            for off in range(1, wide):
                band[wide - 1 - off, :, i + off] = 0.0
            band[wide - 1, :, i] = 1.0
            right[:, i] = 0.0
        _, solved, _ = dpbsv(band.reshape(wide, -1), right.reshape(-1, loads))
        return np.asarray(solved).reshape(discs, size, loads)

    def _stiffness(self, flowed: Flowed, leaning: Leaning) -> Floats:
        """Ring stiffness (discs, rings, i, j) from the layer sums of the tangents."""
        aa, ab, bb = ((v * self._measure).sum(axis=-1) for v in (flowed.aa, flowed.ab, flowed.bb))
        a, b = self._rows[0], self._rows[1]
        both = a[..., :, None] * b[..., None, :]
        stiff = (
            aa[..., None, None] * a[..., :, None] * a[..., None, :]
            + ab[..., None, None] * (both + both.swapaxes(-1, -2))
            + bb[..., None, None] * b[..., :, None] * b[..., None, :]
        )
        if not self._even:
            shear = 2 * (leaning.shear * self._measure).sum(axis=-1)
            s = self._rows[2]
            stiff = stiff + shear[..., None, None] * s[..., :, None] * s[..., None, :]
        return np.asarray(stiff)


def _c(values: Floats) -> Floats:
    """Give an array over points a last axis for the loads."""
    return values[..., None]


def _even_rows(mesh: Mesh) -> Floats:
    steep, hoop = 1 / mesh.width, 0.5 / mesh.ring
    return np.stack(
        [
            np.stack([hoop - steep, hoop + steep], axis=-1),
            np.stack([-steep - hoop, steep - hoop], axis=-1),
        ]
    )


def _lopsided_rows(mesh: Mesh) -> Floats:
    """Rows of strain sum, difference and shear for (U, W) at the inner and outer node."""
    steep, hoop = 1 / mesh.width, 0.5 / mesh.ring
    two = 2 * hoop
    total = [hoop - steep, two, hoop + steep, two]
    difference = [-steep - hoop, -two, steep - hoop, -two]
    shear = [-two, -steep - hoop, -two, steep - hoop]
    return np.stack([np.stack(row, axis=-1) for row in (total, difference, shear)])


def _surround(mesh: Mesh, plate: Plate, *, even: bool) -> tuple[Floats, Floats]:
    """Stiffness of the endless plate at the mesh's rim and its nodal force per unit far strain.

    The far field lays on the rim the traction it has in an unbroken plate plus what the endless plate's own
    springs take when the rim is held at the far field's displacement.
    """
    edge, h = mesh.radius[:, -1], mesh.thickness
    modulus, nu = plate.modulus, plate.poisson
    if even:
        stiff = (modulus / (1 + nu) * h)[:, None, None]
        displaced, traction = edge[:, None], (modulus / (1 - nu) * h * edge)[:, None]
        return stiff, np.einsum("dij,dj->di", stiff, displaced) + traction
    # Airy (A r^-2 + B) cos 2 theta: rows give E u and -traction of the plate outside in units of A/R^2, B
    moved = np.array([[2 * (1 + nu), 4.0], [2 * (1 + nu), -2 * (1 - nu)]])
    pushed = np.array([[6.0, 4.0], [6.0, 2.0]])
    stiff = (pushed @ np.linalg.inv(moved))[None] * (modulus * h)[:, None, None]
    displaced = edge[:, None] * np.array([1.0, -1.0])
    traction = (modulus / (1 + nu) * h * edge)[:, None] * np.array([1.0, -1.0])
    return stiff, np.einsum("dij,dj->di", stiff, displaced) + traction
