r"""One heat spot worked through: how much it shrinks, how much of a clamp's strain it keeps, how hot it gets.

What a disc keeps of a strain imposed from far away while it is heated and cooled.

The derivative of the disc's whole history with respect to the clamp's strain, carried along step by step with the
consistent tangents of the return mapping. A strained plate far from the spot, (e_x, e_y), splits into an even part
m = (e_x + e_y)/2, which stays a ring problem, and a lopsided part d = (e_x - e_y)/2, which goes with cos 2 theta:

.. math:: u_r = u(r) + U(r)\cos 2\theta,\quad u_\theta = W(r)\sin 2\theta

A disc that carries nothing while hot is a hole: Kirsch's factors 3 and -1 are the limit of this calculation. The two
parts do not meet in the linear problem; they share the arrays, (u, U, W) at every node.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.bar import shrink_bar
from straighten.heat.disc import heated_together, history, side_by_side, untouched
from straighten.heat.field import read
from straighten.heat.heating import hottest_below, spot_heating, surface_ageing, without_curves
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Alloy
    from straighten.heat.disc import Mesh, Moment
    from straighten.heat.heating import SpotCase

    Floats = NDArray[np.float64]


_NODAL: Final = 3
_EVEN: Final = (0, 3)  # u at the inner and the outer node of a ring
_LOPSIDED: Final = (1, 2, 4, 5)  # U and W at the inner and the outer node
_PAIRS: Final = tuple((i, j) for part in (_EVEN, _LOPSIDED) for i in part for j in part if i <= j)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """The cold plate around: `modulus` [Pa], `poisson`."""

    modulus: float
    poisson: float


class Sensitivity:
    """Carries d(history)/d(far strain) for the even and the lopsided part of a far strain.

    A resource, since it must be fed every `Moment` in order; `kept` may be asked at any time. The far strain is one
    throughout, worked through as an even and as a lopsided one.
    """

    def __init__(self, mesh: Mesh, plate: Plate) -> None:
        self._mesh = mesh
        self._rows = strain_rows(mesh)
        self._measure = mesh.volume / (4 * np.pi)
        self._outer, self._far = surround(mesh, plate)
        lopsided = np.array([False, True])
        dof = np.isin(np.arange(2 * _NODAL), _LOPSIDED)
        self._own = (dof[:, None] == lopsided).astype(np.float64)  # which unknown serves which part
        shape = (*mesh.volume.shape, 2)
        self._total, self._difference, self._shear, self._slip = (np.zeros(shape) for _ in range(4))

    def feed(self, moment: Moment) -> None:
        """Take the next instant."""
        flowed, leaning, metal = moment.flowed, moment.leaning, moment.metal
        hard = metal.hardening * self._slip
        a_y, b_y = leaning.a_y[..., None] * hard, leaning.b_y[..., None] * hard
        aa, ab, bb, shear = (v[..., None] for v in (flowed.aa, flowed.ab, flowed.bb, leaning.shear))
        memory = (
            aa * self._total + ab * self._difference - a_y,
            ab * self._total + bb * self._difference - b_y,
            2 * shear * self._shear,
        )
        moved = self._solve(moment, self._force(memory))
        strains = np.einsum("pdri,dril->pdrl", self._rows, moved)[:, :, :, None, :]
        total, difference = strains[0] - self._total, strains[1] - self._difference
        a = aa * total + ab * difference + a_y
        b = ab * total + bb * difference + b_y
        self._slip = (
            self._slip
            + leaning.slip_a[..., None] * total
            + leaning.slip_b[..., None] * difference
            + leaning.slip_y[..., None] * hard
        )
        stress = shear * (strains[2] - self._shear)
        self._total = strains[0] - a / metal.sum_modulus[..., None]
        self._difference = strains[1] - b / metal.difference_modulus[..., None]
        self._shear = strains[2] - 2 * stress / metal.difference_modulus[..., None]

    def kept(self) -> tuple[Floats, Floats]:
        """Return the kept xx strain times volume per unit of even and of lopsided far strain [m3], (discs,) each."""
        volume = self._mesh.volume[..., None]
        even = (self._total / 2 * volume).sum(axis=(1, 2))[:, 0]
        lopsided = ((self._difference - self._shear) / 4 * volume).sum(axis=(1, 2))[:, 1]
        return np.asarray(even), np.asarray(lopsided)

    def _force(self, memory: tuple[Floats, Floats, Floats]) -> Floats:
        """Nodal forces of what is already kept and of the far strain, (discs, 3 nodes, 2)."""
        measure = self._measure[..., None]
        sums = np.stack([(v * measure).sum(axis=2) for v in memory])
        push = np.einsum("pdri,pdrl->dril", self._rows, sums) * self._own
        discs, rings = push.shape[:2]
        force = np.zeros((discs, rings + 1, _NODAL, push.shape[-1]))
        force[:, :-1] += push[:, :, :_NODAL]
        force[:, 1:] += push[:, :, _NODAL:]
        force[:, -1] += self._far[:, :, None] * self._own[:_NODAL]
        return force.reshape(discs, -1, push.shape[-1])

    def _solve(self, moment: Moment, right: Floats) -> Floats:
        """Solve for the nodes' movement and hand it out by rings, (discs, rings, 6, 2)."""
        from scipy.linalg.lapack import dpbsv

        discs, size, loads = right.shape
        band = self._band(moment, size)
        right[:, :_NODAL] = 0.0
        _, solved, _ = dpbsv(band.reshape(band.shape[0], -1), right.reshape(-1, loads))
        nodes = np.asarray(solved).reshape(discs, -1, _NODAL, loads)
        return np.concatenate([nodes[:, :-1], nodes[:, 1:]], axis=2)

    def _band(self, moment: Moment, size: int) -> Floats:
        """Stiffness of all rings and of the plate outside, upper band."""
        flowed, rows, wide = moment.flowed, self._rows, 2 * _NODAL
        aa, ab, bb = ((v * self._measure).sum(axis=-1) for v in (flowed.aa, flowed.ab, flowed.bb))
        shear = 2 * (moment.leaning.shear * self._measure).sum(axis=-1)
        weighed = np.stack(
            [_by(aa, rows[0]) + _by(ab, rows[1]), _by(ab, rows[0]) + _by(bb, rows[1]), _by(shear, rows[2])]
        )
        band = np.zeros((wide, self._mesh.discs, size))
        for i, j in _PAIRS:
            stop = None if j >= _NODAL else -_NODAL
            band[wide - 1 - (j - i), :, j:stop:_NODAL] += (weighed[..., i] * rows[..., j]).sum(axis=0)
        for i in range(_NODAL):
            for j in range(i, _NODAL):
                band[wide - 1 - (j - i), :, size - _NODAL + j] += self._outer[:, i, j]
        for i in range(_NODAL):  # the middle does not move, one disc does not feel the next
            band[:, :, i] = 0.0
            for off in range(1, wide):
                band[wide - 1 - off, :, i + off] = 0.0
            band[wide - 1, :, i] = 1.0
        return band


def _by(values: Floats, rows: Floats) -> Floats:
    return np.asarray(values[..., None] * rows)


def strain_rows(mesh: Mesh) -> Floats:
    """Return the rows of strain sum, difference and shear for (u, U, W) at inner and outer node, (3, discs, rings, 6).

    Source: strains in polar coordinates, Timoshenko & Goodier (from memory); derived at the middle of each ring.
    Valid: amplitudes of cos 2 theta (sum, difference) and sin 2 theta (shear) for U and W.
    """
    steep, hoop = 1 / mesh.width, 0.5 / mesh.ring
    two, none = 2 * hoop, np.zeros_like(hoop)
    total = [hoop - steep, hoop - steep, two, hoop + steep, hoop + steep, two]
    difference = [-steep - hoop, -steep - hoop, -two, steep - hoop, steep - hoop, -two]
    shear = [none, -two, -steep - hoop, none, -two, steep - hoop]
    return np.stack([np.stack(row, axis=-1) for row in (total, difference, shear)])


def surround(mesh: Mesh, plate: Plate) -> tuple[Floats, Floats]:
    """Return stiffness (discs, 3, 3) of the endless plate at the mesh's rim and its force per unit far strain (discs, 3).

    The far field lays on the rim the traction it has in an unbroken plate plus what the endless plate's own
    springs take when the rim is held at the far field's displacement. Lopsided entries count double, since cos^2
    averages to a half: both parts are solved by themselves.

    Source: Airy functions ln r and (A r^-2 + B) cos 2 theta, Timoshenko & Goodier (from memory); derived.
    Valid: elastic beyond the rim.
    """
    edge, h = mesh.radius[:, -1], mesh.thickness
    modulus, nu = plate.modulus, plate.poisson
    # rows give E u and -traction of the plate outside in units of A/R^2, B
    moved = np.array([[2 * (1 + nu), 4.0], [2 * (1 + nu), -2 * (1 - nu)]])
    pushed = np.array([[6.0, 4.0], [6.0, 2.0]])
    springs = np.zeros((_NODAL, _NODAL))
    springs[0, 0] = 1 / (1 + nu)
    springs[1:, 1:] = pushed @ np.linalg.inv(moved)
    displaced = np.array([1.0, 1.0, -1.0])
    traction = np.array([1 / (1 - nu), 1 / (1 + nu), -1 / (1 + nu)])
    stiff = springs[None] * (modulus * h)[:, None, None]
    return stiff, (springs @ displaced + traction)[None] * (modulus * h * edge)[:, None]


COLLAPSED: Final = 0.5  # share of the cold yield under which metal counts as hot
BOWL: Final = Cited(
    0.62,
    "",
    "what a round pit keeps of a strain from afar, over what a hole right through keeps: 15 (1 - nu) / (7 - 5 nu) of a "
    "sphere over Kirsch's 3, nu = 0.33; in between by the share of the depth that is hot (Goodier 1933, from memory)",
    "derived",
)
MOST_KNOWN: Final = 4096  # answers kept in memory before all are let go


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What the heat leaves in a large plate that was never heated.

    `shrinkage` inherent xx strain times volume, > 0 shortens [m3]; `lift` its first moment over the wall's mid-plane
    [m4]; `even`, `lopsided` volumes that keep the even part (e_x + e_y)/2 and the lopsided part (e_x - e_y)/2 of a
    strain imposed from afar [m3].
    """

    shrinkage: float
    lift: float
    even: float
    lopsided: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotAnswer:
    """One spot's answer.

    `effect` with the yield of short exposure; `growth` inherent volume of the hot spot in a solid bar (thermal less
    plastic), averaged over the time while the kept strain freezes, nought in a wall [m3]; `aged` equivalent time at 250 degC of the hottest metal [s]; `heat`
    put in [J].
    """

    effect: Effect
    growth: float
    aged: float
    heat: float


_KNOWN: Final[dict[SpotCase, SpotAnswer]] = {}


def work_spots(cases: Sequence[SpotCase]) -> tuple[SpotAnswer, ...]:
    """Return the answers for several spots; those not yet in memory are worked through together."""
    if len(_KNOWN) > MOST_KNOWN:
        _KNOWN.clear()
    fresh = [case for case in dict.fromkeys(cases) if case not in _KNOWN]
    alike: dict[Alloy, list[SpotCase]] = {}
    for case in fresh:
        alike.setdefault(without_curves(case.alloy), []).append(case)
    for some in alike.values():
        _KNOWN.update(zip(some, worked(some), strict=True))
    return tuple(_KNOWN[case] for case in cases)


def worked(cases: Sequence[SpotCase]) -> tuple[SpotAnswer, ...]:
    """Return the answers for spots of one alloy: their discs stand side by side.

    `cases` of one alloy, each with a hot yield curve of its own; what one answers does not hang on the others.

    Valid: walls thinner than about twice the flux radius, or bars narrower than four spreads of the heat.
    """
    alloy = cases[0].alloy
    fires = [spot_heating(case) for case in cases]
    mesh, heating = side_by_side([f.mesh for f in fires]), heated_together([f.heating for f in fires])
    heating = replace(heating, curves=tuple(case.alloy.yield_short for case in cases))
    plate = Plate(modulus=alloy.modulus[0][1], poisson=alloy.poisson)
    kept = Sensitivity(mesh, plate)
    memory = untouched(mesh)
    for moment in history(mesh, alloy, heating, memory):
        kept.feed(moment)
        memory = moment.memory
    shrunk = -memory.plastic_sum / 2 * mesh.volume
    moment = (shrunk * mesh.height[:, None, :]).sum(axis=(1, 2))
    sums = np.column_stack([shrunk.sum(axis=(1, 2)), moment, *kept.kept()])
    return tuple(_answer(case, some) for case, some in zip(cases, sums, strict=True))


def hot_depth(case: SpotCase) -> float:
    """Return how deep under the flame's middle the metal counts as hot [m].

    Source: `hottest_below`; `COLLAPSED`.
    """
    depth = np.linspace(0.0, case.thickness, 41)
    weak = read(case.alloy.yield_short, hottest_below(case, depth)) < COLLAPSED * case.alloy.yield_short[0][1]
    return float(depth[weak].max(initial=0.0))


def _answer(case: SpotCase, sums: Floats) -> SpotAnswer:
    """The answer from shrinkage, its moment, and the volumes that keep an even and a lopsided strain."""
    shrinkage, lift, even, lopsided = sums
    growth = 0.0
    if case.bar_width is not None:
        shrinkage, lift, growth = shrink_bar(case, case.bar_width)
        bowl = BOWL.value + (1 - BOWL.value) * hot_depth(case) / case.thickness
        even, lopsided = bowl * even, bowl * lopsided
    return SpotAnswer(
        effect=Effect(
            shrinkage=float(shrinkage), lift=float(lift), even=float(even), lopsided=float(lopsided)
        ),
        growth=float(growth),
        aged=surface_ageing(case),
        heat=case.power * case.dwell,
    )
