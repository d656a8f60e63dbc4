"""Writers killed at random moments, and writers all at once: is anything lost that was acknowledged?

    python -m tests.benchmarks.kill [--kills 500] [--together 8] [--each 200]

A writer prints an entry's number once `append` has returned. The killer sends SIGKILL at a random moment after
the writer's start, also while it makes the book; every twentieth writer gets a new book. All numbers printed must
be in the book afterwards, each with its writer's own record, and the book's check must find nothing.
"""

from __future__ import annotations

import argparse
import json
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import TypeVar

from straighten.book import Book, open_book
from straighten.errors import BookError

T = TypeVar("T")
ROOT = Path(__file__).resolve().parents[2]
NEW_BOOK_EVERY = 20
LONGEST_LIFE = 0.3  # [s] from the moment the writer opens the book


def patiently(do: Callable[[], T]) -> tuple[T, int]:
    """Do it until the book is free; return what it gave and how often the book was busy."""
    busy = 0
    while True:
        try:
            return do(), busy
        except BookError as error:
            if "busy" not in error.problem:
                raise
            busy += 1


def write(path: Path, name: str, count: int) -> None:
    """Append `count` entries, telling each one's number as soon as it is safe; say how often the book was busy."""
    print("ready", flush=True)
    book, busy = patiently(lambda: open_book(path))
    with book:
        busy += patiently(lambda: book.append(name, "head", {"name": name}))[1]
        for place in range(count):
            record = {"writer": name, "place": place, "text": "x" * 3000}
            entry, refused = patiently(partial(book.append, name, "bench", record))
            busy += refused
            print(entry.number, place, flush=True)
    print("busy", busy, flush=True)


def started(path: Path, name: str, count: int) -> subprocess.Popen[str]:
    """Start a writer in a process of its own."""
    command = [
        sys.executable,
        "-m",
        "tests.benchmarks.kill",
        "--writer",
        str(path),
        name,
        "--each",
        str(count),
    ]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)


def acknowledged(output: str) -> list[tuple[int, int]]:
    """Return (number, place) of each complete line that a writer printed."""
    lines = [line.split() for line in output.splitlines(keepends=True) if line.endswith("\n")]
    return [
        (int(first), int(second))
        for first, second in (line for line in lines if len(line) == 2)
        if first != "busy"
    ]


def killed(path: Path, name: str, life: float) -> list[tuple[int, int]]:
    """Let a writer live for a moment, kill it, and return what it had acknowledged."""
    writer = started(path, name, 100_000)
    assert writer.stdout is not None
    writer.stdout.readline()
    time.sleep(life)
    writer.kill()
    output, _ = writer.communicate()
    return acknowledged(output)


def missing(book: Book, name: str, told: list[tuple[int, int]]) -> int:
    """Return how many acknowledged entries of a writer are not in the book as they were written."""
    if not told:
        return 0
    there = {entry.number: entry.record for entry in book.entries(name, "bench")}
    return sum(there.get(number, {}).get("place") != place for number, place in told)


def kill_many(folder: Path, kills: int, chance: random.Random) -> Iterator[dict[str, int]]:
    """Kill writers one after another, NEW_BOOK_EVERY on each book; give what was lost per book."""
    for first in range(0, kills, NEW_BOOK_EVERY):
        path = folder / f"book-{first}.db"
        names = [f"writer-{place}" for place in range(first, min(first + NEW_BOOK_EVERY, kills))]
        told = {name: killed(path, name, chance.uniform(0, LONGEST_LIFE)) for name in names}
        with open_book(path) as book:
            lost = sum(missing(book, name, mine) for name, mine in told.items())
            problems = book.check()
        for problem in problems:
            print(path.name, problem)
        yield {"told": sum(map(len, told.values())), "lost": lost, "corrupt": bool(problems)}


def all_at_once(path: Path, writers: int, each: int) -> tuple[int, int, list[str]]:
    """Let writers run together; return how many of their entries are there, how often one said busy, the faults."""
    running = {f"writer-{place}": started(path, f"writer-{place}", each) for place in range(writers)}
    outputs = {name: writer.communicate()[0] for name, writer in running.items()}
    busy = sum(int(output.split()[-1]) for output in outputs.values())
    with open_book(path) as book:
        told = {name: acknowledged(output) for name, output in outputs.items()}
        present = sum(len(mine) - missing(book, name, mine) for name, mine in told.items())
        return present, busy, book.check()


def main() -> None:
    """Run as a writer, or as the killer."""
    options = argparse.ArgumentParser()
    options.add_argument("--writer", nargs=2, metavar=("BOOK", "NAME"))
    options.add_argument("--kills", type=int, default=500)
    options.add_argument("--together", type=int, default=8)
    options.add_argument("--each", type=int, default=200)
    options.add_argument("--seed", type=int, default=1)
    asked = options.parse_args()
    if asked.writer:
        write(Path(asked.writer[0]), asked.writer[1], asked.each)
        return
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        results = list(kill_many(Path(folder), asked.kills, random.Random(asked.seed)))
        middle = time.monotonic()
        told, lost = (sum(result[key] for result in results) for key in ("told", "lost"))
        print(
            f"{asked.kills} writers killed, {told} entries acknowledged, {lost} lost, {middle - begun:.0f} s",
            flush=True,
        )
        present, busy, faults = all_at_once(Path(folder) / "together.db", asked.together, asked.each)
    print(f"{asked.together} writers together, said busy {busy} times, {time.monotonic() - middle:.0f} s")
    answer = {
        "acknowledged_lost": lost,
        "corrupt": sum(result["corrupt"] for result in results) + bool(faults),
        f"present_of_{asked.together * asked.each}": present,
    }
    print(json.dumps(answer))


if __name__ == "__main__":
    main()
