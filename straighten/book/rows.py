"""Rows of the open book <-> the records that travel and the records that are given back."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from straighten.book.faults import altered
from straighten.book.plain import dumps
from straighten.book.records import Entry
from straighten.book.seals import HeadRow, Sealed, sha256
from straighten.errors import BadInput


def new_head(name: str, opened_at: str) -> HeadRow:
    """Return a head that no other book has: its uid is random."""
    return HeadRow(uid=os.urandom(8).hex(), given=name, opened_at=opened_at)


def add_head(connection: sqlite3.Connection, head: HeadRow, wanted: str | None = None) -> str:
    """Add a head and return its name here; where another head has that name, a number is put behind it."""
    first = wanted or head.given
    name, count = first, 1
    while find_uid(connection, name) is not None:
        count += 1
        name = f"{first} ({count})"
    connection.execute("INSERT INTO head VALUES (?, ?, ?, ?)", (head.uid, name, head.given, head.opened_at))
    return name


def heads_in(connection: sqlite3.Connection) -> list[HeadRow]:
    """Return all heads in the order they came into the book."""
    rows = connection.execute("SELECT uid, given, opened_at FROM head ORDER BY rowid")
    return [HeadRow(uid=row["uid"], given=row["given"], opened_at=row["opened_at"]) for row in rows]


def find_uid(connection: sqlite3.Connection, name: str) -> str | None:
    """Return the uid of the head of that name, or None."""
    row = connection.execute("SELECT uid FROM head WHERE name = ?", (name,)).fetchone()
    return None if row is None else str(row["uid"])


def uid_of(connection: sqlite3.Connection, name: str) -> str:
    """Return the uid of the head of that name.

    Raises:
        BadInput: there is none; names that look like it are told.
    """
    uid = find_uid(connection, name)
    if uid is None:
        from difflib import get_close_matches

        names = [str(row["name"]) for row in connection.execute("SELECT name FROM head ORDER BY rowid DESC")]
        near = get_close_matches(name, names, n=3) or names[:5]
        known = (
            f"Known: {', '.join(near)}." if near else "The book has no head yet: begin with `straighten new`."
        )
        raise BadInput("there is no head of this name in the book.", where=name, fix=known)
    return uid


def add_entry(connection: sqlite3.Connection, sealed: Sealed, number: int | None = None) -> int:
    """Add a sealed entry, at the end or at a number that is free, and return its number."""
    cursor = connection.execute(
        "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (number, sealed.head, sealed.kind, sealed.schema, sealed.at, int(sealed.clock_back), sealed.version,
         dumps(sealed.previous), dumps(sealed.inputs), sealed.digest, sealed.record),
    )  # fmt: skip
    return int(cursor.lastrowid or 0)


def sealed_of(row: sqlite3.Row | Mapping[str, Any]) -> Sealed:
    """Return the travelling form of a row of `entry`.

    Raises:
        BookError: it does not match its seal, or makes no sense at all.
    """
    where = f"entry {row['number']}"
    try:
        sealed = Sealed(
            head=row["head"],
            kind=row["kind"],
            schema=row["schema"],
            at=row["at"],
            clock_back=bool(row["clock_back"]),
            version=row["version"],
            previous=tuple(json.loads(row["previous"])),
            inputs=tuple(json.loads(row["inputs"])),
            record=row["record"],
            digest=row["digest"],
        )
        sound = sealed.sound
    except (ValueError, TypeError) as error:
        raise altered(where) from error
    if not sound:
        raise altered(where)
    return sealed


def sealed_in(connection: sqlite3.Connection, uid: str) -> Iterator[tuple[int, Sealed]]:
    """Give number and travelling form of every entry of a head, by number."""
    for row in connection.execute("SELECT * FROM entry WHERE head = ? ORDER BY number", (uid,)):
        yield int(row["number"]), sealed_of(row)


def tips(connection: sqlite3.Connection, uid: str) -> dict[str, str]:
    """Return seal -> time of the entries of a head that no entry follows yet; more than one after a merge of copies."""
    rows = connection.execute(
        "SELECT digest, previous, at FROM entry WHERE head = ? ORDER BY number", (uid,)
    ).fetchall()
    followed = {digest for row in rows for digest in json.loads(row["previous"])}
    return {row["digest"]: row["at"] for row in rows if row["digest"] not in followed}


def numbers_of(connection: sqlite3.Connection, uid: str) -> dict[str, int]:
    """Return seal -> number of every entry of a head."""
    rows = connection.execute("SELECT digest, number FROM entry WHERE head = ?", (uid,))
    return {row["digest"]: row["number"] for row in rows}


def entries_of(
    connection: sqlite3.Connection, rows: Iterable[sqlite3.Row], name: str, uid: str
) -> list[Entry]:
    """Return the entries of one head as they are given back.

    Raises:
        BookError: an entry does not match its seal; a figure that was changed must not feed a plan.
    """
    numbers = numbers_of(connection, uid)
    return [_entry(row, name, numbers) for row in rows]


def _entry(row: sqlite3.Row, name: str, numbers: Mapping[str, int]) -> Entry:
    return given_back(sealed_of(row), row["number"], name, numbers, row["by_entry"])


def given_back(
    sealed: Sealed, number: int, name: str, numbers: Mapping[str, int], struck_by: int | None
) -> Entry:
    """Return a sealed entry as it is given back, with the numbers of this book for the seals it names."""
    return Entry(
        number=number,
        head=name,
        kind=sealed.kind,
        schema=sealed.schema,
        at=sealed.at,
        clock_back=sealed.clock_back,
        version=sealed.version,
        inputs=tuple(numbers[digest] for digest in sealed.inputs if digest in numbers),
        inputs_sha256=sha256(sealed.inputs),
        previous=sealed.previous,
        digest=sealed.digest,
        struck_by=struck_by,
        record=json.loads(sealed.record),
    )


def follow(connection: sqlite3.Connection, draft: Sealed) -> Sealed:
    """Return an entry put behind the last ones of its head and sealed; tell where the clock was set back."""
    last = tips(connection, draft.head)
    if not last:
        last = {head_of(connection, draft.head).root: ""}
    return replace(draft, previous=tuple(sorted(last)), clock_back=draft.at < max(last.values())).closed()


def head_of(connection: sqlite3.Connection, uid: str) -> HeadRow:
    """Return a head's row."""
    row = connection.execute("SELECT uid, given, opened_at FROM head WHERE uid = ?", (uid,)).fetchone()
    return HeadRow(uid=row["uid"], given=row["given"], opened_at=row["opened_at"])


def note_lost(connection: sqlite3.Connection, numbers: Iterable[int], seals: Iterable[str], at: str) -> None:
    """Note numbers and seals of entries that are gone, once each."""
    connection.executemany(
        "INSERT OR IGNORE INTO lost (number, noted_at) VALUES (?, ?)", [(number, at) for number in numbers]
    )
    connection.executemany(
        "INSERT OR IGNORE INTO lost (digest, noted_at) VALUES (?, ?)", [(seal, at) for seal in seals]
    )
