"""Books of a chain of shops: ``python -m tests.benchmarks.merge [--heads 2000] [--passes 5]``.

Two shops' books with so many heads each are made through the book's own door, checked, merged into one and merged again
(nothing must come in twice); then the history of all is read. The last line printed is one JSON object.
"""

from __future__ import annotations

import argparse
import json
import os
import tempfile
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy

import numpy as np

from straighten.book import open_book
from straighten.desk.reading_out import shop_history
from straighten.head import head_from_text
from tests.benchmarks.book_scale import FOLDER, TOGETHER, _head


def made(path: Path, text: str, shop: str, size: tuple[int, int]) -> float:
    """Make a shop's book and return how long that took [s]."""
    heads, passes = size
    family, rng = head_from_text(text, "example").alloy.family, np.random.default_rng(len(shop))
    begun = time.perf_counter()
    with open_book(path) as book:
        for first in range(0, heads, TOGETHER):
            with book.together():
                for number in range(first, min(first + TOGETHER, heads)):
                    _head(book, f"{shop}-{number}", text, (family, passes, rng))
    return time.perf_counter() - begun


def main() -> None:
    """Make, check, merge and read; print what each took."""
    options = argparse.ArgumentParser()
    options.add_argument("--heads", type=int, default=2000)
    options.add_argument("--passes", type=int, default=5)
    asked = options.parse_args()
    text = (FOLDER / "head.toml").read_text(encoding="utf-8")
    answer: dict[str, float] = {"heads_each": asked.heads, "passes_each": asked.heads * asked.passes}
    with tempfile.TemporaryDirectory() as folder:
        one, two = Path(folder) / "one.book", Path(folder) / "two.book"
        made(one, text, "harbour", (asked.heads, asked.passes))
        made(two, text, "quarry", (asked.heads, asked.passes))
        answer["bytes_per_head"] = round(one.stat().st_size / asked.heads)
        with open_book(one) as book:
            for name, work in (
                ("check_s", book.check),
                ("merge_s", lambda: book.merge(two)),
                ("merge_again_s", lambda: book.merge(two)),
                ("history_s", lambda: shop_history(book)),
            ):
                begun = time.perf_counter()
                work()
                answer[name] = round(time.perf_counter() - begun, 2)
            answer["heads_after"] = len(book.heads())
            answer["faults"] = len(book.check())
    print(json.dumps(answer))


if __name__ == "__main__":
    main()
