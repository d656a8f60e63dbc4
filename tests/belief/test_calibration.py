"""Simulation-based calibration: truths drawn from the prior lie anywhere in their own posteriors, evenly.

Source: Talts et al., Validating Bayesian inference algorithms with simulation-based calibration, 2018 (from memory). The
module tests a hundred and fifty heads; `python -m tests.benchmarks.calibration` does a thousand.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2

from straighten.belief.priors import NAMES
from tests.belief.cases import draw, one_pass, ranks

pytestmark = pytest.mark.slow
HEADS, BINS = 150, 8
LEAST = 0.01 / len(NAMES)  # a hundredth for all the factors together


def uniform_p(found: np.ndarray, bins: int = BINS) -> np.ndarray:
    """Chi-square p of every column's histogram against the even one."""
    even = len(found) / bins
    counts = [np.histogram(column, bins, (0, 1))[0] for column in found.T]
    return np.array([chi2.sf(np.sum((c - even) ** 2) / even, bins - 1) for c in counts])


@pytest.fixture(scope="module")
def heads():
    return [draw(seed) for seed in range(HEADS)]


def test_every_factor_is_calibrated(heads):
    found = np.array([ranks(case, one_pass()) for case in heads])
    assert (uniform_p(found) > LEAST).all(), dict(zip(NAMES, uniform_p(found), strict=True))


def test_a_wrong_likelihood_is_found_out(heads):
    right = one_pass()
    (taken,) = right.passes
    weaker = replace(taken, takes=lambda states, response: 0.6 * taken(states, response))
    wrong = replace(right, passes=(weaker,))
    found = np.array([ranks(case, wrong) for case in heads])
    assert uniform_p(found).min() < 1e-6
