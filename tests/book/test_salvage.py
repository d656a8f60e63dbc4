import os
import resource
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from straighten.book import open_book, place, rescue, salvage
from straighten.errors import BadInput, BookError

PAGE = 4096


def all_of(path):
    with open_book(path) as book:
        return {e.number: e for line in book.heads() for e in book.entries(line.name, struck=True)}


def spoil(path, page, data=b"\xa5"):
    with path.open("r+b") as file:
        file.seek(page * PAGE)
        file.write((data * PAGE)[:PAGE])


@pytest.fixture
def big(book, fill, path):
    """A shop with enough in it for inner pages in every tree."""
    fill(book)
    with book.together():
        for place_ in range(120):
            book.append(
                "saw-six",
                "bench",
                {"answer": place_, "text": "gap 0.05 goes, 0.08 does not; " * (place_ % 40)},
            )
    book.close()
    return path


def test_a_sound_book_is_rescued_whole(big, tmp_path):
    report = rescue(big, tmp_path / "new" / "fresh.db")
    assert report.complete
    assert (report.heads, report.entries, report.bad_pages) == (2, 127, 0)
    assert all_of(tmp_path / "new" / "fresh.db") == all_of(big)
    with open_book(tmp_path / "new" / "fresh.db") as book:
        assert book.check() == []
        assert book.append("saw-six", "bench", {}).number == 128
    assert [p.name for p in (tmp_path / "new").iterdir()] == ["fresh.db"]


def test_whatever_page_is_lost_only_its_own_entries_are_and_a_copy_brings_them_back(big, tmp_path):
    before = all_of(big)
    pages = big.stat().st_size // PAGE
    assert pages > 40
    for page in range(0, pages, 3):
        spoilt, fresh = tmp_path / f"{page}.db", tmp_path / f"fresh-{page}.db"
        shutil.copy(big, spoilt)
        spoil(spoilt, page)
        report = rescue(spoilt, fresh)
        kept = all_of(fresh)
        assert all((e.digest, e.record) == (before[n].digest, before[n].record) for n, e in kept.items()), (
            page
        )
        assert kept.keys() | set(report.lost) | {d.number for d in report.doubtful} == before.keys(), page
        assert len(before) - len(kept) <= 20, page
        with open_book(fresh) as book:
            assert book.check() == [], page
            book.merge(big)
            assert book.check() == [], page
        if not report.nameless:
            assert all_of(fresh) == before, page


def test_a_destroyed_header_costs_no_entry_but_those_on_its_page(big, tmp_path):
    before = all_of(big)
    with big.open("r+b") as file:
        file.write(bytes(100))
    report = rescue(big, tmp_path / "fresh.db")
    assert report.complete
    assert all_of(tmp_path / "fresh.db") == before


def test_a_changed_figure_is_shown_and_left_out(big, tmp_path):
    whole = big.read_bytes()
    place_ = whole.index(b'"gaps_mm":[0.05')
    big.write_bytes(whole[: place_ + 13] + b"9" + whole[place_ + 14 :])
    report = rescue(big, tmp_path / "fresh.db")
    assert [(d.number, d.kind) for d in report.doubtful] == [(2, "survey")]
    assert "0.95" in report.doubtful[0].record
    assert not report.complete
    assert report.lost == ()
    assert 2 not in all_of(tmp_path / "fresh.db")
    with open_book(tmp_path / "fresh.db") as book:
        assert book.check() == []
        assert book.latest("pump-four", "plan").inputs == (
            1,
        )  # its survey is gone, and it says so by its seals


def test_a_struck_entry_that_comes_back_later_is_struck_still(big, tmp_path):
    before = all_of(big)
    copy = tmp_path / "copy.db"
    shutil.copy(big, copy)
    whole = big.read_bytes()
    place_ = whole.index(b'"measured_set_mm":0.1,"pass":1')
    big.write_bytes(whole[: place_ + 20] + b"9" + whole[place_ + 21 :])
    assert [d.number for d in rescue(big, tmp_path / "fresh.db").doubtful] == [4]
    with open_book(tmp_path / "fresh.db") as book:
        assert book.merge(copy).entries == 1
        assert book.entry(4).struck_by == 7
        assert [o.pass_number for o in book.outcomes(every_pass=True)] == [2]
        assert book.check() == []
    assert all_of(tmp_path / "fresh.db") == before


def test_what_was_lost_is_handed_on_with_the_head_and_comes_back_at_the_end_elsewhere(big, tmp_path):
    copy = tmp_path / "copy.db"
    shutil.copy(big, copy)
    whole = big.read_bytes()
    place_ = whole.index(b'"gaps_mm":[0.05')
    big.write_bytes(whole[: place_ + 13] + b"9" + whole[place_ + 14 :])
    rescue(big, tmp_path / "fresh.db")
    with open_book(tmp_path / "fresh.db") as fresh, open_book(tmp_path / "third.db") as third:
        third.import_plain(fresh.export_plain("pump-four"))
        assert third.check() == []
        assert len(third.entries("pump-four", struck=True)) == 5


def test_a_second_rescue_does_not_count_the_first_ones_losses(big, tmp_path):
    spoil(big, big.stat().st_size // PAGE - 1)
    first = rescue(big, tmp_path / "one.db")
    assert first.lost
    second = rescue(tmp_path / "one.db", tmp_path / "two.db")
    assert second.complete
    assert all_of(tmp_path / "two.db") == all_of(tmp_path / "one.db")
    with open_book(tmp_path / "two.db") as book:
        assert book.check() == []


def page_with(path, text):
    """Return the page of a table leaf that holds a text."""
    whole = path.read_bytes()
    return next(
        page for page in range(1, len(whole) // PAGE)
        if whole[page * PAGE] == 0x0D and text in whole[page * PAGE : (page + 1) * PAGE]
    )  # fmt: skip


def test_heads_whose_rows_are_gone_are_named_by_their_head_files(book, path, tmp_path):
    book.append("pump-four", "head", {"name": "pump-four"})
    book.append("saw-six", "head", {"name": ["odd"]})
    book.append("mill-two", "head", {"name": "mill-two"})
    uids = {name: book.export_plain(name)["head"]["uid"] for name in ("pump-four", "saw-six", "mill-two")}
    book.append("mill-two", "head", {"name": "mill-2"})
    book.close()
    heads = page_with(path, b"saw-six" + uids["saw-six"].encode()[:0])
    spoil(path, heads)
    report = rescue(path, tmp_path / "fresh.db")
    assert set(report.nameless) == {"pump-four", f"rescued {uids['saw-six']}", "mill-2"}
    assert (report.heads, report.entries, report.lost) == (3, 4, ())
    with open_book(tmp_path / "fresh.db") as fresh:
        assert fresh.check() == []
        assert [e.record for e in fresh.entries("mill-2")] == [{"name": "mill-two"}, {"name": "mill-2"}]


def test_a_head_without_its_head_file_is_named_by_its_number(book, path, tmp_path):
    book.append("pump-four", "head", {"name": "a name found nowhere else", "text": "y" * 3000})
    survey = book.append("pump-four", "survey", {"n": 1, "text": "x" * 3000})
    uid = book.export_plain("pump-four")["head"]["uid"]
    book.close()
    whole = path.read_bytes()
    path.write_bytes(whole.replace(b"a name found nowhere else", b"A NAME FOUND NOWHERE ELSE"))
    spoil(path, page_with(path, b"pump-fourpump-four"))
    report = rescue(path, tmp_path / "fresh.db")
    assert report.nameless == (f"rescued {uid}",)
    with open_book(tmp_path / "fresh.db") as fresh:
        assert fresh.entry(2).digest == survey.digest
        assert fresh.check() == []


def test_heads_of_which_nothing_is_left_are_named(book, path, tmp_path):
    book.append("pump-four", "head", {"name": "pump-four"})
    book.append("saw-six", "head", {"note": "only this"})
    book.close()
    path.write_bytes(path.read_bytes().replace(b"only this", b"only that"))
    report = rescue(path, tmp_path / "fresh.db")
    assert report.empty == ("saw-six",)
    assert [d.number for d in report.doubtful] == [2]
    with open_book(tmp_path / "fresh.db") as fresh:
        assert [line.name for line in fresh.heads()] == ["pump-four"]
        assert fresh.check() == []


def cut_off(path, tmp_path):
    """A copy of a book as a power cut leaves it in the middle of a transaction, with the journal that undoes it."""
    torn = tmp_path / "torn" / "book.db"
    torn.parent.mkdir()
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA cache_size = 1")
        connection.execute("BEGIN IMMEDIATE")
        connection.execute(
            "INSERT INTO lost SELECT value, NULL, printf('%2000d', value) FROM json_each('[901,902,903,904,905,906,907,908]')"
        )
        connection.execute("UPDATE migration SET name = 'torn'")
        shutil.copy(path, torn)
        shutil.copy(f"{path}-journal", f"{torn}-journal")
        connection.execute("ROLLBACK")
    return torn


def test_an_unfinished_transaction_is_undone_in_a_copy(big, tmp_path):
    before = all_of(big)
    torn = cut_off(big, tmp_path)
    was = torn.read_bytes()
    assert was != big.read_bytes()
    report = rescue(torn, tmp_path / "fresh.db")
    assert report.complete
    assert all_of(tmp_path / "fresh.db") == before
    assert torn.read_bytes() == was
    assert Path(f"{torn}-journal").exists()
    assert all_of(torn) == before  # and the program itself undoes it when it opens the book


def test_a_torn_book_is_not_merged_before_it_is_opened(big, tmp_path):
    torn = cut_off(big, tmp_path)
    with open_book(tmp_path / "mine.db") as mine:
        with pytest.raises(BookError, match="stopped in the middle"):
            mine.merge(torn)
        open_book(torn).close()
        assert mine.merge(torn).entries == 127


def test_a_journal_that_makes_no_sense_does_no_harm(big, tmp_path):
    before = all_of(big)
    Path(f"{big}-journal").write_bytes(os.urandom(5000))
    assert rescue(big, tmp_path / "fresh.db").complete
    assert all_of(tmp_path / "fresh.db") == before


def test_what_is_there_is_not_written_over(big, tmp_path):
    (tmp_path / "fresh.db").symlink_to("nowhere")
    with pytest.raises(BadInput, match="a file here already"):
        rescue(big, tmp_path / "fresh.db")


def test_where_nothing_is_left_it_says_so_and_makes_nothing(tmp_path):
    (tmp_path / "book.db").write_bytes(bytes(PAGE * 5))
    with pytest.raises(BookError, match="nothing of a book"):
        rescue(tmp_path / "book.db", tmp_path / "fresh.db")
    with pytest.raises(BookError, match="no book here"):
        rescue(tmp_path / "missing.db", tmp_path / "fresh.db")
    assert [p.name for p in tmp_path.iterdir()] == ["book.db"]


@pytest.mark.parametrize("place_", [16, 17, 20, 60, 63])
@pytest.mark.parametrize("value", [0, 2, 9, 255])
def test_a_byte_of_the_header_costs_no_entry(big, tmp_path, place_, value):
    """Source: SQLite, Database File Format, section 1.3: 16 size of pages, 20 reserved bytes, 60 the program's version."""
    before = all_of(big)
    spoilt = bytearray(big.read_bytes())
    spoilt[place_] = value
    big.write_bytes(spoilt)
    assert rescue(big, tmp_path / "fresh.db").complete
    assert all_of(tmp_path / "fresh.db") == before


def test_a_book_with_pages_of_another_size_is_rescued(big, tmp_path):
    before = all_of(big)
    with closing(sqlite3.connect(big)) as connection:
        connection.execute("PRAGMA page_size = 1024")
        connection.execute("VACUUM")
    spoilt = bytearray(big.read_bytes())
    spoilt[16:18] = b"\x20\x00"  # and the header tells a third size
    big.write_bytes(spoilt)
    assert rescue(big, tmp_path / "fresh.db").complete
    assert all_of(tmp_path / "fresh.db") == before


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE head SET name = 'pump-fuor' WHERE name = 'pump-four'",
        "UPDATE head SET given = 'pump-fuor' WHERE name = 'pump-four'",
        "UPDATE head SET name = 'pump' || char(7) WHERE name = 'pump-four'",
        "UPDATE head SET opened_at = 'then' WHERE name = 'pump-four'",
        "UPDATE head SET given = 'x', name = 'y' WHERE name = 'pump-four'",
        "UPDATE entry SET number = 4611686018427387900 WHERE number = 120",
        "UPDATE entry SET number = 100000 WHERE number = 2",
    ],
)
def test_a_rescued_book_passes_its_own_check(big, tmp_path, harm, statement):
    before = {e.digest: e.record for e in all_of(big).values()}
    harm(big, statement)
    assert rescue(big, tmp_path / "fresh.db").heads == 2
    with open_book(tmp_path / "fresh.db") as book:
        assert book.check() == []
        assert "pump-four" in [line.name for line in book.heads()]
    assert {e.digest: e.record for e in all_of(tmp_path / "fresh.db").values()} == before


def test_a_rescue_for_which_there_is_no_room_leaves_no_empty_file(big, tmp_path):
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, hard))
    try:
        with pytest.raises(BookError, match="full"):
            rescue(big, tmp_path / "fresh.db")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert not (tmp_path / "fresh.db").exists()


def test_a_rescue_that_fails_leaves_no_half_book(big, tmp_path, monkeypatch):
    def no_room(connection, finds):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(salvage, "_fill", no_room)
    with pytest.raises(BookError, match="full"):
        rescue(big, tmp_path / "fresh.db")
    assert not (tmp_path / "fresh.db").exists()


def test_a_damaged_count_does_not_make_losses_up(big, tmp_path, harm):
    harm(big, f"UPDATE sqlite_sequence SET seq = {2**60}")
    report = rescue(big, tmp_path / "fresh.db")
    assert report.lost[0] == 128
    assert len(report.lost) < 16 * big.stat().st_size // PAGE + 1


def test_of_two_entries_on_one_number_the_one_that_others_follow_is_kept(big, tmp_path):
    """As after a restored page: an entry that was undone, and the one that took its number."""
    finds = salvage._search(big)
    number, kept = finds.entries[all_of(big)[3].digest]
    undone = replace(kept, record='{"undone":true}').closed()
    for order in ([undone, kept], [kept, undone]):
        finds.entries = {sealed.digest: (number, sealed) for sealed in order} | {
            digest: item for digest, item in finds.entries.items() if item[0] != number
        }
        assert salvage._one_per_number(finds)[3] == kept


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), min_size=1, max_size=30))
def test_whatever_bytes_are_spoilt_nothing_false_is_rescued(big, tmp_path_factory, spots):
    before = all_of(big)
    folder = tmp_path_factory.mktemp("rescue")
    spoilt = bytearray(big.read_bytes())
    for place_, value in spots:
        spoilt[int(place_ * len(spoilt))] = value
    (folder / "book.db").write_bytes(spoilt)
    rescue(folder / "book.db", folder / "fresh.db")
    kept = all_of(folder / "fresh.db")
    assert {(e.digest, str(e.record)) for e in kept.values()} <= {
        (e.digest, str(e.record)) for e in before.values()
    }
    with open_book(folder / "fresh.db") as book:
        assert book.check() == []
    assert place.journal_of(folder / "fresh.db").exists() is False
