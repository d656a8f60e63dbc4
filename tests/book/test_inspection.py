import re
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from straighten.book import open_book, rows
from straighten.errors import BookError


def test_a_sound_book_has_no_faults(shop):
    assert shop.check() == []


@pytest.mark.parametrize(
    ("statement", "fault"),
    [
        ("UPDATE entry SET record = replace(record, '0.05', '0.06') WHERE number = 2", "entry 2: the entry does not match its seal"),
        ("UPDATE entry SET at = '2026-03-02T00:00:00.000Z' WHERE number = 3", "entry 3: the entry does not match its seal"),
        ("UPDATE entry SET previous = '1' WHERE number = 3", "entry 3: the entry does not match its seal"),
        ("DELETE FROM entry WHERE number = 2", "entry 2 is missing."),
        ("DELETE FROM entry WHERE number IN (2, 3)", "entries 2 to 3 are missing."),
        ("DELETE FROM entry WHERE number = 7", "entry 7 is missing."),
        ("DELETE FROM entry WHERE number = 2", "entry 3 follows an entry that is missing."),
        ("DELETE FROM entry WHERE number = 2", "entry 3 was computed from an entry that is missing."),
        ("DELETE FROM entry WHERE number = 5", "head saw-six has no entries."),
        ("DELETE FROM head WHERE name = 'saw-six'", "row 5 of entry belongs to a row of head that is missing."),
        ("UPDATE head SET given = 'saw-7', name = 'saw-7' WHERE name = 'saw-six'", "entry 5 follows an entry that is missing."),
        ("UPDATE head SET name = 'saw-7' WHERE name = 'saw-six'", "head saw-7 was opened as saw-six."),
        ("DROP INDEX entry_by_head", "entry_by_head is missing from the tables."),
        ("CREATE TABLE secret (x)", "secret is none of this program's tables."),
        ("UPDATE sqlite_sequence SET seq = 4611686018427387904", "entries 8 to 4611686018427387904 are missing."),
        ("DROP TABLE migration", "migration is missing from the tables."),
        ("UPDATE sqlite_sequence SET seq = '8 or so'", "entry 8 is missing."),
    ],
)  # fmt: skip
def test_what_was_changed_from_outside_is_found(shop, path, harm, statement, fault):
    shop.close()
    harm(path, statement)
    with open_book(path) as book:
        found = book.check()
    assert [problem for problem in found if fault in problem], found


def test_a_gap_that_sqlite_itself_would_not_see_is_found(shop, path, harm):
    """The last entry gone, and the count of entries put back to match: only the chain of the other head is whole."""
    shop.close()
    harm(
        path,
        "DELETE FROM entry WHERE number = 6",
        "UPDATE sqlite_sequence SET seq = 6",
        "UPDATE entry SET number = 6 WHERE number = 7",
    )
    with open_book(path) as book:
        assert "entry 6 follows an entry that is missing." in book.check()


def test_entries_put_in_another_order_are_found(shop, path, harm):
    shop.close()
    harm(path, "UPDATE entry SET number = 20 WHERE number = 2", "UPDATE entry SET number = 2 WHERE number = 3",
         "UPDATE entry SET number = 3 WHERE number = 20")  # fmt: skip
    with open_book(path) as book:
        assert "entry 2 follows entry 3, which came later." in book.check()


def test_an_entry_that_follows_nothing_is_found(shop, path, harm):
    seen = rows.look(shop._connection)
    ((number, sealed),) = rows.sealed_in(shop._connection, [5], seen.uid("saw-six"))
    loose = replace(sealed, previous=()).closed()
    shop.close()
    harm(path, f"UPDATE entry SET previous = '[]', digest = '{loose.digest}' WHERE number = {number}")
    with open_book(path) as book:
        assert book.check() == ["entry 5 follows nothing."]


def test_a_book_that_others_may_read_is_told(shop, path):
    path.chmod(0o640)
    assert shop.check() == ["other users may open the file; set its mode to 600."]


def test_a_file_that_is_gone_is_told(shop, path):
    path.unlink()
    with pytest.raises(BookError, match="missing"):
        shop.check()


def said(book):
    heads = [line.name for line in book.heads()]
    return (
        heads,
        [
            (e.digest, e.record, e.struck_by is None)
            for name in heads
            for e in book.entries(name, struck=True)
        ],
        [(o.head, o.factors) for o in book.outcomes(family="Al-Si-Mg", source="torch")],
    )


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(place=st.floats(0, 1, exclude_max=True), value=st.integers(1, 255))
def test_a_flipped_byte_is_refused_when_it_is_read_or_changes_nothing_that_is_said(shop, path, place, value):
    """Without a check of the book: what feeds a plan is proved when it is read. Numbers and the list of heads are not."""
    was = said(shop)
    whole = path.read_bytes()
    spoilt = bytearray(whole)
    spoilt[int(place * len(whole))] ^= value
    path.write_bytes(spoilt)
    try:
        with open_book(path) as book:
            assert said(book) == was
    except BookError:
        pass
    finally:
        path.write_bytes(whole)


@pytest.mark.parametrize("find", ["entry_by_head", "sqlite_autoindex_head_1", "sqlite_autoindex_head_2"])
def test_a_damaged_index_leaves_no_entry_out(shop, path, find):
    """A key of an index changed: SQLite that went by it would pass over the entry, and no seal would tell."""
    was = said(shop)
    roots = dict(shop._connection.execute("SELECT name, rootpage FROM sqlite_schema"))
    shop.close()
    spoilt = bytearray(path.read_bytes())
    page = slice((roots[find] - 1) * 4096, roots[find] * 4096)
    other = bytes.maketrans(b"0123456789abcdef", b"1032547698badcfe")  # a key of the index is a random number
    keys = re.sub(rb"[0-9a-f]{16,}", lambda key: key[0].translate(other), bytes(spoilt[page]))
    spoilt[page] = keys.replace(b"p", b"q")
    assert spoilt != path.read_bytes()
    path.write_bytes(spoilt)
    with open_book(path) as book:
        assert said(book) == was
        assert book.check() != []


def test_an_index_that_no_longer_fits_its_table_is_found(shop, path):
    seal = shop.entry(2).digest.encode()
    shop.close()
    whole = path.read_bytes()
    leaf = next(
        page
        for page in range(0, len(whole), 4096)
        if whole[page] == 0x0A and seal in whole[page : page + 4096]
    )
    place = whole.index(seal, leaf)
    path.write_bytes(whole[:place] + b"zzzz" + whole[place + 4 :])
    with open_book(path) as book:
        assert any(
            problem.startswith("the file is damaged: row 2 missing from index") for problem in book.check()
        )


def test_a_table_that_was_made_otherwise_is_found_and_what_it_lacks_told(shop, path, harm):
    shop.close()
    harm(path, "DROP TABLE lost", "CREATE TABLE lost (x)")
    with open_book(path) as book:
        found = book.check()
    assert "the definition of lost was changed." in found
    assert "the database answered: no such column: number." in found
