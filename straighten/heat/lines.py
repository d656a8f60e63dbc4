r"""What kinks and a clamp do to the lines of the head: deck edges, deck centre, cam face centre, cam face edges.

A spot kinks the whole section; its sideways shrinkage also dishes the section near it, so that the lines differ:

.. math:: f(x) = \theta\,\frac{x_<(L - x_>)}{L} + \theta_d\, W\, c\, \psi(\beta |x - x_s|),\qquad
          \psi(u) = e^{-u} (\cos u + \sin u)

psi is the answer of a beam on an elastic bed, as which the wall of a box answers a local push. theta_d is the
kink of the dishing part: a quarter of the shrinkage along, three quarters of that across.

A clamp over unequal shims shears the roof, and the hot discs keep some of that shear. By Bredt a torque T makes the
shear flow T / (2 A_m) around a closed box; a disc that keeps the shear angle g over the volume V turns the section by
g V / (2 A_m t).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp.clamped import between
from straighten.clamp.springs import spring_of
from straighten.heat.field import is_solid
from straighten.shape.modes import INDEX, STATE, project_line
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.clamp.clamped import Clamped
    from straighten.clamp.section import Section
    from straighten.head.records import Head
    from straighten.heat.layout import Fired
    from straighten.heat.treatment import Response

    Floats = NDArray[np.float64]
    Grip = tuple[Floats, Floats, Floats | float]


LINES: Final = ("deck_edge", "deck_centre", "cam_edge", "cam_centre")
STATIONS: Final = np.linspace(0.0, 1.0, 101)
_BOX: Final = "four spots on a 400 x 150 x 90 mm box in 3D finite elements: change of bow of the four lines; spread half to twice"
DISHING: Final = {
    "deck_edge": Cited(0.02, "widths per kink", _BOX, "fitted"),
    "deck_centre": Cited(0.22, "widths per kink", _BOX, "fitted"),
    "cam_edge": Cited(-0.10, "widths per kink", _BOX, "fitted"),
    "cam_centre": Cited(0.19, "widths per kink", _BOX, "fitted"),
}
FADING: Final = Cited(
    3.75,
    "per width",
    "beam on an elastic bed: the dishing has died out after half a width and a bit",
    "assumed",
)
ALONG_SHARE: Final = Cited(
    0.25,
    "",
    "the clamp's kept strain, which pulls the other way across, dishes no line of that box",
    "fitted",
)


def triangle(x: Floats, at: Floats, length: float) -> Floats:
    """Return how much a unit kink lowers stations against the line through the ends [m], shape `(kinks, x)`.

    `x` stations [m], `(x,)`; `at` stations of the kinks [m], `(kinks,)`; `length` of the head [m].

    Source: a broken line, small kinks; derived.
    """
    a = np.asarray(at)[:, None]
    return np.asarray(np.minimum(x, a) * (length - np.maximum(x, a)) / length)


def arm_of(head: Head, stations: Floats) -> Floats:
    """Return the rise of the middle against the shims per kink at stations [m]; zero beyond the shims."""
    span = head.rear_shim - head.front_shim
    inside = np.clip(stations - head.front_shim, 0.0, span)
    return triangle(np.array([head.casting.length / 2 - head.front_shim]), inside, span)[:, 0]


def dish(x: Floats, at: Floats, head: Head) -> Floats:
    """Return the dishing of unit constant at stations, its chord through the ends taken out [m], shape `(spots, x)`.

    `x` stations [m], first and last at the ends; `at` stations of the spots [m].

    Source: beam on an elastic foundation, Hetenyi 1946 (from memory); derived.
    Valid: hollow castings; a solid bar does not dish.
    """
    width = head.casting.width
    if is_solid(head):
        return np.zeros((np.size(at), x.size))
    u = FADING.value / width * np.abs(x - np.asarray(at)[:, None])
    fall = width * np.exp(-u) * (np.cos(u) + np.sin(u))
    xi = x / head.casting.length
    return np.asarray(fall - fall[:, :1] * (1 - xi) - fall[:, -1:] * xi)


def dishing_of(along: Floats, across: Floats) -> Floats:
    """Return the part of a spot's shrinkage that dishes a hollow section, from what it shrinks along and across the head."""
    return ALONG_SHARE.value * along + (1 - ALONG_SHARE.value) * across


def line_falls(kinks: Floats, dishing: Floats, at: Floats, head: Head) -> dict[str, Floats]:
    """Return how much each line falls at 101 stations [m], each `(n, 101)`.

    `kinks` kink of each spot [rad], shape `(n, spots)`; `dishing` kink of each spot's dishing part [rad],
    same shape; `at` stations of the spots [m].

    Source: reciprocity for the kink (derived), `DISHING` (fitted).
    """
    x = STATIONS * head.casting.length
    main, local = kinks @ triangle(x, at, head.casting.length), dishing @ dish(x, at, head)
    return {line: main + DISHING[line].value * local for line in LINES}


def shape_of(falls: dict[str, Floats], head: Head) -> Floats:
    """Return the numbers of the lines' falls [m], `(n, 7)`: bow, skew, peak of deck and cam line, belly of the deck.

    One cam line is taken over the middle of the face, two over its quarters.

    Source: `project_line`; a parabola across the face (assumed).
    Valid: spots alike on both sides; linear in the falls.
    """
    edge, centre = falls["deck_edge"], falls["deck_centre"]
    inward = 1.0 if head.cam_lines == 1 else 0.75
    cam = inward * falls["cam_centre"] + (1 - inward) * falls["cam_edge"]
    deck, cam_line, belly = (project_line(STATIONS, line) for line in (edge, cam, centre - edge))
    return np.concatenate([deck, cam_line, belly[:, :1]], axis=1)


def state_of(shape: Floats, response: Response) -> Floats:
    """Return the change of shape, `(n, 11)` [m], with the draws' own cam ratio and skew put in.

    `shape` of `shape_of`, `(n, 7)`; of the response `cam_ratio` and `skew` enter, by definition.
    """
    state = np.zeros((shape.shape[0], len(STATE)))
    state[:, INDEX["deck_belly"]] = shape[:, 6]
    for name, line, times in (("deck", shape[:, :3], 1.0), ("cam", shape[:, 3:6], response.cam_ratio)):
        state[:, INDEX[f"{name}_bow"]] = line[:, 0] * times
        state[:, INDEX[f"{name}_skew"]] = (line[:, 1] + response.skew * line[:, 0]) * times
        state[:, INDEX[f"{name}_peak"]] = line[:, 2] * times
    return state


@dataclass(frozen=True, slots=True)
class Bowing:
    """What a unit kink at each spot, and a unit kink of its dishing part, do to the head.

    `kink`, `dishing` `(spots, 11)` [m]: the seven numbers of `shape_of`, then those of `middle_falls`.
    """

    kink: Floats
    dishing: Floats

    @classmethod
    def at(cls, stations: Floats, head: Head) -> Bowing:
        """Return it for spots at stations [m]."""
        one, none = np.eye(stations.size), np.zeros((stations.size, stations.size))
        unit = (line_falls(*kinks, stations, head) for kinks in ((one, none), (none, one)))
        return cls(*(np.concatenate([shape_of(falls, head), middle_falls(falls)], axis=1) for falls in unit))

    def of(self, kinks: Floats, dishing: Floats) -> tuple[Floats, Floats]:
        """Return the seven numbers and the falls in the middle that kinks `(n, spots)` make, `(n, 7)` and `(n, 4)` [m]."""
        both = kinks @ self.kink + dishing @ self.dishing
        return both[:, :7], both[:, 7:]

    def deck_bow(self, per_volume: Floats, felt: Floats) -> Floats:
        """Return the fall of the deck's bow per volume, along and across in turn, `(n, 2 zones)` [1/m2]."""
        dishes = np.tile([ALONG_SHARE.value, 1 - ALONG_SHARE.value], self.kink.shape[0])
        per_zone = np.repeat(self.kink[:, 0], 2) * felt + np.repeat(self.dishing[:, 0], 2) * dishes
        return np.asarray(np.repeat(per_volume, 2, axis=1) * per_zone)


def middle_falls(falls: dict[str, Floats]) -> Floats:
    """Return the falls at mid-length [m], shape `(n, 4)`, in the order of `LINES`."""
    return np.stack([falls[line][:, STATIONS.size // 2] for line in LINES], axis=-1)


def kept_twist(
    head: Head, section: Section, clamped: Clamped, stations: Floats, shear_volume: Floats
) -> Floats:
    """Return how much twist stays of the clamp's, as a state figure [m]: lift of the rear inlet corner, `(n,)`.

    `stations` of the spots [m]; `shear_volume` volume of each spot that keeps a shear angle [m3].

    Source: Bredt's formulas (Young, Roark's Formulas for Stress and Strain, from memory) and reciprocity; derived.
    Valid: closed hollow castings; solid ones keep none here.
    """
    if is_solid(head):
        return np.zeros(clamped.bend.size)
    casting = head.casting
    wall = casting.plates.side_walls if casting.plates is not None else 0.0
    enclosed = (casting.width - wall) * (casting.height - (casting.deck + casting.roof) / 2)
    flow = 1 / (2 * enclosed * casting.roof)
    angle = between(clamped.station, clamped.torque, stations) * flow / section.shear_modulus
    turned = (angle * shear_volume).sum(axis=1) * flow
    return np.asarray(turned * casting.width / 4)


LAG: Final = Cited(
    0.5,
    "widths",
    "a roof's middle feels a corner of the moment spread over half a width either way (shear lag)",
    "assumed",
)
SNUG: Final = 20e-6  # m: where the clamp bends the head by less, the pattern of its strain comes from statics, and no share of it is told


@dataclass(frozen=True, slots=True)
class ClampFelt:
    """The clamp as the zones feel it.

    `pattern` strain along at each zone per metre of movement held, compression positive (n, zones) [1/m]; `imposed`
    movement held while cold (n,) [m]; `most` that can stay of it (n,) [m], not negative; `rise` of the middle per kink
    at each zone [m]; `held` whether it holds at all.
    """

    pattern: Floats
    imposed: Floats
    most: Floats
    rise: Floats
    held: bool

    @classmethod
    def of(
        cls, casting: tuple[Head, Section], clamped: Clamped | None, fired: Fired, grip: Grip
    ) -> ClampFelt:
        """Take from the clamped state what the zones feel; a free head feels nothing.

        `grip` tells how far the clamp moves the middle, the most that can stay of it, and the share that cold metal has not
        yielded to.
        """
        (head, section), (moved, most, elastic) = casting, grip
        rise = arm_of(head, fired.stations)
        if clamped is None:
            return cls(np.zeros((moved.size, rise.size)), moved, most, rise, held=False)
        strain = _roof_curvature(head, clamped, fired.stations) * fired.height
        snug = np.abs(clamped.bend) < SNUG
        pattern = strain / np.where(snug, 1.0, moved)[:, None]
        if snug.any():
            pattern[snug] = _three_point(head, section, fired.stations) * fired.height
        return cls(pattern, moved * elastic, most, rise, held=True)


def movement_of(head: Head, section: Section, clamped: Clamped, response: Response) -> Floats:
    """Return how far the clamp moves the middle, `(n,)` [m]: the head's own bend, and what local give, bolts and base store."""
    springs = _stored(head, section, clamped, response)
    return np.asarray(clamped.bend + np.where(clamped.bend < 0, -springs, springs))


def movement_held(head: Head, clamped: Clamped, moved: Floats, growth: float = 0.0) -> Floats:
    """Return the most that the head can keep of a clamp, as a bow of its whole deck, `(n,)` [m], signed as the bend.

    Bolts and base follow while the metal gives way, until they hold nothing any more, or until the middle lies on the
    unloaded base: after its own bow and the shims, and the gap that was left. In a reverse set-up: after its bend and
    what the base gives.

    `growth` how much more than its bolts the head grows in height [m].
    """
    bow = np.abs(clamped.bend) - clamped.over_bend
    shims = np.maximum(clamped.base_bend - clamped.middle_height, 0.0)
    usual = bow + shims + np.maximum(clamped.gap.mean(axis=1), 0.0)
    room = np.where(clamped.bend >= 0, usual, np.abs(clamped.bend) + np.abs(clamped.base_bend))
    whole = over_length(head) * np.maximum(np.minimum(np.abs(moved) + growth, room), np.abs(clamped.bend))
    return np.asarray(np.where(clamped.bend < 0, -whole, whole))


@lru_cache(maxsize=64)
def over_length(head: Head) -> float:
    """Return the bow of the whole deck over the movement of its middle against the shims, of a head kinked in the middle."""
    middle = np.array([head.casting.length / 2])
    return float(Bowing.at(middle, head).kink[0, 0] / arm_of(head, middle)[0])


def share_of(kept: Floats, movement: Floats) -> Floats:
    """Return what is kept over the movement held, nan where the clamp holds less than `SNUG`: nothing to keep a share of."""
    none = np.full(kept.shape, np.nan)
    return np.asarray(np.divide(kept, movement, out=none, where=np.abs(movement) >= SNUG))


def _three_point(head: Head, section: Section, stations: Floats) -> Floats:
    """Curvature at stations per metre that the middle is held down by, the pull in the middle [1/m2]."""
    span = head.rear_shim - head.front_shim
    inside = np.clip(stations - head.front_shim, 0.0, span)
    moved = span**3 / (48 * section.EI) + span / (4 * section.kGA)
    moved += section.give_pull / max(len(head.bolts), 1) + section.give_shim / 4
    return np.asarray(np.minimum(inside, span - inside) / 2 / section.EI / moved)


def _stored(head: Head, section: Section, clamped: Clamped, response: Response) -> Floats:
    """Movement stored in local give, bent base and stretched bolts [m], `(n,)`; a rigid base stands for a rigid jig."""
    give = section.give_pull * clamped.bolt_tension.max(axis=1)
    give = (give + section.give_shim * clamped.shim_force.max(axis=1)) / response.stiffness
    if head.base.kind == "rigid":
        return np.asarray(give)
    stretch = (clamped.bolt_tension / bolt_springs(head)).max(axis=1)
    return np.asarray(give + np.abs(clamped.base_bend) + stretch)


@lru_cache(maxsize=64)
def bolt_springs(head: Head) -> Floats:
    """Return the spring stiffness of every bolt of the head, `(b,)` [N/m]."""
    return np.array([spring_of(head, b) for b in range(len(head.bolts))])


def _roof_curvature(head: Head, clamped: Clamped, stations: Floats) -> Floats:
    """Curvature as the roof's middle feels it, (n, zones): corners of the moment are rounded by shear lag."""
    if is_solid(head):
        return clamped.curvature_at(stations)
    half = LAG.value * head.casting.width
    off = np.linspace(-1, 1, 9)
    weight = (1 - np.abs(off)) / (1 - np.abs(off)).sum()
    around = np.clip(stations[:, None] + half * off, 0.0, head.casting.length)
    curvature = clamped.curvature_at(around.ravel()).reshape(-1, stations.size, off.size)
    return np.asarray(curvature @ weight)
