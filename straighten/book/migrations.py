"""From a path to an open connection with the tables of today, by numbered steps.

`user_version` counts the steps that a book has taken. A step that has been released is never edited: what must change
comes as the next step.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable
from contextlib import closing
from pathlib import Path
from sqlite3 import Connection

from straighten import __version__
from straighten.book import place
from straighten.book.seals import stamp, utc_now
from straighten.errors import BookError

Step = Callable[[Connection], None]

_HEADS_AND_ENTRIES = (
    """
    CREATE TABLE migration (
        version INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        applied_at TEXT NOT NULL,
        program TEXT NOT NULL
    ) STRICT
    """,
    # `given` is the name the seals cover; `name` differs from it only where a merge found it taken.
    """
    CREATE TABLE head (
        uid TEXT NOT NULL PRIMARY KEY CHECK (length(uid) = 16),
        name TEXT NOT NULL UNIQUE CHECK (name <> ''),
        given TEXT NOT NULL CHECK (given <> ''),
        opened_at TEXT NOT NULL
    ) STRICT
    """,
    # The record comes last, so that a look at the other columns need not read it.
    """
    CREATE TABLE entry (
        number INTEGER PRIMARY KEY AUTOINCREMENT CHECK (number >= 1),
        head TEXT NOT NULL REFERENCES head (uid),
        kind TEXT NOT NULL CHECK (kind <> ''),
        schema INTEGER NOT NULL CHECK (schema >= 1),
        at TEXT NOT NULL,
        clock_back INTEGER NOT NULL CHECK (clock_back IN (0, 1)),
        version TEXT NOT NULL,
        previous TEXT NOT NULL CHECK (json_valid(previous) AND json_type(previous) = 'array'),
        inputs TEXT NOT NULL CHECK (json_valid(inputs) AND json_type(inputs) = 'array'),
        digest TEXT NOT NULL UNIQUE CHECK (length(digest) = 64),
        record TEXT NOT NULL CHECK (json_valid(record) AND json_type(record) = 'object')
    ) STRICT
    """,
    # For appending; what is read goes past it, see `rows.look`.
    "CREATE INDEX entry_by_head ON entry (head, number)",
    # What a rescue could not find again: numbers, and seals that kept entries still name.
    """
    CREATE TABLE lost (
        number INTEGER UNIQUE,
        digest TEXT UNIQUE,
        noted_at TEXT NOT NULL,
        CHECK (number IS NOT NULL OR digest IS NOT NULL)
    ) STRICT
    """,
    "CREATE TRIGGER entry_stays BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END",
    "CREATE TRIGGER entry_keeps BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END",
    "CREATE TRIGGER head_stays BEFORE DELETE ON head BEGIN SELECT RAISE(ABORT, 'heads are never deleted'); END",
    "CREATE TRIGGER head_keeps BEFORE UPDATE ON head BEGIN SELECT RAISE(ABORT, 'heads are never changed'); END",
)

# What earlier programs kept twice for speed: a damaged copy would change what a plan is made from, and no seal would show it.
_KEPT_TWICE = (
    ("TRIGGER", "entry_strikes entry_was_struck entry_has_outcome"),
    ("TABLE", "learned outcome struck"),
    ("INDEX", "entry_by_kind"),
)


def _run(connection: Connection, statements: Iterable[str]) -> None:
    for statement in statements:
        connection.execute(statement)


def m001_heads_and_entries(connection: Connection) -> None:
    """Make the tables of heads, entries, strikes and losses, and the triggers that keep them append-only."""
    connection.execute(f"PRAGMA application_id = {place.APPLICATION_ID}")
    _run(connection, _HEADS_AND_ENTRIES)


def m002_outcomes(connection: Connection) -> None:
    """Do nothing: the tables that this step made for what passes taught are taken away by the next one."""


def m003_entries_alone(connection: Connection) -> None:
    """Drop the tables that repeated what entries say."""
    for form, names in _KEPT_TWICE:
        _run(connection, (f"DROP {form} IF EXISTS {name}" for name in names.split()))


STEPS: tuple[Step, ...] = (m001_heads_and_entries, m002_outcomes, m003_entries_alone)


def version_of(connection: Connection) -> int:
    """Return how many steps the open book has taken."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def bring_up_to_date(connection: Connection, path: Path, steps: tuple[Step, ...] = STEPS) -> Path | None:
    """Take the steps still missing, each in its own transaction, after a copy of the file was made.

    Returns:
        The copy, or None where the book was empty or up to date.

    Raises:
        BookError: the book is newer than the program.
    """
    copy: Path | None = None
    while (found := version_of(connection)) != len(steps):
        if found > len(steps):
            raise newer(path, found)
        with place.transaction(connection, path):
            if version_of(connection) == found:  # else another program took the step while this one waited
                copy = copy or (_copied(path, found) if found and _holds_heads(connection) else None)
                _take(connection, steps[found], found + 1)
    return copy


def _holds_heads(connection: Connection) -> bool:
    return connection.execute("SELECT 1 FROM head LIMIT 1").fetchone() is not None


def _take(connection: Connection, step: Step, version: int) -> None:
    step(connection)
    connection.execute(f"PRAGMA user_version = {version}")
    connection.execute(
        "INSERT INTO migration VALUES (?, ?, ?, ?)", (version, step.__name__, stamp(utc_now()), __version__)
    )


def _copied(path: Path, version: int) -> Path:
    """Copy the book beside itself while the caller holds its write lock; leave no half copy behind."""
    copy = place.free_name(path, f"before-version-{version + 1}")
    with place.told(copy):
        place.create_private(copy)
        try:
            # A second connection: SQLite does not copy through one that is about to write.
            with (
                closing(place.connect(path, patience=0, mode="ro")) as source,
                closing(place.connect(copy, patience=0)) as target,
            ):
                source.backup(target)
        except BaseException:
            copy.unlink(missing_ok=True)
            raise
    return copy


def newer(path: Path, found: int) -> BookError:
    """Return the refusal of a book that a newer program wrote."""
    return BookError(
        f"the book is of version {found}, this program knows versions up to {len(STEPS)}.",
        where=str(path),
        fix="Use the newer program; the book was left as it is.",
    )


def expected_tables() -> dict[str, str]:
    """Return name and definition of every table, index and trigger of an up-to-date book."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        for step in STEPS:
            step(connection)
        return tables_of(connection)


def tables_of(connection: Connection) -> dict[str, str]:
    """Return name and definition of every table, index and trigger of the open book."""
    rows = connection.execute("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL").fetchall()
    return {str(row[0]): str(row[1]) for row in rows}


def opened(path: Path, *, create: bool, patience: float) -> tuple[Connection, Path, Path | None]:
    """Return the connection, the real path and the copy made before an older book was brought up to date.

    Raises:
        BookError: missing, busy, not to be read, damaged, no book, or newer than the program.
    """
    real = place.place_for(path, create=create)
    refuse_newer(real)
    with place.told(real):
        connection = place.connect(real, patience=patience)
        try:
            refuse_foreign(connection, real)
            connection.execute("PRAGMA journal_mode = DELETE")
            copy = bring_up_to_date(connection, real)
        except BaseException:
            connection.close()
            raise
    return connection, real, copy


def refuse_newer(real: Path) -> None:
    """Refuse a file that a newer program wrote, or that is no book, before SQLite touches it."""
    found = place.version_on_disk(real)
    if found > len(STEPS):
        raise newer(real, found)


def refuse_foreign(connection: Connection, real: Path) -> None:
    """Look again through SQLite: what an unfinished transaction hid is in place now."""
    mark = connection.execute("PRAGMA application_id").fetchone()[0]
    if mark != place.APPLICATION_ID and connection.execute("PRAGMA page_count").fetchone()[0]:
        raise place.foreign(real)
