"""The numbered steps from an empty file to today's tables, and how a book is brought up to date.

`user_version` counts the steps that a book has taken. A step that has been released is never edited: what
must change comes as the next step.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable
from contextlib import closing
from pathlib import Path

from straighten import __version__
from straighten.book.changes import transaction
from straighten.book.faults import told
from straighten.book.place import APPLICATION_ID, connect, create_private, free_name
from straighten.book.plain import stamp, utc_now
from straighten.errors import BookError

Step = Callable[[sqlite3.Connection], None]

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
    "CREATE INDEX entry_by_head ON entry (head, number)",
    "CREATE INDEX entry_by_kind ON entry (head, kind, number)",
    """
    CREATE TABLE struck (
        number INTEGER PRIMARY KEY REFERENCES entry (number),
        by_entry INTEGER NOT NULL REFERENCES entry (number)
    ) STRICT
    """,
    # What a rescue could not find again: numbers, and seals that kept entries still name.
    """
    CREATE TABLE lost (
        number INTEGER UNIQUE,
        digest TEXT UNIQUE,
        noted_at TEXT NOT NULL,
        CHECK (number IS NOT NULL OR digest IS NOT NULL)
    ) STRICT
    """,
    """
    CREATE TRIGGER entry_strikes AFTER INSERT ON entry WHEN NEW.kind = 'strike' BEGIN
        INSERT OR IGNORE INTO struck (number, by_entry)
        SELECT number, NEW.number FROM entry
        WHERE digest = json_extract(NEW.record, '$.struck_sha256') AND head = NEW.head;
    END
    """,
    # An entry may come back after the entry that struck it: out of a copy, merged into a rescued book.
    """
    CREATE TRIGGER entry_was_struck AFTER INSERT ON entry WHEN NEW.kind <> 'strike' BEGIN
        INSERT OR IGNORE INTO struck (number, by_entry)
        SELECT NEW.number, number FROM entry
        WHERE head = NEW.head AND kind = 'strike' AND json_extract(record, '$.struck_sha256') = NEW.digest;
    END
    """,
    "CREATE TRIGGER entry_stays BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END",
    "CREATE TRIGGER entry_keeps BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END",
    "CREATE TRIGGER head_stays BEFORE DELETE ON head BEGIN SELECT RAISE(ABORT, 'heads are never deleted'); END",
    "CREATE TRIGGER head_keeps BEFORE UPDATE ON head BEGIN SELECT RAISE(ABORT, 'heads are never changed'); END",
)

# In the order of the columns of `outcome`; ordered, since later passes overwrite what earlier ones taught.
OUTCOMES_OF_ENTRIES = """
    SELECT number, head,
           json_extract(record, '$.outcome.alloy_family'),
           json_extract(record, '$.outcome.heat_source'),
           json_extract(record, '$.outcome.pass'),
           json_extract(record, '$.outcome.predicted_set_mm'),
           json_extract(record, '$.outcome.measured_set_mm'),
           json_extract(record, '$.outcome.factors')
    FROM entry
    WHERE json_type(record, '$.outcome') = 'object' AND number NOT IN (SELECT number FROM struck)
    ORDER BY number
"""

# Both tables repeat what records say, for speed; the triggers keep them so on every way into the book.
_OUTCOMES = (
    """
    CREATE TABLE outcome (
        entry INTEGER PRIMARY KEY REFERENCES entry (number),
        head TEXT NOT NULL REFERENCES head (uid),
        alloy_family TEXT NOT NULL CHECK (alloy_family <> ''),
        heat_source TEXT NOT NULL CHECK (heat_source <> ''),
        pass INTEGER NOT NULL CHECK (pass >= 1),
        predicted_set_mm REAL NOT NULL,
        measured_set_mm REAL NOT NULL,
        factors TEXT NOT NULL CHECK (json_valid(factors) AND json_type(factors) = 'object')
    ) STRICT
    """,
    """
    CREATE INDEX outcome_by_group
    ON outcome (alloy_family, heat_source, entry, head, predicted_set_mm, measured_set_mm)
    """,
    "CREATE INDEX outcome_by_head ON outcome (head, heat_source, entry)",
    """
    CREATE TABLE learned (
        head TEXT NOT NULL REFERENCES head (uid),
        heat_source TEXT NOT NULL,
        factor TEXT NOT NULL,
        alloy_family TEXT NOT NULL,
        mean REAL NOT NULL,
        sd REAL NOT NULL CHECK (sd >= 0),
        entry INTEGER NOT NULL REFERENCES entry (number),
        PRIMARY KEY (head, heat_source, factor)
    ) STRICT, WITHOUT ROWID
    """,
    "CREATE INDEX learned_by_group ON learned (alloy_family, heat_source, factor, mean, sd)",
    """
    CREATE TRIGGER outcome_teaches AFTER INSERT ON outcome BEGIN
        INSERT INTO learned (head, heat_source, factor, alloy_family, mean, sd, entry)
        SELECT NEW.head, NEW.heat_source, f.key, NEW.alloy_family,
               json_extract(f.value, '$[0]'), json_extract(f.value, '$[1]'), NEW.entry
        FROM json_each(NEW.factors) AS f WHERE true
        ON CONFLICT (head, heat_source, factor) DO UPDATE
        SET alloy_family = excluded.alloy_family, mean = excluded.mean, sd = excluded.sd, entry = excluded.entry
        WHERE excluded.entry > entry;
    END
    """,
    """
    CREATE TRIGGER outcome_unteaches AFTER DELETE ON outcome BEGIN
        DELETE FROM learned WHERE entry = OLD.entry AND head = OLD.head AND heat_source = OLD.heat_source;
        INSERT INTO learned (head, heat_source, factor, alloy_family, mean, sd, entry)
        SELECT o.head, o.heat_source, f.key, o.alloy_family,
               json_extract(f.value, '$[0]'), json_extract(f.value, '$[1]'), o.entry
        FROM outcome AS o, json_each(o.factors) AS f
        WHERE o.head = OLD.head AND o.heat_source = OLD.heat_source
        ON CONFLICT (head, heat_source, factor) DO UPDATE
        SET alloy_family = excluded.alloy_family, mean = excluded.mean, sd = excluded.sd, entry = excluded.entry
        WHERE excluded.entry > entry;
    END
    """,
    """
    CREATE TRIGGER entry_has_outcome AFTER INSERT ON entry
    WHEN json_type(NEW.record, '$.outcome') = 'object'
        AND NOT EXISTS (SELECT 1 FROM struck WHERE number = NEW.number)
    BEGIN
        INSERT INTO outcome (entry, head, alloy_family, heat_source, pass, predicted_set_mm, measured_set_mm, factors)
        VALUES (
            NEW.number, NEW.head,
            json_extract(NEW.record, '$.outcome.alloy_family'),
            json_extract(NEW.record, '$.outcome.heat_source'),
            json_extract(NEW.record, '$.outcome.pass'),
            json_extract(NEW.record, '$.outcome.predicted_set_mm'),
            json_extract(NEW.record, '$.outcome.measured_set_mm'),
            json_extract(NEW.record, '$.outcome.factors')
        );
    END
    """,
    "CREATE TRIGGER struck_outcome AFTER INSERT ON struck BEGIN DELETE FROM outcome WHERE entry = NEW.number; END",
    "INSERT INTO outcome " + OUTCOMES_OF_ENTRIES,
)


def _run(connection: sqlite3.Connection, statements: Iterable[str]) -> None:
    for statement in statements:
        connection.execute(statement)


def m001_heads_and_entries(connection: sqlite3.Connection) -> None:
    """Make the tables of heads, entries, strikes and losses, and the triggers that keep them append-only."""
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    _run(connection, _HEADS_AND_ENTRIES)


def m002_outcomes(connection: sqlite3.Connection) -> None:
    """Make the tables that are pooled over the shop's heads, and fill them from the entries."""
    _run(connection, _OUTCOMES)


STEPS: tuple[Step, ...] = (m001_heads_and_entries, m002_outcomes)


def version_of(connection: sqlite3.Connection) -> int:
    """Return how many steps the open book has taken."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def bring_up_to_date(
    connection: sqlite3.Connection, path: Path, steps: tuple[Step, ...] = STEPS
) -> Path | None:
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
        with transaction(connection, path):
            if version_of(connection) == found:  # else another program took the step while this one waited
                copy = copy or (_copied(path, found) if found and _holds_heads(connection) else None)
                _take(connection, steps[found], found + 1)
    return copy


def _holds_heads(connection: sqlite3.Connection) -> bool:
    return connection.execute("SELECT 1 FROM head LIMIT 1").fetchone() is not None


def _take(connection: sqlite3.Connection, step: Step, version: int) -> None:
    step(connection)
    connection.execute(f"PRAGMA user_version = {version}")
    connection.execute(
        "INSERT INTO migration VALUES (?, ?, ?, ?)", (version, step.__name__, stamp(utc_now()), __version__)
    )


def _copied(path: Path, version: int) -> Path:
    """Copy the book beside itself while the caller holds its write lock; leave no half copy behind."""
    copy = free_name(path, f"before-version-{version + 1}")
    with told(copy):
        create_private(copy)
        try:
            # A second connection: SQLite does not copy through one that is about to write.
            with (
                closing(connect(path, patience=0, mode="ro")) as source,
                closing(connect(copy, patience=0)) as target,
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


def tables_of(connection: sqlite3.Connection) -> dict[str, str]:
    """Return name and definition of every table, index and trigger of the open book."""
    rows = connection.execute("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL").fetchall()
    return {str(row[0]): str(row[1]) for row in rows}
