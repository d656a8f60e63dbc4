"""The plates a head is made of, patches of its roof, and what these do to one another when they shrink or are warm.

Warm zones are squeezed by the growth of the roof, flow where that passes their hot yield, and are pulled as they cool.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.field import (
    MovingFlame,
    expanded,
    gauss,
    grid_rise,
    is_solid,
    read,
    slab_of,
    walls_passed,
    webs_of,
)
from straighten.heat.lines import arm_of
from straighten.heat.spot import COLLAPSED
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.head.records import Alloy, Head
    from straighten.heat.field import Slab
    from straighten.heat.heating import SpotCase
    from straighten.heat.roof import Roof

    Counts = NDArray[np.intp]
    Floats = NDArray[np.float64]


WALL: Final = Cited(6e-3, "m", "side wall of a head whose plates are not known", "assumed")
HELD: Final = 1e3  # spring that stands for a fixed point, over the roof's thickness
LOOSE: Final = 1e-7  # spring that keeps plates from drifting away
_IN_WEB: Final = 4  # elements over the height of a web


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """What the elastic answer depends on [m]: `length`, `width` between the walls' middles, `roof`, `wall`, `deck`, `height` of a wall, `webs` (station, thickness), `poisson`."""

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
    if is_solid(head):
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A patch of roof within `radius` of the line from (`x`, `y`) to (`x_end`, `y_end`) [m]; of it the slice `part` of `parts` along that line, which goes on by `cap` at both ends, and only what lies nearer to it than to any line of `beside`."""

    x: float
    y: float
    x_end: float
    y_end: float
    radius: float
    part: int = 0
    parts: int = 1
    cap: float = 0.0
    beside: tuple[tuple[float, float, float, float], ...] = ()

    def mirrored(self) -> Zone:
        """Return the same patch on the other side of the middle line."""
        beside = tuple((x, -y, x_end, -y_end) for x, y, x_end, y_end in self.beside)
        return replace(self, y=-self.y, y_end=-self.y_end, beside=beside)


def inside(zone: Zone, x: Floats, y: Floats) -> NDArray[np.bool_]:
    """Return whether points of a grid `x` by `y` [m] lie in a zone, `(x, y)`."""
    own = (zone.x, zone.y, zone.x_end, zone.y_end)
    away, along = _from_line(own, x, y)
    inside = away < zone.radius**2
    for line in zone.beside:
        inside &= away <= _from_line(line, x, y)[0]
    if zone.parts > 1:
        length = math.hypot(zone.x_end - zone.x, zone.y_end - zone.y)
        step = (length + 2 * zone.cap) / zone.parts
        inside &= np.floor((along + zone.cap) / step).clip(0, zone.parts - 1) == zone.part
    return np.asarray(inside)


def _from_line(line: tuple[float, float, float, float], x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Squared distance of a grid's points from a line, and how far along it they lie [m2], [m]."""
    run, rise = line[2] - line[0], line[3] - line[1]
    length = max(math.hypot(run, rise), 1e-12)
    along = ((x[:, None] - line[0]) * run + (y - line[1]) * rise) / length
    on = np.clip(along, 0.0, math.hypot(run, rise)) / length
    return (x[:, None] - line[0] - on * run) ** 2 + (y - line[1] - on * rise) ** 2, along


ALIKE: Final = 0.05  # of a scaled M; under it zones are one place to the elements, and shrink alike (zones apart: 0.12 and more)
_PERIOD: Final = 128  # cells after which the endless plate repeats itself


@lru_cache(maxsize=16)
def _endless(dx: float, dy: float, nu: float) -> Floats:
    """Elastic answer of the same elements in an endless plate to a strain in one cell, `(period, period, 2, 2)`: by Fourier."""
    stiff, force, _ = element(dx, dy, nu)
    wave = 2 * np.pi * np.fft.fftfreq(_PERIOD)
    corner = np.array([(0, 0), (1, 0), (1, 1), (0, 1)])
    turn = np.exp(1j * (wave[:, None, None] * corner[:, 0] + wave[None, :, None] * corner[:, 1]))
    both = np.repeat(turn, 2, axis=2)
    spread = np.zeros((8, 2))
    spread[::2, 0] = spread[1::2, 1] = 1.0
    stiffness = np.einsum("xya,ab,xyb,ai,bj->xyij", both.conj(), stiff, both, spread, spread, optimize=True)
    push = np.einsum("xya,ac,ai->xyic", both.conj(), force, spread, optimize=True)
    stiffness[0, 0] = np.eye(2) * 1e30
    energy = np.einsum("xyia,xyib->xyab", push.conj(), np.linalg.solve(stiffness, push))
    return np.asarray(np.fft.ifft2(energy, axes=(0, 1)).real)


def mutual(roof: Roof, zones: tuple[Zone, ...]) -> Floats:
    """Return M, the stress over E along and across in every zone per shrinkage of every zone, `(2 zones, 2 zones)` [1/m3].

    Source: membrane elements; reciprocity (derived).
    Valid: zones larger than the elements; `endless` tells what the elements make of the same zones in an endless plate.
    """
    covers = np.stack([roof.cover(zone).ravel() for zone in zones])
    weights = covers / covers.sum(axis=1, keepdims=True)
    answers = np.stack([roof.answer(zone).reshape(-1, 4) for zone in zones])
    felt = (weights @ answers).reshape(
        len(zones), len(zones), 2, 2
    )  # by zone that shrinks, zone that feels it
    shared = weights @ weights.T / (roof.dx * roof.dy * roof.sizes.roof)
    found = shared[..., None, None] * roof.law[:2, :2] - felt.swapaxes(0, 1)
    whole = found.swapaxes(1, 2).reshape(2 * len(zones), -1)
    return np.asarray((whole + whole.T) / 2)


def inverse_of(among: Floats) -> Floats:
    """Return the inverse of M among zones [m3]; of a place named twice each half takes half.

    Source: eigenvalues of M scaled to a unit diagonal; those under `ALIKE` are differences between zones that the
        elements do not see, and are left out.
    Valid: M without negative eigenvalue.
    """
    scale = 1 / np.sqrt(np.diag(among))
    values, vectors = np.linalg.eigh(among * scale * scale[:, None])
    seen = vectors[:, values > ALIKE] * scale[:, None]
    return np.asarray(seen / values[values > ALIKE] @ seen.T)


@lru_cache(maxsize=2048)
def endless(roof: Roof, zones: tuple[Zone, ...]) -> Floats:
    """Return the same for zones of one flame in an endless plate of the same elements.

    Source: Fourier's series over the elements; derived.
    Valid: zones within a few hundred millimetres of one another.
    """
    kernel = _endless(roof.dx, roof.dy, roof.sizes.poisson) / (roof.dx * roof.dy)
    area, thick, law = roof.dx * roof.dy, roof.sizes.roof, roof.law[:2, :2]
    covers = [roof.cover(zone) for zone in zones]
    cells = [np.nonzero(cover) for cover in covers]
    weights = [cover[at] / cover.sum() for cover, at in zip(covers, cells, strict=True)]
    found = np.zeros((len(zones), 2, len(zones), 2))
    for i, at in enumerate(cells):
        for j, other in enumerate(cells[: i + 1]):
            apart = [(a[:, None] - b) % _PERIOD for a, b in zip(at, other, strict=True)]
            felt = np.einsum("p,q,pqab->ab", weights[i], weights[j], kernel[apart[0], apart[1]])
            shared = float((covers[i] * covers[j]).sum()) / (covers[i].sum() * covers[j].sum() * area)
            found[i, :, j, :] = (law * shared - felt / area) / thick
            found[j, :, i, :] = found[i, :, j, :].T
    return found.reshape(2 * len(zones), -1)


HOT: Final = Cited(
    0.85,
    "",
    "share of the hot yield at which a zone as a whole flows, since its middle is hotter than its mean; set on wide slow "
    "spots in 3D finite elements (350 to 450 C, 20 to 30 s)",
    "fitted",
)
AT_YIELD: Final = 1 - 1e-6  # of the yield: a zone brought back to it still flows while the others do


@dataclass(frozen=True, slots=True, kw_only=True)
class Warmth:
    """What warm zones go through.

    `press` stress over E that the warm roof puts on them when they freeze, compression positive, and `alone` what each
    one's own heat would put on it in an endless plate; `drive` stress over E that hot flow leaves in them, > 0 tension,
    < 0 where they never flow: how far they stay from it; `(2 zones,)` each; `rise` growth of the roof when they freeze
    times its arm to the middle [m4].
    """

    press: Floats
    alone: Floats
    drive: Floats
    rise: float


def collapse_temperature(alloy: Alloy) -> float:
    """Return the temperature [degC] above which the metal counts as soft: less than half of its cold yield is left.

    Source: the alloy's short-exposure curve; `COLLAPSED`.
    Valid: curves that fall with temperature.
    """
    t = np.linspace(20.0, alloy.solidus, 541)
    weak = read(alloy.yield_short, t) < COLLAPSED * alloy.yield_short[0][1]
    return float(t[np.argmax(weak)]) if weak.any() else alloy.solidus


def spots_warmth(
    head: Head, roof: Roof, spots: tuple[tuple[float, float, SpotCase], ...], zones: tuple[Zone, ...]
) -> Warmth:
    """Return what the zones of spots that burn together go through.

    `spots` station and distance from the middle line [m] and case of each.
    """
    case = spots[0][2]
    slab = slab_of(case.alloy, case.thickness, max(c.peak for *_, c in spots), case.start)
    held = walls_passed(webs_of(head))
    flames = [MovingFlame((x, y), (x, y), c.dwell, (0.0,), c.power, c.radius, held) for x, y, c in spots]
    return follow(head, roof, flames, slab, zones, case.start)


def follow(
    head: Head, roof: Roof, flames: list[MovingFlame], slab: Slab, zones: tuple[Zone, ...], start: float
) -> Warmth:
    """Follow warm zones in time: the roof's growth squeezes them, they flow where it passes their hot yield, and are pulled as they cool.

    `start` temperature of the head before [degC].

    Source: elastic roof, walls and cross walls (`roof`) with one plane-stress von Mises law a zone, its means standing
        for it; derived. In an endless plate an even strain meets half of itself (Timoshenko & Goodier, from memory).
    Valid: deck still cold.
    """
    if not zones:
        none = np.zeros(0)
        return Warmth(press=none, alone=none, drive=none, rise=0.0)
    alloy, stiff = head.alloy, mutual(roof, zones)
    covers = np.stack([roof.cover(zone) / roof.cover(zone).sum() for zone in zones])
    over = max(f.starts[-1] + f.time for f in flames)
    soft = max(collapse_temperature(alloy), start + 1.0)
    times, rise, own = _rises_of(roof, tuple(flames), slab, over)
    grown = expanded(alloy.expansion, start + rise, start)
    means = start + np.tensordot(roof.inside(rise), covers, axes=((1, 2), (1, 2)))
    squeezed = roof.squeezed(zones, grown, np.sqrt(4 * slab.diffusivity * times)).reshape(times.size, -1)
    alone = np.zeros((times.size, len(zones)))
    if len(flames) == len(zones):
        alone = np.einsum("kxy,ktxy->tk", covers, expanded(alloy.expansion, start + own, start)) / 2
    flown, nearest = np.zeros(2 * len(zones)), np.full(len(zones), -np.inf)
    for mean, press in zip(means, squeezed, strict=True):
        limit = HOT.value * read(alloy.yield_short, mean) / alloy.modulus[0][1]
        flown, near = _flowed(stiff, press, flown, limit)
        nearest = np.maximum(nearest, near)
    frozen = np.nonzero((times >= over) & (means.mean(axis=1) <= soft))[0]
    at = int(frozen[0]) if frozen.size else times.size - 1
    last, cooler = means[max(at - 1, 0)].mean(), means[at].mean()
    part = float(np.clip((last - soft) / (last - cooler), 0.0, 1.0)) if last > cooler else 1.0

    def then(told: Floats) -> Floats:
        return np.asarray((1 - part) * told[max(at - 1, 0)] + part * told[at])

    short = np.repeat(nearest, 2)
    return Warmth(
        press=then(squeezed),
        alone=np.repeat(then(alone), 2),
        drive=np.where(short < 0, short, stiff @ flown),
        rise=_lift(head, roof, roof.inside(then(grown))),
    )


@lru_cache(maxsize=32)
def _rises_of(
    roof: Roof, flames: tuple[MovingFlame, ...], slab: Slab, over: float
) -> tuple[Floats, Floats, Floats]:
    """Instants looked at [s], the rise on the cells of `unfolded` at each `(t, along, unfolded)`, and on the roof by each flame alone without walls `(flames, t, along, across)` [K]."""
    times = _looks(over, max(f.time for f in flames))
    own = [grid_rise([replace(flame, webs=())], slab, times, roof.x, roof.y) for flame in flames]
    return times, grid_rise(flames, slab, times, roof.x, roof.unfolded), np.stack(own)


def _looks(over: float, longest: float) -> Floats:
    """Instants looked at [s]: a few under the flame, then ever wider apart."""
    under = over - longest * np.array([0.6, 0.3, 0.0])
    return np.concatenate(
        [under[under > 0], over + longest * np.array([0.12, 0.28, 0.5, 0.8, 1.3, 2.2, 4.0])]
    )


def _flowed(stiff: Floats, squeezed: Floats, flown: Floats, limit: Floats) -> tuple[Floats, Floats]:
    """Return the zones' shrinkage after they have flowed back to their yield, and how far beyond it they were (negative: short of it)."""
    near = np.full(limit.size, -np.inf)
    for sweep in range(3):
        stress = (squeezed - stiff @ flown).reshape(-1, 2)
        along, across = stress.T
        size = np.sqrt(np.maximum(along**2 + across**2 - along * across, 1e-20))
        if not sweep:
            near = size - limit
        beyond = np.nonzero(size > AT_YIELD * limit)[0]
        if not beyond.size:
            break
        at = np.stack([2 * beyond, 2 * beyond + 1], axis=1).ravel()
        back = stress[beyond] * (1 - limit[beyond] / size[beyond])[:, None]
        flown = flown.copy()
        flown[at] += inverse_of(stiff[np.ix_(at, at)]) @ back.ravel()
    return flown, near


def _lift(head: Head, roof: Roof, grown: Floats) -> float:
    """Growth of the roof times its arm to the middle [m4]."""
    arm = arm_of(head, roof.x)
    return float((grown.sum(axis=1) * arm).sum()) * roof.dx * roof.dy * roof.sizes.roof
