"""Spoilt files and answers through the doors of the commands: ``python -m tests.benchmarks.fuzz [--inputs 100000]``.

Sound head, survey (TOML and CSV), set-up, tightening, sand-log, surface, final-list, export and settings files are
spoilt in text, bytes and tables, or made up from their keys by hypothesis; answers are typed into the survey's questions and the
guided session. Most go through the functions that the commands call; every `WHOLE`th through the whole command with a
real book, whose entries are looked at afterwards. Every tenth share draws set-ups over their whole allowed range and judges
what `try` answers by physics (`tests/hostile/tried.py`); every tenth goes through what is no file of the job: special files,
the environment, merged books, flipped bits, header bytes, full disks, false records under true seals (`outside.py`).
An input over `LONGEST` seconds is a hang; a warning of numerics a traceback. The last line printed is one JSON object; its
aim: noughts.
"""

from __future__ import annotations

import argparse
import collections
import json
import multiprocessing
import os
import signal
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from tests.hostile.doors import Bench, Doors, Fault, settled
from tests.hostile.outside import DOORS
from tests.hostile.spoilt import KINDS, made_of_keys, spoilt, written
from tests.hostile.tried import drawn, judged

SHARE = 500  # inputs that a worker takes at a time
WHOLE = 40
MADE_UP, TRIED, OUTSIDE = 0, 3, 7  # shares of ten by their last digit
SLOW = 10  # a set-up tried or a book merged takes as long as so many files read
LONGEST = 60  # s
ANSWERS = 10  # typed into one dialogue; each counts as an input
SHOWN = 20  # faults printed
# One input in so many is of this kind; fitting a surface takes as long as thirty heads are read in.
WEIGHTS = {kind: 1 if kind == "surface" else 12 for kind in KINDS}


@contextmanager
def watched(kind: str, raw: bytes, found: list[Fault]) -> Iterator[None]:
    """Give up on an input after `LONGEST` seconds and call it hung."""

    def ring(_number: int, _frame: object) -> None:
        raise TimeoutError

    signal.signal(signal.SIGALRM, ring)
    signal.alarm(LONGEST)
    try:
        yield
    except TimeoutError:
        found.append(Fault("hang", kind, f"not answered within {LONGEST} s", raw))
    finally:
        signal.alarm(0)


def spoilt_share(doors: Doors, bench: Bench, rng: Random, count: int) -> list[Fault]:
    """Put so many spoilt inputs through."""
    found: list[Fault] = []
    kinds, weights = list(WEIGHTS), list(WEIGHTS.values())
    done = 0
    while done < count:
        way = rng.random()
        kind = rng.choices(kinds, weights)[0]
        raw = spoilt(kind, rng)
        with watched(kind, raw, found):
            if way < 0.1:
                fault = rng.choice((doors.typed, doors.seated))(rng, min(ANSWERS, count - done))
                done += min(ANSWERS, count - done) - 1
            elif way < 0.1 + 1 / WHOLE:
                fault = bench.named(rng) if kind == "config" else bench.whole(kind, raw, rng)
            else:
                fault = doors.through(kind, raw)
            found += [] if fault is None else [fault]
        done += 1
    return found


def made_up_share(doors: Doors, number: int, count: int) -> list[Fault]:
    """Put so many tables made up by hypothesis through."""
    found: list[Fault] = []

    @seed(number)
    @settings(
        max_examples=count,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(st.sampled_from([kind for kind in KINDS if kind != "csv"]), made_of_keys())
    def put(kind: str, tables: dict[str, object]) -> None:
        raw = written(kind, tables)
        with watched(kind, raw, found):
            fault = doors.through(kind, raw)
            found.extend([] if fault is None else [fault])

    put()
    return found


def slow_share(bench: Bench, rng: Random, count: int, *, tries: bool) -> list[Fault]:
    """Try so many set-ups, or put so many things through that are no file of the job."""
    found: list[Fault] = []
    for _ in range(count):
        setup, door = drawn(rng), rng.choice(DOORS)
        with watched("try" if tries else door.__name__, json.dumps(setup).encode(), found):
            fault = judged(setup, bench.folder) if tries else door(bench, rng)
            found += [] if fault is None else [fault]
    return found


def work(told: tuple[int, int]) -> tuple[int, list[Fault]]:
    """Take one share of the inputs, in a folder and with a book of its own."""
    number, count = told
    warnings.simplefilter("error", RuntimeWarning)
    doors, bench = _seat()
    if number % 10 == MADE_UP:
        return count, made_up_share(doors, number, count)
    if number % 10 in (TRIED, OUTSIDE):
        return count, slow_share(bench, Random(number), -(-count // SLOW), tries=number % 10 == TRIED)
    return count, spoilt_share(doors, bench, Random(number), count)


_SEATS: list[tuple[Doors, Bench]] = []
_FOLDERS: list[tempfile.TemporaryDirectory[str]] = []


def _seat() -> tuple[Doors, Bench]:
    """Return this worker's doors and bench, made with its first share."""
    if not _SEATS:
        folder = tempfile.TemporaryDirectory(prefix="fuzz-")
        _FOLDERS.append(folder)  # kept for as long as the worker lives
        place = Path(folder.name)
        (place / "bench").mkdir()
        settled(place).__enter__()
        _SEATS.append((Doors(place), Bench(place / "bench")))
    return _SEATS[0]


def main() -> None:
    """Run on all cores and print what was found."""
    options = argparse.ArgumentParser()
    options.add_argument("--inputs", type=int, default=100_000)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument(
        "--keep", type=Path, help="Folder to keep the inputs in that were not answered well."
    )
    asked = options.parse_args()
    shares = [
        (asked.seed * 1_000_000 + place, min(SHARE, asked.inputs - first))
        for place, first in enumerate(range(0, asked.inputs, SHARE), 1)
    ]
    begun, done, faults = time.monotonic(), 0, []
    with multiprocessing.get_context("spawn").Pool() as pool:
        for count, found in pool.imap_unordered(work, shares):
            done += count
            faults += found
            print(
                f"\r{done} of {asked.inputs} inputs, {len(faults)} faults",
                end="",
                file=sys.stderr,
                flush=True,
            )
        pool.close()
        pool.join()
    print(file=sys.stderr)
    for fault in faults[:SHOWN]:
        print(f"{fault.what}, {fault.kind}: {fault.told}")
    if asked.keep:
        asked.keep.mkdir(exist_ok=True)
        for place, fault in enumerate(faults):
            (asked.keep / f"{place}-{fault.what}").write_bytes(fault.raw)
    counted = collections.Counter(fault.what for fault in faults)
    answer = {
        "inputs": done,
        "tracebacks": counted["traceback"],
        "recorded_by_refused": counted["recorded"],
        "absurd": counted["absurd"],
        "hangs": counted["hang"],
        "disagreements": counted["disagreement"],
        "seconds": round(time.monotonic() - begun),
    }
    print(json.dumps(answer))


if __name__ == "__main__":
    main()
