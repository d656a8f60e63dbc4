"""What was measured on a head, as records in SI: brackets along lines, hardness, heights, intake; and their plain form.

A field has in its metadata the key that it has in the plain form, where that is another: the unit stands behind it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any, Literal, TypeVar, get_args, get_origin, get_type_hints

from straighten.errors import BadInput
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


_Record = TypeVar("_Record")


def _called(key: str) -> Mapping[str, str]:
    return {"key": key}


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
    brackets: tuple[Bracket, ...] = field(metadata=_called("readings"))
    across_at: float | None = field(default=None, metadata=_called("across_at_mm"))
    touching: End = "start"
    lies_on: float | None = field(default=None, metadata=_called("lies_on_mm"))
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
    places: tuple[PlateReading, ...] = field(metadata=_called("readings"))
    stands_on: tuple[str, ...] = ()
    sure: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Hardness:
    """One hardness reading: where, on which side (None = middle), station [m] or None, value [HB]."""

    place: Place
    side: Side | None
    station: float | None = field(metadata=_called("station_mm"))
    value: float = field(metadata=_called("value_HB"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Height:
    """Overall height of the casting [m] at a place: a corner, a middle of an edge, or "anywhere"."""

    place: str
    value: float = field(metadata=_called("value_mm"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """What was seen and asked before measuring. `removed` metal said to be taken off before [m], None = not known."""

    cracks: Cracks = "not checked"
    magnesium: Answer = "unknown"
    skimmed: Answer = "unknown"
    welded: Answer = "unknown"
    removed: float | None = field(default=None, metadata=_called("removed_mm"))
    history: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauges:
    """The measuring tools' own errors [m]; None = the default with its source stands in.

    `blade` half-width of a blade's tolerance; `edge_tolerance` half-width of the straightedge's straightness
    tolerance; `edge_error` its measured error, > 0 where its middle stands proud towards the work, over
    `edge_length`, with standard uncertainty `edge_uncertainty`; `plate_error`, `plate_length` and
    `plate_uncertainty` the same for the surface plate.
    """

    blade: float | None = field(default=None, metadata=_called("blade_mm"))
    edge_tolerance: float | None = field(default=None, metadata=_called("edge_tolerance_mm"))
    edge_error: float | None = field(default=None, metadata=_called("edge_error_mm"))
    edge_uncertainty: float | None = field(default=None, metadata=_called("edge_uncertainty_mm"))
    edge_length: float | None = field(default=None, metadata=_called("edge_length_mm"))
    plate_error: float | None = field(default=None, metadata=_called("plate_error_mm"))
    plate_uncertainty: float | None = field(default=None, metadata=_called("plate_uncertainty_mm"))
    plate_length: float | None = field(default=None, metadata=_called("plate_length_mm"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """One survey of one head.

    `source` file or "typed in"; `date` ISO text or ""; `room` [degC] or None; `agreed` true where the person has
    confirmed that deck and cam line do bow in opposite ways; `caveats` what the reader should be told.
    """

    source: str = "typed in"
    date: str = ""
    who: str = ""
    room: float | None = field(default=None, metadata=_called("room_C"))
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


SCHEMA = 1
_DIGITS = 7  # of a millimetre: finer than any gauge, coarse enough to survive the way there and back


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


def _keys(kind: Any) -> dict[str, str]:
    """Return key in the plain form -> field of a record."""
    return {one.metadata.get("key", one.name): one.name for one in fields(kind)}


def _plain(found: Any) -> Any:
    """Return a record, or several, in plain form."""
    if isinstance(found, tuple):
        return [_plain(item) for item in found]
    if isinstance(found, Bracket):
        return _bracket(found)
    if isinstance(found, PlateReading):
        return {"place": found.place} | _bracket(found.reading)
    if not is_dataclass(found):
        return found
    values = {key: getattr(found, name) for key, name in _keys(found).items()}
    return {key: _mm(value) if key.endswith("_mm") else _plain(value) for key, value in values.items()}


def _mm(value: float | None) -> float | None:
    return None if value is None or math.isinf(value) else round(value * 1e3, _DIGITS)


def _bracket(bracket: Bracket) -> dict[str, Any]:
    plain: dict[str, Any] = {
        "station_mm": _mm(bracket.station),
        "goes_mm": _mm(bracket.low),
        "stops_mm": _mm(bracket.high),
    }
    return plain if bracket.stated_high else plain | {"stops_from_blades": True}


def _record(kind: type[_Record], plain: dict[str, Any]) -> _Record:
    """Return the record of a plain form; what intake and gauges leave out has its default."""
    keys, types = _keys(kind), get_type_hints(kind)
    told = plain.keys() if kind in (Intake, Gauges) else keys
    return kind(**{keys[key]: _value(types[keys[key]], key, plain[key]) for key in told})


def _value(kind: Any, key: str, found: Any) -> Any:
    """Return the value of a key out of its plain form, by the type that its field has."""
    if key.endswith("_mm"):
        return _m(found)
    record: Any = next((part for part in (kind, *get_args(kind)) if is_dataclass(part)), None)
    if get_origin(kind) is tuple:
        return tuple(_value(record, "", item) for item in found)
    if record is Bracket:
        return _bracket_back(found)
    if record is PlateReading:
        return PlateReading(place=found["place"], reading=_bracket_back(found))
    left_out = found is None and type(None) in get_args(kind)
    return found if record is None or left_out else _record(record, found)


def _m(value: float | None) -> float | None:
    return None if value is None else value / 1e3


def _bracket_back(plain: dict[str, Any]) -> Bracket:
    low, high = _m(plain["goes_mm"]), _m(plain["stops_mm"])
    return Bracket(
        station=plain["station_mm"] / 1e3,
        low=low,
        high=math.inf if high is None and low is not None else high,
        stated_high=not plain.get("stops_from_blades", False),
    )
