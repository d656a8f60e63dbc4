"""Readings and passes of a head as one plain table, for a spreadsheet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from straighten.readings import from_plain

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from straighten.book import Entry
    from straighten.readings import Readings

COLUMNS = (
    "entry", "at", "kind", "pass", "struck", "what", "line", "mode", "side", "station_mm", "goes_mm", "stops_mm",
    "value", "unit",
)  # fmt: skip
_RUN = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%", "＝", "＋", "－", "＠")
_DIGITS = 6

Row = dict[str, Any]


def table_rows(entries: Iterable[Entry]) -> Iterator[Row]:
    """Yield one row per reading, shim corner, bolt, spot or soak of the surveys and passes, in the order of the book.

    Args:
        entries: a head's entries, struck ones too: they are marked.

    Raises:
        BadInput: stored readings are damaged.
    """
    passes = 0
    for entry in entries:
        if entry.kind == "survey":
            yield from _read(_stem(entry, passes), from_plain(entry.record["readings"]))
        elif entry.kind == "tighten":
            yield from _turned(_stem(entry, passes + 1), entry.record["rounds"])
        elif entry.kind == "pass":
            number = passes + 1
            passes = passes if entry.struck_by else number
            yield from _done(_stem(entry, number), entry.record["done"])
            if entry.record.get("readings") is not None:
                yield from _read(_stem(entry, number), from_plain(entry.record["readings"]))


def harmless(cell: object) -> object:
    """Return a cell that no spreadsheet runs: text that begins like a formula gets an apostrophe before it."""
    if not isinstance(cell, str):
        return "" if cell is None else cell
    return f"'{cell}" if cell.lstrip(" ").startswith(_RUN) else cell


def _stem(entry: Entry, number: int) -> Row:
    return {
        "entry": entry.number,
        "at": entry.at,
        "kind": entry.kind,
        "pass": number,
        "struck": "yes" if entry.struck_by else "no",
    }


def _read(stem: Row, readings: Readings) -> Iterator[Row]:
    for line in readings.lines:
        for bracket in line.brackets:
            yield stem | {
                "what": f"{line.part} gap",
                "line": line.title,
                "mode": line.mode,
                "station_mm": _mm(bracket.station),
                "goes_mm": _mm(bracket.low),
                "stops_mm": _mm(bracket.high),
            }
    for hard in readings.hardness:
        yield stem | {
            "what": "hardness",
            "line": hard.place,
            "side": hard.side,
            "station_mm": _mm(hard.station),
            "value": hard.value,
            "unit": "HB",
        }
    for height in readings.heights:
        yield stem | {"what": "height", "line": height.place, "value": _mm(height.value), "unit": "mm"}
    if readings.plate is not None:
        for place in readings.plate.places:
            yield stem | {
                "what": "plate gap",
                "line": place.place,
                "mode": readings.plate.mode,
                "goes_mm": _mm(place.reading.low),
                "stops_mm": _mm(place.reading.high),
            }


def _turned(stem: Row, rounds: list[Row]) -> Iterator[Row]:
    for turn in rounds:
        yield stem | {
            "what": "round",
            "goes_mm": turn["goes_mm"],
            "stops_mm": turn["stops_mm"],
            "value": turn["torque_Nm"],
            "unit": "Nm",
        }


def _done(stem: Row, done: Row) -> Iterator[Row]:
    if done["clamp"] is not None:
        corners = ("front exhaust", "front inlet", "rear exhaust", "rear inlet")
        for corner, shim in zip(corners, done["clamp"]["shims_mm"], strict=True):
            yield stem | {"what": "shim", "line": corner, "value": shim, "unit": "mm"}
    for spot in done["spots"]:
        yield stem | {
            "what": "heat spot",
            "side": spot["side"],
            "station_mm": spot["station_mm"],
            "value": spot["dwell_s"],
            "unit": "s",
        }
    if done["soak"] is not None:
        yield stem | {"what": "soak temperature", "value": done["soak"]["temperature_C"], "unit": "C"}
        yield stem | {"what": "soak", "value": done["soak"]["hold_h"], "unit": "h"}


def _mm(value: float | None) -> float | None:
    return None if value is None or value == float("inf") else round(1e3 * value, _DIGITS)
