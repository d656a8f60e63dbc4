"""The one way in which a book is changed: all of it or nothing, one program at a time."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from straighten.book.faults import told

_SHORTEST, _SPREAD = 0.001, 0.003  # [s] between two looks whether the book is free, never in step with others


def _start_part(connection: sqlite3.Connection) -> None:
    connection.execute("SAVEPOINT part")


def _start_whole(connection: sqlite3.Connection) -> None:
    """Take the write lock, looking often: SQLite's own wait looks ten times a second and may starve beside busy writers."""
    patience_ms = connection.execute("PRAGMA busy_timeout").fetchone()[0]
    deadline = time.monotonic() + patience_ms / 1000
    connection.execute("PRAGMA busy_timeout = 0")
    try:
        while not _got_lock(connection, last_try=time.monotonic() >= deadline):
            time.sleep(_SHORTEST + _SPREAD * os.urandom(1)[0] / 255)
    finally:
        connection.execute(f"PRAGMA busy_timeout = {patience_ms}")


def _got_lock(connection: sqlite3.Connection, *, last_try: bool) -> bool:
    try:
        connection.execute("BEGIN IMMEDIATE")
    except sqlite3.OperationalError as error:
        if last_try or error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
            raise
        return False
    return True


_PART = (_start_part, "RELEASE part", ("ROLLBACK TO part", "RELEASE part"))
_WHOLE = (_start_whole, "COMMIT", ("ROLLBACK",))


@contextmanager
def transaction(connection: sqlite3.Connection, path: Path) -> Iterator[None]:
    """Keep all that is changed inside, or nothing; inside another transaction, a part of that one.

    Raises:
        BookError: another program holds the book too long, or the disk refuses.
    """
    start, end, undo = _PART if connection.in_transaction else _WHOLE
    with told(path):
        start(connection)
        try:
            yield
            connection.execute(end)
        except BaseException:
            with suppress(sqlite3.Error):  # a full disk has rolled back already
                for statement in undo:
                    connection.execute(statement)
            raise
