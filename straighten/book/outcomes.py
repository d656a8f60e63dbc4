"""What the passes of all heads taught: read by index, bounded, whatever the size of the book."""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Mapping

from straighten.book.records import FactorPool, GroupLine, Outcome
from straighten.errors import BadInput

_NUMBERS = ("predicted_set_mm", "measured_set_mm")


def check_outcome(record: Mapping[str, object], where: str = "record.outcome") -> None:
    """Check the part of a plain record that is pooled, where it has one.

    Raises:
        BadInput: it has not the form of `Outcome.to_plain`.
    """
    outcome = record.get("outcome")
    if outcome is None:
        return
    if not (isinstance(outcome, Mapping) and _words_fit(outcome) and _factors_fit(outcome.get("factors"))):
        raise BadInput(
            "an outcome needs alloy_family and heat_source (text), pass (from 1), predicted_set_mm and "
            "measured_set_mm (numbers) and factors (name: [mean, standard deviation]).",
            where=where,
        )


def _words_fit(outcome: Mapping[str, object]) -> bool:
    texts = (outcome.get("alloy_family"), outcome.get("heat_source"))
    count = outcome.get("pass")
    return (
        all(isinstance(text, str) and text and text.isprintable() for text in texts)
        and isinstance(count, int)
        and not isinstance(count, bool)
        and count >= 1
        and all(_is_number(outcome.get(key)) for key in _NUMBERS)
    )


def _factors_fit(factors: object) -> bool:
    return isinstance(factors, Mapping) and all(
        name.isprintable()
        and isinstance(pair, list | tuple)
        and len(pair) == 2
        and all(map(_is_number, pair))
        and pair[1] >= 0
        for name, pair in factors.items()
    )


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def last_outcomes(
    connection: sqlite3.Connection, family: str | None, source: str | None, newest: int | None
) -> list[Outcome]:
    """Return the last outcome of each head, newest first, of at most `newest` heads."""
    found: dict[tuple[str, str], Outcome] = {}
    for row in _newest_first(connection, family, source):
        if newest is not None and len(found) >= newest:
            break
        key = (row["head"], row["heat_source"])
        if key not in found:
            found[key] = _outcome(row)
    return list(found.values())


def all_outcomes(
    connection: sqlite3.Connection, family: str | None, source: str | None, newest: int | None
) -> list[Outcome]:
    """Return every outcome, newest first, at most `newest` of them."""
    rows = _newest_first(connection, family, source)
    return [_outcome(row) for row in (rows if newest is None else rows.fetchmany(newest))]


def _newest_first(connection: sqlite3.Connection, family: str | None, source: str | None) -> sqlite3.Cursor:
    if family is not None and source is not None:
        return connection.execute(
            "SELECT o.*, h.name FROM outcome AS o JOIN head AS h ON h.uid = o.head "
            "WHERE o.alloy_family = ? AND o.heat_source = ? ORDER BY o.entry DESC",
            (family, source),
        )
    return connection.execute(
        "SELECT o.*, h.name FROM outcome AS o JOIN head AS h ON h.uid = o.head "
        "WHERE o.alloy_family = coalesce(?, o.alloy_family) AND o.heat_source = coalesce(?, o.heat_source) "
        "ORDER BY o.entry DESC",
        (family, source),
    )


def _outcome(row: sqlite3.Row) -> Outcome:
    factors = {name: (float(pair[0]), float(pair[1])) for name, pair in json.loads(row["factors"]).items()}
    return Outcome(
        alloy_family=row["alloy_family"],
        heat_source=row["heat_source"],
        pass_number=row["pass"],
        predicted_set_mm=row["predicted_set_mm"],
        measured_set_mm=row["measured_set_mm"],
        factors=factors,
        head=row["name"],
        entry=row["entry"],
    )


def factor_pools(connection: sqlite3.Connection, family: str, source: str) -> dict[str, FactorPool]:
    """Return each learned factor over the heads of a group."""
    rows = connection.execute(
        "SELECT factor, count(*) AS heads, avg(mean) AS mean, avg(mean * mean) AS square, avg(sd * sd) AS own "
        "FROM learned WHERE alloy_family = ? AND heat_source = ? GROUP BY factor ORDER BY factor",
        (family, source),
    ).fetchall()
    return {row["factor"]: _pool(connection, (family, source), row) for row in rows}


def _pool(connection: sqlite3.Connection, group: tuple[str, str], row: sqlite3.Row) -> FactorPool:
    last = row["heads"] - 1
    lower, median, upper = (
        _ranked(connection, (*group, row["factor"]), share * last) for share in (0.25, 0.5, 0.75)
    )
    return FactorPool(
        factor=row["factor"],
        heads=row["heads"],
        median=median,
        lower_quartile=lower,
        upper_quartile=upper,
        mean=row["mean"],
        spread=math.sqrt(max(row["square"] - row["mean"] ** 2, 0.0)),
        own_sd=math.sqrt(row["own"]),
    )


def _ranked(connection: sqlite3.Connection, key: tuple[str, str, str], rank: float) -> float:
    """Return the value at a rank from 0 of the heads' means, linear between two of them."""
    rows = connection.execute(
        "SELECT mean FROM learned WHERE alloy_family = ? AND heat_source = ? AND factor = ? ORDER BY mean LIMIT 2 OFFSET ?",
        (*key, math.floor(rank)),
    ).fetchall()
    below, above = rows[0]["mean"], rows[-1]["mean"]
    return float(below + (rank - math.floor(rank)) * (above - below))


def group_lines(connection: sqlite3.Connection) -> list[GroupLine]:
    """Return how many heads and passes each alloy family and heat source has, and their mean set."""
    rows = connection.execute(
        "SELECT alloy_family, heat_source, count(DISTINCT head) AS heads, count(*) AS passes, "
        "avg(predicted_set_mm) AS predicted, avg(measured_set_mm) AS measured "
        "FROM outcome GROUP BY alloy_family, heat_source ORDER BY alloy_family, heat_source"
    )
    return [
        GroupLine(
            alloy_family=row["alloy_family"],
            heat_source=row["heat_source"],
            heads=row["heads"],
            passes=row["passes"],
            mean_predicted_set_mm=row["predicted"],
            mean_measured_set_mm=row["measured"],
        )
        for row in rows
    ]
