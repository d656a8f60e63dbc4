"""Whole jobs through the shipped commands, and by hand, on the heads of an independent workshop.

Run as ``python -m tests.benchmarks.jobs [--heads 300] [--seed S] [--workers 2] [--rows FILE] [--only program|hands]
[--odd NAME]``. The last line printed is one JSON object. Every finished head is a line of FILE (default: a file of the
temporary folder that names seed and oddity); heads found there are not run again, so that a run may be stopped and
taken up. Heads, hands, readings and the driver are those of `tests.workshop`; see docs/verification/workshop.md.

Definitions, fixed before the first run:

straight        the true cam line (every one, minimum zone over its towers) in its limit, and the true deck in its limit
                or sandable to it within what may come off. However the job was ended.
past            after some clamping the true cam line's bow lay on the other side of straight by more than its limit.
heats           clampings with heat, plainly averaged over all jobs, those refused too.
..._hand        the same of that rule of the hand which brings the most heads straight.
metal_ratio     what must come off until the deck is in its limit, averaged over all jobs, over the same of that rule.
stopped_early   share of all jobs that the program ended, the head not straight, although a pass of its own making would
                have brought it straight with chance over one half: the card of `plan` with a reason to go past advice,
                else the last card again on the same places, carried out under 24 other lucks.
cover           share of 80 % ranges that hold the truth, [deck, cam]: bow as the middle over the ends, deck as the mean
                of its edges, cam lines in the mean. "now": of the card and of `log` after every pass; "stage": of a
                reading in the clamp; "pass1" ...: of the card, for what comes after the first, second, third clamping. Besides, one share
                each: "twist" of the first survey, "tighten" the gaps that the card foretells after every round.
foretold        what `measure` says at intake of the whole job, of heads to be heated: the mean chance to end straight and the
                share that did; shares of its ranges of clampings and of metal to sand off (10 um either way) that hold what came.
by_bow          by the true bow of the cam line at intake, in steps of 0.1 mm: heads, straight, straight_hand, past,
                heats.

Oddities (``--odd``), heads that break the planner's model: spot-low and spot-high (every spot 0.6 and 1.5 of the law),
scatter (0.3 instead of 0.12 from pass to pass), feel (15 um), friction-low and friction-high (0.08, 0.24), gap (every
gap in the clamp is read 30 um too small). ``--odd believed`` runs heads as the planner believes them, by the program
alone: see `tests.benchmarks.believed`.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
import time
from collections import Counter, defaultdict
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict
from multiprocessing import get_context
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy: small matrices gain nothing from threads

import numpy as np

from tests.workshop.castings import draw
from tests.workshop.ended import Job
from tests.workshop.hands import RULES, by_hand

Row = dict[str, Any]
ODD: dict[str, dict[str, float]] = {
    "none": {}, "spot-low": {"spot": 0.6}, "spot-high": {"spot": 1.5}, "scatter": {"scatter": 0.3}, "feel": {"feel": 0.015},
    "friction-low": {"friction": 0.08}, "friction-high": {"friction": 0.24}, "gap": {"gap": 0.03},
}  # fmt: skip
STAGES = ("now", "stage", "pass1", "pass2", "pass3", "twist", "tighten")


def one(number: int, odd: str, only: str) -> list[Row]:
    """Return the jobs of one head: by the program, and by every rule."""
    if odd == "believed":
        return [_row(_believed(number))]
    truth, jobs = draw(number, ODD[odd]), []
    if only != "hands":
        from tests.workshop.shop import by_program

        jobs.append(by_program(truth))
    if only != "program":
        jobs += [by_hand(truth, rule) for rule in RULES]
    return [_row(job) for job in jobs]


def _believed(number: int) -> Job:
    from tests.benchmarks.believed import Believed
    from tests.workshop.shop import by_program

    head = Believed(number)
    return by_program(head.truth, head.acts)


def _row(job: Job) -> Row:
    row: Row = json.loads(json.dumps(asdict(job), default=_plain))
    return row


def _plain(value: Any) -> Any:
    return value.item()  # numpy's own bool and float


def counted(rows: list[Row]) -> dict[str, float]:
    return {key: float(np.mean([row[key] for row in rows])) for key in ("straight", "past", "heats", "metal")}


def best_hand(rows: list[Row]) -> list[Row]:
    """Return the rows of the rule that brings the most heads straight; of equals the one with fewer past straight."""
    by_rule = [[row for row in rows if row["by"] == rule.name] for rule in RULES]
    return (
        max(by_rule, key=lambda own: (counted(own)["straight"], -counted(own)["past"]))
        if all(by_rule)
        else []
    )


def covered(rows: list[Row]) -> dict[str, list[float] | None]:
    found: dict[str, list[float] | None] = {}
    for stage in STAGES:
        held = [pair for row in rows for pair in row["held"].get(stage, [])]
        found[stage] = [round(float(v), 3) for v in np.mean(held, axis=0)] if held else None
    return found


def foretold(rows: list[Row]) -> dict[str, float]:
    """Return what was said of the whole job at intake against what came of it."""
    told = [(row, row["foretold"]) for row in rows if row.get("foretold")]
    if not told:
        return {}

    def held(key: str, came: str, slack: float) -> float:
        return float(np.mean([t[key][0] - slack <= row[came] <= t[key][2] + slack for row, t in told]))

    return {
        "heads": len(told), "chance": float(np.mean([t["chance_straight"] for _, t in told])),
        "straight": float(np.mean([row["straight"] for row, _ in told])),
        "clampings": held("clampings_10_50_90", "heats", 0.0), "metal": held("metal_to_sand_10_50_90_mm", "metal", 0.01),
    }  # fmt: skip


def by_bow(ours: list[Row], hand: list[Row]) -> dict[str, dict[str, float]]:
    found = {}
    for low in (0.1, 0.2, 0.3, 0.4, 0.5):
        mine, its = ([r for r in rows if low <= r["bow"] < low + 0.1] for rows in (ours, hand))
        if mine:
            told = counted(mine)
            found[f"{low:.1f}-{low + 0.1:.1f}"] = {
                "heads": len(mine), "straight": told["straight"], "straight_hand": counted(its)["straight"] if its else None,
                "past": told["past"], "heats": told["heats"],
            }  # fmt: skip
    return found


def summed(rows: list[Row]) -> dict[str, Any]:
    """Return the answer of the benchmark."""
    ours, hand = [r for r in rows if r["by"] == "program"], best_hand(rows)
    mine, its = counted(ours) if ours else {}, counted(hand) if hand else {}
    return {
        "heads": len(ours) or len(hand), "straight": mine.get("straight"), "straight_hand": its.get("straight"), "past": mine.get("past"),
        "past_hand": its.get("past"), "heats": mine.get("heats"), "heats_hand": its.get("heats"),
        "metal_ratio": mine["metal"] / its["metal"] if mine and its and its["metal"] else None,
        "stopped_early": float(np.mean([(r["chance"] or 0) > 0.5 for r in ours])) if ours else None,
        "cover": covered(ours), "foretold": foretold(ours), "by_bow": by_bow(ours, hand),
    }  # fmt: skip


def told_beside(rows: list[Row]) -> None:
    """Print on the error stream what the answer leaves out: causes, rules, seconds."""
    ours = [r for r in rows if r["by"] == "program"]
    print("lost:", dict(Counter(r["cause"] for r in ours if r["cause"]).most_common()), file=sys.stderr)
    print("ended:", dict(Counter(r["ended"] for r in ours).most_common()), file=sys.stderr)
    for rule in RULES:
        own = [r for r in rows if r["by"] == rule.name]
        if own:
            print(f"{rule.name}:", {k: round(v, 3) for k, v in counted(own).items()}, file=sys.stderr)
    seconds = defaultdict(list)
    for row in ours:
        for command, spent in row["seconds"].items():
            seconds[command] += spent
    for command, spent in seconds.items():
        middle, late = np.quantile(spent, [0.5, 0.95])
        print(f"{command}: {middle:.2f} s, 95 of 100 within {late:.2f} s", file=sys.stderr)


def known(path: Path) -> dict[int, list[Row]]:
    """Return the heads that are in the file already; a last line cut off by a stop is left out."""
    found: dict[int, list[Row]] = {}
    if path.exists():
        for line in path.read_text(encoding="utf-8").splitlines():
            try:
                rows = json.loads(line)
            except json.JSONDecodeError:
                continue
            found[rows[0]["number"]] = rows
    return found


def run(told: argparse.Namespace, path: Path) -> list[Row]:
    numbers = range(told.seed, told.seed + told.heads)
    done = {number: rows for number, rows in known(path).items() if number in numbers}
    left = [number for number in numbers if number not in done]
    begun = time.perf_counter()
    with (
        ProcessPoolExecutor(told.workers, mp_context=get_context("spawn")) as pool,
        path.open("a", encoding="utf-8") as out,
    ):
        for future in as_completed([pool.submit(one, number, told.odd, told.only) for number in left]):
            rows = future.result()
            done[rows[0]["number"]] = rows
            out.write(json.dumps(rows) + "\n")
            out.flush()
            print(
                f"{len(done)} of {told.heads} heads, {time.perf_counter() - begun:.0f} s",
                file=sys.stderr,
                flush=True,
            )
    return [row for rows in done.values() for row in rows]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--heads", type=int, default=300)
    parser.add_argument("--seed", type=int, default=0, help="number of the first head")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--rows", type=Path)
    parser.add_argument("--only", choices=("both", "program", "hands"), default="both")
    parser.add_argument("--odd", choices=(*ODD, "believed"), default="none")
    told = parser.parse_args()
    rows = run(
        told, told.rows or Path(tempfile.gettempdir()) / f"jobs-{told.only}-{told.odd}-{told.seed}.jsonl"
    )
    told_beside(rows)
    print(json.dumps(summed(rows)))


if __name__ == "__main__":
    main()
