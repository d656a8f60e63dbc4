"""Damaged books: what a rescue, SQLite's own recovery and a dump get back: ``python -m tests.benchmarks.rescue [--books 500]``.

One book with real records is copied and damaged in five ways in turn: a byte of the header, up to thirty bytes anywhere, a
page, the file cut short, a hole of several pages. Each copy goes through `rescue`, through the `.recover` and `.dump` of an
sqlite3 shell where there is one, and through the `iterdump` of Python. A script that ends with "ROLLBACK; -- due to errors" is
committed all the same. An entry counts where it matches its seal and the sound book has that seal; what lands in
`lost_and_found` counts too. `--shell` names a shell whose `.recover` works: Debian's is built without the table it needs.
The last line printed is one JSON object.
"""

from __future__ import annotations

import argparse
import collections
import json
import random
import shutil
import sqlite3
import subprocess
import tempfile
import time
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path

from straighten.book import open_book, rescue
from straighten.book.rows import sealed_of
from straighten.errors import BookError, StraightenError

EXAMPLE = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"
PAGE = 4096
HEADS = 12
COLUMNS = (
    "number", "head", "kind", "schema", "at", "clock_back", "version", "previous", "inputs", "digest", "record",
)  # fmt: skip
Truth = set[str]  # seals of entries that match them


def sound_book(path: Path) -> Truth:
    """Make a book of a dozen heads, each with the files of a worked example, and return what it holds."""
    texts = [file.read_text(encoding="utf-8") for file in sorted(EXAMPLE.glob("*.toml"))]
    with open_book(path) as book:
        for number in range(HEADS):
            name = f"pump-{number}"
            last = book.append(name, "head", {"name": name, "text": texts[0]}).number
            for place, text in enumerate(texts):
                last = book.append(name, "survey", {"place": place, "text": text}, inputs=[last]).number
                book.append(name, "bench", {"answer": f"goes 0.0{place}, head {number}"})
    return rows_of(path)


def rows_of(path: Path) -> Truth:
    """Return the seals of every entry in a file that still matches its seal, wherever its row stands."""
    found: Truth = set()
    with suppress(sqlite3.Error, UnicodeDecodeError), closing(sqlite3.connect(path)) as connection:
        for (table,) in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall():
            if table == "entry" or table.startswith("lost_and_found"):
                for row in connection.execute(f'SELECT * FROM "{table}"'):
                    with suppress(BookError, KeyError):
                        found.add(sealed_of(dict(zip(COLUMNS, row[-len(COLUMNS) :], strict=False))).digest)
    return found


def damaged(whole: bytes, chance: random.Random, way: int) -> bytes:
    """Return the bytes of a book after one of five kinds of damage."""
    spoilt = bytearray(whole)
    if way == 0:
        spoilt[chance.randrange(100)] = chance.randrange(256)
    elif way == 1:
        for _ in range(chance.randint(1, 30)):
            spoilt[chance.randrange(len(spoilt))] = chance.randrange(256)
    elif way == 2:
        first = PAGE * chance.randrange(len(spoilt) // PAGE)
        spoilt[first : first + PAGE] = chance.choice((bytes(PAGE), chance.randbytes(PAGE)))
    elif way == 3:
        del spoilt[int(len(spoilt) * chance.uniform(0.3, 0.99)) :]
    else:
        first, length = chance.randrange(len(spoilt)), chance.randint(2, 16) * PAGE
        spoilt[first : first + length] = bytes(min(length, len(spoilt) - first))
    return bytes(spoilt)


WAYS = ("header byte", "up to 30 bytes", "page", "cut short", "hole")


def by_rescue(spoilt: Path, folder: Path, failed: collections.Counter[str]) -> Truth:
    """Return what the program's own rescue gets back; count rescues that leave a book which fails its check."""
    fresh = folder / "fresh.book"
    try:
        rescue(spoilt, fresh)
    except StraightenError:
        failed["rescue refused"] += 1
    except Exception as fault:
        failed[f"rescue {type(fault).__name__}"] += 1
    if not fresh.exists():
        return set()
    try:
        with open_book(fresh) as book:
            failed["check of the rescued book"] += bool(book.check())
    except StraightenError:
        failed["rescued book not opened"] += 1
        return set()
    return rows_of(fresh)


def by_shell(shell: str, command: str) -> Callable[[Path, Path, collections.Counter[str]], Truth]:
    """Return the way that goes through the sqlite3 shell."""

    def found(spoilt: Path, folder: Path, failed: collections.Counter[str]) -> Truth:
        done = subprocess.run([shell, spoilt, command], capture_output=True, check=False, timeout=120)
        return loaded(done.stdout.decode("utf-8", "replace"), folder / f"{command[1:]}.db")

    return found


def by_iterdump(spoilt: Path, folder: Path, failed: collections.Counter[str]) -> Truth:
    """Return what Python's own dump gives before it stumbles."""
    lines: list[str] = []
    with suppress(sqlite3.Error, UnicodeDecodeError), closing(sqlite3.connect(spoilt)) as connection:
        lines.extend(connection.iterdump())
    return loaded("\n".join(lines), folder / "iterdump.db")


def loaded(script: str, fresh: Path) -> Truth:
    """Return the entries that a script of SQL leaves; the shell passes over statements that fail."""
    script = script.replace("ROLLBACK; -- due to errors", "COMMIT;")
    if "COMMIT" not in script[-400:]:
        script += "\nCOMMIT;\n"
    subprocess.run(["sqlite3", fresh], input=script.encode(), capture_output=True, check=False, timeout=120)
    return rows_of(fresh)


def main() -> None:
    """Damage, rescue, compare; print a table and one JSON object."""
    options = argparse.ArgumentParser()
    options.add_argument("--books", type=int, default=500)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--shell", default="sqlite3")
    asked = options.parse_args()
    ways: dict[str, Callable[[Path, Path, collections.Counter[str]], Truth]] = {"rescue": by_rescue}
    if shutil.which("sqlite3"):
        ways |= {"recover": by_shell(asked.shell, ".recover"), "dump": by_shell(asked.shell, ".dump")}
        ways["iterdump"] = by_iterdump
    chance, failed = random.Random(asked.seed), collections.Counter[str]()
    got: dict[str, collections.Counter[str]] = {name: collections.Counter() for name in ways}
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as place:
        truth = sound_book(Path(place) / "sound.book")
        whole = (Path(place) / "sound.book").read_bytes()
        for number in range(asked.books):
            way = number % len(WAYS)
            data = damaged(whole, chance, way)
            for name, take in ways.items():
                with tempfile.TemporaryDirectory(dir=place) as folder:
                    spoilt = Path(folder) / "spoilt.book"
                    spoilt.write_bytes(data)
                    got[name][WAYS[way]] += len(take(spoilt, Path(folder), failed) & truth)
    for name, counts in got.items():
        shares = {way: round(counts[way] * len(WAYS) / (asked.books * len(truth)), 4) for way in WAYS}
        print(f"{name:9} {shares}")
    print(f"failures: {dict(failed)}; {time.monotonic() - begun:.0f} s")
    whole_share = {
        name: round(counts.total() / (asked.books * len(truth)), 4) for name, counts in got.items()
    }
    print(
        json.dumps(
            {
                "books": asked.books,
                "entries_each": len(truth),
                "share_back": whole_share,
                "failures": failed.total(),
            }
        )
    )


if __name__ == "__main__":
    main()
