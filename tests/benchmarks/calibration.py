"""Simulation-based calibration over many heads: ``python -m tests.benchmarks.calibration [--heads 1000]``.

Prints chi-square p of the rank histogram of every factor, and the smallest p with a likelihood that is wrong on purpose (a
pass believed to do six tenths of what it does). The last line is one JSON object.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace

import numpy as np

from straighten.belief.priors import NAMES
from tests.belief.cases import draw, one_pass, ranks  # first: it keeps the threads of small matrices to one
from tests.belief.test_calibration import uniform_p


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--heads", type=int, default=1000)
    told = parser.parse_args()
    right = one_pass()
    wrong = replace(right, passes=(lambda states, response: 0.6 * right.passes[0](states, response),))
    cases = [draw(seed) for seed in range(told.heads)]
    found = uniform_p(np.array([ranks(case, right) for case in cases]), 10)
    odd = uniform_p(np.array([ranks(case, wrong) for case in cases[: told.heads // 4]]), 10)
    print(json.dumps({
        "heads": told.heads, "p": dict(zip(NAMES, found.tolist(), strict=True)), "least_p": float(found.min()),
        "least_p_wrong_likelihood": float(odd.min()),
    }))  # fmt: skip


if __name__ == "__main__":
    main()
