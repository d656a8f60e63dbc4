"""What `straighten plan` costs over its libraries: ``python -m tests.benchmarks.start [--times 15]``.

Whole-process time of `straighten plan` over that of a process that only imports numpy, scipy.optimize, scipy.linalg
and typer; the two run in turn, so that a busy machine slows both, and the medians are compared. Other commands are timed
over the same floor. The last line printed is one JSON object; its aim: plan_over_floor at most 1.8.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

EXAMPLE = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"
FLOOR = (sys.executable, "-c", "import numpy, scipy.optimize, scipy.linalg, typer")
PROGRAM = (sys.executable, "-m", "straighten")
WAYS = {
    "plan": (*PROGRAM, "plan"),
    "version": (*PROGRAM, "--version"),
    "help": (*PROGRAM, "--help"),
    "where": (*PROGRAM, "where"),
    "heads": (*PROGRAM, "heads"),
    "history": (*PROGRAM, "history"),
}


def seconds(words: tuple[str, ...], environment: dict[str, str]) -> float:
    """Return how long a process takes from its start to its end [s]."""
    begun = time.perf_counter()
    subprocess.run(
        words,
        env=environment,
        check=True,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    return time.perf_counter() - begun


def main() -> None:
    """Time floor and commands in turn and print their ratios."""
    options = argparse.ArgumentParser()
    options.add_argument("--times", type=int, default=15)
    times = options.parse_args().times
    with tempfile.TemporaryDirectory() as folder:
        told = os.environ | {
            "STRAIGHTEN_BOOK": str(Path(folder) / "shop.book"),
            "PYTHONPYCACHEPREFIX": folder,
        }
        told.pop("PYTHONDONTWRITEBYTECODE", None)  # compiled files are kept, as where a person runs it
        subprocess.run(
            (*PROGRAM, "measure", str(EXAMPLE), "survey-1.toml"), env=told, check=True, capture_output=True
        )
        for words in (FLOOR, *WAYS.values()):
            seconds(words, told)  # once before, so that files are at hand
        floor: list[float] = []
        taken: dict[str, list[float]] = {name: [] for name in WAYS}
        for _ in range(times):
            floor.append(seconds(FLOOR, told))
            for name, words in WAYS.items():
                taken[name].append(seconds(words, told))
    least = statistics.median(floor)
    ratios = {
        f"{name}_over_floor": round(statistics.median(found) / least, 3) for name, found in taken.items()
    }
    paired = sorted(plan / base for plan, base in zip(taken["plan"], floor, strict=True))
    print(f"pairwise plan/floor: quartiles {paired[times // 4]:.2f} to {paired[-1 - times // 4]:.2f}")
    print(json.dumps({**ratios, "floor_s": round(least, 3)}))


if __name__ == "__main__":
    main()
