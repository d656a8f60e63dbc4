"""Clamp bolts: threads, property classes, and the torque that brings a tension."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final, TypeVar

from straighten.errors import BadInput
from straighten.head.records import HeadBolt
from straighten.quantiles import Floats
from straighten.sources import Cited
from straighten.units import INCH

Number = TypeVar("Number", float, "Floats")

KSI: Final = 6.894757293168e6
FRICTION: Final = Cited(
    0.1386,
    "",
    "middle of 0.08 to 0.24, friction classes B and C of VDI 2230 part 1: greased to dry plain steel threads",
    "from memory",
)
FRICTION_SPREAD: Final = Cited(
    0.236, "log-sd", "0.08 to 0.24 as the 1 and 99 % ends: 0.10 to 0.19 in eight cases of ten", "derived"
)
LEAST_FRICTION: Final = Cited(
    0.08,
    "",
    "lower end of class B of VDI 2230: moly paste or wax; a torque cap counts with it",
    "from memory",
)
PROOF_MARGIN: Final = Cited(
    0.75, "", "a clamp bolt is kept under three quarters of its proof load", "common practice, no source"
)
STEEL_MODULUS: Final = Cited(210e9, "Pa", "EN 1993-1-1, 3.2.6", "from memory")

_COARSE: Final = {
    5: 0.8, 6: 1.0, 7: 1.0, 8: 1.25, 10: 1.5, 11: 1.5, 12: 1.75, 14: 2.0, 16: 2.0,
    18: 2.5, 20: 2.5, 22: 2.5, 24: 3.0, 27: 3.0, 30: 3.5, 33: 3.5, 36: 4.0,
}  # fmt: skip
_UNC: Final = {"1/4": 20, "5/16": 18, "3/8": 16, "7/16": 14, "1/2": 13, "9/16": 12, "5/8": 11, "3/4": 10}
_UNF: Final = {"1/4": 28, "5/16": 24, "3/8": 24, "7/16": 20, "1/2": 20, "9/16": 18, "5/8": 18, "3/4": 16}
# Mean bearing diameter = (nut face ISO 4032 + medium hole ISO 273) / 2 [mm].
_BEARING: Final = {6: 7.7, 8: 10.3, 10: 12.8, 12: 15.05, 14: 17.6, 16: 20.0}
_BEARING_SHARE: Final = 1.28  # of the diameter, where the table has no row

_METRIC = re.compile(r"^m\s*(\d{1,2}(?:\.\d)?)(?:\s*[x×*-]\s*(\d(?:\.\d{1,2})?))?$", re.IGNORECASE)
_INCH = re.compile(
    r"^(\d{1,2}/\d{1,2}|0?\.\d{2,4})\"?\s*(?:[-x]\s*(\d{1,2}))?\s*(unc|unf|unrc|unrf|un)?$", re.IGNORECASE
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thread:
    """A thread: `diameter`, `pitch`, `pitch_diameter` d2, `bearing` mean diameter under nut or head [m]; `area` stress area [m2]."""

    name: str
    diameter: float
    pitch: float
    pitch_diameter: float
    area: float
    bearing: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade:
    """What a bolt is made of: `proof` stress, `tensile` strength [Pa]."""

    name: str
    proof: float
    tensile: float
    source: str


def thread_of(name: str) -> Thread:
    r"""Return the thread of a designation: "M10x1.5", "M10", "7/16-14", "1/2 UNF".

    Metric stress area after ISO 898-1 with the basic profile of ISO 724, inch after ASME B1.1:

    .. math:: A_s = \frac{\pi}{4}\left(\frac{d_2 + d_3}{2}\right)^2,\quad
              A_t = \frac{\pi}{4}\left(D - \frac{0.9743}{n}\right)^2

    Raises:
        BadInput: not a thread, or a pitch that no bolt of this size has.

    Source: ISO 898-1 and ISO 724; ASME B1.1 (formulas from memory; areas checked against printed tables).
    Valid: 60 degree threads, M5 to M36, 1/4 to 3/4 inch.

    Example:
        >>> round(thread_of("M10x1.5").area * 1e6, 1)
        58.0
    """
    text = name.strip()
    if found := _METRIC.match(text):
        return _metric(text, float(found[1]), found[2])
    if found := _INCH.match(text):
        return _inch(text, found[1], found[2], (found[3] or "").lower())
    raise _no_thread(name, "not a thread designation")


def _metric(name: str, diameter: float, pitch: str | None) -> Thread:
    step = float(pitch) if pitch else _COARSE.get(int(diameter) if diameter.is_integer() else 0)
    if step is None or not 5 <= diameter <= 36 or not 0.04 * diameter <= step <= 0.2 * diameter:
        raise _no_thread(name, "no bolt of that size and pitch")
    d2, d3 = diameter - 0.64952 * step, diameter - 1.22687 * step
    bearing = _BEARING.get(int(diameter) if diameter.is_integer() else 0, _BEARING_SHARE * diameter)
    area = math.pi / 4 * ((d2 + d3) / 2) ** 2
    return Thread(
        name=name,
        diameter=diameter * 1e-3,
        pitch=step * 1e-3,
        pitch_diameter=d2 * 1e-3,
        area=area * 1e-6,
        bearing=bearing * 1e-3,
    )


def _inch(name: str, size: str, threads: str | None, series: str) -> Thread:
    table = _UNF if series in {"unf", "unrf"} else _UNC
    per_inch = int(threads) if threads else table.get(size)
    over, _, under = size.partition("/")
    diameter = (
        int(over) / int(under) if under and int(under) else float(size) if "." in size else 0.0
    ) * INCH
    if not per_inch or not 0.249 * INCH <= diameter <= 0.751 * INCH or not 8 <= per_inch <= 40:
        raise _no_thread(name, "no bolt of that size and thread count")
    pitch = INCH / per_inch
    return Thread(
        name=name,
        diameter=diameter,
        pitch=pitch,
        pitch_diameter=diameter - 0.64952 * pitch,
        area=math.pi / 4 * (diameter - 0.9743 * pitch) ** 2,
        bearing=_BEARING_SHARE * diameter,
    )


def _no_thread(name: str, why: str) -> BadInput:
    return BadInput(
        f"{name[:40]!r} is {why}", where="bolts.thread", fix='Write "M10x1.5", "M10", "7/16-14" or "1/2 UNF".'
    )


_CLASSES: Final = {  # proof, tensile [MPa]; 8.8 is a little stronger over M16
    "4.6": (225, 400), "4.8": (310, 420), "5.6": (280, 500), "5.8": (380, 520), "6.8": (440, 600),
    "8.8": (580, 800), "9.8": (650, 900), "10.9": (830, 1040), "12.9": (970, 1220),
}  # fmt: skip
_THICK_8_8: Final = (600, 830)
_INCH_GRADES: Final = {
    "2": (55, 74),
    "5": (85, 120),
    "8": (120, 150),
}  # proof, tensile [ksi], 1/4 to 3/4 inch
_ISO: Final = "ISO 898-1, property classes (from memory; proof loads of 8.8, 10.9 and 12.9 checked against a printed table)"


def grade_of(name: str, thread: Thread) -> Grade:
    """Return the material of a bolt: an ISO 898-1 class ("8.8", "10.9", "12.9") or an inch grade ("5", "grade 8").

    Raises:
        BadInput: no such class or grade.

    Source: ISO 898-1; SAE J429 for the inch grades (both from memory).
    Valid: steel bolts and studs, M5 to M36, 1/4 to 3/4 inch.

    Example:
        >>> grade_of("10.9", thread_of("M10")).proof
        830000000.0
    """
    short = name.strip().lower().removeprefix("class").removeprefix("grade").strip().replace(",", ".")
    if short in _CLASSES:
        thick = short == "8.8" and thread.diameter > 16.5e-3
        proof, tensile = (k * 1e6 for k in (_THICK_8_8 if thick else _CLASSES[short]))
        return Grade(name=short, proof=proof, tensile=tensile, source=_ISO)
    if short in _INCH_GRADES:
        proof, tensile = (k * KSI for k in _INCH_GRADES[short])
        return Grade(name=short, proof=proof, tensile=tensile, source="SAE J429 (from memory)")
    raise BadInput(
        f"no bolt grade {name[:20]!r}",
        where="bolts.grade",
        fix='Write an ISO class ("8.8", "10.9", "12.9") or an inch grade ("5", "8"), read off the bolt\'s head.',
    )


def proof_load(thread: Thread, grade: Grade) -> float:
    """Return the proof load [N]: stress area times proof stress.

    Source: ISO 898-1 (from memory).
    Valid: pull without torsion, room temperature.
    """
    return thread.area * grade.proof


def lever(thread: Thread, friction: Number) -> Number:
    r"""Return torque per tension [m].

    .. math:: M_A / F_M = 0.16 P + 0.58\, d_2\, \mu_G + D_{Km}\, \mu_K / 2

    with one friction coefficient for thread and nut face.

    `friction` coefficient [-], a number or one per draw.

    Source: VDI 2230 part 1, assembly torque (from memory; torques checked against printed tables).
    Valid: turning nut or head on a flat washer; friction 0.08 to 0.24.

    Example:
        >>> round(20e3 * lever(thread_of("M10x1.5"), 0.12), 1)
        32.7
    """
    return 0.16 * thread.pitch + (0.58 * thread.pitch_diameter + thread.bearing / 2) * friction


def tension_from(torque: Number, thread: Thread, friction: Number) -> Number:
    """Return the tension [N] that a torque [N m] brings. Source and limits as `lever`."""
    return torque / lever(thread, friction)


def torque_for(tension: Number, thread: Thread, friction: Number) -> Number:
    """Return the torque [N m] that brings a tension [N]. Source and limits as `lever`."""
    return tension * lever(thread, friction)


def bolt_stiffness(thread: Thread, grip: float) -> float:
    """Return force per stretch [N/m] of a stud threaded all along, half a diameter of nut and of engaged thread added.

    Source: VDI 2230 part 1, resilience of the engaged thread 0.5 d and of the nut 0.4 d (from memory).
    Valid: steel; a thick shank is stiffer by a quarter at most.
    """
    return STEEL_MODULUS.value * thread.area / (grip + 0.9 * thread.diameter)


def clamp_thread(bolt: HeadBolt) -> tuple[Thread, Grade]:
    """Return thread and grade of a bolt of the head.

    Raises:
        BadInput: unknown thread or grade.
    """
    thread = thread_of(bolt.thread)
    return thread, grade_of(bolt.grade, thread)
