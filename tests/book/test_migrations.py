import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from straighten.book import migrations, open_book, place, rows
from straighten.book.records import KINDS
from straighten.book.seals import Sealed, text_of
from straighten.errors import BookError

THE_FIRST = migrations.STEPS[:1]


def old_book(path, outcome):
    """A book as the first version made it, with two passes, one of them struck."""
    path.parent.mkdir(exist_ok=True)
    place.create_private(path)
    with closing(place.connect(path, patience=0)) as connection:
        migrations.bring_up_to_date(connection, path, THE_FIRST)
        head = rows.new_head("pump", "2026-01-01T00:00:00.000Z")
        rows.add_head(connection, head)

        def append(kind, record):
            draft = Sealed(
                head=head.uid, kind=kind, schema=KINDS[kind], at="2026-01-01T00:00:00.000Z", clock_back=False,
                version="0.0.1", previous=(), inputs=(), record=text_of(record),
            )  # fmt: skip
            sealed = rows.follow(connection, draft)
            rows.add_entry(connection, sealed)
            return sealed.digest

        append("head", {"name": "pump"})
        append("pass", {"outcome": outcome(1, kept=(0.3, 0.1)).to_plain()})
        slipped = append("pass", {"outcome": outcome(2, kept=(0.9, 0.1)).to_plain()})
        append("strike", {"struck_number": 3, "struck_sha256": slipped, "reason": "slipped"})


def test_a_book_of_the_first_version_is_copied_and_brought_up_to_date(path, outcome):
    old_book(path, outcome)
    before = path.read_bytes()
    with open_book(path) as book:
        assert book.copy == path.with_name("book.db.before-version-2")
        assert [e.kind for e in book.entries("pump")] == ["head", "pass", "strike"]
        assert book.outcomes()[0].factors["kept"] == (0.3, 0.1)
        assert book.check() == []
        book.append("pump", "pass", {"outcome": outcome(3, kept=(0.5, 0.1)).to_plain()})
        assert book.outcomes()[0].factors["kept"] == (0.5, 0.1)
    with closing(place.connect(book.copy, patience=0, mode="ro")) as copy:
        assert migrations.version_of(copy) == 1
        assert copy.execute("SELECT count(*) FROM entry").fetchone()[0] == 4
    assert book.copy.stat().st_mode & 0o777 == 0o600
    assert len(book.copy.read_bytes()) == len(before)
    with open_book(path) as again:
        assert again.copy is None


def test_a_book_of_the_second_version_loses_its_tables_of_copies_and_no_entry(path, shop, clock):
    """`version_2.sql` is the dump of a book that the program of that version wrote: the shop of `fill`."""
    old = path.with_name("old.db")
    with closing(sqlite3.connect(old)) as connection:
        connection.executescript(Path(__file__).with_name("version_2.sql").read_text(encoding="utf-8"))
        assert {"struck", "outcome", "learned"} < migrations.tables_of(connection).keys()
    old.chmod(0o600)
    with open_book(old) as book:
        assert book.copy == path.with_name("old.db.before-version-3")
        assert book.check() == []
        for name in ("pump-four", "saw-six"):
            there, fresh = book.entries(name, struck=True), shop.entries(name, struck=True)
            assert [(e.number, e.kind, e.at, e.struck_by) for e in there] == [
                (e.number, e.kind, e.at, e.struck_by) for e in fresh
            ]
        assert [o.pass_number for o in book.outcomes(family="Al-Si-Mg", source="torch")] == [2]


def test_each_step_is_noted_with_its_name(book):
    found = book._connection.execute("SELECT version, name FROM migration ORDER BY version").fetchall()
    assert [tuple(row) for row in found] == [
        (1, "m001_heads_and_entries"),
        (2, "m002_outcomes"),
        (3, "m003_entries_alone"),
    ]
    assert migrations.version_of(book._connection) == 3 == len(migrations.STEPS)
    assert book._connection.execute("PRAGMA application_id").fetchone()[0] == 0x53747274
    assert book.copy is None


def test_an_earlier_copy_is_not_written_over(path, outcome):
    old_book(path, outcome)
    path.with_name("book.db.before-version-2").write_text("mine")
    path.with_name("book.db.before-version-2-2").symlink_to("nowhere")
    with open_book(path) as book:
        assert book.copy.name == "book.db.before-version-2-3"
    assert path.with_name("book.db.before-version-2").read_text() == "mine"


def test_a_step_that_fails_changes_nothing(path, outcome):
    def m002_broken(connection):
        connection.execute("CREATE TABLE half (x)")
        raise sqlite3.OperationalError("no")

    old_book(path, outcome)
    with closing(place.connect(path, patience=0)) as connection:
        before = migrations.tables_of(connection)
        with pytest.raises(BookError):
            migrations.bring_up_to_date(connection, path, (*THE_FIRST, m002_broken))
        assert migrations.version_of(connection) == 1
        assert migrations.tables_of(connection) == before
    assert path.with_name("book.db.before-version-2").exists()


def test_without_room_for_the_copy_nothing_is_changed(path, outcome, monkeypatch):
    def no_room(path, **how):
        raise sqlite3.OperationalError("database or disk is full")

    old_book(path, outcome)
    before = path.read_bytes()
    with closing(place.connect(path, patience=0)) as connection:
        monkeypatch.setattr(place, "connect", no_room)
        with pytest.raises(BookError, match=r"before-version-2: .*full"):
            migrations.bring_up_to_date(connection, path)
    assert path.read_bytes() == before
    assert [p.name for p in path.parent.iterdir()] == ["book.db"]


@pytest.mark.parametrize("version", [4, 99])
def test_a_newer_book_is_refused_and_not_a_byte_of_it_changed(shop, path, version, tmp_path):
    shop.close()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")  # whatever the newer program does with it
        connection.execute(f"PRAGMA user_version = {version}")
    before, when = path.read_bytes(), path.stat().st_mtime_ns
    with open_book(tmp_path / "mine.db") as mine:
        for attempt in (open_book, mine.merge):
            with pytest.raises(BookError, match=f"version {version}, this program knows versions up to 3"):
                attempt(path)
    assert (path.read_bytes(), path.stat().st_mtime_ns) == (before, when)
    assert [p.name for p in path.parent.iterdir()] == ["book.db"]


def test_a_book_that_becomes_newer_while_one_waits_is_refused(book, path):
    book._connection.execute("PRAGMA user_version = 4")
    with pytest.raises(BookError, match="version 4"):
        migrations.bring_up_to_date(book._connection, path)


def test_of_two_programs_that_bring_a_book_up_to_date_one_takes_the_step(path, outcome, monkeypatch):
    """The other is overtaken between its look at the version and its turn to write."""
    turn = place.transaction

    def overtaken(connection, where):
        monkeypatch.setattr(place, "transaction", turn)
        with closing(place.connect(path, patience=0)) as faster:
            copies.append(migrations.bring_up_to_date(faster, path))
        return turn(connection, where)

    old_book(path, outcome)
    copies = []
    with closing(place.connect(path, patience=0)) as slower:
        monkeypatch.setattr(place, "transaction", overtaken)
        copies.append(migrations.bring_up_to_date(slower, path))
    assert copies == [path.with_name("book.db.before-version-2"), None]
    with open_book(path) as book:
        assert book.check() == []
