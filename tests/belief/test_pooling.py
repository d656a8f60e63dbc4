"""Other heads narrow the next one's prior: not at all when the book is empty, robustly when one head is odd."""

import math

import numpy as np
import pytest

from straighten.belief.pooling import pooled_priors, under_published
from straighten.belief.priors import PUBLISHED

SHRINKAGE = next(p for p in PUBLISHED if p.name == "shrinkage")


def shop(truths, told_sd=0.10, seed=3):
    """Heads whose own passes told their log factor to within `told_sd`, as posteriors under the published prior."""
    rng = np.random.default_rng(seed)
    found = []
    for truth in truths:
        seen = truth + told_sd * rng.standard_normal()
        precision = told_sd**-2 + SHRINKAGE.spread**-2
        found.append({"shrinkage": (seen * told_sd**-2 / precision, precision**-0.5)})
    return found


def pooled(others):
    return next(p for p in pooled_priors(PUBLISHED, others) if p.name == "shrinkage")


def test_an_empty_book_gives_the_published_prior_back():
    assert pooled_priors(PUBLISHED, []) == PUBLISHED


def test_heads_that_told_nothing_change_nothing():
    blank = [{"shrinkage": (0.0, 0.999 * SHRINKAGE.spread)}] * 50
    assert pooled(blank).centre == pytest.approx(1.0, abs=0.02)
    assert pooled(blank).spread == pytest.approx(SHRINKAGE.spread, rel=0.05)


def test_many_heads_bring_the_shop_own_mean_and_spread():
    rng = np.random.default_rng(0)
    others = shop(0.3 + 0.12 * rng.standard_normal(150))
    assert math.log(pooled(others).centre) == pytest.approx(0.3, abs=0.05)
    assert pooled(others).spread == pytest.approx(0.12, abs=0.04)


def test_few_heads_move_it_part_of_the_way():
    centres = [math.log(pooled(shop([0.4] * n)).centre) for n in (1, 3, 30)]
    assert 0 < centres[0] < centres[1] < centres[2] <= 0.42
    spreads = [pooled(shop([0.4] * n)).spread for n in (1, 3, 30)]
    assert SHRINKAGE.spread >= spreads[0] > spreads[1] > spreads[2]


def test_one_odd_head_does_not_poison_the_book():
    sound = shop(np.full(12, 0.1))
    odd = [*sound, {"shrinkage": (-1.2, 0.09)}]
    plain = np.log(pooled(sound).centre)
    assert abs(np.log(pooled(odd).centre) - plain) < 0.04
    mean_shift = (-1.35 - 0.1) / 13  # what a plain mean of the heads would have moved by
    assert abs(np.log(pooled(odd).centre) - plain) < 0.4 * abs(mean_shift)


def test_what_the_book_gave_does_not_come_back_as_measured():
    used = pooled(shop(np.full(20, 0.3)))
    # a head that told nothing ends where the pooled prior began; under the published prior it tells nothing either
    mean, sd = under_published(math.log(used.centre), used.spread, used, SHRINKAGE)
    assert mean == pytest.approx(0.0, abs=1e-9)
    assert sd == pytest.approx(SHRINKAGE.spread, rel=1e-9)
