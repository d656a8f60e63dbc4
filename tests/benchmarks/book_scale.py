"""How much a large book slows a plan down: ``python -m tests.benchmarks.book_scale [--heads 10000] [--passes 5]``.

Two books: one with the worked example's head alone, one with ten thousand heads and five passes each beside it. The
same card is planned from both in turn; the medians are compared. The big book's rows are written through the book's own
door, many at a time. The last line printed is one JSON object; its aim: slowdown < 0.20.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy: small matrices gain nothing from threads

import numpy as np

from straighten.book import Book, Outcome, open_book
from straighten.desk.dossier import read_dossier
from straighten.desk.job import Job
from straighten.desk.kept import record_card, record_survey
from straighten.desk.planning import plan_card
from straighten.head import head_from_text
from straighten.readings import read_survey

FOLDER = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"
NAME = "irrigation-pump-four"
TIMES = 7
TOGETHER = 500  # heads written in one transaction


def begun(path: Path, text: str) -> None:
    """Make a book with the example's head, measured once."""
    with open_book(path) as book:
        dossier = read_dossier(book, NAME, text, "head.toml")
        record_survey(book, dossier, read_survey(FOLDER / "survey-1.toml", dossier.head))


def filled(path: Path, text: str, heads: int, passes: int) -> None:
    """Add other heads with their passes, all of the example's alloy family and torch."""
    family, rng = head_from_text(text, "example").alloy.family, np.random.default_rng(1)
    with open_book(path) as book:
        for first in range(0, heads, TOGETHER):
            with book.together():
                for number in range(first, min(first + TOGETHER, heads)):
                    _head(book, f"other-{number}", text, (family, passes, rng))
            print(f"{first + TOGETHER} heads", file=sys.stderr, flush=True)


def _head(book: Book, name: str, text: str, told: tuple[str, int, np.random.Generator]) -> None:
    family, passes, rng = told
    entry = book.append(name, "head", {"name": name, "text": text})
    for number in range(passes):
        outcome = Outcome(
            alloy_family=family,
            heat_source="torch",
            pass_number=number + 1,
            predicted_set_mm=0.06,
            measured_set_mm=0.06 * float(rng.lognormal(0, 0.2)),
            factors={
                factor: (float(rng.normal(0.1, 0.15)), 0.2)
                for factor in ("stiffness", "shrinkage", "kept", "cam_ratio")
            },
        )
        book.append(
            name, "pass", {"done": {}, "readings": None, "outcome": outcome.to_plain()}, inputs=[entry.number]
        )


def planned(path: Path, text: str) -> float:
    """Return how long it takes to open the book, read the head, plan and enter the card [s]."""
    started = time.perf_counter()
    with open_book(path) as book:
        dossier = read_dossier(book, NAME, text, "head.toml")
        card = plan_card(Job(dossier), datetime.now(UTC))
        record_card(book, dossier, card)
    return time.perf_counter() - started


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--heads", type=int, default=10_000)
    parser.add_argument("--passes", type=int, default=5)
    told = parser.parse_args()
    text = (FOLDER / "head.toml").read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        small, large = Path(folder) / "small.book", Path(folder) / "large.book"
        for path in (small, large):
            begun(path, text)
        filled(large, text, told.heads, told.passes)
        planned(small, text)
        times: dict[str, list[float]] = {"small": [], "large": []}
        for _ in range(TIMES):  # in turn, so that a busy machine slows both
            times["small"].append(planned(small, text))
            times["large"].append(planned(large, text))
    alone, among = (statistics.median(times[kind]) for kind in ("small", "large"))
    print(json.dumps({
        "heads": told.heads, "passes": told.heads * told.passes, "alone_s": alone, "among_s": among, "slowdown": among / alone - 1,
    }))  # fmt: skip


if __name__ == "__main__":
    main()
