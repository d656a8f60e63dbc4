"""Readings to plain JSON-able dicts with the unit in every key, and back."""

from __future__ import annotations

import math
from typing import Any, TypeVar

from straighten.errors import BadInput
from straighten.readings.records import (
    Bracket,
    Gauges,
    Hardness,
    Height,
    Intake,
    Line,
    OnPlate,
    PlateReading,
    Readings,
)

SCHEMA = 1
_DIGITS = 7  # of a millimetre: finer than any gauge, coarse enough to survive the way there and back
_GAUGES = ("blade", "edge_tolerance", "edge_error", "edge_uncertainty", "edge_length", "plate_error", "plate_length",
           "plate_uncertainty")  # fmt: skip
# The keys of each record: its fields, with the unit behind.
_KEYS: dict[type, tuple[str, ...]] = {
    kind: tuple(keys.split())
    for kind, keys in {
        Readings: "source date who room_C system agreed intake gauges lines plate hardness heights caveats",
        Intake: "cracks magnesium skimmed welded removed_mm history",
        Gauges: " ".join(f"{name}_mm" for name in _GAUGES),
        Line: "part name mode across_at_mm touching lies_on_mm over sure readings",
        OnPlate: "mode stands_on sure readings",
        Hardness: "place side station_mm value_HB",
        Height: "place value_mm",
    }.items()
}
_FIELDS = {"room_C": "room", "value_HB": "value"}
_ONE: dict[str, type] = {"intake": Intake, "gauges": Gauges, "plate": OnPlate}
_SEVERAL: dict[str, type | None] = {
    "lines": Line, "hardness": Hardness, "heights": Height, "caveats": None, "stands_on": None,
}  # fmt: skip
_Record = TypeVar("_Record")


def to_plain(readings: Readings) -> dict[str, Any]:
    """Return the readings as JSON-able tables; lengths in mm, an open upper bound as None beside a lower one."""
    return {"schema": SCHEMA, **_plain(readings)}


def from_plain(plain: dict[str, Any]) -> Readings:
    """Return the readings of plain tables.

    Raises:
        BadInput: the tables are of a later schema or damaged.
    """
    try:
        if plain["schema"] > SCHEMA:
            raise BadInput(
                f"readings of schema {plain['schema']}; this program knows up to {SCHEMA}",
                fix="Use the newer program that wrote them.",
            )
        return _record(Readings, plain)
    except (KeyError, TypeError, ValueError, AttributeError) as fault:
        raise BadInput(f"the stored readings are damaged: {fault!r}") from None


def _field(kind: type, key: str) -> str:
    if key == "readings":
        return "places" if kind is OnPlate else "brackets"
    return _FIELDS.get(key, key.removesuffix("_mm"))


def _plain(found: Any) -> Any:
    """Return a record, or several, in plain form."""
    if isinstance(found, tuple):
        return [_plain(item) for item in found]
    if isinstance(found, Bracket):
        return _bracket(found)
    if isinstance(found, PlateReading):
        return {"place": found.place} | _bracket(found.reading)
    if type(found) not in _KEYS:
        return found
    values = {key: getattr(found, _field(type(found), key)) for key in _KEYS[type(found)]}
    return {key: _mm(value) if key.endswith("_mm") else _plain(value) for key, value in values.items()}


def _record(kind: type[_Record], plain: dict[str, Any]) -> _Record:
    """Return the record of a plain form; what intake and gauges leave out has its default."""
    keys = plain.keys() if kind in (Intake, Gauges) else _KEYS[kind]
    return kind(**{_field(kind, key): _value(kind, key, plain[key]) for key in keys})


def _value(kind: type, key: str, found: Any) -> Any:
    if key.endswith("_mm"):
        return found / 1e3 if kind is Height else _m(found)
    if key == "readings":
        brackets = tuple(_bracket_back(item) for item in found)
        if kind is Line:
            return brackets
        return tuple(PlateReading(place=p["place"], reading=b) for p, b in zip(found, brackets, strict=True))
    if key in _SEVERAL:
        inside = _SEVERAL[key]
        return tuple(_record(inside, item) if inside else item for item in found)
    return _record(_ONE[key], found) if key in _ONE and not (key == "plate" and found is None) else found


def _mm(value: float | None) -> float | None:
    return None if value is None else round(value * 1e3, _DIGITS)


def _m(value: float | None) -> float | None:
    return None if value is None else value / 1e3


def _bracket(bracket: Bracket) -> dict[str, Any]:
    high = bracket.high
    plain = {
        "station_mm": _mm(bracket.station),
        "goes_mm": _mm(bracket.low),
        "stops_mm": _mm(high) if high is not None and math.isfinite(high) else None,
    }
    return plain if bracket.stated_high else plain | {"stops_from_blades": True}


def _bracket_back(plain: dict[str, Any]) -> Bracket:
    low, high = _m(plain["goes_mm"]), _m(plain["stops_mm"])
    return Bracket(
        station=plain["station_mm"] / 1e3,
        low=low,
        high=math.inf if high is None and low is not None else high,
        stated_high=not plain.get("stops_from_blades", False),
    )
