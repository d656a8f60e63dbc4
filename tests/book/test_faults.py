import errno
import os
import resource
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from straighten.book import open_book
from straighten.book.place import from_sqlite, from_system, told
from straighten.errors import BookError

ROOT = Path(__file__).parents[2]


def test_a_book_that_another_program_holds_is_busy(shop, path):
    with open_book(path, patience=0.05) as second, shop.together():
        shop.append("saw-six", "survey", {})
        with pytest.raises(BookError, match="busy") as caught:
            second.append("saw-six", "survey", {})
    assert caught.value.where == str(path.resolve())
    assert "nothing of this entry was recorded" in caught.value.fix
    assert shop.heads()[1].last == 8


def test_a_writer_waits_for_readers_and_readers_for_writers(shop, path):
    with (
        closing(sqlite3.connect(path, isolation_level=None)) as reader,
        open_book(path, patience=0.05) as writer,
    ):
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM entry").fetchone()
        with pytest.raises(BookError, match="busy"):
            writer.append("saw-six", "survey", {})
        reader.execute("COMMIT")
        assert writer.append("saw-six", "survey", {}).number == 8


def sqlite_error(code):
    error = sqlite3.OperationalError("as SQLite says it")
    error.sqlite_errorcode = code
    return error


@pytest.mark.parametrize(
    ("code", "word"),
    [
        (sqlite3.SQLITE_LOCKED, "busy"),
        (sqlite3.SQLITE_BUSY_RECOVERY, "busy"),
        (sqlite3.SQLITE_READONLY_DIRECTORY, "write-protected"),
        (sqlite3.SQLITE_READONLY_ROLLBACK, "stopped in the middle"),
        (sqlite3.SQLITE_FULL, "full"),
        (sqlite3.SQLITE_IOERR_WRITE, "full"),
        (sqlite3.SQLITE_IOERR_READ, "could not be read"),
        (sqlite3.SQLITE_NOTADB, "not a book"),
        (sqlite3.SQLITE_CORRUPT_INDEX, "damaged"),
        (sqlite3.SQLITE_CANTOPEN, "may not be opened"),
        (sqlite3.SQLITE_PERM, "may not be opened"),
        (sqlite3.SQLITE_MISMATCH, "as SQLite says it"),
    ],
)
def test_faults_of_sqlite_are_told_in_words_with_place_and_remedy(code, word):
    error = from_sqlite(sqlite_error(code), Path("book.db"))
    assert word in error.problem
    assert error.where == "book.db"
    assert error.fix.endswith(".")


def test_faults_raised_by_the_module_itself_are_told_too():
    assert "closed" in from_sqlite(sqlite3.ProgrammingError("closed"), Path("book.db")).problem


@pytest.mark.parametrize(
    ("code", "word"),
    [
        (errno.ENOSPC, "full"), (errno.EDQUOT, "full"), (errno.EFBIG, "full"), (errno.EACCES, "may not be opened"),
        (errno.EPERM, "may not be opened"), (errno.EROFS, "write-protected"), (errno.EISDIR, "folder"),
        (errno.ENOTDIR, "missing"), (errno.ENOENT, "missing"), (errno.EIO, "could not be read"),
        (errno.ELOOP, os.strerror(errno.ELOOP)),
    ],
)  # fmt: skip
def test_faults_of_the_system_are_told_in_words(code, word):
    error = from_system(OSError(code, os.strerror(code), "there"), Path("book.db"))
    assert word in error.problem
    assert error.where == "there"


def test_a_system_fault_without_a_number_is_told_as_it_is():
    with pytest.raises(BookError, match=r"book\.db: the system answered: odd"), told(Path("book.db")):
        raise OSError("odd")


def test_a_message_of_sqlite_that_cannot_be_read_tells_of_damage():
    with pytest.raises(BookError, match="damaged"), told(Path("book.db")):
        b"\xf2".decode()


FULL_DISK = """
import resource, sys
from pathlib import Path
from straighten.book import open_book
from straighten.errors import BookError
path, text = Path(sys.argv[1]), "x" * 3000
with open_book(path) as book:
    book.append("pump", "head", {})
    resource.setrlimit(resource.RLIMIT_FSIZE, (path.stat().st_size + 70_000,) * 2)
    try:
        while True:
            print(book.append("pump", "survey", {"text": text}).number, flush=True)
    except BookError as error:
        print(error.exit_code, error, flush=True)
    print(len(book.entries("pump")), "readable", flush=True)
"""


def test_a_full_disk_gives_a_message_and_leaves_the_book_whole(path):
    """The limit on the size of a file stands for the disk: the system refuses the write in the same place."""
    command = [sys.executable, "-c", FULL_DISK, str(path)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    *acknowledged, message, readable = done.stdout.splitlines()
    assert message.startswith("6 ")
    assert "it is full, or a quota or file-size limit is reached" in message
    assert len(acknowledged) > 5
    assert readable == f"{len(acknowledged) + 1} readable"
    with open_book(path) as book:
        assert [e.number for e in book.entries("pump", "survey")] == [int(line) for line in acknowledged]
        assert book.check() == []
        book.append("pump", "survey", {})  # and goes on once there is room


def test_a_disk_that_is_full_from_the_start_gives_a_message_too(path):
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, hard))
    try:
        with pytest.raises(BookError, match="full"):
            open_book(path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    with open_book(path) as book:
        assert book.check() == []
