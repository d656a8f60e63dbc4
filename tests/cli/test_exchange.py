"""Heads leave and enter a book by command: export, import, strike, heads, book check, rescue, merge; and where."""

import csv
import io
import json
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from straighten.cli import main
from straighten.desk.reading_out import harmless

EXAMPLE = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"
NAME = "irrigation-pump-four"


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    path = tmp_path_factory.mktemp("kept") / "shop.book"
    assert main(["measure", str(EXAMPLE), "survey-1.toml", "--book", str(path)]) == 0
    done = ["log", str(EXAMPLE), "survey-2.toml", "--done", "pass-1.toml", "--book", str(path)]
    assert main(done) == 0
    return path


@pytest.fixture
def book(kept, tmp_path, capsys):
    path = tmp_path / "shop.book"
    shutil.copy(kept, path)
    capsys.readouterr()
    return path


@pytest.fixture
def run(capsys):
    def ran(*words, code=0):
        found = main([str(word) for word in words])
        told = capsys.readouterr()
        assert found == code, told.err
        if code:
            assert told.err.count("straighten: ") == 1, told.err
            assert "Traceback" not in told.err
        return told.out if code == 0 else told.err

    return ran


def test_a_head_goes_to_another_book_and_comes_out_the_same(book, run, tmp_path):
    first = run("export", NAME, "--book", book)
    file, other = tmp_path / "head.json", tmp_path / "other.book"
    file.write_text(first)
    run("import", file, "--book", other)
    assert json.loads(run("export", NAME, "--book", other)) == json.loads(first)
    assert json.loads(run("import", file, "--book", other, "--json"))["entries"] == 0
    assert "whole" in run("book", "check", "--book", other)


def test_an_export_is_found_by_the_head_file_too_and_writes_over_nothing(book, run, tmp_path):
    out = tmp_path / "out.json"
    run("export", EXAMPLE, "--out", out, "--book", book)
    assert json.loads(out.read_text())["schema"] == "straighten/head-record/2"
    assert "already there" in run("export", EXAMPLE, "--out", out, "--book", book, code=3)
    run("export", EXAMPLE, "--out", out, "--force", "--book", book)


def test_the_table_holds_every_reading_and_what_was_done(book, run):
    rows = list(csv.DictReader(io.StringIO(run("export", NAME, "--csv", "--book", book))))
    gaps = [row for row in rows if row["what"] == "deck gap"]
    assert len(gaps) == 30  # three lines of five stations, twice measured
    first = next(row for row in gaps if row["line"] == "deck, exhaust edge")
    assert (first["station_mm"], first["goes_mm"], first["stops_mm"]) == ("70.0", "0.1", "0.12")
    assert {row["side"] for row in rows if row["what"] == "heat spot"} == {"exhaust", "inlet"}
    done = tomllib.loads((EXAMPLE / "pass-1.toml").read_text(encoding="utf-8"))["clamp"]["corners"]
    assert [float(row["value"]) for row in rows if row["what"] == "shim"] == done
    assert {row["pass"] for row in rows} == {"0", "1"}


@pytest.mark.parametrize("start", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\r=1", " =1"])
def test_no_cell_is_run_by_a_spreadsheet(start):
    # Characters after the advice on CSV injection of the OWASP Foundation (from memory).
    assert str(harmless(start)).startswith("'")


def test_numbers_stay_numbers_in_the_table():
    assert harmless(-0.05) == -0.05
    assert harmless("deck, centre") == "deck, centre"
    assert harmless(None) == ""


def test_a_hostile_name_is_harmless_in_the_table(run, tmp_path):
    folder = tmp_path / "bad"
    folder.mkdir()
    text = (EXAMPLE / "head.toml").read_text().replace(f'"{NAME}"', "\"=HYPERLINK('x')\"")
    (folder / "head.toml").write_text(text)
    book = tmp_path / "b.book"
    run("measure", folder, EXAMPLE / "survey-1.toml", "--book", book)
    rows = list(csv.DictReader(io.StringIO(run("export", folder, "--csv", "--book", book))))
    assert {row["head"] for row in rows} == {"'=HYPERLINK('x')"}


def changed(path, book, run, change):
    data = json.loads(run("export", NAME, "--book", book))
    change(data)
    path.write_text(json.dumps(data))
    return path


def test_an_altered_export_is_refused_in_one_message(book, run, tmp_path):
    def thinner(data):
        survey = next(e for e in data["entries"] if e["kind"] == "survey")
        survey["record"]["readings"]["lines"][0]["readings"][2]["goes_mm"] = 0.01

    file = changed(tmp_path / "x.json", book, run, thinner)
    assert "does not match its seal" in run("import", file, "--book", tmp_path / "n.book", code=3)


@pytest.mark.parametrize(
    "content",
    [
        b"[" * 200_000,
        b'{"a":' * 100_000,
        b'{"schema": NaN}',
        b"1" * 10_000,
        b"\xff\xfe\x00",
        b"",
        b"{}",
        b"[]",
        b"null",
        b'{"schema": "straighten/head-record/2", "head": 3, "entries": [], "lost": []}',
    ],
    ids=[
        "deep list",
        "deep object",
        "nan",
        "long number",
        "no text",
        "empty",
        "{}",
        "[]",
        "null",
        "wrong form",
    ],
)
def test_what_is_no_export_is_refused_in_one_message(run, tmp_path, content):
    file = tmp_path / "x.json"
    file.write_bytes(content)
    run("import", file, "--book", tmp_path / "n.book", code=3)


def test_deep_nesting_inside_an_entry_is_refused(book, run, tmp_path):
    def deep(data):
        nest = []
        for _ in range(200):
            nest = [nest]
        data["entries"][0]["record"]["nest"] = nest

    file = changed(tmp_path / "x.json", book, run, deep)
    run("import", file, "--book", tmp_path / "n.book", code=3)


@pytest.mark.parametrize("file", ["nowhere.json", "."])
def test_a_file_that_cannot_be_read_is_told(run, tmp_path, file):
    run("import", file, "--book", tmp_path / "n.book", code=3)


def test_an_export_comes_through_a_pipe(book, tmp_path):
    words = [sys.executable, "-m", "straighten"]
    out = subprocess.run([*words, "export", NAME, "--book", str(book)], capture_output=True, check=True)
    taken = subprocess.run(
        [*words, "import", "-", "--book", str(tmp_path / "n.book")],
        input=out.stdout,
        capture_output=True,
        check=True,
    )
    assert b"1 heads and" in taken.stdout


def test_a_struck_entry_is_out_of_use_with_its_reason(book, run):
    assert "computed" not in run("strike", 2, "--reason", "read at the wrong end", "--book", book)
    said = run("strike", 2, "--reason", "again", "--book", book, code=3)
    assert "struck already" in said
    assert "reason" in run("strike", 3, "--book", book, code=3)
    run("strike", 999, "--reason", "no such", "--book", book, code=3)
    rows = list(csv.DictReader(io.StringIO(run("export", NAME, "--csv", "--book", book))))
    assert {row["struck"] for row in rows if row["entry"] == "2"} == {"yes"}


def test_heads_are_listed_with_their_state(book, run):
    (line,) = json.loads(run("heads", "--book", book, "--json"))["heads"]
    assert (line["name"], line["state"], line["passes"]) == (NAME, "passed", 1)
    assert NAME in run("heads", "--book", book)


def test_a_missing_book_is_told_and_not_made(run, tmp_path):
    gone = tmp_path / "gone.book"
    for words in (("heads",), ("export", "x"), ("book", "check"), ("strike", 1, "--reason", "x")):
        run(*words, "--book", gone, code=6)
    assert not gone.exists()


def test_a_damaged_book_is_found_and_rescued(book, run, tmp_path):
    raw = bytearray(book.read_bytes())
    at = raw.index(b"exhaust edge")
    raw[at : at + 7] = b"EXHAUST"
    book.write_bytes(raw)
    run("book", "check", "--book", book, code=6)
    fresh = tmp_path / "fresh.book"
    found = json.loads(run("book", "rescue", fresh, "--book", book, "--json"))
    assert len(found["doubtful"]) == 1
    run("book", "check", "--book", fresh)
    run("book", "rescue", fresh, "--book", book, code=3)


def test_two_books_become_one(book, run, tmp_path):
    other = tmp_path / "other.book"
    run("measure", EXAMPLE, "survey-1.toml", "--book", other)
    assert json.loads(run("book", "merge", book, "--book", other, "--json"))["heads"] == 1
    assert json.loads(run("book", "merge", book, "--book", other, "--json"))["entries"] == 0


def test_where_says_who_named_the_book(run, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", "relative is ignored")
    monkeypatch.delenv("STRAIGHTEN_BOOK", raising=False)

    def named(*words):
        return json.loads(run("where", "--json", *words))

    assert named()["book_named_by"] == "default"
    assert named()["book"].endswith(".local/share/straighten/shop.book")
    config = tmp_path / "straighten" / "config.toml"
    assert named()["config"] == str(config)
    config.parent.mkdir()
    config.write_text('book = "bench.book"\n')
    assert (named()["book_named_by"], named()["book"]) == ("config.toml", str(config.parent / "bench.book"))
    monkeypatch.setenv("STRAIGHTEN_BOOK", "/env.book")
    assert (named()["book_named_by"], named()["book"]) == ("STRAIGHTEN_BOOK", "/env.book")
    assert named("--book", "/opt.book")["book"] == "/opt.book"
    assert "what comes first wins" in run("where")


@pytest.mark.parametrize("text", ["book = 3", "bok = 'x'", "= ", "a=" + "[" * 5000])
def test_a_bad_config_file_is_told(run, tmp_path, monkeypatch, text):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.delenv("STRAIGHTEN_BOOK", raising=False)
    (tmp_path / "straighten").mkdir()
    (tmp_path / "straighten" / "config.toml").write_text(text)
    assert "config.toml" in run("where", code=3)
