"""What can go wrong with the file, told in words: every fault of SQLite and of the system becomes a `BookError`."""

from __future__ import annotations

import errno
import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from straighten.errors import BookError

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


def from_sqlite(error: sqlite3.Error, path: Path) -> BookError:
    """Return a fault of SQLite in words; the extended code is tried before the plain one."""
    code = getattr(error, "sqlite_errorcode", 0)
    unknown = (f"the database answered: {error}.", "Run `straighten book check` on it.")
    problem, fix = _SQLITE.get(code) or _SQLITE.get(code & 0xFF) or unknown
    return BookError(problem, where=str(path), fix=fix)


def from_system(error: OSError, path: Path) -> BookError:
    """Return a fault of the operating system in words."""
    unknown = (f"the system answered: {error.strerror or error}.", "Check the disk and the path.")
    problem, fix = _SYSTEM.get(error.errno or 0, unknown)
    return BookError(problem, where=str(error.filename or path), fix=fix)


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn every fault of SQLite or the system inside into a `BookError` that names the file."""
    try:
        yield
    except sqlite3.Error as error:
        raise from_sqlite(error, path) from error
    # spoilt text; or a name in sqlite3's own message
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        problem, fix = _DAMAGED
        raise BookError(problem, where=str(path), fix=fix) from error
    except OSError as error:
        raise from_system(error, path) from error


def altered(where: str) -> BookError:
    """Return the refusal of an entry that does not match its seal: a changed figure must not feed a plan."""
    return BookError(
        "the entry does not match its seal: it was changed, or the file is damaged.",
        where=where,
        fix=ASK_RESCUE,
    )


def foreign(path: Path) -> BookError:
    """Return the refusal of a file that is no book."""
    problem, fix = _FOREIGN
    return BookError(problem, where=str(path), fix=fix)
