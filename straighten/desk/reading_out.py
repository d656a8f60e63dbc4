"""What is read out of the book: readings and passes as a table for a spreadsheet, and what the heads have taught."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from statistics import fmean
from typing import TYPE_CHECKING, Any

from straighten.readings import Readings, from_plain
from straighten.readings.records import RIM, Bracket
from straighten.sheet.learned import FACTOR_WORDS, FactorLine, GroupHistory, History
from straighten.units import System

if TYPE_CHECKING:
    from straighten.book import Book, Entry, Outcome

COLUMNS = (
    "entry", "at", "kind", "pass", "struck", "what", "line", "mode", "side", "station_mm", "goes_mm", "stops_mm",
    "value", "unit",
)  # fmt: skip
_RUN = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%", "＝", "＋", "－", "＠")
_DIGITS = 6

Row = dict[str, Any]


def table_rows(entries: Iterable[Entry]) -> Iterator[Row]:
    """Yield one row per reading, shim corner, bolt, spot or soak of the surveys and passes, in the order of the book.

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
        told = stem | {"what": f"{line.part} gap", "line": line.title, "mode": line.mode}
        for bracket in line.brackets:
            yield told | {"station_mm": _mm(bracket.station)} | _blades(bracket)
    for hard in readings.hardness:
        told = stem | {"what": "hardness", "line": hard.place, "side": hard.side}
        yield told | {"station_mm": _mm(hard.station), "value": hard.value, "unit": "HB"}
    for height in readings.heights:
        yield stem | {"what": "height", "line": height.place, "value": _mm(height.value), "unit": "mm"}
    if readings.plate is not None:
        for place in readings.plate.places:
            told = stem | {"what": "plate gap", "line": place.place, "mode": readings.plate.mode}
            yield told | _blades(place.reading)


def _blades(bracket: Bracket) -> Row:
    return {"goes_mm": _mm(bracket.low), "stops_mm": _mm(bracket.high)}


def _turned(stem: Row, rounds: list[Row]) -> Iterator[Row]:
    for turn in rounds:
        blades = {key: turn[key] for key in ("goes_mm", "stops_mm")}
        yield stem | {"what": "round", "value": turn["torque_Nm"], "unit": "Nm"} | blades


def _done(stem: Row, done: Row) -> Iterator[Row]:
    if done["clamp"] is not None:
        for corner, shim in zip(RIM[:4], done["clamp"]["shims_mm"], strict=True):
            yield stem | {"what": "shim", "line": corner, "value": shim, "unit": "mm"}
    for spot in done["spots"]:
        told = stem | {"what": "heat spot", "side": spot["side"], "station_mm": spot["station_mm"]}
        yield told | {"value": spot["dwell_s"], "unit": "s"}
    if done["soak"] is not None:
        yield stem | {"what": "soak temperature", "value": done["soak"]["temperature_C"], "unit": "C"}
        yield stem | {"what": "soak", "value": done["soak"]["hold_h"], "unit": "h"}


def _mm(value: float | None) -> float | None:
    return None if value is None or value == float("inf") else round(1e3 * value, _DIGITS)


SHOWN = 1000  # newest passes in the figure


def shop_history(book: Book) -> History:
    """Return what the book's heads taught, one group for each alloy family and heat source."""
    passes = book.outcomes(every_pass=True)
    groups: dict[tuple[str, str], list[Outcome]] = {}
    for outcome in passes:
        groups.setdefault((outcome.alloy_family, outcome.heat_source), []).append(outcome)
    return History(
        groups=tuple(_group(groups[key]) for key in sorted(groups)),
        system=_shop_system(book) if passes else "mm",
        points=tuple((1e-3 * o.predicted_set_mm, 1e-3 * o.measured_set_mm) for o in passes[:SHOWN]),
    )


def _shop_system(book: Book) -> System:
    """Return the units of the head that was worked on last: the whole book has none."""
    newest = max(book.heads(), key=lambda line: line.last_at)
    entry = book.latest(newest.name, "head")
    text = "" if entry is None else str(entry.record["text"])
    return "inch" if re.search(r'(?m)^units\s*=\s*"inch"', text) else "mm"


def _group(passes: list[Outcome]) -> GroupHistory:
    """Return the history of one group from its passes, newest first."""
    from straighten.belief.learn import prior_factors  # numpy comes with these: not for a book without passes
    from straighten.belief.pooling import POOLED, pooled_priors
    from straighten.belief.priors import PUBLISHED
    from straighten.desk.dossier import NEWEST

    last: dict[str, Outcome] = {}
    for outcome in passes:
        last.setdefault(outcome.head, outcome)
    learned = [outcome.factors for outcome in last.values()][:NEWEST]
    published, shop = prior_factors(PUBLISHED), prior_factors(pooled_priors(PUBLISHED, learned))
    return GroupHistory(
        family=passes[0].alloy_family,
        source=passes[0].heat_source,
        heads=len(last),
        passes=len(passes),
        mean_foretold=1e-3 * fmean(o.predicted_set_mm for o in passes),
        mean_measured=1e-3 * fmean(o.measured_set_mm for o in passes),
        factors=tuple(
            FactorLine(
                name=name,
                words=FACTOR_WORDS[name],
                published=published[name],
                shop=shop[name],
                heads=sum(name in factors for factors in learned),
            )
            for name in POOLED
        ),
    )
