"""From the engine and torch tables of a head file to records in SI; sizes that no engine or flame has are refused."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from straighten.errors import BadInput
from straighten.head.records import Casting, CrayonRing, CrayonTime, Engine, Torch
from straighten.sources import Cited
from straighten.units import Plausible, show

if TYPE_CHECKING:
    from straighten.head import file as tables


# Sizes that road, farm and small marine engines stay inside; a slip of the unit falls outside.
_ENGINE = {
    "bore": Plausible(0.03, 0.2),
    "stroke": Plausible(0.03, 0.25),
    "cam_pitch_diameter": Plausible(0.02, 0.4),
    "crank_pitch_diameter": Plausible(0.02, 0.4),
    "centre_distance": Plausible(0.05, 1.0),
    "valve_clearances": Plausible(0.0, 0.02),
    "gasket_options": Plausible(0.1e-3, 6e-3),
}
_CHAMBER = (2e-6, 5e-4)  # m3
_STEEPEST_VALVE = math.radians(60)


def _refuse_strange(table: tables.EngineTable, casting: Casting) -> None:
    """Refuse sizes that no engine under this head has.

    Raises:
        BadInput: the key, what was found, what is allowed.
    """
    for key, allowed in _ENGINE.items():
        found = getattr(table, key)
        for value in found if isinstance(found, list) else [found]:
            if value is not None:
                allowed.at(value, f"engine.{key}")
    if table.bore is not None and table.cylinders * table.bore > 1.1 * casting.length:
        raise BadInput(
            f"{table.cylinders} bores of {show(table.bore, big=True)} do not fit under a head "
            f"{show(casting.length, big=True)} long",
            where="engine.bore",
            fix="Check the unit of the bore and the number of cylinders under this head.",
        )
    if table.chamber is not None and not _CHAMBER[0] <= table.chamber <= _CHAMBER[1]:
        raise BadInput(f"found {1e6 * table.chamber:g} cm3; allowed is 2 to 500 cm3", where="engine.chamber")
    if any(not 0 <= angle <= _STEEPEST_VALVE for angle in table.valve_angles):
        raise BadInput("allowed is 0 to 60 degrees from the bore's axis", where="engine.valve_angles")
    wheels = (table.cam_pitch_diameter, table.crank_pitch_diameter)
    if None not in wheels and table.centre_distance is not None:
        reach = sum(w for w in wheels if w is not None) / 2
        if table.centre_distance <= reach:
            wheel, apart = show(2 * reach, big=True), show(table.centre_distance, big=True)
            problem = f"wheels {wheel} across together do not fit {apart} apart"
            raise BadInput(problem, where="engine.centre_distance")


def engine_of(table: tables.EngineTable, casting: Casting) -> Engine:
    """Return the engine that a head file describes.

    Raises:
        BadInput: a size that no engine under this head has; key named.
    """
    _refuse_strange(table, casting)

    def half(diameter: float | None) -> float | None:
        return None if diameter is None else diameter / 2

    return Engine(
        cylinders=table.cylinders, bore=table.bore, stroke=table.stroke, chamber=table.chamber,
        ratio=table.compression_ratio, opening=table.chamber_opening, drive=table.drive,
        cam_pitch_radius=half(table.cam_pitch_diameter), crank_pitch_radius=half(table.crank_pitch_diameter),
        centre_distance=table.centre_distance, valve_angles=tuple(table.valve_angles),
        valve_clearances=tuple(table.valve_clearances), gasket=table.gasket, gasket_options=tuple(table.gasket_options),
    )  # fmt: skip


TIMES: Final = Cited(
    (0.5, 60.0),
    "s",
    "under one flame: no hand is quicker, and longer the roof as a whole warms; held against 3D elements to 40 s",
    "assumed",
)
RADII: Final = Cited(
    (3e-3, 40e-3), "m", "flux radii that the disc and the roof's elements resolve", "derived"
)
COLDEST: Final = Cited(
    150.0, "degC", "no alloy here yields under its own heat below this surface peak", "derived"
)
_FLAME: Final = Plausible(*RADII.value)
_HOTTEST: Final = 600.0  # degC: over it every alloy here is molten
FARTHER = 2.0  # flux radius of a flame held farther off, over the one told, where nothing else is


def torch_of(table: tables.TorchTable, assumed: list[str]) -> Torch:
    """Return one tip of the torch.

    Raises:
        BadInput: trials that contradict one another, or sizes that no flame has; key named.
    """
    trial = _crayon(table.crayon, table.crayon_after, "crayon")
    unmelted = _crayon(table.unmelted_crayon, table.unmelted_after, "unmelted_crayon")
    if unmelted is not None and trial is None:
        raise BadInput("the crayon that melted is missing", where="torch.crayon")
    if table.rings and (trial is not None or table.absorbed_power is not None):
        raise BadInput(
            "rings beside a crayon or a power: which of them holds?", where="torch.rings",
            fix="Give one trial only; a crayon that melted in the middle is a ring of radius 0.",
        )  # fmt: skip
    shortest, longest = TIMES.value
    if not shortest <= table.dwell <= longest:
        dwell = f"a dwell of {table.dwell:g} s; allowed is {shortest:g} to {longest:g} s"
        raise BadInput(dwell, where="torch.dwell")
    if not COLDEST.value <= table.peak <= _HOTTEST:
        raise BadInput(
            f"a peak of {table.peak:.0f} C; allowed is {COLDEST.value:.0f} to {_HOTTEST:.0f} C", where="torch.peak",
            fix="Is it in Fahrenheit? Write \"840 F\".",
        )  # fmt: skip
    radius = _FLAME.at(table.flame_radius, "torch.flame_radius")
    largest = min(FARTHER * radius, _FLAME.high) if table.largest_radius is None else table.largest_radius
    if table.largest_radius is None:
        wide = f"{show(largest, big=True)} wide (assumed; largest_radius)"
        assumed.append(f"the flame may be held off until it is {wide}")
    elif largest < radius:
        raise BadInput("smaller than flame_radius", where="torch.largest_radius")
    return Torch(
        tip=table.tip, largest=_FLAME.at(largest, "torch.largest_radius"),
        radius=radius, dwell=table.dwell, peak=table.peak,
        power=table.absorbed_power, trial=trial, unmelted=unmelted,
        rings=tuple(CrayonRing(temperature=r.crayon, radius=r.radius, seconds=r.after) for r in table.rings),
    )  # fmt: skip


def _crayon(temperature: float | None, seconds: float | None, key: str) -> CrayonTime | None:
    if (temperature is None) != (seconds is None):
        raise BadInput("the crayon and its seconds belong together", where=f"torch.{key}")
    if temperature is None or seconds is None:
        return None
    return CrayonTime(temperature=temperature, seconds=seconds)
