"""The survey file as its writer fills it in: tables, keys and what each may hold; or one reading a row, as CSV."""

import csv
import datetime as dt
import io
import math
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field
from pydantic_core import PydanticCustomError

from straighten.errors import BadInput, nearest
from straighten.filecheck import Gap, Length, Number, Table, Temperature
from straighten.readings.records import Answer, Cracks


def _cell(found: object) -> object:
    """Let texts and finite numbers pass: what a gap may be is decided where the blades are known."""
    number = isinstance(found, int | float) and not isinstance(found, bool) and math.isfinite(found)
    if isinstance(found, str) or number:
        return found
    raise PydanticCustomError(
        "quantity", "{text}", {"text": f"found {str(found)[:40]}, a finite number or a text is due"}
    )


Cell = Annotated[str | float | int, BeforeValidator(_cell)]
Cells = Annotated[list[Cell], Field(max_length=200)]
LineMode = Literal["bridged", "rocked", "balanced", "dial"]
CamMode = Literal["bridged", "rocked", "balanced", "dial", "height", "bar"]
YesNo = Annotated[Answer | bool, AfterValidator(lambda found: {True: "yes", False: "no"}.get(found, found))]
Stations = Annotated[list[Length], Field(max_length=200)]


class ReadingTable(Table):
    """One reading: where, what goes, what stops; or the gap as one text."""

    station: Length
    goes: Cell = ""
    stops: Cell = ""
    gap: Cell = ""


class TraceTable(Table):
    """What deck lines and cam lines have in common."""

    gaps: Cells | None = None
    goes: Cells | None = None
    stops: Cells | None = None
    values: Cells | None = None
    stations: Stations | None = None
    division: Gap | None = None
    readings: Annotated[list[ReadingTable], Field(max_length=200)] | None = None
    touching: Literal["front", "rear", "exhaust", "inlet"] | None = None
    lies_on: Length | None = None
    sure: bool = False


class DeckTable(TraceTable):
    """One line of the deck."""

    line: Annotated[str, Field(max_length=80)]
    mode: LineMode | None = None
    at: Length | None = None


class CamTable(TraceTable):
    """One cam line, one reading per tower from the front."""

    line: Annotated[str, Field(max_length=40)] = "single"
    mode: CamMode | None = None
    over: Literal["deck", "plate"] = "deck"
    passes: Cell = ""
    sticks: Cell = ""


class PlateTable(Table):
    """Corners and middle of the deck against a surface plate."""

    mode: Literal["feeler", "dial"] = "feeler"
    front_exhaust: Cell = ""
    front_inlet: Cell = ""
    rear_exhaust: Cell = ""
    rear_inlet: Cell = ""
    middle_exhaust: Cell = ""
    middle_inlet: Cell = ""
    middle: Cell = ""
    division: Gap | None = None
    stands_on: list[str] = Field(default=[], max_length=4)
    sure: bool = False


class HardnessTable(Table):
    """Hardness readings at one place, in HB."""

    place: Literal["deck", "roof", "cam rail"] = "deck"
    side: Literal["exhaust", "inlet", "centre"] = "centre"
    station: Length | None = None
    value: Number | None = None
    values: list[Number] = Field(default=[], max_length=40)


class HeightsTable(Table):
    """Overall height of the casting, deck face to cam face."""

    front_exhaust: Length | None = None
    front_inlet: Length | None = None
    middle_exhaust: Length | None = None
    middle_inlet: Length | None = None
    rear_exhaust: Length | None = None
    rear_inlet: Length | None = None
    anywhere: Length | None = None


class IntakeTable(Table):
    """What was seen and asked before measuring."""

    cracks: Cracks = "not checked"
    magnesium: YesNo = "unknown"
    skimmed: YesNo = "unknown"
    welded: YesNo = "unknown"
    removed: Gap | None = None
    history: Annotated[str, Field(max_length=2000)] = ""


class GaugesTable(Table):
    """The measuring tools' own errors, where they are known."""

    blade_tolerance: Gap | None = None
    straightedge_tolerance: Gap | None = None
    straightedge_middle_proud: Gap | None = None
    straightedge_uncertainty: Gap | None = None
    straightedge_length: Length | None = None
    plate_middle_proud: Gap | None = None
    plate_uncertainty: Gap | None = None
    plate_length: Length | None = None


class SurveyFile(Table):
    """The whole survey."""

    head: Annotated[str, Field(max_length=200)] = ""
    units: str = "mm"
    date: dt.datetime | dt.date | Annotated[str, Field(max_length=40)] = ""
    who: Annotated[str, Field(max_length=200)] = ""
    room: Temperature | None = None
    mode: LineMode | None = None
    stations: Stations | None = None
    cam_and_deck_disagree_is_right: bool = False
    intake: IntakeTable = IntakeTable()
    gauges: GaugesTable = GaugesTable()
    deck: list[DeckTable] = Field(default=[], max_length=24)
    cam: list[CamTable] = Field(default=[], max_length=20)
    plate: PlateTable | None = None
    hardness: list[HardnessTable] = Field(default=[], max_length=60)
    heights: HeightsTable = HeightsTable()


_KINDS = ("deck", "cam", "hardness", "plate", "height", "intake", "gauges", "survey")
_PLAIN = ("kind", "line", "mode", "touching", "value", "sure", "over", "place", "side")
_SIZED = {"station": ("mm", "in"), "at": ("mm", "in"), "goes": ("mm", "thou", "in"), "stops": ("mm", "thou", "in"),
          "gap": ("mm", "thou", "in"), "lies_on": ("mm", "in"), "division": ("mm", "thou", "in")}  # fmt: skip
LARGEST_ROWS = 2000

Row = dict[str, str]


def tables_of_csv(text: str, where: str) -> dict[str, Any]:
    """Return the tables of a survey file from CSV with comma, semicolon or tab; `where` names the file.

    The heading names the columns: kind, line, mode, station_mm, goes_mm, stops_mm (or _in, _thou), gap_mm,
    value, place, side, touching, lies_on_mm, at_mm, sure. One row is one reading; `kind` says of what.

    Raises:
        BadInput: no heading, an unknown column or kind; row and column named.
    """
    rows = _rows(text, where)
    tables: dict[str, Any] = {"deck": [], "cam": [], "hardness": []}
    for number, row in rows:
        spot = f"{where}: row {number}"
        kind = row.get("kind", "")
        if kind not in _KINDS:
            raise BadInput(f"found {kind[:40]!r} under kind", where=spot, fix=nearest(kind, _KINDS))
        if kind in ("deck", "cam"):
            _add_to_line(tables[kind], row, spot)
        elif kind == "hardness":
            tables["hardness"].append(_hardness(row, spot))
        else:
            _single(tables, row, kind, spot)
    return {key: value for key, value in tables.items() if value}


def _rows(text: str, where: str) -> list[tuple[int, Row]]:
    lines = enumerate(text.splitlines(), 1)
    kept = [(n, line) for n, line in lines if line.strip() and not line.startswith("#")]
    if not kept:
        raise BadInput("the file is empty", where=where)
    first = kept[0][1]
    separator = max(",;\t", key=first.count)
    heading = [_column(name, where) for name in next(csv.reader(io.StringIO(first), delimiter=separator))]
    if "kind" not in heading:
        raise BadInput("the heading line has no column `kind`", where=f"{where}: row {kept[0][0]}",
                       fix="Start with: kind,line,mode,station_mm,goes_mm,stops_mm,value")  # fmt: skip
    if len(kept) > LARGEST_ROWS:
        raise BadInput(f"{len(kept)} rows; at most {LARGEST_ROWS} are read", where=where)
    found = []
    for number, line in kept[1:]:
        cells = next(csv.reader(io.StringIO(line), delimiter=separator))
        if len(cells) > len(heading):
            told = f"{len(cells)} cells under {len(heading)} headings"
            raise BadInput(told, where=f"{where}: row {number}")
        found.append((number, {h: c.strip() for h, c in zip(heading, cells, strict=False) if c.strip()}))
    return found


def _column(name: str, where: str) -> str:
    name = name.strip().lower().lstrip("\ufeff")
    known = [*_PLAIN, *(f"{stem}_{unit}" for stem, units in _SIZED.items() for unit in units)]
    if name in known:
        return name
    fix = nearest(name, known, "Known")
    raise BadInput(f"unknown column {name[:40]!r}", where=f"{where}: heading", fix=fix)


def _sized(row: Row, stem: str) -> str:
    """Return a cell with the unit of its heading, or "" where the cell is empty."""
    for unit in _SIZED[stem]:
        cell = row.get(f"{stem}_{unit}")
        if cell is not None:
            bare = cell.replace(".", "").replace(",", "").lstrip("+-").isdigit()
            return f"{cell} {unit}" if bare else cell
    return ""


def _add_to_line(lines: list[dict[str, Any]], row: Row, spot: str) -> None:
    """Add a reading to the line it belongs to, starting the line where it is the first."""
    same: dict[str, Any] = {key: row[key] for key in ("line", "mode", "touching", "over") if key in row}
    same |= {key: cell for key in ("at", "lies_on", "division") if (cell := _sized(row, key))}
    line = next((t for t in lines if all(t.get(k, "") == same.get(k, "") for k in _LINE_KEYS)), None)
    if line is None:
        line = dict(same)
        lines.append(line)
    if row.get("sure", "").lower() in _YES:
        line["sure"] = True
    if row.get("mode") == "bar":
        line |= {"sticks": _sized(row, "goes"), "passes": _sized(row, "stops")}
    elif row.get("mode") in ("dial", "height"):
        _append(line, "values", row.get("value", ""))
        _append(line, "stations", _sized(row, "station"))
    elif _sized(row, "station"):
        _append(line, "readings", {k: _sized(row, k) for k in ("station", "goes", "stops", "gap")})
    elif _sized(row, "gap"):
        _append(line, "gaps", _sized(row, "gap"))
    else:
        _append(line, "goes", _sized(row, "goes"))
        _append(line, "stops", _sized(row, "stops"))
    if "readings" in line and ("gaps" in line or "goes" in line):
        raise BadInput("some rows of this line have a station, others have none", where=spot)


def _append(line: dict[str, Any], key: str, cell: object) -> None:
    line.setdefault(key, []).append(cell)


def _hardness(row: Row, spot: str) -> dict[str, Any]:
    table: dict[str, Any] = {"value": _number(row, spot)}
    table |= {key: row[key] for key in ("place", "side") if key in row}
    if station := _sized(row, "station"):
        table["station"] = station
    return table


def _number(row: Row, spot: str) -> float:
    cell = row.get("value", "")
    try:
        return float(cell.replace(",", "."))
    except ValueError:
        raise BadInput(f"found {cell[:40]!r}, a number is due", where=f"{spot}: value") from None


def _single(tables: dict[str, Any], row: Row, kind: str, spot: str) -> None:
    """Put a single value into its table; `place` (or `line`) names the key."""
    key = (row.get("place") or row.get("line", "")).replace(" ", "_").replace("-", "_")
    if not key:
        raise BadInput("this row needs its key under place", where=spot)
    value: Any = row.get("value") or _sized(row, "gap") or _sized(row, "goes")
    if value.lower() in _YES | _NO and key not in ("cracks", "history"):
        value = value.lower() in _YES
    if kind == "survey":
        tables[key] = value
    elif kind == "plate":
        tables.setdefault("plate", {})[key] = _plate_cell(row)
        if "mode" in row:
            tables["plate"]["mode"] = row["mode"]
    else:
        tables.setdefault("heights" if kind == "height" else kind, {})[key] = value


def _plate_cell(row: Row) -> str:
    goes, stops = _sized(row, "goes"), _sized(row, "stops")
    both = f"goes {goes} stops {stops}" if goes and stops else goes or (f"stops {stops}" if stops else "")
    return _sized(row, "gap") or both or row.get("value", "")


_LINE_KEYS = ("line", "mode", "touching", "over", "at", "lies_on", "division")
_YES = {"yes", "true", "1"}
_NO = {"no", "false"}
