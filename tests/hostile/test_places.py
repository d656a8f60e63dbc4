"""Places that cannot be written, streams that are closed, a book that another holds, a clock and a locale set otherwise."""

import json
import os
import resource
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from straighten.book import open_book
from tests.cli.seated import Seat
from tests.slow import slow_after

LIMITED = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), -1))
from straighten.cli import main
sys.exit(main(sys.argv[2:]))
"""


def limited(shop, size, *words):
    """Run a command whose files may not grow over a size: what a full disk looks like, also for root."""
    return subprocess.run(
        [sys.executable, "-c", LIMITED, str(size), *words],
        cwd=shop.folder, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip


@pytest.mark.parametrize(
    "place", ["absent/x.html", "pump/head.toml/x.html", "/proc/x.html", "pump", "x" * 300 + ".html"]
)
def test_a_page_that_cannot_be_written_there_says_so(measured, place):
    measured.run("plan", "pump")
    told = measured.refused("sheet", "pump", "--out", place)
    assert "cannot be written" in told or "already there" in told or "cannot be used" in told


@pytest.mark.parametrize(
    "place", ["/proc/x.book", "pump/head.toml/x.book", "/sys/x.book", "pump", "/dev/null"]
)
def test_a_book_that_cannot_be_there_is_a_fault_of_the_book(shop, place):
    told = shop.refused("measure", "pump", "survey-1.toml", "--book", place, code=6)
    assert "Check" in told or "book" in told


def test_a_folder_that_cannot_be_made_says_so(shop):
    (shop.folder / "taken").write_text("")
    assert "taken" in shop.refused("new", "taken")


@pytest.mark.parametrize(
    "words", [("sheet", "pump", "--out", "link.html"), ("export", "pump", "--out", "link.html")]
)
def test_a_link_is_not_written_through_unless_forced(measured, words):
    measured.run("plan", "pump")
    target, link = measured.folder / "elsewhere.html", measured.folder / "link.html"
    link.symlink_to(target)  # leads nowhere yet: a file would be made there
    assert "already there" in measured.refused(*words)
    assert not target.exists()
    assert measured.run(*words, "--force")[0] == 0
    assert target.exists()
    assert link.is_symlink()


@pytest.mark.parametrize(
    "words", [("plan", "pump"), ("check", "pump"), ("history",), ("sheet", "pump", "--force")]
)
def test_no_figure_is_written_through_a_link(measured, words):
    target, link = measured.folder / "elsewhere.svg", measured.folder / "link.svg"
    link.symlink_to(target)
    measured.run("plan", "pump")
    assert "link" in measured.refused(*words, "--figure", "link.svg")
    assert not target.exists()


def test_a_link_in_a_new_folder_is_not_written_through(shop):
    (shop.folder / "fresh").mkdir()
    (shop.folder / "fresh" / "head.toml").symlink_to(shop.folder / "elsewhere.toml")
    assert "already there" in shop.refused("new", "fresh")
    assert not (shop.folder / "elsewhere.toml").exists()


def test_on_a_full_disk_nothing_is_half_recorded(measured):
    before = measured.entries()
    size = measured.book.stat().st_size
    done = limited(measured, size, "measure", "pump", "survey-2.toml")
    assert done.returncode == 6, done.stderr
    assert done.stderr.count("\n") == 1
    assert "Traceback" not in done.stderr
    assert measured.entries() == before
    with open_book(measured.book) as book:
        assert book.check() == []


def test_a_page_on_a_full_disk_says_so(measured):
    measured.run("plan", "pump")
    before = measured.entries()
    done = limited(measured, 8192, "export", "pump", "--out", "x.json")
    assert (done.returncode, "cannot be written" in done.stderr) == (3, True), done.stderr
    assert measured.entries() == before


def test_an_answer_for_which_there_is_no_room_says_so(measured):
    with Path("/dev/full").open("w") as full:
        done = measured.process("heads", stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 1
    assert "No space left" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("words", [("explain",), ("--version",), ("--help",), ("heads", "--json")])
def test_a_pipe_that_nobody_reads_gives_no_trace(measured, words):
    reads, writes = os.pipe()
    os.close(reads)
    try:
        done = measured.process(*words, stdout=writes, stderr=subprocess.PIPE)
    finally:
        os.close(writes)
    assert done.stderr == ""
    assert done.returncode in (0, 1)


@pytest.mark.parametrize("closing_words", [">&-", "2>&-", ">&- 2>&-"])
@pytest.mark.parametrize("words", ["heads", "check nobody", "--version"])
def test_streams_closed_before_the_start_give_no_trace(measured, words, closing_words):
    line = f"{sys.executable} -m straighten {words} {closing_words}"
    done = subprocess.run(
        ["sh", "-c", line], cwd=measured.folder, capture_output=True, text=True, check=False, timeout=60
    )
    assert "Traceback" not in done.stderr
    assert "Exception" not in done.stderr
    assert done.returncode == (3 if "nobody" in words else 0)


def test_a_book_that_another_program_holds_is_busy(measured):
    with closing(sqlite3.connect(measured.book, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        done = measured.process("measure", "pump", "survey-2.toml", capture_output=True)
        other.execute("ROLLBACK")
    assert done.returncode == 6
    assert "busy" in done.stderr
    assert done.stderr.count("\n") == 1
    assert len(measured.entries()) == 2


def test_with_the_clock_set_back_the_order_is_that_of_the_entries(shop):
    times = iter(datetime(2026, 5, 1, tzinfo=UTC) - timedelta(days=n) for n in range(100))
    with open_book(shop.book, clock=lambda: next(times)) as book:
        for place in range(5):
            book.append("pump-four", "bench", {"place": place}) if place else book.append(
                "pump-four", "head", {"name": "pump-four"}
            )
        entries = book.entries("pump-four")
        assert [e.number for e in entries] == sorted(e.number for e in entries)
        assert [e.record.get("place") for e in entries[1:]] == [1, 2, 3, 4]
        assert book.check() == []
    code, _ = shop.run("heads", "--json")
    assert code == 0
    assert json.loads(shop.out)["heads"][0]["last"] == entries[-1].number


@pytest.mark.parametrize("locale", slow_after(2, ["de_DE.UTF-8", "C", "fr_FR", "tr_TR.UTF-8", "POSIX"]))
def test_the_locale_changes_no_answer(shop, locale):
    plain = shop.process("try", "pump/pass-1.toml", "--json", capture_output=True, env={"LC_ALL": "C.UTF-8"})
    there = shop.process(
        "try", "pump/pass-1.toml", "--json", capture_output=True, env={"LC_ALL": locale, "LANG": locale}
    )
    assert there.returncode == plain.returncode, there.stderr
    assert there.stdout == plain.stdout
    assert there.stderr == plain.stderr


STOPPABLE = """
import sys
import time
from straighten.cli import main
print("ready", flush=True)
code = main(sys.argv[1:])
sys.exit(code)
"""


@pytest.mark.parametrize("after", [0.0, 0.05, 0.2, 0.5])
def test_ctrl_c_ends_with_130_and_no_trace(measured, after):
    before = measured.entries()
    running = subprocess.Popen(
        [sys.executable, "-c", STOPPABLE, "plan", "pump"],
        cwd=measured.folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    running.stdout.readline()
    with pytest.raises(subprocess.TimeoutExpired):
        running.wait(after + 0.02)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert running.returncode == 130, err
    assert "Traceback" not in err
    assert out == ""
    assert measured.entries() == before


@pytest.mark.parametrize("words", [("bench", "pump"), ("measure", "pump")])
def test_ctrl_c_at_a_prompt_ends_with_130_and_keeps_what_was_kept(shop, words):
    seat = Seat([*words, "--book", str(shop.book)])
    seat.to_prompt() if words[0] == "bench" else seat.to_text("): ")
    seat.control_c()
    seat.to_text("never printed")
    assert seat.code == 130
    assert "Traceback" not in seat.seen
    assert "stays in the book" in seat.seen


def test_the_limit_on_file_sizes_is_one(shop):
    """The watch of this module itself: RLIMIT_FSIZE holds for root as well."""
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[1] == resource.RLIM_INFINITY
    assert limited(shop, 1, "new", "x").returncode == 3
