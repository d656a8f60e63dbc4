"""From a path to an open, up-to-date connection; and the one way in which changes are made through it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from straighten.book import migrations, place
from straighten.book.faults import foreign, told

_WHOLE = ("BEGIN IMMEDIATE", "COMMIT", ("ROLLBACK",))
_PART = ("SAVEPOINT part", "RELEASE part", ("ROLLBACK TO part", "RELEASE part"))


def opened(path: Path, *, create: bool, patience: float) -> tuple[sqlite3.Connection, Path, Path | None]:
    """Return the connection, the real path and the copy made before an older book was brought up to date.

    Raises:
        BookError: missing, busy, not to be read, damaged, no book, or newer than the program.
    """
    real = place.place_for(path, create=create)
    refuse_newer(real)
    with told(real):
        connection = place.connect(real, patience=patience)
        try:
            refuse_foreign(connection, real)
            connection.execute("PRAGMA journal_mode = DELETE")
            copy = migrations.bring_up_to_date(connection, real)
        except BaseException:
            connection.close()
            raise
    return connection, real, copy


def refuse_newer(real: Path) -> None:
    """Refuse a file that a newer program wrote, or that is no book, before SQLite touches it."""
    found = place.version_on_disk(real)
    if found > len(migrations.STEPS):
        raise migrations.newer(real, found)


def refuse_foreign(connection: sqlite3.Connection, real: Path) -> None:
    """Look again through SQLite: what an unfinished transaction hid is in place now."""
    mark = connection.execute("PRAGMA application_id").fetchone()[0]
    if mark != place.APPLICATION_ID and connection.execute("PRAGMA page_count").fetchone()[0]:
        raise foreign(real)


@contextmanager
def transaction(connection: sqlite3.Connection, path: Path) -> Iterator[None]:
    """Keep all that is changed inside, or nothing; inside another transaction, a part of that one.

    Raises:
        BookError: another program holds the book too long, or the disk refuses.
    """
    begin, end, undo = _PART if connection.in_transaction else _WHOLE
    with told(path):
        connection.execute(begin)
        try:
            yield
            connection.execute(end)
        except BaseException:
            with suppress(sqlite3.Error):  # a full disk has rolled back already
                for statement in undo:
                    connection.execute(statement)
            raise
