"""What the passes of all heads taught: found by index, each entry proved by its seal before it counts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from sqlite3 import Connection
from typing import Any

from straighten.book import rows
from straighten.book.records import Entry, Outcome
from straighten.errors import BadInput

LARGEST_SET_MM = 20.0  # of a pass, either way; shims and bows end at a quarter of it
LARGEST_LOG = 10.0  # of a factor or of a product of two: 22 000 times what physics says
MOST_PASSES = 10_000
FORM = (
    "an outcome needs alloy_family and heat_source (text), pass (from 1), predicted_set_mm and measured_set_mm "
    f"(within {LARGEST_SET_MM:g} mm) and factors (name: [mean, standard deviation] of its log, within {LARGEST_LOG:g})."
)


def check_outcome(record: Mapping[str, object], where: str = "record.outcome") -> None:
    """Check the part of a plain record that is pooled, where it has one.

    Raises:
        BadInput: it has not the form of `Outcome.to_plain`, or holds what no head teaches.
    """
    if not fits(record):
        raise BadInput(FORM, where=where)


def fits(record: Mapping[str, object]) -> bool:
    """Return whether a record teaches nothing, or something that a head can teach."""
    outcome = record.get("outcome")
    return outcome is None or (
        isinstance(outcome, Mapping) and _words_fit(outcome) and _factors_fit(outcome.get("factors"))
    )


def _words_fit(outcome: Mapping[str, object]) -> bool:
    texts = (outcome.get("alloy_family"), outcome.get("heat_source"))
    count = outcome.get("pass")
    return (
        all(isinstance(text, str) and text and text.isprintable() for text in texts)
        and isinstance(count, int)
        and not isinstance(count, bool)
        and 1 <= count <= MOST_PASSES
        and _within(outcome.get("predicted_set_mm"), LARGEST_SET_MM)
        and _within(outcome.get("measured_set_mm"), LARGEST_SET_MM)
    )


def _factors_fit(factors: object) -> bool:
    return isinstance(factors, Mapping) and all(
        name.isprintable()
        and isinstance(pair, list | tuple)
        and len(pair) == 2
        and all(_within(value, LARGEST_LOG) for value in pair)
        and pair[1] >= 0
        for name, pair in factors.items()
    )


def _within(value: object, most: float) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= most


Group = tuple[str | None, str | None]  # alloy family and heat source, None for all


def last_outcomes(connection: Connection, seen: rows.Look, group: Group, newest: int | None) -> list[Outcome]:
    """Return the last outcome of each head and heat source, newest head first, of at most `newest` heads."""
    found: dict[tuple[str, str], Outcome] = {}
    for taught in _by_head(connection, seen, group):
        if newest is not None and len(found) >= newest:
            break
        for outcome, _ in reversed(taught):
            found.setdefault((outcome.head, outcome.heat_source), outcome)
    return list(found.values())


def all_outcomes(connection: Connection, seen: rows.Look, group: Group, newest: int | None) -> list[Outcome]:
    """Return every outcome, newest first, at most `newest` of them."""
    found = [each for taught in _by_head(connection, seen, group) for each in taught]
    found.sort(key=lambda each: (each[1].at, each[1].digest), reverse=True)
    return [outcome for outcome, _ in found[:newest]]


def _by_head(connection: Connection, seen: rows.Look, group: Group) -> Iterator[list[tuple[Outcome, Entry]]]:
    """Give for each head, the one that did something last first, what its entries taught in their order."""
    for uid in sorted(seen.taught, key=seen.taught.__getitem__, reverse=True):
        yield [
            (_outcome(entry), entry)
            for entry in rows.chain_of(connection, seen, uid)
            if entry.kind == rows.TEACHES and entry.struck_by is None and _is_of(entry.record, *group)
        ]


def _is_of(record: Mapping[str, Any], family: str | None, source: str | None) -> bool:
    """Return whether a record teaches of a group; what no head can teach, out of an older book, is left out."""
    outcome = record.get("outcome")
    return (
        outcome is not None
        and fits(record)
        and family in (None, outcome["alloy_family"])
        and source in (None, outcome["heat_source"])
    )


def _outcome(entry: Entry) -> Outcome:
    plain = entry.record["outcome"]
    return Outcome(
        alloy_family=plain["alloy_family"],
        heat_source=plain["heat_source"],
        pass_number=plain["pass"],
        predicted_set_mm=float(plain["predicted_set_mm"]),
        measured_set_mm=float(plain["measured_set_mm"]),
        factors={name: (float(mean), float(sd)) for name, (mean, sd) in plain["factors"].items()},
        head=entry.head,
        entry=entry.number,
    )
