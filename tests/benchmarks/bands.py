"""How often the planner's 80 % range for the next bow holds, and how much one logged pass narrows the error.

Run as ``python -m tests.benchmarks.bands [--heads 400] [--workers 2]``. Well specified: shape, factors, luck and readings
are drawn from what the planner believes before it measures anything. Misspecified: the heads of
`tests.simulated.heads`, which answer below the model, less with every pass, with thicker tails, on a leaning bow, one reading in twenty
read a blade off. Every head is measured, passed, measured and passed again; the bow after each pass is held
against the range foretold, deck and cam line both. `sd_ratio`: how far the next bow foretold is off after one logged pass
over how far it was off before any, root mean squares in metres, deck and cam line both; `..._of_the_set` the same of what the
pass took off the deck over what was foretold of it, less one: second passes find fewer fresh places and take less, which
this leaves out. The last line printed is one JSON object; its aims: coverage80 0.77 to 0.83, coverage80_misspecified >= 0.70, sd_ratio <= 0.60.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy: small matrices gain nothing from threads

import numpy as np

from straighten.belief.learn import learn
from straighten.belief.priors import priors_for, response_of
from straighten.belief.sobol import sobol_normal
from straighten.clamp import ClampSetup, section_of
from straighten.plan.candidates import bolt_sets
from straighten.plan.forecast import NOISE_SIZE, forecast, left_after, run_pass
from straighten.plan.records import PassSetup
from straighten.plan.spots import spot_sets
from straighten.quantiles import quantile, weighted_quantiles
from straighten.shape.modes import INDEX
from straighten.shape.prior import prior_sd
from tests.simulated import heads

DRAWS = 1024
LINES = ("deck_bow", "cam_bow")


@dataclass(frozen=True)
class Foretold:
    """One pass foretold: whether each line's range held, how far its median was off [m], and the set over its median, less one."""

    held: tuple[bool, ...]
    missed: tuple[float, ...]
    off: float


class Believed:
    """A head drawn from the planner's own prior: what happens is what it believes may happen."""

    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng([seed, 9])
        self.head = heads.head_of(heads.DESIGNS[seed % len(heads.DESIGNS)])
        self.section = section_of(self.head)
        priors = priors_for(self.head)
        self.response = response_of(priors, rng.standard_normal((1, len(priors))))
        self.state = rng.standard_normal(prior_sd().size) * prior_sd()
        bow = abs(self.state[INDEX["deck_bow"]]) + 0.05e-3
        self.state[INDEX["deck_bow"]] = bow
        self.state[INDEX["cam_bow"]] = abs(self.state[INDEX["cam_bow"]]) + 0.05e-3
        self.rng, self.seed = rng, seed

    def take(self, setup: PassSetup) -> None:
        set_state = run_pass(self.head, self.section, self.state[None], self.response, setup)[1].set_state
        noise = self.rng.standard_normal((1, NOISE_SIZE))
        self.state = left_after(self.state[None], set_state, self.response, noise)[0]

    def read(self, number: int) -> object:
        truth = replace(heads.draw_head(self.seed), head=self.head, state=self.state)
        return heads.survey(truth, number, misread=0.0)


class Odd:
    """A head of the simulator that breaks the model."""

    def __init__(self, seed: int) -> None:
        self.truth, self.passes = heads.draw_head(seed), 0

    @property
    def head(self) -> object:
        return self.truth.head

    @property
    def state(self) -> np.ndarray:
        return self.truth.state

    def take(self, setup: PassSetup) -> None:
        self.truth = heads.after_pass(self.truth, setup, self.passes)
        self.passes += 1

    def read(self, number: int) -> object:
        return heads.survey(self.truth, number)


def two_passes(head: Believed | Odd, seed: int) -> list[Foretold]:
    """Measure, foretell, pass, measure, foretell, pass; the set-ups vary from head to head."""
    rng = np.random.default_rng([seed, 11])
    surveys, passes, found = [head.read(0)], [], []
    for number in range(2):
        belief = learn(head.head, surveys, passes, count=DRAWS)
        used = [spot for done in passes for spot in done.spots]
        sets = spot_sets(head.head, used)
        spots = sets[(2 * len(sets)) // 3] if sets else ()  # as many as a plan would heat
        shim = float(rng.choice([0.1e-3, 0.2e-3, 0.3e-3]))
        setup = PassSetup(clamp=ClampSetup(shims=(shim,) * 4, bolts=bolt_sets(head.head)[-1]), spots=spots)
        seen = forecast(head.head, belief.draws, setup, sobol_normal(DRAWS, NOISE_SIZE, 41))
        before = head.state.copy()
        head.take(setup)
        found.append(_told(seen, before, head.state))
        passes.append(setup)
        surveys.append(head.read(number + 1))
    return found


def _told(seen: object, before: np.ndarray, after: np.ndarray) -> Foretold:
    held, missed = [], []
    for name in LINES:
        low, middle, high = weighted_quantiles(seen.column(name), seen.weights, (0.1, 0.5, 0.9))
        held.append(bool(low <= after[INDEX[name]] <= high))
        missed.append(float(after[INDEX[name]] - middle))
    deck = INDEX["deck_bow"]
    median = quantile((seen.before - seen.after)[:, deck], seen.weights, 0.5)
    taken = float(before[deck] - after[deck])
    off = taken / median - 1 if median > 1e-5 else np.nan
    return Foretold(held=tuple(held), missed=tuple(missed), off=off)


def one(seed: int) -> dict[str, list[Foretold]]:
    return {"believed": two_passes(Believed(seed), seed), "odd": two_passes(Odd(seed), seed)}


def coverage(rows: list[list[Foretold]]) -> float:
    return float(np.mean([held for row in rows for told in row for held in told.held]))


def nearer(rows: list[list[Foretold]]) -> float:
    first, second = np.sqrt(np.mean([[np.square(told.missed) for told in row] for row in rows], axis=(0, 2)))
    return float(second / first)


def narrowing(rows: list[list[Foretold]]) -> float:
    off = np.array([[told.off for told in row] for row in rows])
    off = off[np.isfinite(off).all(axis=1)]
    first, second = np.sqrt(np.mean(off**2, axis=0))
    return float(second / first)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--heads", type=int, default=400)
    parser.add_argument("--workers", type=int, default=2)
    told = parser.parse_args()
    begun, rows = time.perf_counter(), []
    with ProcessPoolExecutor(told.workers, mp_context=get_context("spawn")) as pool:
        for done, row in enumerate(pool.map(one, range(told.heads), chunksize=4), start=1):
            rows.append(row)
            if done % 50 == 0:
                print(f"{done} heads, {time.perf_counter() - begun:.0f} s", file=sys.stderr, flush=True)
    believed, odd = ([row[kind] for row in rows] for kind in ("believed", "odd"))
    answer = {
        "heads": told.heads,
        "seconds": round(time.perf_counter() - begun, 1),
        "coverage80": coverage(believed),
        "coverage80_misspecified": coverage(odd),
        "sd_ratio": nearer(believed),
        "sd_ratio_of_the_set": narrowing(believed),
        "sd_ratio_misspecified": nearer(odd),
    }
    print(json.dumps(answer))


if __name__ == "__main__":
    main()
