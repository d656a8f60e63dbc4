"""Nothing absurd, nothing lost: what files, disks, terminals and other books did to the program, command by command."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from straighten.belief.pooling import pooled_priors
from straighten.belief.priors import PUBLISHED
from straighten.book import open_book
from straighten.cli import main
from tests.hostile.sealing import sealed_anew, whole
from tests.hostile.test_places import limited

NAME = "irrigation-pump-four"
PASS = ("log", "pump", "survey-2.toml", "--done", "pass-1.toml")


@pytest.fixture
def passed(measured):
    """The pump head measured, one pass logged."""
    code, told = measured.run(*PASS)
    assert code == 0, told
    return measured


def exported(shop):
    code, told = shop.run("export", "pump", "--out", "pump.json", "--force")
    assert code == 0, told
    return json.loads((shop.folder / "pump.json").read_text())


def imported(shop, data, book="other.book"):
    (shop.folder / "in.json").write_text(json.dumps(data))
    return shop.run("import", "in.json", "--book", book)


# --- what one head teaches the others --------------------------------------------------------------------------------


@pytest.mark.parametrize("value", [1e308, -1e308, 1e300, 11.0, "nan"])
def test_one_import_cannot_switch_off_the_other_heads(passed, value):
    def change(entry):
        for pair in entry["record"].get("outcome", {}).get("factors", {}).values():
            pair[0] = value

    code, told = imported(passed, sealed_anew(exported(passed), change))
    assert code == 3, told
    assert "in.json" in told
    assert "outcome" in told
    assert told.count("\n") == 1


def test_factors_of_next_to_nothing_come_in_and_other_heads_are_planned(passed):
    def change(entry):
        for pair in entry["record"].get("outcome", {}).get("factors", {}).values():
            pair[:] = [-1e-320, 1e-320]

    assert imported(passed, sealed_anew(exported(passed), change))[0] == 0
    head = passed.folder / "pump" / "head.toml"
    head.write_text(head.read_text().replace(NAME, "another-pump"))
    for words in (("measure", "pump", "survey-1.toml"), ("plan", "pump"), ("history",)):
        code, told = passed.run(*words, "--book", "other.book")
        assert code == 0, (words, told)


@pytest.mark.parametrize("value", [1e308, -1e308, 1e154])
def test_pooling_leaves_out_a_head_that_teaches_what_none_can(value):
    sound = dict.fromkeys(("stiffness", "shrinkage", "kept", "cam_ratio"), (0.1, 0.1))
    with np.errstate(all="raise"):
        assert pooled_priors(PUBLISHED, [sound, sound | {"kept": (value, 0.1)}]) == pooled_priors(
            PUBLISHED, [sound]
        )
        assert pooled_priors(PUBLISHED, [sound | {"kept": (0.0, abs(value))}]) == tuple(PUBLISHED)
        for least in (1e-320, 0.0):
            tight = dict.fromkeys(sound, (0.0, least))
            assert all(0 < prior.spread < 10 for prior in pooled_priors(PUBLISHED, [tight, tight]))


@pytest.mark.parametrize("kind", ["survey", "pass"])
@pytest.mark.parametrize(
    "record", [{}, {"readings": {}}, {"readings": {"lines": 3}}, {"done": [], "readings": None}]
)
def test_an_entry_that_holds_something_else_is_named(passed, kind, record):
    def change(entry):
        if entry["kind"] == kind:
            entry["record"] = record

    code, told = imported(passed, sealed_anew(exported(passed), change))
    assert code == 0, told
    code, told = passed.run("check", NAME, "--book", "other.book")
    assert code in (3, 6), told
    assert told.count("\n") == 1
    assert "unexpected" not in told


# --- two copies of one book ------------------------------------------------------------------------------------------


@pytest.fixture
def forked(passed):
    """Copies of the book carried on apart, then merged both ways."""
    laptop = passed.folder / "laptop.book"
    shutil.copy(passed.book, laptop)
    for book, survey in (
        (passed.book, "survey-2.toml"),
        (laptop, "survey-3.toml"),
        (passed.book, "survey-2.toml"),
    ):
        code, told = passed.run("measure", "pump", survey, "--book", book)
        assert code == 0, told
    for book, other in ((passed.book, laptop), (laptop, passed.book)):
        assert passed.run("book", "merge", other, "--book", book)[0] == 0
    return passed


def test_merged_books_say_the_same_whichever_took_in_the_other(forked):
    for words in (("check", "pump"), ("heads",), ("history",)):
        said = []
        for book in ("shop.book", "laptop.book"):
            code, told = forked.run(*words, "--json", "--book", book)
            assert code == 0, told
            said.append({k: v for k, v in json.loads(forked.out).items() if k != "heads"})
        assert said[0] == said[1]


def test_a_fork_is_said_by_plan_check_and_log_until_it_is_settled(forked):
    commands = (
        ("check", "pump"),
        ("plan", "pump"),
        ("log", "pump", "survey-4.toml", "--done", "pass-1.toml", "--read-again"),
    )
    for words in commands:
        assert "carried on in 2 places" in forked.run(*words)[1].replace("\n", " "), words
    code, told = forked.run("settle", "pump")
    assert code == 0
    assert "line 2" in forked.out
    assert "straighten settle pump --both" in told
    assert "carried on" in forked.run("check", "pump")[1]
    assert forked.run("settle", "pump", "--both", "--json")[0] == 0
    assert len(json.loads(forked.out)["lines"]) == 2
    assert "carried on" not in forked.run("check", "pump")[1]
    assert "one line" in forked.refused("settle", "pump", "--both")


# --- files that are written ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["export", "sheet"])
def test_on_a_full_disk_the_older_file_stays(passed, command):
    words = (command, "pump", "--out", "pump.out", "--force")
    assert passed.run(*words)[0] == 0
    before, entries = (passed.folder / "pump.out").read_bytes(), passed.entries()
    done = limited(passed, 8192, *words)
    assert (done.returncode, "cannot be written" in done.stderr) == (3, True), done.stderr
    assert (passed.folder / "pump.out").read_bytes() == before
    assert passed.entries() == entries
    assert not [p for p in passed.folder.iterdir() if p.name.endswith(".part")]


@pytest.mark.slow
def test_a_figure_on_a_full_disk_leaves_the_older_one_and_records_nothing(measured):
    assert measured.run("plan", "pump", "--figure", "x.png")[0] == 0
    before, entries = (measured.folder / "x.png").read_bytes(), measured.entries()
    room = measured.book.stat().st_size + 30_000
    assert room < len(before)  # the entry finds room, the figure none
    done = limited(measured, room, "plan", "pump", "--figure", "x.png")
    assert (done.returncode, "cannot be written" in done.stderr) == (3, True), done.stderr
    assert measured.entries() == entries
    assert (measured.folder / "x.png").read_bytes() == before


@pytest.mark.parametrize("place", ["absent/x.html", "pump", "/proc/x.html", "pump/head.toml/x.html"])
def test_a_page_that_cannot_be_written_enters_no_plan(measured, place):
    measured.refused("sheet", "pump", "--out", place)
    measured.refused("sheet", "pump", "--out", place, "--force")


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("sheet", "pump", "--out", "absent/x.html"), 3),
        (("sheet", "pump", "--figure", "x.gif"), 3),
        (("plan", "nobody"), 3),
        (("settle", "pump", "--both"), 3),
        (("log", "pump", "survey-2.toml"), 3),
        (("measure", "pump"), 3),
        (("plan", "pump", "--no-such-option"), 2),
        (("no-such-command",), 2),
        (("heads", "--book", "pump/head.toml"), 6),
    ],
)
def test_a_refusal_with_json_is_one_object_and_nothing_else(measured, words, code):
    before = measured.entries()
    found, told = measured.run(*words, "--json")
    assert found == code
    assert measured.out == ""
    refusal = json.loads(told)
    assert refusal["schema"] == "straighten/error/1"
    assert refusal["problem"]
    assert measured.entries() == before


# --- special files ---------------------------------------------------------------------------------------------------


@pytest.fixture
def slow():
    """Give up after twenty seconds: a pipe that is waited for would hang the tests."""

    def ring(*_):
        raise TimeoutError

    before = signal.signal(signal.SIGALRM, ring)
    signal.alarm(20)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture(params=["pipe", "/dev/zero", "folder"])
def special(request, shop):
    path = shop.folder / "special"
    if request.param == "pipe":
        os.mkfifo(path)
    elif request.param == "folder":
        path.mkdir()
    else:
        path.symlink_to(request.param)
    return path


def test_special_files_are_refused_wherever_a_file_is_read(measured, special, slow, monkeypatch):
    for words in (
        ("import", special), ("measure", "pump", special), ("try", special), ("log", "pump", "survey-2.toml", "--done", special),
        ("tighten", "pump", special), ("sand", "pump", "--because", "a trial of it", "--surface", special), ("finish", "pump", "--answers", special),
    ):  # fmt: skip
        measured.refused(*words)
    measured.refused("heads", "--book", special, code=6)
    measured.refused("book", "merge", special, code=6)
    (measured.folder / "straighten").mkdir()
    (measured.folder / "straighten" / "config.toml").symlink_to(special)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(measured.folder))
    monkeypatch.delenv("STRAIGHTEN_BOOK")
    assert "config.toml" in measured.refused("where")


def test_nothing_is_written_into_special_files(measured, special, slow):
    for words in (("export", "pump", "--out", special), ("sheet", "pump", "--out", special)):
        measured.refused(*words, "--force")
        measured.refused(*words)
    link = measured.folder / "x.svg"
    link.symlink_to(special)
    measured.refused("plan", "pump", "--figure", link)


@pytest.mark.parametrize(
    ("raw", "code"),
    [(b"book = " + b"9" * 5000, 3), (b"\xef\xbb\xbfbook = 'shop.book'", 0), (b"book = 3", 3), (b"\xff\xfe", 3), (b"[" * 5000, 3)],
)  # fmt: skip
def test_settings_are_read_like_any_file(shop, monkeypatch, raw, code):
    (shop.folder / "straighten").mkdir()
    (shop.folder / "straighten" / "config.toml").write_bytes(raw)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(shop.folder))
    monkeypatch.delenv("STRAIGHTEN_BOOK")
    found, told = shop.run("where")
    assert found == code, told
    assert "unexpected" not in told


def test_a_time_zone_that_is_none_is_refused(measured, monkeypatch):
    monkeypatch.setenv("TZ", "AAA-24:59")
    time.tzset()
    try:
        told = measured.refused("plan", "pump")
    finally:
        monkeypatch.undo()
        time.tzset()
    assert "TZ" in told


# --- exports ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text", [None, "no JSON", "{}", '{"schema": 3}', "[" * 5000, "1" * 9000, '{"schema": "x/9"}']
)
def test_a_refused_import_says_what_to_type_next(measured, text):
    if text is not None:
        (measured.folder / "in.json").write_text(text)
    told = measured.refused("import", "in.json")
    assert "straighten export NAME --out FILE, then here: straighten import FILE" in told
    assert told.count("in.json") == 1
    measured.run("import", "in.json", "--json")
    assert json.loads(measured.run("import", "in.json", "--json")[1])["fix"].endswith(
        "straighten import FILE"
    )


def test_an_entry_that_stands_twice_is_refused_in_words(passed):
    data = exported(passed)
    data["entries"].append(data["entries"][-1])
    code, told = imported(passed, whole(data))
    assert code == 3
    assert "stands in it twice" in told
    assert "SQL" not in told.upper().replace("SQLITE", "")


def test_an_export_cut_short_is_refused(passed):
    data = exported(passed)
    cut = {**data, "entries": data["entries"][:-1]}
    assert imported(passed, cut)[0] == 3
    gone = data["entries"][1]
    lost = {**data, "entries": [e for e in data["entries"] if e is not gone], "lost": [gone["digest"]]}
    code, told = imported(passed, lost)
    assert code == 3
    assert "changed or cut short" in told


def test_an_export_of_the_older_form_is_taken_and_says_what_it_cannot_tell(passed):
    data = {**exported(passed), "schema": "straighten/head-record/1"}
    del data["seal"]
    assert imported(passed, data)[0] == 0
    assert "cannot be told" in passed.out


# --- memory and time -------------------------------------------------------------------------------------------------


def test_products_of_lists_are_bounded(measured):
    stations = ", ".join(str(50 + 5 * n) for n in range(60))
    spots = f'[[spots]]\nstations = [{stations}]\nflux_radius = "12 mm"\ndwell = "4 s"\npeak = "480 C"\n'
    (measured.folder / "s.toml").write_text('head = "pump/head.toml"\nbow_before = "0.2 mm"\n' + spots * 60)
    assert "160 are the most" in measured.refused("try", "s.toml")
    assert "160 are the most" in measured.refused("log", "pump", "survey-2.toml", "--done", "s.toml")
    heat = '[[heat]]\n[heat.clamp]\nshims = "0.1 mm"\n' + spots.replace("[[", "[[heat.")
    (measured.folder / "h.toml").write_text('head = "pump/head.toml"\nbow_before = "0.2 mm"\n' + heat * 12)
    assert "1440 spots and strokes in all heats; 640 are the most" in measured.refused("try", "h.toml")
    line = '[[deck]]\nline = "across"\nat = {}\nmode = "bridged"\nstations = [{}]\ngaps = [{}]\n'
    places, gaps = ", ".join(str(5 + n * 0.7) for n in range(200)), ", ".join(["0.1"] * 200)
    (measured.folder / "g.toml").write_text(
        "".join(line.format(20 + 10 * n, places, gaps) for n in range(20))
    )
    assert "4000 gaps in all lines" in measured.refused("measure", "pump", "g.toml")
    (measured.folder / "t.toml").write_text('[[rounds]]\ntorque = "5 Nm"\n' * 500)
    measured.refused("tighten", "pump", "t.toml")


WALLED = """
import resource, sys
from straighten.cli import app
sys.argv = ["straighten", "heads"]
app.run = lambda words: print(resource.getrlimit(resource.RLIMIT_DATA)[0]) or 0
from straighten.cli import main
main()
"""


def test_a_wall_of_memory_stands_and_what_runs_into_it_is_a_refusal(measured, monkeypatch):
    done = subprocess.run([sys.executable, "-c", WALLED], capture_output=True, text=True, check=True)
    assert int(done.stdout) == 2 * 2**30

    def greedy(*_, **__):
        raise MemoryError

    monkeypatch.setattr("straighten.desk.deciding.check_report", greedy)
    assert "2 GiB" in measured.refused("check", "pump")


def test_a_warning_of_numerics_is_a_refusal_and_not_a_line_on_stderr(measured, monkeypatch):
    def overflowing(*_, **__):
        return np.exp(np.array([1e4]))

    monkeypatch.setattr("straighten.desk.deciding.check_report", overflowing)
    told = measured.refused("check", "pump", code=4)
    assert "outside what can be computed" in told


def test_a_book_of_this_kind_is_left_alone_when_it_is_only_looked_at(passed):
    before = passed.book.read_bytes()
    for words in (("check", "pump"), ("heads",), ("history",), ("settle", "pump"), ("book", "check")):
        assert main([*words, "--book", str(passed.book)]) == 0
    with open_book(passed.book) as book:
        assert book.check() == []
    assert passed.book.read_bytes() == before
    assert Path(passed.book).exists()
