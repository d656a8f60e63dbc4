import os
import socket
import sqlite3
import stat
import sys
from contextlib import closing
from pathlib import Path

import pytest

from straighten.book import open_book, place
from straighten.errors import BookError


def mode_of(path):
    return stat.S_IMODE(path.stat().st_mode)


def test_file_and_folder_are_their_owners_alone_whatever_the_umask(path):
    before = os.umask(0)
    try:
        with open_book(path) as book:
            book.append("pump", "head", {})
            assert mode_of(path) == 0o600
            assert mode_of(path.parent) == 0o700
    finally:
        os.umask(before)


def test_a_folder_that_is_there_keeps_its_mode(tmp_path):
    tmp_path.chmod(0o755)
    open_book(tmp_path / "book.db").close()
    assert mode_of(tmp_path) == 0o755


def test_nothing_lies_beside_a_book_at_rest(shop, path):
    assert [p.name for p in path.parent.iterdir()] == ["book.db"]
    assert shop._connection.execute("PRAGMA journal_mode").fetchone()[0] == "delete"
    assert shop._connection.execute("PRAGMA synchronous").fetchone()[0] == 3  # EXTRA: FULL and the folder too
    assert shop._connection.execute("PRAGMA foreign_keys").fetchone()[0] == 1


def test_a_book_that_someone_put_in_wal_mode_is_brought_back(shop, path):
    shop.close()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
    with open_book(path) as book:
        assert len(book.entries("pump-four")) == 5
        assert [p.name for p in path.parent.iterdir()] == ["book.db"]


def test_a_missing_book_is_not_made_unless_asked(path):
    with pytest.raises(BookError, match="there is no book here"):
        open_book(path, create=False)
    assert not path.parent.exists()


def test_an_empty_file_is_a_book_to_be_made(tmp_path):
    path = tmp_path / "book.db"
    path.touch()
    with pytest.raises(BookError, match="no book here"):
        open_book(path, create=False)
    open_book(path).close()
    open_book(path, create=False).close()


def test_a_file_made_by_another_program_meanwhile_is_left_as_it_is(tmp_path):
    path = tmp_path / "book.db"
    path.write_text("theirs")
    place.create_private(path, exist_ok=True)
    with pytest.raises(FileExistsError):
        place.create_private(path)
    assert path.read_text() == "theirs"


def test_a_link_to_a_book_is_followed(shop, path, tmp_path):
    link = tmp_path / "link.db"
    link.symlink_to(path)
    with open_book(link) as book:
        assert book.path == path.resolve()
        assert len(book.heads()) == 2


def test_a_link_to_nothing_makes_nothing(tmp_path):
    link = tmp_path / "link.db"
    link.symlink_to(tmp_path / "elsewhere.db")
    with pytest.raises(BookError, match="leads to no file"):
        open_book(link)
    assert not (tmp_path / "elsewhere.db").exists()
    (tmp_path / "ring").symlink_to(tmp_path / "ring")
    with pytest.raises(BookError, match="leads to no file"):
        open_book(tmp_path / "ring")


def test_what_is_no_regular_file_is_no_book(tmp_path):
    with pytest.raises(BookError, match="a folder, not a book"):
        open_book(tmp_path)
    (tmp_path / "link").symlink_to(tmp_path)
    with pytest.raises(BookError, match="a folder, not a book"):
        open_book(tmp_path / "link")
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(BookError, match="device, pipe or socket"):
        open_book(tmp_path / "pipe")
    with socket.socket(socket.AF_UNIX) as door:
        before = Path.cwd()
        os.chdir(tmp_path)  # a socket's path may only be short
        try:
            door.bind("door")
        finally:
            os.chdir(before)
        with pytest.raises(BookError, match="device, pipe or socket"):
            open_book(tmp_path / "door")


@pytest.mark.parametrize("name", ["x\0y.db", "x" * 300, "file/book.db"])
def test_impossible_paths_are_told(tmp_path, name):
    (tmp_path / "file").touch()
    with pytest.raises(BookError):
        open_book(tmp_path / name)


@pytest.mark.parametrize("name", ["a?mode=memory", "a#b", "a%41", "50 %", "pumpe-ü", "-journal"])
def test_names_that_mean_something_in_an_address_are_only_names(tmp_path, name):
    with open_book(tmp_path / name) as book:
        book.append("pump", "head", {})
    assert [p.name for p in tmp_path.iterdir()] == [name]
    with open_book(tmp_path / name, create=False) as book:
        assert book.has_head("pump")


def foreign_database(path):
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("CREATE TABLE entry (x)")


def text_file(path):
    path.write_text("shims: two, front\n" * 100)


def one_byte(path):
    path.write_bytes(b"S")


@pytest.mark.parametrize("make", [foreign_database, text_file, one_byte])
def test_a_file_that_is_no_book_is_left_as_it_is(tmp_path, make):
    path = tmp_path / "book.db"
    make(path)
    before = path.read_bytes()
    with pytest.raises(BookError, match="not a book"):
        open_book(path)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["book.db"]


def test_a_foreign_database_with_an_unfinished_transaction_is_no_book_either(tmp_path):
    path = tmp_path / "book.db"
    foreign_database(path)
    (tmp_path / "book.db-journal").touch()
    with pytest.raises(BookError, match="not a book"):
        open_book(path)


def test_a_book_whose_making_was_cut_off_is_made_anew(tmp_path):
    """Half a first transaction on the disk, with its journal: as a power cut leaves it."""
    half, path = tmp_path / "half.db", tmp_path / "book.db"
    half.touch(mode=0o600)
    path.touch(mode=0o600)
    with closing(sqlite3.connect(half, isolation_level=None)) as connection:
        connection.execute("PRAGMA cache_size = 1")
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("CREATE TABLE entry (x)")
        connection.execute("INSERT INTO entry SELECT randomblob(3000) FROM json_each('[1,2,3,4,5,6,7,8,9]')")
        path.write_bytes(half.read_bytes())
        Path(f"{path}-journal").write_bytes(Path(f"{half}-journal").read_bytes())
        connection.execute("ROLLBACK")
    assert path.stat().st_size > 0
    with open_book(path) as book:
        book.append("pump", "head", {})
        assert book.check() == []


@pytest.mark.skipif(sys.platform == "win32", reason="permissions as POSIX has them")
@pytest.mark.parametrize(
    ("file_mode", "folder_mode", "reads"), [(0o444, 0o555, True), (0o644, 0o555, True), (0o000, 0o755, False)]
)
def test_without_the_right_to_write_a_book_is_read_and_nothing_recorded(
    as_stranger, file_mode, folder_mode, reads
):
    said = as_stranger(file_mode, folder_mode)
    if reads:
        assert said[0] == "1 head"
        assert "write-protected" in said[1] or "may not be opened" in said[1]
    else:
        assert "may not be opened" in said[0]


@pytest.fixture
def as_stranger(tmp_path_factory):
    """Open a book in another process as a user without rights; give the lines it said."""
    import shutil
    import subprocess
    import tempfile

    code = """
import os, sys
from pathlib import Path
from straighten.book import open_book, place
from straighten.errors import BookError
if os.getuid() == 0:
    os.setgid(65534), os.setuid(65534)
try:
    with open_book(Path(sys.argv[1])) as book:
        print(len(book.heads()), "head", flush=True)
        book.append("pump", "survey", {})
except BookError as error:
    print(error)
"""
    folder = Path(tempfile.mkdtemp())

    def run(file_mode, folder_mode):
        with open_book(folder / "book.db") as book:
            book.append("pump", "head", {})
        (folder / "book.db").chmod(file_mode)
        folder.chmod(folder_mode)
        root = Path(__file__).parents[2]
        command = [sys.executable, "-c", code, str(folder / "book.db")]
        done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=True)
        folder.chmod(0o700)
        (folder / "book.db").chmod(0o600)
        with open_book(folder / "book.db") as book:
            assert book.heads()[0].last == 1
            assert book.check() == []
        return done.stdout.splitlines()

    yield run
    shutil.rmtree(folder)
