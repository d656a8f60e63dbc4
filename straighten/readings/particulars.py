"""The rest of a survey file to records: plate, hardness, heights, intake, gauges."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from straighten.errors import BadInput, located
from straighten.head.records import Head
from straighten.readings.gaps import DIVISION, GapWords, dial_value, read_gap
from straighten.readings.names import plate_place
from straighten.readings.records import (
    PLATE_PLACES,
    Gauges,
    Hardness,
    Height,
    OnPlate,
    PlateReading,
)
from straighten.units import Plausible, System, show

if TYPE_CHECKING:
    from straighten.readings import file as tables

HARDNESS = (20.0, 200.0)  # HB
ROOM = (-10.0, 60.0)  # degC
_GAUGE = Plausible(-0.2e-3, 0.2e-3)
_OPPOSITE = ({"front exhaust", "rear inlet"}, {"front inlet", "rear exhaust"})
_CORNERS = PLATE_PLACES[:4]


def plate(table: tables.PlateTable, head: Head, system: System) -> OnPlate:
    """Return the readings of the deck against a surface plate.

    Raises:
        BadInput: a reading that cannot be, or the head would not stand on what is said to touch.
    """
    words, half = GapWords.of(head, system, "rocked"), (table.division or DIVISION) / 2
    places = []
    for place in PLATE_PLACES:
        key = place.replace(" ", "_")
        cell = getattr(table, key)
        with located(f"plate.{key}"):
            blades = table.mode == "feeler"
            reading = read_gap(cell, 0.0, words) if blades else dial_value(cell, 0.0, half, "gap", system)
        places.append(PlateReading(place=place, reading=reading))
    stands = _stands_on(table, places) if table.mode == "feeler" else ()
    return OnPlate(mode=table.mode, places=tuple(places), stands_on=stands, sure=table.sure)


def _stands_on(table: tables.PlateTable, places: Sequence[PlateReading]) -> tuple[str, ...]:
    """Return the places that carry the head: as said, or the corners under which nothing goes."""
    with located("plate.stands_on"):
        said = tuple(plate_place(place) for place in table.stands_on)
    if said:
        _can_stand(said)
        return said
    tight = tuple(p.place for p in places if p.place in _CORNERS and p.reading.low == 0)
    if len(tight) >= 3:
        return tight[:3]
    if set(tight) in _OPPOSITE:
        return tight
    if all(p.reading.blank for p in places):
        return ()
    raise BadInput(
        "a head on a plate stands on three corners, or balanced on two opposite ones",
        where="plate",
        fix='Write 0 where nothing goes, or name them: stands_on = ["front exhaust", "rear inlet"].',
    )


def _can_stand(places: tuple[str, ...]) -> None:
    sides = {place.rsplit(" ", maxsplit=1)[-1] for place in places}
    rows = {place.split(" ", maxsplit=1)[0] for place in places if place != "middle"}
    three = len(set(places)) == 3 and len(sides) > 1 and len(rows) > 1
    if not three and set(places) not in _OPPOSITE:
        raise BadInput(
            "a head cannot stand on " + " and ".join(places),
            where="plate.stands_on",
            fix="Name three places that are not in line, or two opposite corners.",
        )


def checked_hardness(value: float) -> float:
    """Return a hardness [HB], or refuse what no aluminium casting has."""
    if not HARDNESS[0] <= value <= HARDNESS[1]:
        raise BadInput(
            f"found {value:g}; allowed is {HARDNESS[0]:g} to {HARDNESS[1]:g} HB",
            fix="Aluminium castings lie between 50 and 130 HB: is this another scale?",
        )
    return value


def checked_height(value: float, head: Head, system: System = "mm") -> float:
    """Return an overall height [m], or refuse one far from the head file's."""
    if abs(value - head.casting.height) > 0.05 * head.casting.height:
        raise BadInput(
            f"found {show(value, system, big=True)}; the head file says {show(head.casting.height, system, big=True)}",
            fix="Measure from the deck face to the cam face, or correct the head file.",
        )
    return value


def hardness(rows: Sequence[tables.HardnessTable], head: Head) -> tuple[Hardness, ...]:
    """Return the hardness readings.

    Raises:
        BadInput: no aluminium casting has that hardness, or a station off the head.
    """
    found = []
    for number, row in enumerate(rows, 1):
        values = [row.value] if row.value is not None else []
        if row.station is not None and not 0 <= row.station <= head.casting.length:
            raise BadInput(
                f"station {show(row.station, big=True)} lies off the head", where=f"hardness.{number}"
            )
        side = None if row.side == "centre" else row.side
        for value in [*values, *row.values]:
            with located(f"hardness.{number}"):
                checked_hardness(value)
            found.append(Hardness(place=row.place, side=side, station=row.station, value=float(value)))
    return tuple(found)


def heights(table: tables.HeightsTable, head: Head) -> tuple[Height, ...]:
    """Return the overall heights.

    Raises:
        BadInput: a height far from the head file's.
    """
    found = []
    for key in type(table).model_fields:
        value = getattr(table, key)
        if value is not None:
            with located(f"heights.{key}"):
                checked_height(value, head)
            found.append(Height(place=key.replace("_", " "), value=value))
    return tuple(found)


def gauges(table: tables.GaugesTable) -> Gauges:
    """Return the tools' own errors.

    Raises:
        BadInput: an error that no usable tool has.
    """
    for key in ("blade_tolerance", "straightedge_tolerance", "straightedge_middle_proud", "straightedge_uncertainty",
                "plate_middle_proud", "plate_uncertainty"):  # fmt: skip
        value = getattr(table, key)
        if value is not None:
            _GAUGE.check(value, "a gauge's own error", where=f"gauges.{key}")
    return Gauges(
        blade=table.blade_tolerance,
        edge_tolerance=table.straightedge_tolerance,
        edge_error=table.straightedge_middle_proud,
        edge_uncertainty=table.straightedge_uncertainty,
        edge_length=table.straightedge_length,
        plate_error=table.plate_middle_proud,
        plate_uncertainty=table.plate_uncertainty,
        plate_length=table.plate_length,
    )


def room(room: float | None) -> float | None:
    """Return the room's temperature [degC].

    Raises:
        BadInput: no workshop is that warm or cold.
    """
    if room is not None and not ROOM[0] <= room <= ROOM[1]:
        raise BadInput(
            f"found {room:.0f} C; allowed is {ROOM[0]:.0f} to {ROOM[1]:.0f} C",
            where="room",
            fix="Is it in F?",
        )
    return room
