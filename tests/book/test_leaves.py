"""Rows read off the pages, held against the rows that SQLite gives for files that SQLite wrote."""

import io
import sqlite3
import struct
from contextlib import closing

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from straighten.book.salvage import Leaves, columns, layouts, opened_leaves, varint

values = (
    st.none()
    | st.integers(-(2**63), 2**63 - 1)
    | st.sampled_from([0, 1, 127, 128, -129, 2**15, 2**23, 2**31, 2**47])
    | st.floats(allow_nan=False)
    | st.text()
    | st.binary()
)
sizes = st.sampled_from([512, 1024, 4096, 65536])


def written(path, page_size, table):
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA page_size = {page_size}")
        connection.execute("CREATE TABLE t (id INTEGER PRIMARY KEY, a, b)")
        connection.executemany("INSERT INTO t VALUES (?, ?, ?)", table)
        connection.commit()


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    sizes,
    st.dictionaries(
        st.integers(-(2**63), 2**63 - 1) | st.integers(0, 300), st.tuples(values, values), max_size=12
    ),
)
def test_every_row_that_sqlite_wrote_is_read(tmp_path_factory, page_size, rows):
    path = tmp_path_factory.mktemp("leaves") / "t.db"
    written(path, page_size, [(number, *row) for number, row in rows.items()])
    assert (page_size, 0) in layouts(path)
    with opened_leaves(path, page_size) as leaves:
        # SQLite keeps a number without a fraction as an integer in some columns; 1 == 1.0 either way
        found = {number: row[1:] for number, row in leaves.rows() if row[0] is None and len(row) == 3}
        assert leaves.bad_pages == set()
    # rowids are 64-bit two's complement; a book's are positive
    assert {number if number < 2**63 else number - 2**64: row for number, row in found.items()} == rows


@pytest.mark.parametrize("page_size", [512, 4096, 65536])
@pytest.mark.parametrize("length", [10, 400, 477, 478, 5000, 100_000, 300_000])
def test_long_rows_are_followed_over_their_pages(tmp_path, page_size, length):
    text = "".join(chr(0x61 + place % 26) for place in range(length))
    written(tmp_path / "t.db", page_size, [(1, text, 7), (2, "after", text.encode())])
    with opened_leaves(tmp_path / "t.db", page_size) as leaves:
        assert {number: row[1:] for number, row in leaves.rows() if len(row) == 3} == {
            1: (text, 7),
            2: ("after", text.encode()),
        }


def test_many_rows_over_many_leaves(tmp_path):
    written(tmp_path / "t.db", 512, [(number, "x" * 50, number) for number in range(1, 2001)])
    with opened_leaves(tmp_path / "t.db", 512) as leaves:
        assert sorted(row[2] for _, row in leaves.rows() if len(row) == 3) == list(range(1, 2001))


@pytest.mark.parametrize(
    ("told", "found"),
    [
        (b"\x02\x00\x01\x01\x00", [(4096, 0), (512, 0)]),
        (b"\x00\x01\x01\x01\x20", [(4096, 0), (65536, 32)]),
        (b"\x02\x00\x01\x01\xff", [(4096, 0), (512, 0)]),
        (b"\xff\xff\x00\x00\xff", [(4096, 0), (65536, 0)]),
    ],
)
def test_a_books_own_pages_are_tried_first_then_those_of_the_header_then_the_usual(tmp_path, told, found):
    written(tmp_path / "t.db", 4096, [(1, "a", 1)])
    spoilt = bytearray((tmp_path / "t.db").read_bytes())
    spoilt[16:21] = told
    (tmp_path / "t.db").write_bytes(spoilt)
    assert list(layouts(tmp_path / "t.db"))[:2] == found
    assert {size for size, _ in layouts(tmp_path / "t.db")} == {2**power for power in range(9, 17)}
    with opened_leaves(tmp_path / "t.db") as leaves:
        assert (1, (None, "a", 1)) in list(leaves.rows())


def test_a_file_cut_off_within_a_page_has_a_bad_page(tmp_path):
    written(tmp_path / "t.db", 4096, [(1, "a", 1)])
    whole = (tmp_path / "t.db").read_bytes()
    (tmp_path / "t.db").write_bytes(whole[:-100])
    with opened_leaves(tmp_path / "t.db") as leaves:
        assert [row for _, row in leaves.rows() if len(row) == 3] == []
        assert leaves.bad_pages == {2}


def test_a_page_that_the_disk_does_not_give_is_bad_and_the_next_one_read(tmp_path):
    written(tmp_path / "t.db", 4096, [(1, "a", 1)])
    whole = (tmp_path / "t.db").read_bytes()

    class Scratched(io.BytesIO):
        def read(self, length=-1):
            if self.tell() == 0:
                raise OSError("unreadable")
            return super().read(length)

    leaves = Leaves(file=Scratched(whole), page_size=4096, usable=4096, pages=2)
    assert list(leaves.rows()) == [(1, (None, "a", 1))]
    assert leaves.bad_pages == {1}


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), min_size=1, max_size=40))
def test_no_spoilt_file_makes_the_reading_stumble(tmp_path_factory, spots):
    path = tmp_path_factory.mktemp("leaves") / "t.db"
    written(path, 512, [(number, "x" * 700, number) for number in range(1, 6)])
    spoilt = bytearray(path.read_bytes())
    for place, value in spots:
        spoilt[int(place * len(spoilt))] = value
    path.write_bytes(spoilt)
    with opened_leaves(path, 512) as leaves:
        list(leaves.rows())


def test_a_row_whose_chain_is_broken_is_passed_over(tmp_path):
    written(tmp_path / "t.db", 512, [(1, "x" * 5000, 1), (2, "short", 2)])
    spoilt = bytearray((tmp_path / "t.db").read_bytes())
    for page in range(2, len(spoilt) // 512):
        spoilt[page * 512 : page * 512 + 4] = bytes(4)
    (tmp_path / "t.db").write_bytes(spoilt)
    with opened_leaves(tmp_path / "t.db", 512) as leaves:
        assert [number for number, row in leaves.rows() if len(row) == 3] == [2]
        assert leaves.bad_pages == {2}


def test_an_overflow_chain_that_runs_in_a_ring_ends(tmp_path):
    written(tmp_path / "t.db", 512, [(1, "x" * 5000, 1)])
    spoilt = bytearray((tmp_path / "t.db").read_bytes())
    for page in range(2, len(spoilt) // 512):
        spoilt[page * 512 : page * 512 + 4] = (3).to_bytes(4, "big")
    (tmp_path / "t.db").write_bytes(spoilt)
    with opened_leaves(tmp_path / "t.db", 512) as leaves:
        assert (
            len([row for _, row in leaves.rows() if len(row) == 3]) == 1
        )  # it ends; its seal would refuse it


def test_integers_of_variable_length():
    """SQLite, Database File Format, section 1.6: big-endian, seven bits a byte, the ninth byte whole (from memory)."""
    assert varint(b"\x05", 0) == (5, 1)
    assert varint(b"\x81\x00", 0) == (128, 2)
    assert varint(b"\xff" * 9, 0) == (2**64 - 1, 9)


@pytest.mark.parametrize(
    "payload", [b"", b"\x02\x0a", b"\x02\x0b", b"\x02\x1f", b"\x02\x07\x00", b"\x03\x0f"]
)
def test_records_that_make_no_sense_are_refused(payload):
    with pytest.raises((ValueError, LookupError, struct.error)):
        columns(payload)


def test_a_row_that_runs_over_the_end_of_its_page_is_passed_over():
    page = bytearray(512)
    page[0], page[3:5], page[8:10] = 0x0D, (1).to_bytes(2, "big"), (505).to_bytes(2, "big")
    page[505:] = b"\x40\x01\x02\x1f\x61\x61\x61"  # 64 bytes of payload promised, five are there
    leaves = Leaves(file=io.BytesIO(bytes(512) + page), page_size=512, usable=512, pages=2)
    assert list(leaves.rows()) == []
    assert leaves.bad_pages == {2}
