"""The book's file: where it lies, that it is private, and the one way in which it is changed."""

from __future__ import annotations

import os
import sqlite3
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from straighten.book.faults import foreign, told
from straighten.errors import BookError

APPLICATION_ID = 0x53747274  # "Strt", at byte 68 of the file (SQLite file format, section 1.3)
_MAGIC = b"SQLite format 3\x00"
PAGE = 4096
PATIENCE = 15.0  # [s] that a program waits for another one's entry, which takes some ten milliseconds


def place_for(path: Path, *, create: bool) -> Path:
    """Return the real path of a book's file, made private and empty where it may be created.

    Raises:
        BookError: it is missing and may not be created, it is no regular file, a link leads nowhere.
    """
    if "\0" in str(path):
        raise BookError("no file can have this name.", where=repr(str(path)), fix="Check the path.")
    with told(path):
        if create and not os.path.lexists(path):
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            create_private(path, exist_ok=True)
        real = _regular(path)
        if not create and real.stat().st_size == 0:
            raise _missing(path)
        return real


def _regular(path: Path) -> Path:
    if not path.exists():
        raise _missing(path)
    real = path.resolve(strict=True)
    mode = real.stat().st_mode
    if not stat.S_ISREG(mode):
        kind = "a folder" if stat.S_ISDIR(mode) else "a device, pipe or socket"
        raise BookError(f"this is {kind}, not a book.", where=str(path), fix="Name a regular file.")
    return real


def _missing(path: Path) -> BookError:
    if path.is_symlink():
        return BookError("the link leads to no file.", where=str(path), fix="Remove or correct the link.")
    return BookError(
        "there is no book here.", where=str(path), fix="Check the path, or begin with `straighten new`."
    )


def create_private(path: Path, *, exist_ok: bool = False) -> None:
    """Make an empty file that only its owner can open; never follow or replace what is there."""
    try:
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    except FileExistsError:
        if not exist_ok:
            raise


def free_name(path: Path, word: str) -> Path:
    """Return a path beside `path` that is not taken: `book.db.word`, `book.db.word-2`, ..."""
    candidate, count = path.with_name(f"{path.name}.{word}"), 1
    while os.path.lexists(candidate):
        count += 1
        candidate = path.with_name(f"{path.name}.{word}-{count}")
    return candidate


def version_on_disk(real: Path) -> int:
    """Return the version that the file's header tells, 0 for an empty file, without SQLite.

    SQLite would finish or undo what another program left behind; a book that is refused must not be touched.

    Raises:
        BookError: the file is no book.
    """
    with told(real), real.open("rb") as file:
        header = file.read(100)
    unfinished = journal_of(real).exists()
    if not header or (unfinished and header[68:72] in (b"", bytes(4))):  # stopped while it was being made
        return 0
    if header[:16] != _MAGIC or int.from_bytes(header[68:72], "big") != APPLICATION_ID:
        raise foreign(real)
    return int.from_bytes(header[60:64], "big")


def journal_of(real: Path) -> Path:
    """Return the path of the file in which SQLite keeps what a running transaction may have to restore."""
    return real.with_name(f"{real.name}-journal")


def connect(real: Path, *, patience: float, mode: str = "rw") -> sqlite3.Connection:
    """Return a connection that commits only when told, waits `patience` [s] for others."""
    connection = sqlite3.connect(
        f"{real.as_uri()}?mode={mode}", uri=True, timeout=patience, isolation_level=None
    )
    connection.row_factory = sqlite3.Row
    try:
        connection.execute(f"PRAGMA page_size = {PAGE}")
        connection.execute("PRAGMA foreign_keys = ON")
        # FULL, and the folder is synced as well once the journal is gone: what was acknowledged outlives a power cut.
        connection.execute("PRAGMA synchronous = EXTRA")
        connection.execute("PRAGMA cell_size_check = ON")
        connection.execute("PRAGMA temp_store = MEMORY")
    except BaseException:
        connection.close()
        raise
    return connection


_SHORTEST, _SPREAD = 0.001, 0.003  # [s] between two looks whether the book is free, never in step with others


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


@contextmanager
def transaction(connection: sqlite3.Connection, path: Path) -> Iterator[None]:
    """Keep all that is changed inside, or nothing; inside another transaction, a part of that one.

    Raises:
        BookError: another program holds the book too long, or the disk refuses.
    """
    end, undo = "COMMIT", ["ROLLBACK"]
    with told(path):
        if connection.in_transaction:
            connection.execute("SAVEPOINT part")
            end, undo = "RELEASE part", ["ROLLBACK TO part", "RELEASE part"]
        else:
            _start_whole(connection)
        try:
            yield
            connection.execute(end)
        except BaseException:
            with suppress(sqlite3.Error):  # a full disk has rolled back already
                for statement in undo:
                    connection.execute(statement)
            raise
