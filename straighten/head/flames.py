"""From the torch tables of a head file to the tips owned, in SI."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from straighten.errors import BadInput
from straighten.head.records import CrayonRing, CrayonTime, Torch
from straighten.sources import Cited
from straighten.units import Plausible, show

if TYPE_CHECKING:
    from straighten.head import file as tables

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
        raise BadInput(
            f"a dwell of {table.dwell:g} s; allowed is {shortest:g} to {longest:g} s", where="torch.dwell"
        )
    if not COLDEST.value <= table.peak <= _HOTTEST:
        raise BadInput(
            f"a peak of {table.peak:.0f} C; allowed is {COLDEST.value:.0f} to {_HOTTEST:.0f} C", where="torch.peak",
            fix="Is it in Fahrenheit? Write \"840 F\".",
        )  # fmt: skip
    radius = _check(table.flame_radius, "flame_radius")
    largest = min(FARTHER * radius, _FLAME.high) if table.largest_radius is None else table.largest_radius
    if table.largest_radius is None:
        assumed.append(
            f"the flame may be held off until it is {show(largest, big=True)} wide (assumed; largest_radius)"
        )
    elif largest < radius:
        raise BadInput("smaller than flame_radius", where="torch.largest_radius")
    return Torch(
        tip=table.tip, largest=_check(largest, "largest_radius"),
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


def _check(radius: float, key: str) -> float:
    try:
        return _FLAME.check(radius, key.replace("_", " "))
    except BadInput as fault:
        raise BadInput(fault.problem, where=f"torch.{key}", fix=fault.fix) from None
