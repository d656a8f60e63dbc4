"""The order of a head's entries follows from the entries alone; a fork is told until it is settled."""

import shutil
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from straighten.book import open_book
from straighten.book.rows import in_order
from straighten.errors import BadInput, BookError

START = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)


def clock_from(minutes):
    times = iter(START + timedelta(minutes=minutes + n * 10) for n in range(1000))
    return lambda: next(times)


@pytest.fixture
def apart(tmp_path):
    """A bench and a laptop with copies of one book, each carried on: survey and pass here, surveys there."""
    with open_book(tmp_path / "bench.db", clock=clock_from(0)) as book:
        book.append("pump", "head", {"name": "pump"})
        book.append("pump", "survey", {"n": 0})
    shutil.copy(tmp_path / "bench.db", tmp_path / "laptop.db")
    with (
        open_book(tmp_path / "bench.db", clock=clock_from(100)) as bench,
        open_book(tmp_path / "laptop.db", clock=clock_from(105)) as laptop,
    ):
        for n in (1, 3):
            bench.append("pump", "survey", {"n": n})
        for n in (2, 4):
            laptop.append("pump", "survey", {"n": n})
        yield bench, laptop


def told(book):
    return [e.record.get("n") for e in book.entries("pump", "survey")]


def test_two_merged_books_give_the_same_order_whichever_took_in_the_other(apart):
    bench, laptop = apart
    assert bench.merge(laptop.path).forked == ("pump",)
    assert laptop.merge(bench.path).forked == ("pump",)
    assert told(bench) == told(laptop) == [0, 1, 2, 3, 4]
    assert bench.latest("pump", "survey").digest == laptop.latest("pump", "survey").digest
    assert [e.number for e in bench.entries("pump")] != [e.number for e in laptop.entries("pump")]
    assert bench.heads()[0].last_at == laptop.heads()[0].last_at == bench.latest("pump", "survey").at
    assert bench.check() == laptop.check() == []


def test_other_heads_teach_in_the_same_order_in_merged_books(tmp_path, outcome):
    names = {"one": "ab", "two": "cd"}
    for book_name, heads in names.items():
        with open_book(
            tmp_path / f"{book_name}.db", clock=clock_from(0 if book_name == "one" else 5)
        ) as book:
            for head in heads:
                book.append(head, "head", {})
                book.append(head, "pass", {"outcome": outcome(1).to_plain()})
    with open_book(tmp_path / "one.db") as one, open_book(tmp_path / "two.db") as two:
        one.merge(two.path)
        two.merge(one.path)
        for asked in ({"family": "Al-Si-Mg", "source": "torch"}, {"newest": 2}, {"every_pass": True}):
            assert [o.head for o in one.outcomes(**asked)] == [o.head for o in two.outcomes(**asked)]
        assert [o.head for o in one.outcomes()] == ["d", "b", "c", "a"]


def test_a_fork_is_told_until_it_is_settled_also_after_the_lines_were_joined(apart):
    bench, laptop = apart
    assert bench.open_lines("pump") == ()
    bench.merge(laptop.path)
    lines = bench.open_lines("pump")
    assert [[bench.entry(n).record["n"] for n in line] for line in lines] == [[1, 3], [2, 4]]
    joined = bench.append("pump", "plan", {})
    assert len(joined.previous) == 2
    assert bench.open_lines("pump") == lines
    settled = bench.settle("pump")
    assert settled.record == {"lines": [list(line) for line in lines], "kept": None}
    assert bench.open_lines("pump") == ()
    assert told(bench) == [0, 1, 2, 3, 4]
    with pytest.raises(BadInput, match="one line"):
        bench.settle("pump")
    laptop.merge(bench.path)
    assert laptop.open_lines("pump") == ()
    assert laptop.check() == []


def test_one_line_may_be_kept_and_the_others_are_struck(apart):
    bench, laptop = apart
    bench.merge(laptop.path)
    keep = bench.open_lines("pump")[1][0]
    with pytest.raises(BadInput, match="no line holds"):
        bench.settle("pump", keep=1)
    bench.settle("pump", keep=keep)
    assert told(bench) == [0, 2, 4]
    assert bench.open_lines("pump") == ()
    struck = [e for e in bench.entries("pump", "survey", struck=True) if e.struck_by is not None]
    assert [e.record["n"] for e in struck] == [1, 3]
    assert bench.check() == []


def test_a_later_fork_is_told_although_an_earlier_one_is_settled(apart):
    bench, laptop = apart
    bench.merge(laptop.path)
    bench.settle("pump")
    laptop.append("pump", "survey", {"n": 5})
    assert bench.merge(laptop.path).forked == ("pump",)
    laptop.merge(bench.path)
    assert bench.open_lines("pump") != ()
    assert told(bench) == told(laptop)
    bench.settle("pump")
    assert bench.open_lines("pump") == ()


def test_a_fork_whose_one_line_was_struck_is_none(apart):
    bench, laptop = apart
    bench.merge(laptop.path)
    for number in bench.open_lines("pump")[0]:
        bench.strike(number, "a try on the other machine")
    assert bench.open_lines("pump") == ()


@pytest.mark.parametrize(
    ("statements", "found"),
    [
        (["DELETE FROM entry WHERE number = 3"], "entry 3 is missing"),
        (["DELETE FROM entry WHERE number = 4"], "entry 4 is missing"),
        (
            ["DELETE FROM entry WHERE number = 3", "INSERT INTO lost VALUES (3, NULL, 'now')"],
            "the entry before it",
        ),
    ],
)
def test_a_missing_entry_is_refused_when_it_is_read(apart, harm, statements, found):
    bench, _ = apart
    bench.close()
    harm(bench.path, *statements)
    with open_book(bench.path) as book, pytest.raises(BookError, match=found):
        book.entries("pump")


@given(
    st.lists(st.tuples(st.lists(st.integers(0, 30), max_size=3), st.integers(0, 9)), max_size=20),
    st.randoms(),
)
def test_the_order_is_the_same_however_the_entries_lie_and_none_comes_before_one_it_follows(made, rng):
    links = {
        f"{n:02}": ([f"{before % n:02}" for before in follows if n], f"T{at}")
        for n, (follows, at) in enumerate(made)
    }
    found = in_order(links)
    shuffled = list(links.items())
    rng.shuffle(shuffled)
    assert in_order(dict(shuffled)) == found
    assert sorted(found) == sorted(links)
    for seal, (previous, _) in links.items():
        assert all(found.index(before) < found.index(seal) for before in previous)
