"""Readings to plain JSON-able dicts with the unit in every key, and back."""

from __future__ import annotations

import math
from dataclasses import fields
from typing import Any

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


def to_plain(readings: Readings) -> dict[str, Any]:
    """Return the readings as JSON-able tables; lengths in mm, an open upper bound as None beside a lower one."""
    return {
        "schema": SCHEMA,
        "source": readings.source,
        "date": readings.date,
        "who": readings.who,
        "room_C": readings.room,
        "system": readings.system,
        "agreed": readings.agreed,
        "intake": {
            "cracks": readings.intake.cracks,
            "magnesium": readings.intake.magnesium,
            "skimmed": readings.intake.skimmed,
            "welded": readings.intake.welded,
            "removed_mm": _mm(readings.intake.removed),
            "history": readings.intake.history,
        },
        "gauges": {f"{f.name}_mm": _mm(getattr(readings.gauges, f.name)) for f in fields(Gauges)},
        "lines": [_line(line) for line in readings.lines],
        "plate": _plate(readings.plate) if readings.plate else None,
        "hardness": [
            {"place": h.place, "side": h.side, "station_mm": _mm(h.station), "value_HB": h.value}
            for h in readings.hardness
        ],
        "heights": [{"place": h.place, "value_mm": _mm(h.value)} for h in readings.heights],
        "caveats": list(readings.caveats),
    }


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
        return _readings(plain)
    except (KeyError, TypeError, ValueError, AttributeError) as fault:
        raise BadInput(f"the stored readings are damaged: {fault!r}") from None


def _readings(plain: dict[str, Any]) -> Readings:
    intake = dict(plain["intake"])
    removed = _m(intake.pop("removed_mm"))
    return Readings(
        source=plain["source"],
        date=plain["date"],
        who=plain["who"],
        room=plain["room_C"],
        system=plain["system"],
        agreed=plain["agreed"],
        intake=Intake(**intake, removed=removed),
        gauges=Gauges(**{key.removesuffix("_mm"): _m(value) for key, value in plain["gauges"].items()}),
        lines=tuple(_line_back(line) for line in plain["lines"]),
        plate=_plate_back(plain["plate"]) if plain["plate"] else None,
        hardness=tuple(
            Hardness(place=h["place"], side=h["side"], station=_m(h["station_mm"]), value=h["value_HB"])
            for h in plain["hardness"]
        ),
        heights=tuple(Height(place=h["place"], value=h["value_mm"] / 1e3) for h in plain["heights"]),
        caveats=tuple(plain["caveats"]),
    )


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


def _line(line: Line) -> dict[str, Any]:
    return {
        "part": line.part,
        "name": line.name,
        "mode": line.mode,
        "across_at_mm": _mm(line.across_at),
        "touching": line.touching,
        "lies_on_mm": _mm(line.lies_on),
        "over": line.over,
        "sure": line.sure,
        "readings": [_bracket(b) for b in line.brackets],
    }


def _line_back(plain: dict[str, Any]) -> Line:
    return Line(
        part=plain["part"],
        name=plain["name"],
        mode=plain["mode"],
        across_at=_m(plain["across_at_mm"]),
        touching=plain["touching"],
        lies_on=_m(plain["lies_on_mm"]),
        over=plain["over"],
        sure=plain["sure"],
        brackets=tuple(_bracket_back(b) for b in plain["readings"]),
    )


def _plate(plate: OnPlate) -> dict[str, Any]:
    return {
        "mode": plate.mode,
        "stands_on": list(plate.stands_on),
        "sure": plate.sure,
        "readings": [{"place": p.place} | _bracket(p.reading) for p in plate.places],
    }


def _plate_back(plain: dict[str, Any]) -> OnPlate:
    return OnPlate(
        mode=plain["mode"],
        stands_on=tuple(plain["stands_on"]),
        sure=plain["sure"],
        places=tuple(PlateReading(place=p["place"], reading=_bracket_back(p)) for p in plain["readings"]),
    )
