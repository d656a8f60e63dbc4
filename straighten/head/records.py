"""The head and its surroundings as plain records, all in SI and degC.

Axes: x is the station from the front end, 0 to length; y runs across from the middle, positive towards the
inlet side; z runs up from the deck face. The deck lies face down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from straighten.sources import Cited
from straighten.units import System

Side = Literal["inlet", "exhaust"]
SIDES: tuple[Side, Side] = ("exhaust", "inlet")


def side_sign(side: Side) -> int:
    """Return the sign of y on a side: inlet +1, exhaust -1."""
    return 1 if side == "inlet" else -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Web:
    """A cross wall of the casting: station of its middle plane [m] and thickness [m]."""

    station: float
    thickness: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Plates:
    """The casting as plates [m]: deck, roof, two side walls, two end walls, webs; `solid` fills the outline."""

    deck: float = 0.0
    roof: float = 0.0
    side_walls: float = 0.0
    end_walls: float = 0.0
    webs: tuple[Web, ...] = ()
    solid: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Casting:
    """The bare casting.

    `length`, `width`, `height` (deck face to cam face) [m]; `mass` stripped [kg], or None where `plates` are
    given; `roof` thickness of the cam-side wall that is heated [m], with `roof_assumed` true where it is a guess.
    """

    length: float
    width: float
    height: float
    mass: float | None
    plates: Plates | None
    roof: float
    roof_assumed: bool
    deck: float
    webs: tuple[Web, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alloy:
    """A casting alloy against temperature. Curves are (temperature [degC], value) pairs, linear in between.

    `modulus` [Pa], `yield_short` 0.2 % proof stress on short exposure [Pa], `yield_soaked` after a long soak at
    that temperature [Pa], `expansion` secant from 20 degC [1/K], `conductivity` [W/(m K)], `heat_capacity`
    [J/(kg K)], `density` [kg/m3], `hardening` tangent modulus after yield [Pa], `solidus` of the lowest-melting
    phase [degC], `hardness` of the sound temper [HB], `spread` log standard deviation of its yield (castings
    differ), `creep` a creep law or None, `sources` one line per figure.
    """

    name: str
    family: str
    temper: str
    modulus: tuple[tuple[float, float], ...]
    yield_short: tuple[tuple[float, float], ...]
    yield_soaked: tuple[tuple[float, float], ...]
    expansion: tuple[tuple[float, float], ...]
    conductivity: tuple[tuple[float, float], ...]
    heat_capacity: tuple[tuple[float, float], ...]
    density: float
    hardening: float
    poisson: float
    solidus: float
    hardness: tuple[float, float]
    spread: float
    creep: NortonCreep | None = None
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class NortonCreep:
    """Creep strain rate = factor * stress**exponent, `factor` [1/(Pa**n s)] at `temperature` [degC]; `activation` [J/mol]."""

    factor: float
    exponent: float
    temperature: float
    activation: float = 137.5e3


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the finished head must keep. Lengths [m]; each `Cited` says where the limit comes from.

    `deck_overall` flatness of the whole deck; `deck_local` (gap, over length); `cam_line` straightness of the
    cam line overall; `tower_step` from one tower to the next; `least_height` of the head, or None;
    `largest_removal` from the deck in all; `removed_before` already taken off; `left` metal that may still come off,
    None where only the file is known: ask `metal_left`.
    """

    deck_overall: Cited[float]
    deck_local: Cited[float]
    deck_local_length: float
    cam_line: Cited[float]
    tower_step: Cited[float]
    least_height: Cited[float] | None
    largest_removal: Cited[float]
    removed_before: float = 0.0
    left: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadBolt:
    """A bolt hole of the head that may carry a clamp bolt.

    `station`, `side`; `thread` as designated ("M10x1.5", "7/16-14"); `grade` ISO 898-1 class or inch grade of the
    bolt put in; `stretch` true for a torque-to-yield engine bolt (refused as a clamp bolt); `engagement` thread
    length in the base [m]; `through` where a stud goes through the base to a nut below; `lubricated`; `washer` outer
    diameter [m].
    """

    station: float
    side: Side
    thread: str
    grade: str
    stretch: bool = False
    lubricated: bool = True
    engagement: float | None = None
    through: bool = False
    washer: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Base:
    """What the head is bolted to. `kind` "rigid", "plate" or "block"; thickness, width, length [m]; material; `dome` = own crown in the middle [m], measured."""

    kind: Literal["rigid", "plate", "block"]
    thickness: float
    width: float
    length: float
    material: Literal["steel", "aluminium", "iron"]
    dome: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wrench:
    """The torque wrench: the `least` and the `most` it can be set to [N m]."""

    least: float
    most: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ShimBlade:
    """Blades or strips of one thickness [m] that may be stacked: how many are owned and of what."""

    thickness: float
    count: int
    material: Literal["steel", "brass", "aluminium", "other"] = "steel"


@dataclass(frozen=True, slots=True, kw_only=True)
class CrayonTime:
    """How the torch was tried: the surface reached `temperature` [degC] after `seconds` over the spot."""

    temperature: float
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CrayonRing:
    """One mark of a flame trial: the crayon of `temperature` [degC] had melted out to `radius` [m] after `seconds` under the still flame."""

    temperature: float
    radius: float
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Torch:
    """The flame: `radius` [m] where the flux has fallen to exp(-2); `dwell` the person is used to [s]; `peak` surface temperature aimed at [degC]; `power` absorbed [W], or a `trial` in which a crayon melted, `unmelted` a hotter one that did not, or nothing; `asked` the peak that was asked for where the heat ceiling lowered it [degC]; `tip` its name; `largest` flux radius when it is held farther off [m]; `rings` crayon marks of a flame trial and `radius_spread` log standard deviation of the radius they give, None where it was told."""

    radius: float
    dwell: float
    peak: float
    power: float | None = None
    trial: CrayonTime | None = None
    unmelted: CrayonTime | None = None
    asked: float | None = None
    rings: tuple[CrayonRing, ...] = ()
    radius_spread: float | None = None
    tip: str = ""
    largest: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Oven:
    """The oven: hottest setting [degC], longest soak the person will give [s], error of its reading [K]."""

    hottest: float
    longest: float
    error: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOff:
    """A place that must not be heated: station, side, radius [m] and why."""

    station: float
    side: Side
    radius: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """What the head sits on, for the consequences of removed metal. Lengths [m], volumes [m3], angles [rad]; None = not given.

    `drive` "belt", "chain" or "gears"; `cam_pitch_radius`, `crank_pitch_radius`, `centre_distance` of the drive's
    tight run; `opening` chamber outline area over bore area; `valve_angles` from the bore axis, `valve_clearances`.
    """

    cylinders: int = 4
    bore: float | None = None
    stroke: float | None = None
    chamber: float | None = None
    ratio: float | None = None
    opening: float = 1.0
    drive: Literal["belt", "chain", "gears"] = "belt"
    cam_pitch_radius: float | None = None
    crank_pitch_radius: float | None = None
    centre_distance: float | None = None
    valve_angles: tuple[float, ...] = ()
    valve_clearances: tuple[float, ...] = ()
    gasket: Literal["composite", "graphite", "multi-layer steel"] = "multi-layer steel"
    gasket_options: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What things cost the person, in their own money; `assumed` names the keys left at their defaults."""

    hour: float = 50.0
    gas_per_pass: float = 5.0
    gasket_set: float = 60.0
    replacement_head: float = 400.0
    line_boring: float = 250.0
    removal_per_tenth_mm: float = 15.0
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Thresholds:
    """Go / no-go thresholds of the trade; every one may be set in the head file.

    Hardness [HB], `hardness_drop` [HB], lengths [m], `passes` count, `least_gain` share of the bend.
    """

    hardness_reject: Cited[float]
    hardness_doubt: Cited[float]
    hardness_drop: Cited[float]
    largest_bow: Cited[float]
    largest_twist: Cited[float]
    straighten_from: Cited[float]
    stop_bending: Cited[float]
    most_passes: Cited[int]
    least_gain: Cited[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """Everything known about one head before it is measured.

    `towers` stations of the cam towers [m]; `cam_lines` 1 or 2; `cam_height` of the cam line over the deck [m];
    `base` in use, `spare_bases` others owned; `torch` with its first tip, `spare_tips` the others; `wrench` for the clamp;
    `front_shim`, `rear_shim` stations of the shims [m]; `gauge_blades` owned for gauging [m];
    `bent` widest gap that a straightedge ever showed [m]; `spot_rows` distance of the heat-spot rows from the middle [m]; `magnesium` true where the casting is not
    aluminium; `system` unit system of the person.
    """

    name: str
    system: System
    casting: Casting
    alloy: Alloy
    limits: Limits
    thresholds: Thresholds
    towers: tuple[float, ...]
    cam_lines: int
    cam_height: float
    bolts: tuple[HeadBolt, ...]
    base: Base
    front_shim: float
    rear_shim: float
    shim_blades: tuple[ShimBlade, ...]
    gauge_blades: tuple[float, ...]
    torch: Torch | None
    oven: Oven | None
    spot_rows: float
    keep_off: tuple[KeepOff, ...] = ()
    magnesium: bool = False
    engine: Engine = field(default_factory=Engine)
    prices: Prices = field(default_factory=Prices)
    assumed: tuple[str, ...] = ()
    caveats: tuple[str, ...] = ()
    wrench: Wrench = Wrench(least=0.0, most=1e6)
    spare_bases: tuple[Base, ...] = ()
    spare_tips: tuple[Torch, ...] = ()
    bent: float = 0.0


def metal_left(head: Head) -> float:
    """Return how much may still come off the deck [m], zero or more: by the largest removal and by the least height.

    `Limits.left` holds what surveys and sandings tell; without it the file's own height and removal count.
    """
    limits = head.limits
    if limits.left is not None:
        return max(limits.left, 0.0)
    left = limits.largest_removal.value - limits.removed_before
    if limits.least_height is not None:
        left = min(left, head.casting.height - limits.least_height.value)
    return max(left, 0.0)
