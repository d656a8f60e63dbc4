"""The alloy table that an owner writes into the head file, turned into SI curves."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

from straighten.errors import BadInput
from straighten.head.alloys import alloy_named
from straighten.head.records import Alloy, NortonCreep

if TYPE_CHECKING:
    from straighten.head.file import AlloyTable


def _curve(
    key: str, temperature: list[float], values: list[float], scale: float
) -> tuple[tuple[float, float], ...]:
    if len(values) not in (1, len(temperature)):
        raise BadInput(
            f"{len(values)} values for {len(temperature)} temperatures",
            where=f"alloy.{key}",
            fix="One value a temperature.",
        )
    if any(b <= a for a, b in pairwise(temperature)):
        raise BadInput("temperatures must rise from one to the next", where="alloy.temperature_C")
    if any(not math.isfinite(v) or v < 0 for v in values):
        raise BadInput("a value below zero", where=f"alloy.{key}")
    values = values * len(temperature) if len(values) == 1 else values
    return tuple((t, v * scale) for t, v in zip(temperature, values, strict=True))


def own_alloy(table: AlloyTable) -> Alloy:
    """Return the alloy that a head file's own table describes; heat figures left out are those of an unknown casting.

    Raises:
        BadInput: curves of unequal length, temperatures that do not rise, values below zero.
    """
    t = list(table.temperature_C)
    expansion_t = table.expansion_temperature_C or t
    heat_t = table.heat_temperature_C or t
    unknown = alloy_named("unknown")
    creep = table.creep
    return Alloy(
        name=table.name,
        family="own table",
        temper="as given",
        modulus=_curve("E_GPa", t, table.E_GPa, 1e9),
        yield_short=_curve("yield_MPa", t, table.yield_MPa, 1e6),
        yield_soaked=_curve("yield_soaked_MPa", t, table.yield_soaked_MPa or table.yield_MPa, 1e6),
        expansion=_curve("expansion_1e6_per_K", expansion_t, table.expansion_1e6_per_K, 1e-6),
        conductivity=unknown.conductivity
        if table.conductivity_W_per_mK is None
        else _curve("conductivity_W_per_mK", heat_t, table.conductivity_W_per_mK, 1.0),
        heat_capacity=unknown.heat_capacity
        if table.heat_capacity_J_per_kgK is None
        else _curve("heat_capacity_J_per_kgK", heat_t, table.heat_capacity_J_per_kgK, 1.0),
        density=table.density_kg_per_m3,
        hardening=table.hardening_GPa * 1e9,
        poisson=table.poisson,
        solidus=table.solidus,
        hardness=(table.hardness_HB, table.hardness_HB),
        spread=0.0,
        creep=None
        if creep is None
        else NortonCreep(
            factor=creep.A_per_MPa_n_s * 1e-6**creep.n,
            exponent=creep.n,
            temperature=creep.temperature,
            activation=creep.activation_kJ_per_mol * 1e3,
        ),
        sources=("given in the head file",),
    )
