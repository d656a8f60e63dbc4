"""From the checked tables of a survey file to `Readings` in SI: lines, brackets, missing halves filled in."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from straighten.errors import BadInput, located
from straighten.head.records import Head
from straighten.readings import particulars
from straighten.readings.gaps import DIVISION, GapWords, bracket_of, dial_value, read_gap
from straighten.readings.names import cam_line, deck_line
from straighten.readings.records import Bracket, Intake, Line, Mode, Part, Readings
from straighten.units import System, show

if TYPE_CHECKING:
    from straighten.readings import file as tables

    _Reader = Callable[[Any, float, GapWords], Bracket]

MOST_READINGS = 500  # gaps of one survey; a long one has a tenth of that
STRANGE = 6e-6  # thou blades in a millimetre list and the reverse differ by less [m]
TOWER_REACH = 10e-3  # a station this near to a tower means that tower [m]
_FIRST_READING = (
    'Read one line of the deck at least: "0.10-0.15" where blades tell, 0 where none goes; a crack found or'
    " magnesium may stand alone."
)
# What is asked where nobody said how a line was read, and what may be written.
_DECK_MODE = (
    "how did the straightedge sit?",
    '"bridged" (rests on both ends), "rocked", "balanced" or "dial"',
)
_CAM_MODE = ("how was the cam line read?", '"bridged", "rocked", "balanced", "dial", "height" or "bar"')


def readings_of(file: tables.SurveyFile, head: Head, system: System, source: str) -> Readings:
    """Return the readings of a checked survey file; `source` names it and is kept with them.

    Raises:
        BadInput: a reading that cannot be, key and reading named; or nothing but blanks.
    """
    _refuse_other_head(file.head, head)
    lines = [_deck(t, n, file, _Bench(head, system)) for n, t in enumerate(file.deck, 1)]
    lines += [_cam(t, n, file, _Bench(head, system)) for n, t in enumerate(file.cam, 1)]
    if (count := sum(len(line.brackets) for line in lines)) > MOST_READINGS:
        raise BadInput(f"{count} gaps in all lines; at most {MOST_READINGS} are read")
    _no_twins(lines)
    readings = Readings(
        source=source,
        date=str(file.date),
        who=file.who,
        room=particulars.room(file.room),
        system=system,
        intake=Intake(**file.intake.model_dump()),
        gauges=particulars.gauges(file.gauges),
        lines=tuple(lines),
        plate=particulars.plate(file.plate, head, system) if file.plate else None,
        hardness=particulars.hardness(file.hardness, head),
        heights=particulars.heights(file.heights, head),
        agreed=file.cam_and_deck_disagree_is_right,
        caveats=tuple(_strange_blades(lines, head, system)),
    )
    if not readings.tells_something:
        raise BadInput("no reading and no finding in it, only blanks", fix=_FIRST_READING)
    return readings


class _Bench(NamedTuple):
    """What every reading needs to be understood."""

    head: Head
    system: System


def _deck(table: tables.DeckTable, number: int, file: tables.SurveyFile, bench: _Bench) -> Line:
    where = f"deck.{number}"
    with located(f"{where}.line"):
        name = deck_line(table.line)
    length = bench.head.casting.width if name == "across" else bench.head.casting.length
    with located(f"{where} ({name})"):
        mode = _mode(table.mode or file.mode, _DECK_MODE)
        at = _across_at(table, name, bench.head)
        stations = _stations(table, name, file, length)
        brackets = _brackets(table, stations, mode, bench)
        _inside(brackets, length, name)
        return _line(table, ("deck", name, mode), brackets, across_at=at)


def _mode(found: Mode | None, asked: tuple[str, str]) -> Mode:
    """Return how a line was read; `asked` what is asked where nobody said it, and what may be written."""
    if found is None:
        raise BadInput(asked[0], where="mode", fix=f"Write mode = {asked[1]}.")
    return found


def _line(
    table: tables.TraceTable, told: tuple[Part, str, Mode], brackets: tuple[Bracket, ...], **more: Any
) -> Line:
    """Return the line of a table; `told` its part, name and mode."""
    part, name, mode = told
    _touch(table, name)
    return Line(
        part=part,
        name=name,
        mode=mode,
        brackets=brackets,
        touching="end" if table.touching in ("rear", "inlet") else "start",
        lies_on=table.lies_on,
        sure=table.sure,
        **more,
    )


def _across_at(table: tables.DeckTable, name: str, head: Head) -> float | None:
    if name != "across":
        if table.at is not None:
            raise BadInput("`at` belongs to an across line only")
        return None
    if table.at is None:
        raise BadInput("an across line needs its station", fix="Write at = 210 (from the front end).")
    if not 0 <= table.at <= head.casting.length:
        raise BadInput(
            f"`at` is {show(table.at, big=True)}; allowed is 0 to {show(head.casting.length, big=True)}"
        )
    return table.at


def _touch(table: tables.TraceTable, name: str) -> None:
    wrong = ("front", "rear") if name == "across" else ("exhaust", "inlet")
    if table.touching in wrong:
        right = '"exhaust" or "inlet"' if name == "across" else '"front" or "rear"'
        raise BadInput(
            f"touching = {table.touching!r} does not name an end of this line", fix=f"Allowed: {right}."
        )


def _stations(
    table: tables.DeckTable, name: str, file: tables.SurveyFile, length: float
) -> Sequence[float] | None:
    """Return the stations of a line [m]: its own, the file's, or the usual ones by how many were read."""
    if table.stations is not None or table.readings is not None:
        return table.stations
    count = max(len(cells or []) for cells in (table.gaps, table.goes, table.stops, table.values))
    if file.stations is not None and name != "across" and len(file.stations) == count:
        return file.stations
    if count == 1:
        return [length / 2]
    raise BadInput(
        f"{count} readings without stations", fix="Write stations = [...] beside them, from the front end."
    )


def _cam(table: tables.CamTable, number: int, file: tables.SurveyFile, bench: _Bench) -> Line:
    with located(f"cam.{number}"):
        name = cam_line(table.line, bench.head)
        mode = _mode(table.mode or file.mode, _CAM_MODE)
        brackets = _bar(table, bench) if mode == "bar" else _towers(table, mode, bench)
        return _line(table, ("cam", name, mode), brackets, over=table.over)


def _towers(table: tables.CamTable, mode: Mode, bench: _Bench) -> tuple[Bracket, ...]:
    """Return one bracket per tower; readings that name a station are put to the tower they mean."""
    towers = bench.head.towers
    stations = table.stations if table.stations is not None else towers
    brackets = _brackets(table, stations, mode, bench)
    return tuple(replace(b, station=_tower(b.station, towers, bench.system)) for b in brackets)


def _tower(station: float, towers: Sequence[float], system: System) -> float:
    nearest = min(towers, key=lambda t: abs(t - station))
    if abs(nearest - station) > TOWER_REACH:
        raise BadInput(
            f"no cam tower stands at {show(station, system, big=True)}",
            fix="Towers: " + ", ".join(show(t, system, big=True) for t in towers) + ".",
        )
    return nearest


def _bar(table: tables.CamTable, bench: _Bench) -> tuple[Bracket, ...]:
    """Return the one bracket of a ground bar: the undersize that sticks, the undersize that passes."""
    words = GapWords.of(*bench, "bar")
    sticks = read_gap(table.sticks, 0.0, words).low
    passes = read_gap(table.passes, 0.0, words).low
    if sticks is None and passes is None:
        return (Bracket(station=0.0),)
    low, high = sticks or 0.0, math.inf if passes is None else passes
    if low >= high:
        raise BadInput(
            f"a bar {show(high)} under size passes but one {show(low)} under sticks",
            where="passes",
            fix="The bar that passes is the thinner one: more under size.",
        )
    return (Bracket(station=0.0, low=low, high=high),)


def _brackets(
    table: tables.TraceTable, stations: Sequence[float] | None, mode: Mode, bench: _Bench
) -> tuple[Bracket, ...]:
    """Return the brackets of a line from whichever of the ways of writing was used."""
    used = [k for k in ("gaps", "goes", "values", "readings") if getattr(table, k) is not None]
    if table.stops is not None and table.goes is None:
        used.append("stops")
    if len(used) > 1:
        raise BadInput(f"{' and '.join(used)} both say what was read", fix="Keep one of them.")
    if mode in ("dial", "height"):
        return _dial(table, stations or (), mode, bench)
    if table.values is not None:
        raise BadInput(f"`values` belong to a dial; this line was {mode}", fix="Write gaps = [...].")
    words = GapWords.of(*bench, mode)
    if table.readings is not None:
        return tuple(_one(r, words) for r in table.readings)
    if table.gaps is not None:
        _same_count(table.gaps, stations)
        return _each(read_gap, table.gaps, stations or (), words)
    goes: Sequence[object] = table.goes or [""] * len(table.stops or [])
    stops: Sequence[object] = table.stops or [""] * len(goes)
    _same_count(goes, stations)
    _same_count(stops, stations)
    return _each(_pair, list(zip(goes, stops, strict=True)), stations or (), words)


def _each(
    reader: _Reader, cells: Sequence[Any], stations: Sequence[float], words: GapWords
) -> tuple[Bracket, ...]:
    brackets = []
    for number, (cell, station) in enumerate(zip(cells, stations, strict=True), 1):
        with located(f"reading {number} at {show(station, words.system, big=True)}"):
            brackets.append(reader(cell, station, words))
    return tuple(brackets)


def _pair(cells: tuple[object, object], station: float, words: GapWords) -> Bracket:
    goes, stops = (read_gap(c, station, words).low for c in cells)
    return bracket_of(goes, stops, station, words)


def _one(row: tables.ReadingTable, words: GapWords) -> Bracket:
    with located(f"reading at {show(row.station, words.system, big=True)}"):
        if row.gap != "":
            return read_gap(row.gap, row.station, words)
        return _pair((row.goes, row.stops), row.station, words)


def _same_count(cells: Sequence[object], stations: Sequence[float] | None) -> None:
    expected = len(stations or ())
    if len(cells) != expected:
        raise BadInput(
            f"{len(cells)} readings for {expected} places",
            fix='One reading per place; leave a blank as "" where nothing was read.',
        )


def _dial(
    table: tables.TraceTable, stations: Sequence[float], mode: Mode, bench: _Bench
) -> tuple[Bracket, ...]:
    """Return dial or height readings as brackets of half a division on either side."""
    cells = table.values
    if cells is None:
        raise BadInput(f"a {mode} line gives heights", fix="Write values = [...], plus = stands proud.")
    _same_count(cells, stations)
    half = (table.division or DIVISION) / 2
    kind: Literal["gap", "length"] = "gap" if mode == "dial" else "length"
    places = zip(cells, stations, strict=True)
    return tuple(dial_value(cell, station, half, kind, bench.system) for cell, station in places)


def _inside(brackets: Sequence[Bracket], length: float, name: str) -> None:
    for b in brackets:
        if not -1e-9 <= b.station <= length + 1e-9:
            side = "width" if name == "across" else "length"
            raise BadInput(
                f"station {show(b.station, big=True)} lies off the head; its {side} is {show(length, big=True)}"
            )
    stations = [b.station for b in brackets]
    if len(set(stations)) < len(stations):
        raise BadInput("the same station stands twice on one line", fix="Keep the better reading.")


def _no_twins(lines: Sequence[Line]) -> None:
    seen: set[tuple[object, ...]] = set()
    for line in lines:
        key = (line.part, line.name, line.across_at, line.mode, line.touching)
        if key in seen:
            raise BadInput(
                f"{line.title} is there twice, {line.mode} both times", fix="Keep the better set of readings."
            )
        seen.add(key)


def _refuse_other_head(named: str, head: Head) -> None:
    """Refuse a file that names another head than the one it is read for."""
    if named and named != head.name.replace('"', "'"):  # as the blank survey writes it
        raise BadInput(
            f"this is a survey of {named!r}, not of {head.name!r}",
            where="head",
            fix="Name the right head or the right file; correct the key head only where the readings are of this one.",
        )


def _strange_blades(lines: Sequence[Line], head: Head, system: System) -> Iterator[str]:
    """Yield a word on every gap that no blade owned, and no two of them together, can have shown."""
    blades = (0.0, *head.gauge_blades)
    known = [a + b for a in blades for b in blades]
    for line in lines:
        with_blades = line.mode in ("bridged", "rocked", "balanced")
        for bracket in line.brackets if with_blades else ():
            low = bracket.low or 0.0
            if low > 0 and min(abs(low - size) for size in known) > STRANGE:
                yield (
                    f"{line.title} at {show(bracket.station, system, big=True)}: {show(low, system)} goes, but no blade "
                    "of the head file and no two together have that thickness."
                )
