"""The survey file as its writer fills it in: tables, keys and what each may hold."""

import datetime as dt
import math
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

from straighten.filecheck import Gap, Length, Number, Table, Temperature
from straighten.readings.records import Cracks


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
YesNo = Literal["yes", "no", "unknown"] | bool
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
