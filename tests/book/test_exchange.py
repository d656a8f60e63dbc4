import copy
import json
import shutil
from contextlib import suppress

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from straighten.book import MergeReport, open_book
from straighten.errors import BadInput, BookError


@pytest.fixture
def other(tmp_path):
    with open_book(tmp_path / "other.db") as opened:
        yield opened


def through_json(data):
    return json.loads(json.dumps(data))


def test_a_head_exported_and_imported_is_the_same_head(shop, other):
    data = through_json(shop.export_plain("pump-four"))
    assert other.import_plain(data) == MergeReport(heads=1, entries=6)
    assert other.export_plain("pump-four")["entries"][0] == data["entries"][0]
    ours, theirs = shop.entries("pump-four", struck=True), other.entries("pump-four", struck=True)
    assert [e.digest for e in theirs] == [e.digest for e in ours]
    assert [e.record for e in theirs] == [e.record for e in ours]
    assert [e.struck_by is None for e in theirs] == [e.struck_by is None for e in ours]
    assert [o.factors for o in other.outcomes()] == [o.factors for o in shop.outcomes()]
    assert other.check() == []


def test_importing_again_adds_nothing(shop, other):
    data = shop.export_plain("pump-four")
    other.import_plain(data)
    assert other.import_plain(data) == MergeReport()
    assert shop.import_plain(data) == MergeReport()


def test_inputs_point_to_the_numbers_of_the_book_they_are_in(shop, other):
    other.append("mill-two", "head", {})
    other.import_plain(shop.export_plain("pump-four"))
    assert other.latest("pump-four", "plan").inputs == (2, 3)


def test_merging_takes_every_head_and_doing_it_again_nothing(shop, other, path):
    other.append("mill-two", "head", {})
    before = path.read_bytes()
    assert other.merge(path) == MergeReport(heads=2, entries=7)
    assert other.merge(path) == MergeReport()
    assert [line.name for line in other.heads()] == ["mill-two", "pump-four", "saw-six"]
    assert other.outcomes()[0].pass_number == 2
    assert other.check() == []
    assert path.read_bytes() == before


def test_merging_both_ways_gives_both_the_same(shop, other, path):
    other.append("mill-two", "head", {})
    other.merge(path)
    shop.merge(other.path)
    for name in ("mill-two", "pump-four", "saw-six"):
        assert {e.digest for e in shop.entries(name)} == {e.digest for e in other.entries(name)}


def test_another_head_of_the_same_name_gets_a_number_behind_it(shop, other, path):
    other.append("pump-four", "head", {"text": "from another shop"})
    other.append("pump-four (2)", "head", {})
    report = other.merge(path)
    assert report.renamed == (("pump-four", "pump-four (3)"),)
    assert len(other.entries("pump-four")) == 1
    assert len(other.entries("pump-four (3)")) == 5
    assert other.merge(path) == MergeReport()
    assert other.check() == []


def test_copies_carried_on_apart_keep_both_lines_and_join_at_the_next_entry(shop, path, tmp_path):
    shop.close()
    shutil.copy(path, tmp_path / "laptop.db")
    with open_book(path) as bench, open_book(tmp_path / "laptop.db") as laptop:
        here = bench.append("pump-four", "survey", {"n": 1})
        there = laptop.append("pump-four", "survey", {"n": 2})
        assert here.previous == there.previous
        report = bench.merge(laptop.path)
        assert (report.entries, report.forked) == (1, ("pump-four",))
        assert [e.record for e in bench.entries("pump-four", "survey")[1:]] == [{"n": 1}, {"n": 2}]
        assert bench.check() == []
        joined = bench.append("pump-four", "plan", {})
        assert set(joined.previous) == {here.digest, there.digest}
        laptop.merge(bench.path)
        assert laptop.check() == []


def test_an_entry_struck_in_both_copies_is_struck_once(shop, path, tmp_path):
    shop.close()
    shutil.copy(path, tmp_path / "laptop.db")
    with open_book(path) as bench, open_book(tmp_path / "laptop.db") as laptop:
        bench.strike(3, "here")
        laptop.strike(3, "there")
        bench.merge(laptop.path)
        assert bench.entry(3).struck_by == 8
        assert bench.check() == []


def test_a_book_is_not_merged_into_itself(shop, path, tmp_path):
    (tmp_path / "link").symlink_to(path)
    with pytest.raises(BadInput, match="into itself"):
        shop.merge(tmp_path / "link")


def test_what_is_no_book_is_not_merged(shop, tmp_path):
    (tmp_path / "notes.db").write_text("bow 8 thou\n" * 50)
    for wrong in ("notes.db", "missing.db"):
        with pytest.raises(BookError, match="book"):
            shop.merge(tmp_path / wrong)


@pytest.mark.parametrize(
    ("statement", "found"),
    [
        (
            "UPDATE entry SET record = replace(record, '0.05', '0.5') WHERE number = 2",
            "does not match its seal",
        ),
        ("UPDATE entry SET previous = 'x' WHERE number = 2", "does not match its seal"),
        ("UPDATE head SET given = 'saw-six ' WHERE given = 'saw-six'", "does not match its seal"),
        ("UPDATE head SET given = 'saw-seven' WHERE given = 'saw-six'", "does not match its seal"),
        ("DELETE FROM entry WHERE number = 2", "entry 2 is missing"),
        ("DELETE FROM entry WHERE number = 7", "entry 7 is missing"),
        (
            "DELETE FROM entry WHERE head = (SELECT uid FROM head WHERE given = 'saw-six')",
            "entry 5 is missing",
        ),
    ],
)
def test_an_altered_book_is_not_merged_and_nothing_recorded(shop, other, path, harm, statement, found):
    shop.close()
    harm(path, statement)
    with pytest.raises(BookError, match=found):
        other.merge(path)
    assert other.heads() == []


def at(data, *way):
    for step in way[:-1]:
        data = data[step]
    return data, way[-1]


@pytest.mark.parametrize(
    ("way", "value", "found"),
    [
        (("schema",), "straighten/head-record/3", "is not the form"),
        (("schema",), 1, "no str"),
        (("head",), [], "no dict"),
        (("head", "uid"), "X" * 16, "16 hexadecimal"),
        (("head", "name"), "a\x00b", "cannot name"),
        (("head", "name"), "pump-five", "changed or cut short"),
        (("head", "opened_at"), "then", "no time"),
        (("entries",), [], "without entries"),
        (("entries",), {}, "no list"),
        (("entries", 1), None, "object is needed"),
        (("entries", 1, "number"), True, "no int"),
        (("entries", 1, "number"), 2**70, "out of range"),
        (("entries", 1, "schema"), 0, "out of range"),
        (("entries", 1, "kind"), "a b", "no word"),
        (("entries", 1, "version"), "\n", "no word"),
        (("entries", 1, "at"), "2026", "no time"),
        (("entries", 1, "previous"), [1], "64 hexadecimal"),
        (("entries", 1, "inputs"), ["x" * 64], "64 hexadecimal"),
        (("entries", 1, "record", "gaps_mm", 0), 0.06, "does not match its seal"),
        (("entries", 1, "record", "gaps_mm", 0), float("nan"), "cannot be kept"),
        (("entries", 3, "record", "outcome", "pass"), 0, "needs alloy_family"),
        (("entries", 1, "digest"), "0" * 64, "does not match its seal"),
        (("lost",), ["?"], "64 hexadecimal"),
    ],
    ids=str,
)
def test_an_object_of_another_form_is_refused_and_nothing_recorded(shop, other, way, value, found):
    data = copy.deepcopy(shop.export_plain("pump-four"))
    place, key = at(data, *way)
    place[key] = value
    with pytest.raises(BadInput, match=found):
        other.import_plain(data)
    assert other.heads() == []


@pytest.mark.parametrize("data", [None, 3, [], "text", {}])
def test_what_is_no_export_at_all_is_refused(book, data):
    with pytest.raises(BadInput):
        book.import_plain(data)


def test_an_entry_left_out_is_missed(shop, other):
    for gone in range(5):
        data = shop.export_plain("pump-four")
        del data["entries"][gone]
        with pytest.raises(BadInput, match="changed or cut short"):
            other.import_plain(data)
        del data["seal"]
        with pytest.raises(BadInput, match="missing from the chain"):
            other.import_plain(data | {"schema": "straighten/head-record/1"})


leaves = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=3)
junk = st.recursive(
    leaves,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
    max_leaves=5,
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_no_object_makes_the_import_stumble(shop, other, data):
    """Any part of an export put out of order: taken, or refused as bad input, never a fault of the program."""
    plain = shop.export_plain("pump-four")
    holder = plain
    while True:
        key = data.draw(
            st.sampled_from(sorted(holder)) if isinstance(holder, dict) else st.integers(0, len(holder) - 1)
        )
        if not isinstance(holder[key], dict | list) or not holder[key] or data.draw(st.booleans()):
            break
        holder = holder[key]
    holder[key] = data.draw(junk)
    with suppress(BadInput):
        other.import_plain(plain)
    assert other.check() == []
