"""Head and base put together as beams: the points where they meet, their flexibility, and the free gaps between them.

A beam is held at its two ends. These supports are only a frame of reference: the clamp asks that their reactions vanish
and adds the rigid movement, so what is left is exactly the deflection with the ends' chord out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import ArrayLike

from straighten.clamp.bolts import STEEL_MODULUS
from straighten.clamp.section import Section, cowper, rectangle_torsion
from straighten.errors import BadInput
from straighten.head.records import Base, Head, side_sign
from straighten.quantiles import Floats
from straighten.shape.modes import bow_mode, deck_rows
from straighten.sources import Cited

if TYPE_CHECKING:
    from straighten.clamp.clamped import ClampSetup

BOLT_FROM_EDGE: Final = Cited(
    9e-3, "m", "a bolt boss stands at the side wall; half a boss from the edge", "assumed"
)
SAME_PLACE: Final = Cited(3e-3, "m", "a shim covers the base this close to it", "assumed")
REVERSE_SHIMS: Final = Cited(
    0.05, "", "shims under the middle stand this share of the length before and behind it", "assumed"
)
BLOCK_FILL: Final = Cited(
    0.4, "", "share of a solid block's stiffness that an engine block has about its deck", "assumed"
)
MODULI: Final = {
    "steel": (STEEL_MODULUS, 0.30),
    "aluminium": (Cited(70e9, "Pa", "EN 1999-1-1, 3.2.5", "from memory"), 0.33),
    "iron": (Cited(110e9, "Pa", "grey cast iron GJL-250, EN 1561 annex", "from memory"), 0.26),
}

HAIR: Final = 1e-8  # m: stations this near are the same place


@dataclass(frozen=True, slots=True, kw_only=True)
class Beam:
    """A uniform beam: `length` [m], bending stiffness `EI` [N m2], shear stiffness `kGA` [N], torsion `GJ` [N m2]."""

    length: float
    EI: float
    kGA: float
    GJ: float

    def lift(self, x: ArrayLike, s: ArrayLike) -> Floats:
        r"""Return the rise at `x` under a unit upward force at `s`, bending and shear.

        .. math:: w = a\,(L^2 - b^2 - a^2)\,b / (6 L\,EI) + a\,b / (L\,kGA),\quad a = \min(x, s),\; b = L - \max(x, s)

        `x` stations [m], `(m,)`, 0 to length; `s` those of the forces [m], `(p,)`; rise per force [m/N], `(m, p)`, symmetric.

        Source: Timoshenko, Strength of Materials, simply supported beam with one load (from memory).
        Valid: small deflection, uniform section.
        """
        u, v = _grid(x, s)
        a, b = np.minimum(u, v), self.length - np.maximum(u, v)
        bending = a * b * (self.length**2 - b**2 - a**2) / (6 * self.length * self.EI)
        return np.asarray(bending + a * b / (self.length * self.kGA))

    def moment(self, x: ArrayLike, s: ArrayLike) -> Floats:
        """Return the bending moment at `x` per unit upward force at `s` [m], > 0 where the middle is pulled down."""
        u, v = _grid(x, s)
        return np.asarray(-np.minimum(u, v) * (self.length - np.maximum(u, v)) / self.length)

    def shear(self, x: ArrayLike, s: ArrayLike) -> Floats:
        """Return the shear force dM/dx just after `x` per unit upward force at `s` [-]."""
        u, v = _grid(x, s)
        return np.where(u < v - HAIR, v / self.length - 1, v / self.length)

    def roll(self, x: ArrayLike, s: ArrayLike) -> Floats:
        """Return the roll at `x` per unit torque at `s` [rad/(N m)], the front end held.

        Source: Saint-Venant torsion of a uniform bar.
        Valid: warping free; torques in balance over the self.
        """
        u, v = _grid(x, s)
        return np.asarray(np.minimum(u, v) / self.GJ)

    def torque(self, x: ArrayLike, s: ArrayLike) -> Floats:
        """Return the torque GJ droll/dx just after `x` per unit torque at `s`, the front end held."""
        u, v = _grid(x, s)
        return np.where(u < v - HAIR, 1.0, 0.0)

    def sag(self, x: ArrayLike) -> Floats:
        r"""Return the rise (negative: it sags) at `x` per unit of total weight spread evenly.

        .. math:: w = -\frac{x (L^3 - 2 L x^2 + x^3)}{24 L\,EI} - \frac{x (L - x)}{2 L\,kGA}

        Source: Timoshenko, Strength of Materials, uniform load (from memory).
        """
        u, length = np.asarray(x, dtype=np.float64), self.length
        bending = u * (length**3 - 2 * length * u**2 + u**3) / (24 * length * self.EI)
        return np.asarray(-bending - u * (length - u) / (2 * length * self.kGA))

    def rigid(self, x: ArrayLike, y: ArrayLike) -> Floats:
        """Return the rows that turn (rise of the front end, rise of the rear end, roll) into the rise of points.

        Valid: small angles.
        """
        u, v = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
        return np.stack([1 - u / self.length, u / self.length, v], axis=-1)

    def flexibility(self, x: ArrayLike, y: ArrayLike, at: tuple[ArrayLike, ArrayLike]) -> Floats:
        """Return the rise of points (x, y) under unit upward forces at the points `at` [m/N], shape `(m, p)`."""
        v, t = np.asarray(y, dtype=np.float64), np.asarray(at[1], dtype=np.float64)
        return self.lift(x, at[0]) + v[:, None] * t[None, :] * self.roll(x, at[0])


def _grid(x: ArrayLike, s: ArrayLike) -> tuple[Floats, Floats]:
    return np.asarray(x, dtype=np.float64)[:, None], np.asarray(s, dtype=np.float64)[None, :]


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """Where head and base meet.

    Points: four shim corners, then the base under every bolt station on both edges, then the head's bolts.
    `x`, `y` of the points [m]; `stations` of the base contacts [m]; `contacts` how many points can push (shims and
    base); `head`, `base` beams (base None: rigid) and `overhang` of the base at the front [m]; `flex_head`,
    `flex_base` rise per upward force among all points [m/N], local give in the first; `rigid` rows `(p, 3)`;
    `shim_stations` front and rear [m].
    """

    x: Floats
    y: Floats
    stations: Floats
    contacts: int
    head: Beam
    base: Beam | None
    overhang: float
    flex_head: Floats
    flex_base: Floats
    rigid: Floats
    shim_stations: tuple[float, float]


def joint_of(head: Head, section: Section, setup: ClampSetup) -> Joint:
    """Return the points of the set-up and their flexibility.

    Raises:
        BadInput: a bolt number or a shim that the head or its base does not have.

    Valid: bolts stand near the edges; a shim hides the base within 3 mm of it.
    """
    shims = shim_stations(head, reverse=setup.reverse)
    half = head.casting.width / 2
    overhang = (head.base.length - head.casting.length) / 2
    _check_base(head, overhang, (*shims, *(head.bolts[b].station for b in setup.bolts)))
    under = [
        b.station
        for b in head.bolts
        if _on_base(head, overhang, b.station) and all(abs(b.station - s) > SAME_PLACE.value for s in shims)
    ]
    stations = np.unique(under)
    bolt_y = half - BOLT_FROM_EDGE.value if head.casting.width > 4 * BOLT_FROM_EDGE.value else 0.6 * half
    x = np.concatenate([np.repeat(shims, 2), np.repeat(stations, 2), [b.station for b in head.bolts]])
    y = np.concatenate(
        [np.tile([-half, half], 2 + stations.size), [bolt_y * side_sign(b.side) for b in head.bolts]]
    )
    beam = Beam(length=head.casting.length, EI=section.EI, kGA=section.kGA, GJ=section.GJ)
    base = base_beam(head.base)
    flex_base = np.zeros((x.size, x.size))
    if base is not None:
        on_base = np.clip(x + overhang, 0.0, base.length)
        flex_base = base.flexibility(on_base, y, (on_base, y))
    return Joint(
        x=x,
        y=y,
        stations=stations,
        contacts=4 + 2 * stations.size,
        head=beam,
        base=base,
        overhang=overhang,
        flex_head=beam.flexibility(x, y, (x, y)) + _give(x, y, section),
        flex_base=flex_base,
        rigid=beam.rigid(x, y),
        shim_stations=shims,
    )


def shim_stations(head: Head, *, reverse: bool) -> tuple[float, float]:
    """Return the stations of the shims [m]: near the ends, or either side of the middle for a crowned deck."""
    if not reverse:
        return head.front_shim, head.rear_shim
    middle, off = head.casting.length / 2, REVERSE_SHIMS.value * head.casting.length
    return middle - off, middle + off


def _on_base(head: Head, overhang: float, station: float) -> bool:
    return -1e-9 <= station + overhang <= head.base.length + 1e-9


def _check_base(head: Head, overhang: float, stations: tuple[float, ...]) -> None:
    if not all(_on_base(head, overhang, x) for x in stations):
        raise BadInput(
            "shims or pulling bolts stand beyond the end of the base",
            where="base.length",
            fix="Use a longer base, or move shims and bolts inward.",
        )


def _give(x: Floats, y: Floats, section: Section) -> Floats:
    """Return the local give: own to each shim, shared by bolt and base contact of one station and side."""
    shim = np.arange(x.size) < 4
    same = (np.abs(x[:, None] - x[None, :]) < 1e-9) & (y[:, None] * y[None, :] > 0)
    both = same & ~shim[:, None] & ~shim[None, :]
    return section.give_pull * both + section.give_shim * np.diag(shim)


def base_beam(base: Base) -> Beam | None:
    """Return the base as a beam on its own two ends, or None for a rigid one.

    Source: solid rectangle; an engine block counts with a share of it (assumed).
    Valid: the base lies on the bench; its own sag is in its measured dome.
    """
    if base.kind == "rigid":
        return None
    (modulus, poisson), fill = MODULI[base.material], BLOCK_FILL.value if base.kind == "block" else 1.0
    shear = modulus.value / (2 * (1 + poisson))
    return Beam(
        length=max(base.length, 1e-3),
        EI=fill * modulus.value * base.width * base.thickness**3 / 12,
        kGA=fill * cowper(poisson) * shear * base.width * base.thickness,
        GJ=fill * shear * rectangle_torsion(base.width, base.thickness),
    )


def free_heights(joint: Joint, head: Head, states: Floats) -> Floats:
    """Return how high the free head's deck stands over the base without shims at every point [m], shape `(n, p)`.

    Source: the shape modes of the deck at its edges; a domed base as a parabola under the head.
    Valid: shims, base contacts and bolts all meet the deck at its edges.
    """
    xi = joint.x / head.casting.length
    return np.asarray(states @ deck_rows(xi, np.sign(joint.y)).T - head.base.dome * bow_mode(xi))
