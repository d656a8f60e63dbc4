"""From a path to an open, up-to-date connection."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from straighten.book import migrations, place
from straighten.book.faults import foreign, told


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
