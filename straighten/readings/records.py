"""What was measured on a head, as plain records in SI: brackets along lines, hardness, heights, intake."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from straighten.head.records import Head, Side
from straighten.units import System

Part = Literal["deck", "cam"]
Mode = Literal["bridged", "rocked", "balanced", "dial", "height", "bar"]
Answer = Literal["yes", "no", "unknown"]
End = Literal["start", "end"]
Place = Literal["deck", "roof", "cam rail"]
Cracks = Literal["none found", "found", "not checked", "repaired, leak test passed"]

LONG_LINES = ("exhaust edge", "centre", "inlet edge")
DIAGONALS = ("front exhaust to rear inlet", "front inlet to rear exhaust")
DECK_LINES = (*LONG_LINES, *DIAGONALS, "across")
CAM_LINES = ("single", "exhaust", "inlet")
RIM = ("front exhaust", "front inlet", "rear exhaust", "rear inlet", "middle exhaust", "middle inlet")
PLATE_PLACES = (*RIM, "middle")


def cams_of(head: Head) -> tuple[str, ...]:
    """Return the names of the cam lines that a head has."""
    return CAM_LINES[:1] if head.cam_lines == 1 else CAM_LINES[1:]


def cam_title(name: str) -> str:
    """Return a cam line as a person calls it."""
    return "cam line" if name == "single" else f"{name} cam line"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bracket:
    """One reading between two bounds.

    `station` along the line [m]; `low` the largest blade that goes and `high` the smallest that does not [m].
    Both None: left blank. `high` infinite: no thicker blade was at hand. A dial reading is the bracket of half a
    division on either side. `stated_high` false where the blade list supplied the missing half.
    """

    station: float
    low: float | None = None
    high: float | None = None
    stated_high: bool = True

    @property
    def blank(self) -> bool:
        """Whether nothing was read here."""
        return self.low is None or self.high is None

    @property
    def middle(self) -> float:
        """Middle of the bracket [m]; the lower bound where it is open above."""
        if self.low is None or self.high is None:
            return math.nan
        return (self.low + self.high) / 2 if math.isfinite(self.high) else self.low


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Readings along one line of the deck or one cam line.

    `name` one of `DECK_LINES` or `CAM_LINES`; stations run from the front end, on an `across` line from the
    exhaust side. `mode`: "bridged" the straightedge rests on both ends; "rocked" it touches the `touching` end and
    lies on the place `lies_on` [m]; "balanced" the same blade goes under both ends; "dial" heights swept with an
    indicator, plus = stands proud; "height" deck (or plate) to bore root; "bar" ground bar through the bores: the
    one bracket holds the undersize that sticks and the one that passes. `across_at` station of an across line [m];
    `over` what a height is measured from; `sure` true where the person has read the line twice.
    """

    part: Part
    name: str
    mode: Mode
    brackets: tuple[Bracket, ...]
    across_at: float | None = None
    touching: End = "start"
    lies_on: float | None = None
    over: Literal["deck", "plate"] = "deck"
    sure: bool = False

    @property
    def title(self) -> str:
        """The line as a person calls it."""
        if self.part == "cam":
            return cam_title(self.name)
        if self.across_at is not None:
            return f"across the deck at {self.across_at * 1e3:.0f} mm"
        return f"deck, {self.name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateReading:
    """A reading at one of `PLATE_PLACES` of the deck, bracket in `reading` (its station counts for nothing)."""

    place: str
    reading: Bracket


@dataclass(frozen=True, slots=True, kw_only=True)
class OnPlate:
    """Corners and middle of the deck against a surface plate.

    `mode` "feeler": the head stands deck down and blades go under it; "dial": deck up on three jacks, an indicator
    runs on the plate, plus = stands proud. `stands_on` the corners that touch while blades are tried.
    """

    mode: Literal["feeler", "dial"]
    places: tuple[PlateReading, ...]
    stands_on: tuple[str, ...] = ()
    sure: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Hardness:
    """One hardness reading: where, on which side (None = middle), station [m] or None, value [HB]."""

    place: Place
    side: Side | None
    station: float | None
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Height:
    """Overall height of the casting [m] at a place: a corner, a middle of an edge, or "anywhere"."""

    place: str
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """What was seen and asked before measuring. `removed` metal said to be taken off before [m], None = not known."""

    cracks: Cracks = "not checked"
    magnesium: Answer = "unknown"
    skimmed: Answer = "unknown"
    welded: Answer = "unknown"
    removed: float | None = None
    history: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauges:
    """The measuring tools' own errors [m]; None = the default with its source stands in.

    `blade` half-width of a blade's tolerance; `edge_tolerance` half-width of the straightedge's straightness
    tolerance; `edge_error` its measured error, > 0 where its middle stands proud towards the work, over
    `edge_length`, with standard uncertainty `edge_uncertainty`; `plate_error`, `plate_length` and
    `plate_uncertainty` the same for the surface plate.
    """

    blade: float | None = None
    edge_tolerance: float | None = None
    edge_error: float | None = None
    edge_uncertainty: float | None = None
    edge_length: float | None = None
    plate_error: float | None = None
    plate_uncertainty: float | None = None
    plate_length: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """One survey of one head.

    `source` file or "typed in"; `date` ISO text or ""; `room` [degC] or None; `agreed` true where the person has
    confirmed that deck and cam line do bow in opposite ways; `caveats` what the reader should be told.
    """

    source: str = "typed in"
    date: str = ""
    who: str = ""
    room: float | None = None
    system: System = "mm"
    intake: Intake = field(default_factory=Intake)
    gauges: Gauges = field(default_factory=Gauges)
    lines: tuple[Line, ...] = ()
    plate: OnPlate | None = None
    hardness: tuple[Hardness, ...] = ()
    heights: tuple[Height, ...] = ()
    agreed: bool = False
    caveats: tuple[str, ...] = ()

    @property
    def count(self) -> int:
        """Number of readings that are not blank, hardness and heights left out."""
        on_plate = [p.reading for p in self.plate.places] if self.plate else []
        along = (bracket for line in self.lines for bracket in line.brackets)
        return sum(not bracket.blank for bracket in (*along, *on_plate))

    @property
    def tells_something(self) -> bool:
        """Whether there is a reading, or an answer that counts alone: cracks, magnesium, hardness."""
        told = self.intake.cracks != "not checked" or self.intake.magnesium != "unknown"
        return told or self.count > 0 or bool(self.hardness or self.heights)
