"""The book's file: where it lies, that it is private, the one way in which it is changed, and its faults in words.

Every fault of SQLite and of the system becomes a `BookError`.
"""

from __future__ import annotations

import errno
import json
import os
import sqlite3
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from sqlite3 import Connection

from straighten.errors import BookError

APPLICATION_ID = 0x53747274  # "Strt", at byte 68 of the file (SQLite file format, section 1.3)
_MAGIC = b"SQLite format 3\x00"
PAGE = 4096
PATIENCE = 15.0  # [s] that a program waits for another one's entry, which takes some ten milliseconds

_ROOM = (
    "the disk refused a write: it is full, or a quota or file-size limit is reached.",
    "Make room, then run it again; nothing of this entry was recorded.",
)
_RIGHTS = (
    "the file or its folder may not be opened.",
    "Check who owns it and its permissions, or name another book.",
)
_READ_ONLY = (
    "the book can only be read: the file, its folder or the disk is write-protected.",
    "Make it writable, or copy it to a place that is.",
)
_BUSY = (
    "the book is busy: another program is writing to it.",
    "Wait until it is done and run it again; nothing of this entry was recorded.",
)
ASK_RESCUE = "Run `straighten book check`, then `straighten book rescue` into a new file."
_DAMAGED = ("the file is damaged.", ASK_RESCUE)
_DISK = ("the disk could not be read or written.", "Check the disk; nothing of this entry was recorded.")
_FOREIGN = ("this file is not a book.", "Name the book's own file; this one was left as it is.")
_FOLDER = ("this is a folder, not a file.", "Name a file in it.")
_MISSING = ("the file or a folder on its way is missing.", "Check the path.")
_UNFINISHED = (
    "a program stopped in the middle of writing to it, and it may not be finished here.",
    "Open it once as your own book, then run this again.",
)

_SQLITE = {
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    sqlite3.SQLITE_READONLY: _READ_ONLY,
    sqlite3.SQLITE_READONLY_ROLLBACK: _UNFINISHED,
    sqlite3.SQLITE_FULL: _ROOM,
    sqlite3.SQLITE_IOERR_WRITE: _ROOM,
    sqlite3.SQLITE_IOERR: _DISK,
    sqlite3.SQLITE_NOTADB: _FOREIGN,
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_CANTOPEN: _RIGHTS,
    sqlite3.SQLITE_PERM: _RIGHTS,
}

_SYSTEM = {
    errno.ENOSPC: _ROOM,
    errno.EDQUOT: _ROOM,
    errno.EFBIG: _ROOM,
    errno.EACCES: _RIGHTS,
    errno.EPERM: _RIGHTS,
    errno.EIO: _DISK,
    errno.EROFS: _READ_ONLY,
    errno.EISDIR: _FOLDER,
    errno.ENOTDIR: _MISSING,
    errno.ENOENT: _MISSING,
}


_ALTERED = ("the entry does not match its seal: it was changed, or the file is damaged.", ASK_RESCUE)


def from_sqlite(error: sqlite3.Error, path: Path) -> BookError:
    """Return a fault of SQLite in words; the extended code is tried before the plain one."""
    code = getattr(error, "sqlite_errorcode", 0)
    unknown = (f"the database answered: {error}.", "Run `straighten book check` on it.")
    return _fault(_SQLITE.get(code) or _SQLITE.get(code & 0xFF) or unknown, path)


def from_system(error: OSError, path: Path) -> BookError:
    """Return a fault of the operating system in words."""
    unknown = (f"the system answered: {error.strerror or error}.", "Check the disk and the path.")
    return _fault(_SYSTEM.get(error.errno or 0, unknown), error.filename or path)


def _fault(words: tuple[str, str], where: object) -> BookError:
    problem, fix = words
    return BookError(problem, where=str(where), fix=fix)


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn every fault of SQLite or the system inside into a `BookError` that names the file."""
    try:
        yield
    except sqlite3.Error as error:
        raise from_sqlite(error, path) from error
    # spoilt text; or a name in sqlite3's own message
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise _fault(_DAMAGED, path) from error
    except OSError as error:
        raise from_system(error, path) from error


def altered(where: str) -> BookError:
    """Return the refusal of an entry that does not match its seal: a changed figure must not feed a plan."""
    return _fault(_ALTERED, where)


def foreign(path: Path) -> BookError:
    """Return the refusal of a file that is no book."""
    return _fault(_FOREIGN, path)


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


def connect(real: Path, *, patience: float, mode: str = "rw") -> Connection:
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


def _start_whole(connection: Connection) -> None:
    """Take the write lock, looking often: SQLite's own wait looks ten times a second and may starve beside busy writers."""
    patience_ms = connection.execute("PRAGMA busy_timeout").fetchone()[0]
    deadline = time.monotonic() + patience_ms / 1000
    connection.execute("PRAGMA busy_timeout = 0")
    try:
        while not _got_lock(connection, last_try=time.monotonic() >= deadline):
            time.sleep(_SHORTEST + _SPREAD * os.urandom(1)[0] / 255)
    finally:
        connection.execute(f"PRAGMA busy_timeout = {patience_ms}")


def _got_lock(connection: Connection, *, last_try: bool) -> bool:
    try:
        connection.execute("BEGIN IMMEDIATE")
    except sqlite3.OperationalError as error:
        if last_try or error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
            raise
        return False
    return True


@contextmanager
def transaction(connection: Connection, path: Path) -> Iterator[None]:
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
