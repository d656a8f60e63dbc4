"""The table of casting alloys, and the alloy that an owner writes into the head file, as `Alloy`.

The figures of the table stand in `alloy_table.toml` beside this file, each with its source and mark. "unknown casting"
is a spread over the whole table with the lowest solidus in it.
"""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import replace
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from straighten.errors import BadInput
from straighten.head.records import Alloy, NortonCreep
from straighten.sources import Cited

if TYPE_CHECKING:
    from straighten.head.file import AlloyTable


UNKNOWN: Final = "unknown casting"
LIGHTEST: Final = Cited(
    2300.0,
    "kg/m3",
    "magnesium alloys weigh about 1800, casting alloys of aluminium 2600 to 2850",
    "from memory",
)
HARDENING: Final = Cited(
    1.0e9, "Pa", "tangent modulus after yield of a cast Al-Si-Mg T6 bar, about 1 GPa", "from memory"
)
POISSON: Final = Cited(0.33, "", "open material-property pages, all alloys of the table", "seen")

Curve = tuple[tuple[float, float], ...]
_SPREAD_OF_HARDNESS: Final = (65.0, 110.0)
# ASTM B275 and B951: the first letters name the two main metals; EN 1754 begins with EN-MC (from memory)
_MAGNESIUM: Final = re.compile(
    r"(?:a[ejz]|e[qvz]|hk|hz|ml|mri|qe|qh|we|zc|ze|zh|zk|en[ -]?mc)[ -]?\w*\d|am[ -]?(?:[2568]0|100)|as[ -]?[234]1"
    r"|mg|(?:cast )?magnes"
)
_WORDS_FOR_UNKNOWN: Final = {"unknown", "aluminium", "aluminum", "cast aluminium", "cast aluminum", "?", ""}


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads((files("straighten.head") / "alloy_table.toml").read_text(encoding="utf-8"))


@cache
def _aliases() -> dict[str, str]:
    found = {name.casefold(): name for name in _table()["alloy"]}
    for name, row in _table()["alloy"].items():
        found.update({alias.casefold(): name for alias in row["aliases"]})
    return found | dict.fromkeys(_WORDS_FOR_UNKNOWN | {UNKNOWN}, UNKNOWN)


@cache
def alloy_named(name: str) -> Alloy:
    """Return the alloy of that name or alias; "unknown" gives the spread over the table.

    Args:
        name: as a person writes it, capitals do not matter: "A356-T6", "LM25", "unknown".

    Raises:
        BadInput: no such name; the nearest one is offered.

    Valid: 20 degC to the alloy's solidus.

    Example:
        >>> alloy_named("lm25").name
        'AlSi7Mg-T6'
    """
    known = _aliases()
    wanted = " ".join(name.split()).casefold()
    if wanted not in known and _MAGNESIUM.match(wanted):
        raise _magnesium(name)
    if wanted not in known:
        near = get_close_matches(wanted, known, n=1, cutoff=0.4)
        hint = f"Did you mean {known[near[0]]!r}? " if near else ""
        raise BadInput(f"no alloy {name!r} in the table", fix=f'{hint}Write "unknown" where nobody knows.')
    return _unknown() if known[wanted] == UNKNOWN else _alloy(known[wanted])


def _magnesium(name: str) -> BadInput:
    return BadInput(
        f"{name!r} is magnesium: it burns, and nothing of it is heated or sanded",
        fix="Hand it to a specialist. To keep it in the book, write magnesium = true under [casting] and name no alloy.",
    )


def _alloy(name: str) -> Alloy:
    row = _table()["alloy"][name]
    proof, modulus = row["proof_mpa"][0] * 1e6, row["modulus_gpa"][0] * 1e9
    return Alloy(
        name=name,
        family=row["family"],
        temper=name.rpartition("-")[2],
        modulus=_scaled("modulus", modulus),
        yield_short=_scaled(row["short"], proof),
        yield_soaked=_scaled(row["soaked"], proof),
        expansion=_points(row["expansion"], "per_kelvin"),
        conductivity=((20.0, float(row["conductivity"][0])),),
        heat_capacity=_points("heat_capacity", "joule_per_kg_kelvin"),
        density=float(row["density"][0]),
        hardening=HARDENING.value,
        poisson=POISSON.value,
        solidus=float(row["solidus_c"][0]),
        hardness=(float(row["hardness_hb"][0]), float(row["hardness_hb"][1])),
        spread=float(row["spread"]),
        sources=_source_lines(row),
    )


def _points(curve: str, key: str) -> Curve:
    return tuple((float(t), float(v)) for t, v in _table()["curve"][curve][key])


def _scaled(curve: str, at_20: float) -> Curve:
    return tuple((t, ratio * at_20) for t, ratio in _points(curve, "points"))


def _source_lines(row: dict[str, Any]) -> tuple[str, ...]:
    sources = _table()["source"]
    figures = ("proof_mpa", "modulus_gpa", "conductivity", "density", "solidus_c", "hardness_hb")
    units = ("MPa", "GPa", "W/(m K)", "kg/m3", "degC", "HB")
    lines = []
    for key, unit in zip(figures, units, strict=True):
        *values, source, mark = row[key]
        value = " to ".join(f"{v:g}" for v in values)
        lines.append(f"{key.rpartition('_')[0] or key}: {Cited(value, unit, sources[source], mark)}")
    shapes = {"short": "yield on short exposure", "soaked": "yield after a soak", "expansion": "expansion"}
    lines += [_curve_line(what, row[key]) for key, what in shapes.items()]
    return (
        *lines,
        _curve_line("modulus against temperature", "modulus"),
        _curve_line("heat capacity", "heat_capacity"),
        f"hardening: {HARDENING.value / 1e9:g} GPa ({HARDENING.told})",
        f"Poisson's ratio: {POISSON}",
    )


def _curve_line(what: str, curve: str) -> str:
    row = _table()["curve"][curve]
    return f"{what}: {_table()['source'][row['source']]} ({row['mark']}); {row['note']}"


def _unknown() -> Alloy:
    """Return the alloy nobody knows: geometric means over the table, the lowest solidus, a wide spread."""
    rows = [_alloy(name) for name in _table()["alloy"]]
    logs = [math.log(a.yield_short[0][1]) for a in rows]
    mean = sum(logs) / len(logs)
    spread = math.sqrt(sum((v - mean) ** 2 for v in logs) / (len(logs) - 1))
    middle = _alloy("A356-T6")
    size = math.exp(mean) / middle.yield_short[0][1]
    return replace(
        middle,
        name=UNKNOWN,
        family="unknown",
        temper="unknown",
        modulus=tuple((t, v * 71.0 / 72.4) for t, v in middle.modulus),
        yield_short=tuple((t, v * size) for t, v in middle.yield_short),
        yield_soaked=tuple((t, v * size) for t, v in middle.yield_soaked),
        conductivity=((20.0, sum(a.conductivity[0][1] for a in rows) / len(rows)),),
        density=sum(a.density for a in rows) / len(rows),
        solidus=min(a.solidus for a in rows),
        hardness=_SPREAD_OF_HARDNESS,
        spread=spread,
        sources=(
            f"proof stress: geometric mean of {len(rows)} alloys and tempers of the table, log spread {spread:.2f} (derived)",
            "solidus: the lowest of the table (derived); modulus 71 +/- 2 GPa (derived from the pages); shapes as A356-T6",
        ),
    )


def _curve(key: str, temperature: list[float], values: list[float], scale: float) -> Curve:
    if len(values) not in (1, len(temperature)):
        problem = f"{len(values)} values for {len(temperature)} temperatures"
        raise BadInput(problem, where=f"alloy.{key}", fix="One value a temperature.")
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
    t = table.temperature_C
    heat_t = table.heat_temperature_C or t
    if _MAGNESIUM.match(table.name.casefold()) or table.density_kg_per_m3 < LIGHTEST.value:
        raise _magnesium(f"{table.name}, {table.density_kg_per_m3:.0f} kg/m3").at("alloy")
    unknown = alloy_named("unknown")
    creep = table.creep

    def heat(key: str, usual: Curve) -> Curve:
        given = getattr(table, key)
        return usual if given is None else _curve(key, heat_t, given, 1.0)

    return Alloy(
        name=table.name,
        family="own table",
        temper="as given",
        modulus=_curve("E_GPa", t, table.E_GPa, 1e9),
        yield_short=_curve("yield_MPa", t, table.yield_MPa, 1e6),
        yield_soaked=_curve("yield_soaked_MPa", t, table.yield_soaked_MPa or table.yield_MPa, 1e6),
        expansion=_curve(
            "expansion_1e6_per_K", table.expansion_temperature_C or t, table.expansion_1e6_per_K, 1e-6
        ),
        conductivity=heat("conductivity_W_per_mK", unknown.conductivity),
        heat_capacity=heat("heat_capacity_J_per_kgK", unknown.heat_capacity),
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
