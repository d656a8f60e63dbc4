"""Is the book sound? The file, its tables, every seal and every chain, one line for each fault."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from sqlite3 import Connection

from straighten.book import migrations, outcomes, rows
from straighten.book.place import told
from straighten.book.seals import Sealed
from straighten.errors import BookError

Question = Callable[[Connection], Iterator[str]]


def problems(connection: Connection, path: Path) -> list[str]:
    """Return every fault of the open book, one line each; a part that cannot be read is a fault too."""
    found = []
    for question in _QUESTIONS:
        try:
            with told(path):
                found += list(question(connection))
        except BookError as error:
            found.append(error.problem)
    with told(path):
        others = path.stat().st_mode & 0o077
    if others:
        found.append("other users may open the file; set its mode to 600.")
    return list(dict.fromkeys(found))


def _file_is_whole(connection: Connection) -> Iterator[str]:
    for row in connection.execute("PRAGMA integrity_check"):
        if row[0] != "ok":
            yield f"the file is damaged: {row[0]}"


def _tables_are_ours(connection: Connection) -> Iterator[str]:
    expected, found = migrations.expected_tables(), migrations.tables_of(connection)
    for name in sorted(expected.keys() | found.keys()):
        if name not in found:
            yield f"{name} is missing from the tables."
        elif name not in expected:
            yield f"{name} is none of this program's tables."
        elif expected[name] != found[name]:
            yield f"the definition of {name} was changed."


def _nothing_is_orphaned(connection: Connection) -> Iterator[str]:
    for row in connection.execute("PRAGMA foreign_key_check"):
        yield f"row {row['rowid']} of {row['table']} belongs to a row of {row['parent']} that is missing."
    for row in connection.execute("SELECT name FROM head WHERE uid NOT IN (SELECT head FROM entry)"):
        yield f"head {row['name']} has no entries."
    for row in connection.execute("SELECT name, given FROM head WHERE name <> given"):
        if not row["name"].startswith(f"{row['given']} ("):
            yield f"head {row['name']} was opened as {row['given']}."


def _numbers_are_complete(connection: Connection) -> Iterator[str]:
    numbers = {row[0] for row in connection.execute("SELECT number FROM entry NOT INDEXED")}
    yield from rows.gaps(connection, numbers)


def _seals_hold(connection: Connection) -> Iterator[str]:
    noted = dict.fromkeys(rows.lost_seals(connection), 0)
    heads = rows.heads_in(connection)
    numbers: dict[str, dict[str, int]] = {uid: {head.root: 0, **noted} for uid, (head, _) in heads.items()}
    for number, uid, digest in connection.execute("SELECT number, head, digest FROM entry NOT INDEXED"):
        numbers.setdefault(uid, dict(noted))[digest] = number
    for row in connection.execute("SELECT * FROM entry ORDER BY number"):
        try:
            sealed = rows.sealed_of(row)
        except BookError as error:
            yield str(BookError(error.problem, where=error.where))
            continue
        if not outcomes.fits(json.loads(sealed.record)):
            name = heads[sealed.head][1] if sealed.head in heads else sealed.head
            yield f"entry {row['number']} of {name} teaches what no head can: {outcomes.FORM}"
        yield from _entry_follows(row["number"], sealed, numbers[sealed.head])


def _entry_follows(number: int, sealed: Sealed, known: dict[str, int]) -> Iterator[str]:
    if not sealed.previous:
        yield f"entry {number} follows nothing."
    for word, seals in (("follows", sealed.previous), ("was computed from", sealed.inputs)):
        for seal in seals:
            if seal not in known:
                yield f"entry {number} {word} an entry that is missing."
            elif known[seal] >= number:
                yield f"entry {number} {word} entry {known[seal]}, which came later."


_QUESTIONS = (_file_is_whole, _tables_are_ours, _nothing_is_orphaned, _numbers_are_complete, _seals_hold)
