"""What comes from outside the files: special files, the environment, other books, damaged and full disks."""

from __future__ import annotations

import contextlib
import json
import os
import resource
import shutil
import signal
import socket
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from random import Random
from typing import Any

from straighten.book import open_book, rescue
from straighten.desk.dossier import read_dossier
from straighten.errors import StraightenError
from tests.hostile.doors import Bench, Fault
from tests.hostile.sealing import sealed_anew
from tests.hostile.spoilt import VALUES, _places

ZONES = (
    "AAA-24:59",
    "",
    "UTC",
    "Nowhere/Else",
    "\x1b[2J",
    "A" * 5000,
    ":/etc/passwd",
    "EST5EDT,M3.2.0,M11.1.0",
    "<+99>-99",
)
SETTINGS = (
    b"book = " + b"9" * 5000,
    b"\xef\xbb\xbfbook = 'b.book'",
    b"book = 3",
    b"\xff\xfe",
    b"[" * 9000,
    b"",
    b"book = '\\u0000'",
)
NAME = "irrigation-pump-four"


def special(bench: Bench, rng: Random) -> Fault | None:
    """Give a command a pipe, a device, a folder or a socket where it reads or writes a file."""
    path = bench.folder / "special"
    with contextlib.suppress(OSError):
        path.unlink() if not path.is_dir() or path.is_symlink() else path.rmdir()
    kind = rng.randrange(4)
    if kind == 0:
        os.mkfifo(path)
    elif kind == 1:
        path.mkdir()
    elif kind == 2:
        path.symlink_to(rng.choice(("/dev/zero", "/dev/full", "/dev/stdin", "/proc/self/mem")))
    else:
        with closing(socket.socket(socket.AF_UNIX)) as made, contextlib.chdir(bench.folder):
            made.bind("special")
    name = "special"
    line = rng.choice(
        (
            ("import", name), ("measure", "pump", name), ("try", name), ("log", "pump", "pump/survey-2.toml", "--done", name),
            ("tighten", "pump", name), ("export", "pump", "--out", name, "--force"), ("plan", name), ("book", "merge", name),
            ("sheet", "pump", "--out", name, "--force"), ("finish", "saw", "--answers", name), ("book", "rescue", name),
        )
    )  # fmt: skip
    fault = bench.judged(line, "special", b"")
    path.unlink() if not path.is_dir() or path.is_symlink() else path.rmdir()
    return fault


def environment(bench: Bench, rng: Random) -> Fault | None:
    """Run a command with a time zone, a home or settings that make no sense."""
    fresh = {
        "TZ": rng.choice(ZONES),
        "COLUMNS": rng.choice(("0", "-1", "9" * 50, "x")),
        "NO_COLOR": rng.choice(("", "1")),
    }
    kept = {key: os.environ.get(key) for key in (*fresh, "XDG_CONFIG_HOME")}
    folder = bench.folder / "settings" / "straighten"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "config.toml").write_bytes(rng.choice(SETTINGS))
    os.environ |= {**fresh, "XDG_CONFIG_HOME": str(folder.parent)}
    time.tzset()
    try:
        line = rng.choice(
            (("plan", "pump"), ("sheet", "pump", "--out", "x.html", "--force"), ("where",), ("check", "pump"))
        )
        return bench.judged(line, "environment", json.dumps(fresh).encode())
    finally:
        for key, value in kept.items():
            os.environ.pop(key, None)
            if value is not None:
                os.environ[key] = value
        time.tzset()


def _copy(bench: Bench, name: str) -> Path:
    path = bench.folder / name
    for old in bench.folder.glob(f"{name}*"):
        old.unlink()
    shutil.copy(bench.folder / "kept.book", path)
    return path


def _fed(path: Path) -> Any:
    """Return what a plan of a head would be made from."""
    with open_book(path) as book:
        found = read_dossier(book, NAME, None, "")
        return found.text, found.surveys, found.passes, found.others, found.tightenings, len(found.forked)


def merged(bench: Bench, rng: Random) -> Fault | None:
    """Carry two copies of a book on apart, merge both ways: both must feed a plan the same, and say the fork."""
    one, two = _copy(bench, "one.book"), _copy(bench, "two.book")
    for _ in range(rng.randint(2, 5)):
        with open_book(rng.choice((one, two))) as book:
            last = rng.choice(book.entries(NAME, "survey"))
            record = json.loads(json.dumps(last.record))
            record["readings"]["who"] = str(rng.random())
            book.append(NAME, "survey", record)
    for path, other in ((one, two), (two, one)):
        with open_book(path) as book:
            book.merge(other)
    told = [_fed(path) for path in (one, two)]
    if told[0] != told[1]:
        return Fault("disagreement", "merged", "two merged books feed a plan otherwise", b"")
    with open_book(one) as book:
        settled = not book.open_lines(NAME) or (book.settle(NAME) and not book.open_lines(NAME))
        sound = not book.check()
    return None if settled and sound else Fault("disagreement", "merged", "not settled or not sound", b"")


def flipped(bench: Bench, rng: Random) -> Fault | None:
    """Flip one bit of a book: a plan is fed the same as before, or it is refused."""
    path = _copy(bench, "bit.book")
    was = _fed(path)
    spoilt = bytearray(path.read_bytes())
    at, bit = rng.randrange(len(spoilt)), rng.randrange(8)
    spoilt[at] ^= 1 << bit
    path.write_bytes(spoilt)
    try:
        now = _fed(path)
    except StraightenError:
        return None
    except Exception as fault:
        return Fault(
            "traceback",
            "flipped",
            f"bit {bit} of byte {at}: {type(fault).__name__}: {fault}"[:300],
            bytes(spoilt),
        )
    return (
        None
        if now == was
        else Fault("disagreement", "flipped", f"bit {bit} of byte {at} changes a plan", bytes(spoilt))
    )


def header(bench: Bench, rng: Random) -> Fault | None:
    """Change one byte of the header: a rescue gets everything back, and its book is sound."""
    path = _copy(bench, "header.book")
    with open_book(path) as book:
        was = {line.name: [e.digest for e in book.entries(line.name, struck=True)] for line in book.heads()}
    spoilt = bytearray(path.read_bytes())
    at, value = rng.randrange(100), rng.randrange(256)
    spoilt[at] = value
    path.write_bytes(spoilt)
    fresh = bench.folder / "fresh.book"
    fresh.unlink(missing_ok=True)
    told = f"byte {at} of the header as {value}"
    try:
        rescue(path, fresh)
        with open_book(fresh) as book:
            now = {
                line.name: [e.digest for e in book.entries(line.name, struck=True)] for line in book.heads()
            }
            faults = book.check()
    except Exception as fault:
        return Fault("disagreement", "header", f"{told}: {type(fault).__name__}: {fault}"[:300], b"")
    return (
        None
        if now == was and not faults
        else Fault("disagreement", "header", f"{told}: {faults or 'entries lost'}", b"")
    )


def full(bench: Bench, rng: Random) -> Fault | None:
    """Run a command on a full disk: a refused one leaves the book and older files as they were."""
    old = bench.folder / "old.out"
    old.write_text("older and good")
    line = rng.choice(
        (
            ("export", "pump", "--out", "old.out", "--force"), ("sheet", "pump", "--out", "old.out", "--force"),
            ("measure", "pump", "pump/survey-2.toml"), ("plan", "pump"),
        )
    )  # fmt: skip
    size = rng.choice((1, 4096, 8192, rng.randrange(1, 200_000)))
    with limited(size):
        fault = bench.judged(line, "full disk", str(size).encode())
    if fault is None and old.read_text(errors="replace") != "older and good" and not _is_whole(old):
        return Fault("recorded", "full disk", f"{line} with {size} bytes left a part of a file", b"")
    return fault


def _is_whole(path: Path) -> bool:
    text = path.read_text(encoding="utf-8", errors="replace").rstrip()
    return text.endswith(("}", "</html>"))


@contextlib.contextmanager
def limited(size: int) -> Iterator[None]:
    """Let no file grow over a size: what a full disk looks like, for root too."""
    before, limit = signal.signal(signal.SIGXFSZ, signal.SIG_IGN), resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, limit[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limit)
        signal.signal(signal.SIGXFSZ, before)


def false_records(bench: Bench, rng: Random) -> Fault | None:
    """Import a head whose records were changed and sealed anew, then look at it: a sentence, or an answer."""
    path = _copy(bench, "false.book")
    with open_book(path) as book:
        data = book.export_plain(NAME)
    chosen = rng.randrange(len(data["entries"]))

    def change(entry: dict[str, Any]) -> None:
        if entry["digest"] == data["entries"][chosen]["digest"]:
            places = _places(entry["record"])
            if places:
                place = rng.choice(places)
                place.inside[place.key] = json.loads(json.dumps(rng.choice(VALUES), default=str))

    try:
        plain = sealed_anew(data, change)
    except (ValueError, UnicodeError):  # nan, a lone surrogate: no record can hold it
        return None
    (bench.folder / "false.json").write_text(json.dumps(plain))
    path.unlink()
    for line in (
        ("import", "false.json"),
        ("check", NAME),
        ("sheet", NAME, "--out", "x.html", "--force"),
        ("history",),
    ):
        code, told = bench.run(*line, "--book", str(path))
        if code == 1 or "fault of the program" in told or "Traceback" in told or "outside what can" in told:
            return Fault("traceback", f"false records: {line[0]}", told[:300], json.dumps(plain).encode())
        if code != 0 and line[0] == "import":
            return None
    return None


def sqlite_alone(bench: Bench, rng: Random) -> Fault | None:
    """Change a row of the book by SQL, past every trigger: what is read is refused or the same."""
    path = _copy(bench, "row.book")
    was = _fed(path)
    statement = rng.choice(
        (
            "DELETE FROM entry WHERE number = (SELECT max(number) FROM entry)",
            "UPDATE entry SET at = '2020-01-01T00:00:00.000Z' WHERE number = 2",
            "UPDATE entry SET kind = 'bench' WHERE number = (SELECT max(number) FROM entry)",
            "UPDATE entry SET head = (SELECT max(uid) FROM head) WHERE number = 2",
            "UPDATE head SET given = given || 'x', name = name || 'x'",
            "DELETE FROM entry WHERE number = 2",
        )
    )
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        triggers = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute(statement)
        for _, definition in triggers:
            connection.execute(definition)
    try:
        now = _fed(path)
    except StraightenError:
        return None
    return None if now == was else Fault("disagreement", "row", statement, b"")


DOORS: tuple[Callable[[Bench, Random], Fault | None], ...] = (
    special, environment, merged, flipped, flipped, flipped, header, header, full, false_records, sqlite_alone,
)  # fmt: skip
