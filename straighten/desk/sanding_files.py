"""Files of the sanding, checked: the log of a run with its form in the book, and the reference surface.

What makes no sense in them is refused with `BadInput`, file and key named.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from straighten.desk.kept import bracket, in_metres, in_mm
from straighten.errors import BadInput, located
from straighten.filecheck import Length, Table, checked, load_text, parse_toml, refuse_other_kind, system_of
from straighten.head.records import Head
from straighten.readings import Readings
from straighten.readings.file import SurveyFile
from straighten.readings.gaps import GapWords, read_gap
from straighten.readings.records import RIM
from straighten.readings.survey import readings_of
from straighten.sanding.lap import Surface, graded_surface, measured_surface, read_grit
from straighten.sanding.learning import sheets_for
from straighten.sanding.rate import Check
from straighten.shape import fit_shape
from straighten.units import Plausible, System, parse, show

MOST_GROWN = 0.02e-3  # a height this much larger than before is a slip, not an error of the micrometer [m]
MOST_DROPPED = 1.0e-3  # no hand sands more off a head than this [m]


class CornersTable(Table):
    """Overall height of the casting after the run, deck face to cam face."""

    front_exhaust: Length | None = None
    front_inlet: Length | None = None
    rear_exhaust: Length | None = None
    rear_inlet: Length | None = None
    middle_exhaust: Length | None = None
    middle_inlet: Length | None = None
    anywhere: Length | None = None


GapCell = float | int | Annotated[str, Field(max_length=40)]


class GapsTable(Table):
    """Largest gap left under the straightedge, line by line."""

    exhaust_edge: GapCell | None = None
    centre: GapCell | None = None
    inlet_edge: GapCell | None = None
    front_exhaust_to_rear_inlet: GapCell | None = None
    front_inlet_to_rear_exhaust: GapCell | None = None


class SandLogFile(Table):
    """One run of strokes and what was seen after it."""

    units: str = "mm"
    date: Annotated[str, Field(max_length=40)] = ""
    who: Annotated[str, Field(max_length=200)] = ""
    strokes: Annotated[int, Field(ge=1, le=50_000)]
    grit: Annotated[str, Field(max_length=30)]
    sheets: Annotated[int, Field(ge=1, le=1000)] | None = None
    cleaned_percent: Annotated[float, Field(ge=0, le=100, strict=False)] | None = None
    gap: GapCell | None = None
    gaps: GapsTable = GapsTable()
    heights: CornersTable = CornersTable()
    note: Annotated[str, Field(max_length=2000)] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedRun:
    """A checked run: the `check` to learn from, its `plain` form for the book, and `caveats` for the reader."""

    check: Check
    plain: dict[str, Any]
    caveats: tuple[str, ...]


def run_from_file(path: Path, head: Head, before: Readings) -> LoggedRun:
    """Return the run that a log file tells."""
    where = str(path)
    data = parse_toml(load_text(path), where)
    return run_from_plain(data, head, before, where)


def run_from_plain(data: dict[str, Any], head: Head, before: Readings, where: str) -> LoggedRun:
    """Return the run that tables with the keys of `SandLogFile` tell; the heights fell from those of the survey `before`."""
    system = system_of(data, where, head.system)
    file = checked(SandLogFile, data, where=where, system=system)
    with located(where):
        grit = read_grit(file.grit)
        gaps = _gaps(file.gaps, head, system)
        gap = _gap(file.gap, head, system) or max((g for g in gaps if g is not None), default=None)
        dropped, caveats = _dropped(file.heights, before, head)
    _seen(file, where)
    sheets = file.sheets or sheets_for(file.strokes)
    if sheets > file.strokes:
        raise BadInput(
            f"{sheets} sheets for {file.strokes} strokes: more sheets than strokes", where=f"{where}: sheets"
        )
    cleaned = None if file.cleaned_percent is None else file.cleaned_percent / 100
    falls = tuple(dropped.get(place.replace(" ", "_")) for place in RIM)
    alone = dropped.get("anywhere")
    check = Check(
        strokes=file.strokes, grit=grit, sheets=sheets, cleaned=cleaned, gap=gap, gaps=gaps, falls=falls,
        dropped=alone, corners=1 if alone is not None else 4, deepest=max(dropped.values(), default=None),
    )  # fmt: skip
    told = {"date": file.date, "who": file.who, "note": file.note}
    heights = {key: in_mm(height) for key, height in _given(file.heights).items()}
    plain = {**check_to_plain(check), **told, "heights_mm": heights}
    return LoggedRun(check=check, plain=plain, caveats=caveats)


def _given(table: Table) -> dict[str, Any]:
    """Return what a table gives, keys left out missing."""
    return table.model_dump(exclude_none=True)


def _seen(file: SandLogFile, where: str) -> None:
    one = file.cleaned_percent is not None or file.gap is not None
    if not one and not _given(file.gaps) and not _given(file.heights):
        raise BadInput(
            "nothing was looked at after the strokes, so nothing can be learned",
            where=where,
            fix="Give the share that shines (cleaned_percent), a gap, or heights.",
        )


def _gaps(table: GapsTable, head: Head, system: System) -> tuple[tuple[float, float] | None, ...]:
    """Return the brackets by `face.LINES`; empty where none is given."""
    found = []
    for key, cell in table.model_dump().items():
        with located(f"gaps.{key}"):
            found.append(_gap(cell, head, system))
    return tuple(found) if any(found) else ()


def _gap(found: float | str | None, head: Head, system: System) -> tuple[float, float] | None:
    if found is None:
        return None
    with located("gap"):
        bracket = read_gap(found, 0.0, GapWords.of(head, system))
    return None if bracket.low is None or bracket.high is None else (bracket.low, bracket.high)


def _dropped(table: CornersTable, before: Readings, head: Head) -> tuple[dict[str, float], tuple[str, ...]]:
    """Return the falls of the heights measured before and now [m], and what could not be used."""
    known = {height.place.replace(" ", "_"): height.value for height in before.heights}
    now = _given(table)
    both = [key for key in now if key in known]
    for key in both:
        _plausible(key, known[key], now[key], head)
    lonely = [key.replace("_", " ") for key in now if key not in known]
    caveats = (
        (f"Height {', '.join(lonely)}: not measured before sanding began, so nothing is learned from it.",)
        if lonely
        else ()
    )
    return {key: known[key] - now[key] for key in both}, caveats


def _plausible(key: str, before: float, now: float, head: Head) -> None:
    if before - MOST_DROPPED <= now <= before + MOST_GROWN:
        return
    problem = f"found {now * 1e3:.3f} mm; it was {before * 1e3:.3f} mm before sanding"
    fix = (
        "A head does not grow: read it again, at the same place."
        if now > before
        else f"More than {show(MOST_DROPPED, head.system)} is never sanded off by hand: check unit and place."
    )
    raise BadInput(problem, where=f"heights.{key}", fix=fix)


def check_to_plain(check: Check) -> dict[str, Any]:
    """Return a check as JSON scalars, units in the keys."""
    goes, stops = map(in_mm, check.gap or (None, None))
    return {
        "strokes": check.strokes,
        "grit": check.grit.name,
        "sheets": check.sheets,
        "cleaned_share": check.cleaned,
        "dropped_mm": in_mm(check.dropped),
        "deepest_mm": in_mm(check.deepest),
        "corners": check.corners,
        "falls_mm": [in_mm(fall) for fall in check.falls],
        "gaps_mm": [None if found is None else list(map(in_mm, found)) for found in check.gaps],
        "gap_goes_mm": goes,
        "gap_stops_mm": stops,
    }


def check_from_plain(plain: dict[str, Any]) -> Check:
    """Return a check from its plain form."""
    goes = plain["gap_goes_mm"]
    return Check(
        strokes=plain["strokes"],
        grit=read_grit(plain["grit"]),
        sheets=plain["sheets"],
        cleaned=plain["cleaned_share"],
        dropped=in_metres(plain["dropped_mm"]),
        deepest=in_metres(plain["deepest_mm"]),
        corners=plain["corners"],
        falls=tuple(in_metres(fall) for fall in plain.get("falls_mm", [])),
        gaps=tuple(None if found is None else bracket(*found) for found in plain.get("gaps_mm", [])),
        gap=None if goes is None else bracket(goes, plain["gap_stops_mm"]),
    )


_SIZE = Plausible(0.05, 3.0)
_OWN = ("name", "length", "width", "grade")


def surface_from_text(text: str, head: Head, where: str) -> Surface:
    """Return the surface that a file describes: name, length, width, and either grade or deck lines as in a survey.

    The gaps are read with the blades of the `head` to be sanded.
    """
    data = parse_toml(text, where)
    system = system_of(data, where, head.system)
    refuse_other_kind(data, "survey of a surface", where)
    own = {key: data.pop(key) for key in _OWN if key in data}
    with located(where):
        size = _size(own, "length", system), _size(own, "width", system)
    name = str(own.get("name", "surface"))[:80]
    if "grade" in own:
        if data.get("deck"):
            raise BadInput(
                "a grade and readings at once", where=where, fix="Keep the readings: they tell more."
            )
        with located(where):
            return replace(graded_surface(str(own["grade"]), *size), name=f"{name}, {own['grade']}")
    return _measured(name, size, data, (head, system, where))


def _size(own: dict[str, Any], key: str, system: System) -> float:
    if key not in own:
        raise BadInput("this key is missing", where=key, fix='For example length = "600 mm".')
    with located(key):
        return _SIZE.check(parse(own[key], "length", system), key)


def _measured(
    name: str, size: tuple[float, float], data: dict[str, Any], told: tuple[Head, System, str]
) -> Surface:
    head, system, where = told
    file = checked(SurveyFile, data, where=where, system=system)
    if not file.deck:
        raise BadInput(
            "neither a grade nor readings of the surface",
            where=where,
            fix='Write grade = "DIN 876/1", or read the lines of a deck on it.',
        )
    casting = replace(head.casting, length=size[0], width=size[1])
    lent = replace(head, casting=casting, towers=(0.0, size[0]))
    with located(where):
        readings = readings_of(file, lent, system, where)
    return measured_surface(name, fit_shape(readings, lent), size, head)
