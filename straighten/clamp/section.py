"""The casting as a beam: bending, shear and torsion stiffness, from plates or from what can be weighed and measured."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from straighten.errors import BadInput
from straighten.head.records import Casting, Head, Plates, Web
from straighten.sources import Cited

GRAVITY: Final = Cited(9.80665, "m/s2", "standard gravity, CGPM 1901", "from memory")
SHIM_GIVE: Final = Cited(
    1.30,
    "",
    "local give over a shim corner = factor / (E x root of wall and deck thickness); 27 hollow boxes in 3D finite "
    "elements, 120 to 180 mm wide, 70 to 130 mm high, walls 5 to 16 mm",
    "fitted",
)
PULL_GIVE: Final = Cited(
    0.56, "", "the same under a pulled bolt, its force on 24 mm of wall; same boxes", "fitted"
)
WEB_SHARE: Final = Cited(
    0.36,
    "",
    "share of a web's thickness that works as full section; 3D elements of the same box in pure bending",
    "fitted",
)
DECK_ROOF_SHARE: Final = Cited(
    0.8,
    "",
    "deck and roof are pierced by ports, chambers and bolt holes; what is left of their area",
    "assumed",
)
WALL_SHARE: Final = Cited(
    0.5,
    "",
    "of the metal that is neither deck, roof nor web, half works as side walls; the rest is ports and bosses",
    "assumed",
)
LEAST_WALL_SHARE: Final = Cited(
    0.25, "", "no head has less of its metal than this in walls, ports and bosses", "assumed"
)
BENDING_SPREAD: Final = Cited(0.20, "log-sd", "section guessed from mass and outline", "assumed")
UNWEIGHED_FILL: Final = Cited(
    0.42,
    "",
    "share of its outline that a hollow head fills, neither weighed nor its walls measured",
    "assumed",
)
UNWEIGHED_SPREAD: Final = Cited(0.35, "log-sd", "section guessed from the outline alone", "assumed")
SHEAR_SPREAD: Final = Cited(0.35, "log-sd", "wall thickness guessed from mass and outline", "assumed")
TORSION_SPREAD: Final = Cited(0.45, "log-sd", "a closed cell is assumed; open ports weaken it", "assumed")
SOLID_FROM: Final = Cited(
    0.95, "", "share of the outline filled above which the casting counts as a solid bar", "assumed"
)
LEAST_FILL: Final = Cited(
    0.12, "", "share of the outline filled below which the mass must be a slip of the pen", "assumed"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """The casting's section as a Timoshenko beam.

    `EI` [N m2], `kGA` [N], `GJ` [N m2]; `area` [m2], `inertia` [m4], `neutral_axis` above the deck face [m];
    `height` deck face to roof face [m]; `modulus` E and `shear_modulus` G at 20 degC [Pa]; `give_pull`, `give_shim`
    local give under one pulled bolt and over one shim corner [m/N]; `bending_spread` log standard deviation of EI,
    0 where the plates are known; `weight` [N]; `assumed` says which figures are guesses.
    """

    EI: float
    kGA: float
    GJ: float
    area: float
    inertia: float
    neutral_axis: float
    height: float
    modulus: float
    shear_modulus: float
    give_pull: float
    give_shim: float
    bending_spread: float
    weight: float
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    """Area [m2], neutral axis [m], second moment [m4], shear area [m2], torsion constant [m4], wall for give [m]."""

    area: float
    axis: float
    inertia: float
    shear_area: float
    torsion: float
    local_wall: float


def _guesses(bending: float) -> tuple[str, ...]:
    """Say in words what was guessed to make a section of a mass and an outline."""
    spreads = (bending, SHEAR_SPREAD.value, TORSION_SPREAD.value)
    bends, shear, torsion = (f"{100 * (math.exp(spread) - 1):.0f} %" for spread in spreads)
    return (
        f"deck and roof count {100 * DECK_ROOF_SHARE.value:.0f} % of their area, since ports and holes pierce them; "
        f"{100 * WALL_SHARE.value:.0f} % of the other metal works as side walls (assumed)",
        f"stiffness from mass and outline is good to about {bends} in bending, {shear} in shear, {torsion} in twist "
        "(assumed; a tightening log narrows it)",
    )


def section_of(head: Head) -> Section:
    r"""Return the beam that stands for the casting.

    Plates give the second moment by parts, webs counted with a share of their thickness; the shear area is that of
    the side walls between deck and roof mid-planes (Cowper's coefficient for a solid bar); torsion after Bredt,

    .. math:: J = 4 A_m^2 / \oint ds / t

    Where only the mass is known the same box is drawn with walls that use up half of the metal left over; where not even
    the mass is known, a usual share of the outline is taken as filled.

    Raises:
        BadInput: a mass that no such casting can have.

    Source: Bredt and the parts rule: Young, Roark's Formulas for Stress and Strain (from memory). Shear coefficient
    of the rectangle: Cowper, J. Appl. Mech. 33 (1966) 335 (from memory).
    Valid: Prismatic castings. Local give is fitted on hollow boxes; in a solid bar it is next to nothing.
    """
    casting = head.casting
    modulus = curve_at(head.alloy.modulus, 20.0)
    shear = modulus / (2 * (1 + head.alloy.poisson))
    shape, spread, weight, assumed = _shape_of(casting, head)
    per_factor = 1 / (modulus * shape.local_wall)
    return Section(
        EI=modulus * shape.inertia,
        kGA=shear * shape.shear_area,
        GJ=shear * shape.torsion,
        area=shape.area,
        inertia=shape.inertia,
        neutral_axis=shape.axis,
        height=casting.height,
        modulus=modulus,
        shear_modulus=shear,
        give_pull=PULL_GIVE.value * per_factor,
        give_shim=SHIM_GIVE.value * per_factor,
        bending_spread=spread,
        weight=weight,
        assumed=assumed,
    )


def _shape_of(casting: Casting, head: Head) -> tuple[_Shape, float, float, tuple[str, ...]]:
    if casting.plates is not None:
        shape = _solid(casting, head.alloy.poisson) if casting.plates.solid else _box(casting, casting.plates)
        mass = casting.mass
        if mass is None:
            mass = _volume(casting, casting.plates) * head.alloy.density
        return shape, 0.0, mass * GRAVITY.value, ()
    outline = casting.length * casting.width * casting.height
    mass = casting.mass or UNWEIGHED_FILL.value * head.alloy.density * outline
    spread = BENDING_SPREAD if casting.mass else UNWEIGHED_SPREAD
    guesses = _guesses(spread.value)
    if not casting.mass:
        unweighed = (
            f"mass {mass:.1f} kg, {100 * UNWEIGHED_FILL.value:.0f} % of the outline (assumed: neither weighed nor its walls measured; "
            "weigh it, or log the load weighed on the clamp: load in the tightening file)"
        )
        guesses = (unweighed, *guesses)
    return _weighed(casting, mass, head), spread.value, mass * GRAVITY.value, guesses


def _weighed(casting: Casting, mass: float, head: Head) -> _Shape:
    outline = casting.length * casting.width * casting.height
    filled = mass / (head.alloy.density * outline)
    if not LEAST_FILL.value <= filled <= 1.02:
        raise BadInput(
            f"{mass:.2f} kg would fill {filled:.0%} of the casting's outline; allowed is {LEAST_FILL.value:.0%} to 102 %",
            where="casting.mass",
            fix="Check the mass (everything off the head) and the outer size.",
        )
    if filled >= SOLID_FROM.value:
        return _solid(casting, head.alloy.poisson)
    return _box(casting, _equivalent_plates(casting, filled * casting.width * casting.height))


def _equivalent_plates(casting: Casting, area: float) -> Plates:
    """Return plates that use the mean cross-section `area` [m2] as a head does."""
    inside = casting.height - casting.deck - casting.roof
    flats = casting.width * (casting.deck + casting.roof)
    webs = sum(w.thickness for w in casting.webs) * inside * casting.width / casting.length
    most = (1 - LEAST_WALL_SHARE.value) * area
    slim = min(1.0, most / (flats + webs))
    walls = WALL_SHARE.value * (area - slim * (flats + webs)) / (2 * inside)
    kept = slim * DECK_ROOF_SHARE.value
    return Plates(
        deck=kept * casting.deck,
        roof=kept * casting.roof,
        side_walls=min(walls, casting.width / 2),
        webs=tuple(Web(station=w.station, thickness=slim * w.thickness) for w in casting.webs),
    )


def _box(casting: Casting, plates: Plates) -> _Shape:
    width, height = casting.width, casting.height
    clear = height - plates.deck - plates.roof
    parts = (  # area, height of its middle, own depth
        (width * plates.deck, plates.deck / 2, plates.deck),
        (width * plates.roof, height - plates.roof / 2, plates.roof),
        (2 * plates.side_walls * clear, plates.deck + clear / 2, clear),
    )
    area = sum(a for a, _, _ in parts)
    axis = sum(a * z for a, z, _ in parts) / area
    inertia = sum(a * ((z - axis) ** 2 + depth**2 / 12) for a, z, depth in parts)
    lever, across = height - (plates.deck + plates.roof) / 2, width - plates.side_walls
    around = across / plates.deck + across / plates.roof + 2 * lever / plates.side_walls  # Bredt
    return _Shape(
        area=_with_webs(area, width * height, casting, plates),
        axis=axis,
        inertia=_with_webs(inertia, width * height**3 / 12, casting, plates),
        shear_area=2 * plates.side_walls * lever,
        torsion=4 * (across * lever) ** 2 / around,
        local_wall=math.sqrt(plates.side_walls * plates.deck),
    )


def _with_webs(open_bay: float, filled: float, casting: Casting, plates: Plates) -> float:
    """Return the mean stiffness of bays and webs in series along the length."""
    thickness = sum(w.thickness for w in plates.webs) + 2 * plates.end_walls
    share = min(WEB_SHARE.value * thickness / casting.length, 1.0)
    return 1 / ((1 - share) / open_bay + share / filled)


def _solid(casting: Casting, poisson: float) -> _Shape:
    width, height = casting.width, casting.height
    area = width * height
    return _Shape(
        area=area,
        axis=height / 2,
        inertia=width * height**3 / 12,
        shear_area=cowper(poisson) * area,
        torsion=rectangle_torsion(width, height),
        local_wall=math.sqrt(height * width / 2),
    )


def cowper(poisson: float) -> float:
    """Return the shear coefficient of the rectangle, 10 (1 + nu) / (12 + 11 nu).

    Source: Cowper, J. Appl. Mech. 33 (1966) 335 (from memory).
    Valid: solid rectangle, bending about either axis.
    """
    return 10 * (1 + poisson) / (12 + 11 * poisson)


def rectangle_torsion(width: float, height: float) -> float:
    """Return the torsion constant of a solid rectangle [m4] by Saint-Venant's series.

    Source: Timoshenko and Goodier, Theory of Elasticity, torsion of a rectangular bar (from memory).
    Valid: warping free.
    """
    long, short = max(width, height), min(width, height)
    series = sum(math.tanh(n * math.pi * long / (2 * short)) / n**5 for n in range(1, 40, 2))
    return long * short**3 / 3 * (1 - 192 * short / (math.pi**5 * long) * series)


def _volume(casting: Casting, plates: Plates) -> float:
    outline = casting.length * casting.width * casting.height
    if plates.solid:
        return outline
    clear = casting.height - plates.deck - plates.roof
    flats = casting.length * casting.width * (plates.deck + plates.roof)
    walls = 2 * casting.length * clear * plates.side_walls
    thick = sum(w.thickness for w in plates.webs) + 2 * plates.end_walls
    across = thick * clear * (casting.width - 2 * plates.side_walls)
    return min(flats + walls + across, outline)


def curve_at(curve: tuple[tuple[float, float], ...], temperature: float) -> float:
    """Return a curve of (temperature [degC], value) pairs at a temperature, straight in between, ends held."""
    return float(np.interp(temperature, [t for t, _ in curve], [v for _, v in curve]))
