import hashlib
import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from straighten import __version__
from straighten.book import KINDS, open_book
from straighten.errors import BadInput, BookError

scalars = (
    st.none()
    | st.booleans()
    | st.integers(-(2**63) + 1, 2**63 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text()
)
records = st.dictionaries(
    st.text().filter(lambda key: key != "outcome"), scalars | st.lists(scalars, max_size=3), max_size=5
)
kinds = st.sampled_from(sorted(KINDS.keys() - {"head", "strike"}))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(kinds, records), max_size=5))
def test_what_is_appended_comes_back_in_order(tmp_path_factory, written):
    path = tmp_path_factory.mktemp("book") / "book.db"
    with open_book(path) as book:
        given = [
            book.append("pump", "head", {"a": 1}),
            *(book.append("pump", kind, record) for kind, record in written),
        ]
    with open_book(path, create=False) as book:
        assert book.entries("pump") == given
        assert [(e.kind, e.record) for e in book.entries("pump")[1:]] == written
        assert book.check() == []


def test_an_entry_tells_when_by_which_program_in_which_form_and_from_what(shop):
    plan = shop.latest("pump-four", "plan")
    survey = shop.entry(2)
    assert (plan.at, plan.version, plan.schema) == ("2026-03-01T09:03:00.000Z", __version__, 1)
    assert plan.inputs == (1, 2)
    assert plan.previous == (survey.digest,)


def test_the_seal_is_the_sha256_of_what_the_entry_says(shop):
    """The recipe written out once more by hand: whoever has the file can check it without this program."""
    entry = shop.entry(3)
    uid = shop.export_plain("pump-four")["head"]["uid"]
    inputs = [shop.entry(number).digest for number in entry.inputs]
    record = json.dumps(entry.record, sort_keys=True, separators=(",", ":"))
    said = [
        "straighten entry",
        uid,
        "plan",
        1,
        entry.at,
        False,
        entry.version,
        list(entry.previous),
        inputs,
        record,
    ]
    assert entry.digest == hashlib.sha256(json.dumps(said, separators=(",", ":")).encode()).hexdigest()


def test_heads_have_chains_of_their_own(shop):
    uid = shop.export_plain("saw-six")["head"]
    said = ["straighten head", uid["uid"], "saw-six", uid["opened_at"]]
    root = hashlib.sha256(json.dumps(said, separators=(",", ":")).encode()).hexdigest()
    assert shop.latest("saw-six", "head").previous == (root,)


def test_struck_entries_are_hidden_but_kept(shop):
    assert [e.number for e in shop.entries("pump-four")] == [1, 2, 3, 6, 7]
    assert [e.number for e in shop.entries("pump-four", struck=True)] == [1, 2, 3, 4, 6, 7]
    assert [e.number for e in shop.entries("pump-four", "pass", struck=True)] == [4, 6]
    assert shop.entry(4).struck_by == 7
    assert shop.entry(7).record["reason"] == "a shim had slipped"


def test_latest_passes_over_what_was_struck(shop):
    shop.strike(6, "wrong head")
    assert shop.latest("pump-four", "pass") is None
    assert shop.latest("pump-four", "survey").number == 2


def test_a_strike_tells_what_was_computed_from_it(shop):
    assert [e.number for e in shop.computed_from(2)] == [3]
    assert [e.number for e in shop.computed_from(3)] == [6]


@pytest.mark.parametrize(
    ("number", "reason", "found"),
    [
        (4, "again", "struck already, by entry 7"),
        (7, "no", "a strike is not struck"),
        (1, "no", "only head file"),
        (2, "  ", "with a reason"),
        (99, "no", "no such entry"),
        (-1, "no", "no such entry"),
        (2**70, "no", "no such entry"),
    ],
)
def test_a_strike_that_makes_no_sense_is_refused_and_nothing_recorded(shop, number, reason, found):
    with pytest.raises(BadInput, match=found):
        shop.strike(number, reason)
    assert len(shop.entries("pump-four", struck=True)) == 6


def test_an_older_head_file_may_be_struck(shop):
    shop.append("pump-four", "head", {"name": "pump-four"})
    assert shop.strike(1, "length was wrong").inputs == (1,)


def test_the_list_of_heads_tells_where_each_one_stands(shop):
    four, six = shop.heads()
    assert (four.name, four.state, four.passes, four.last, four.last_kind) == (
        "pump-four",
        "passed",
        1,
        7,
        "strike",
    )
    assert (six.name, six.state, six.passes, six.last, six.opened_at) == (
        "saw-six",
        "opened",
        0,
        5,
        six.last_at,
    )


@pytest.mark.parametrize(
    ("kind", "state"),
    [("survey", "measured"), ("check", "checked"), ("plan", "planned"), ("tighten", "clamped"), ("pass", "passed"),
     ("decision", "decided"), ("sand", "sanded"), ("finish", "finished"), ("bench", "opened"), ("head", "opened")],
)  # fmt: skip
def test_each_kind_leads_to_its_state(shop, kind, state):
    number = shop.append("saw-six", kind, {}).number
    assert shop.heads()[1].state == state
    if kind not in ("head", "bench"):
        shop.strike(number, "undone")
        assert shop.heads()[1].state == "opened"


def test_an_unknown_head_is_refused_and_near_names_told(shop):
    with pytest.raises(BadInput) as caught:
        shop.append("pump-for", "survey", {})
    assert "pump-four" in caught.value.fix
    with pytest.raises(BadInput) as caught:
        shop.entries("?")
    assert caught.value.fix == "Known: saw-six, pump-four."
    assert not shop.has_head("?")
    assert shop.has_head("saw-six")


def test_an_empty_book_says_how_to_begin(book):
    with pytest.raises(BadInput, match="straighten new"):
        book.latest("pump", "plan")
    assert book.heads() == []


def test_faults_of_the_program_are_not_told_as_faults_of_the_person(shop):
    with pytest.raises(ValueError, match="guess"):
        shop.append("pump-four", "guess", {})
    with pytest.raises(ValueError, match="5"):
        shop.append("pump-four", "plan", {}, inputs=[1, 5])  # entry 5 is another head's


def test_a_record_that_cannot_be_kept_leaves_no_trace(book):
    with pytest.raises(BadInput):
        book.append("pump", "head", {"length_mm": float("nan")})
    assert book.heads() == []
    assert book.append("pump", "head", {}).number == 1


def test_an_entry_made_after_an_old_view_is_refused(shop):
    assert shop.append("saw-six", "survey", {}, after=5).number == 8
    with pytest.raises(BookError, match="another program recorded entry 8 meanwhile"):
        shop.append("saw-six", "plan", {}, after=5)
    assert shop.latest("saw-six", "plan") is None


def test_inputs_named_twice_count_once(shop):
    assert shop.append("pump-four", "plan", {}, inputs=[2, 1, 2]).inputs == (2, 1)


def test_a_clock_set_back_is_noted_and_changes_no_order(book, clock):
    book.append("pump", "head", {})
    clock.now = datetime(2020, 1, 1, tzinfo=UTC)
    back = book.append("pump", "survey", {"n": 1})
    after = book.append("pump", "survey", {"n": 2})
    assert (back.clock_back, after.clock_back) == (True, False)
    assert [e.number for e in book.entries("pump")] == [1, 2, 3]
    assert book.latest("pump", "survey").record == {"n": 2}
    assert book.entry(2) == back
    assert book.check() == []


def test_an_entry_may_be_given_its_time(book):
    book.append("pump", "head", {}, at="2026-03-01T10:00:00+01:00")
    assert book.latest("pump", "head").at == "2026-03-01T09:00:00.000Z"
    assert book.append("pump", "survey", {}, at="2026-03-01T08:59:59Z").clock_back


def test_entries_made_together_are_kept_together_or_not_at_all(shop):
    def broken_off():
        with shop.together():
            shop.append("saw-six", "survey", {})
            shop.append("saw-six", "check", {})
            raise RuntimeError

    with pytest.raises(RuntimeError):
        broken_off()
    assert shop.heads()[1].last == 5
    with shop.together():
        shop.append("saw-six", "survey", {})
        with pytest.raises(ValueError, match="77"):
            shop.append("mill-two", "head", {}, inputs=[77])
        shop.append("saw-six", "check", {})
    assert not shop.has_head("mill-two")
    assert shop.heads()[1].last == 9
    assert shop.check() == []


def test_a_transaction_that_the_disk_ended_is_not_undone_twice(shop):
    def ended_by_the_disk():
        with shop.together():
            shop._connection.execute("ROLLBACK")  # what SQLite does by itself when the disk is full
            raise RuntimeError("disk")

    with pytest.raises(RuntimeError, match="disk"):
        ended_by_the_disk()
    assert shop.check() == []


def test_entries_can_be_neither_changed_nor_deleted_through_sql(shop):
    for statement in (
        "UPDATE entry SET record = '{}'",
        "DELETE FROM entry",
        "UPDATE head SET name = 'x'",
        "DELETE FROM head",
    ):
        with pytest.raises(Exception, match="are never"):
            shop._connection.execute(statement)


@pytest.mark.parametrize(
    "values",
    [
        "(8, 'no such head', 'plan', 1, 'x', 0, 'x', '[]', '[]', printf('%064d', 1), '{}')",
        "(8, (SELECT uid FROM head), 'plan', 1, 'x', 0, 'x', '[]', '[]', printf('%064d', 1), 'no json')",
        "(8, (SELECT uid FROM head), 'plan', 1, 'x', 0, 'x', '[]', '[]', printf('%064d', 1), '[]')",
        "(8, (SELECT uid FROM head), 'plan', 'one', 'x', 0, 'x', '[]', '[]', printf('%064d', 1), '{}')",
        "(8, (SELECT uid FROM head), 'plan', 1, 'x', 0, 'x', 'no', '[]', printf('%064d', 1), '{}')",
    ],
)
def test_the_tables_refuse_what_is_no_entry(shop, values):
    with pytest.raises(Exception, match=r"constraint|malformed|cannot store"):
        shop._connection.execute(f"INSERT INTO entry VALUES {values}")


def test_a_changed_figure_is_not_given_back(shop, path, harm):
    shop.close()
    harm(path, "UPDATE entry SET record = replace(record, '0.05', '0.06') WHERE number = 2")
    with open_book(path) as book:
        for read in (
            lambda: book.entries("pump-four"),
            lambda: book.entry(2),
            lambda: book.export_plain("pump-four"),
        ):
            with pytest.raises(BookError, match="entry 2: the entry does not match its seal"):
                read()
        with pytest.raises(BookError, match="entry 2"):
            book.latest("pump-four", "plan")
        assert book.latest("saw-six", "head").number == 5


def test_a_closed_book_stays_closed(path):
    with open_book(path) as book:
        pass
    book.close()
    with pytest.raises(BookError, match="closed"):
        book.heads()


def test_opening_a_book_loads_no_heavy_package(path):
    code = (
        "import sys\nfrom pathlib import Path\nfrom straighten.book import open_book\n"
        f"with open_book(Path({str(path)!r})) as book: book.append('pump', 'head', {{}})\n"
        "print([name for name in ('numpy', 'scipy', 'pydantic', 'typer', 'sympy', 'difflib', 'tempfile', 'shutil', 'random') if name in sys.modules])"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
