"""Other heads narrow the next one's prior: not at all when the book is empty, robustly when one head is odd."""

import math
from dataclasses import replace

import numpy as np
import pytest

from straighten.belief.pooling import POOLED, pooled_priors, taught
from straighten.belief.priors import PUBLISHED, response_of
from straighten.plan.records import Draws

OWN = [p for p in PUBLISHED if p.name in POOLED]
SPREAD = np.array([p.spread for p in OWN])
SHRINKAGE, KEPT = POOLED.index("shrinkage"), POOLED.index("kept")


def book_of(told, mean):
    """What a head enters whose passes said that its logs lie about `mean`, with precision `told`, under the published priors."""
    precision = told + np.diag(SPREAD**-2)
    draws = drawn(np.linalg.solve(precision, told @ mean), np.linalg.inv(precision))
    return taught(draws, PUBLISHED)


def drawn(mean, covariance):
    """Draws with exactly this mean and covariance of the pooled factors' logs."""
    root = np.linalg.cholesky(covariance) * math.sqrt(len(POOLED))
    logs = mean + np.concatenate([root.T, -root.T])
    values = {name: np.exp(logs[:, n]) for n, name in enumerate(POOLED)}
    response = replace(response_of(PUBLISHED, np.zeros((len(logs), len(PUBLISHED)))), **values)
    return Draws(
        states=np.zeros((len(logs), 11)), response=response, weights=np.full(len(logs), 1 / len(logs))
    )


def shop(truths, told_sd=0.10, seed=3):
    """Heads whose own passes told the log shrinkage to within `told_sd`, and nothing else."""
    rng = np.random.default_rng(seed)
    told = np.zeros((4, 4))
    told[SHRINKAGE, SHRINKAGE] = told_sd**-2
    found = []
    for truth in truths:
        mean = np.zeros(4)
        mean[SHRINKAGE] = truth + told_sd * rng.standard_normal()
        found.append(book_of(told, mean))
    return found


def pooled(others, name="shrinkage", priors=PUBLISHED):
    return next(p for p in pooled_priors(priors, others) if p.name == name)


PUBLISHED_SHRINKAGE = next(p for p in PUBLISHED if p.name == "shrinkage")


def test_an_empty_book_gives_the_published_prior_back():
    assert pooled_priors(PUBLISHED, []) == PUBLISHED


def test_heads_that_told_nothing_change_nothing():
    blank = [book_of(np.zeros((4, 4)), np.zeros(4))] * 50
    for before, after in zip(PUBLISHED, pooled_priors(PUBLISHED, blank), strict=True):
        assert after.centre == pytest.approx(before.centre, rel=1e-3)
        assert after.spread == pytest.approx(before.spread, rel=1e-3)


def test_many_heads_bring_the_shop_own_mean_and_spread():
    rng = np.random.default_rng(0)
    others = shop(0.3 + 0.12 * rng.standard_normal(150))
    assert math.log(pooled(others).centre) == pytest.approx(0.3, abs=0.05)
    assert pooled(others).spread == pytest.approx(0.12, abs=0.04)


def test_a_shop_whose_heads_differ_more_than_published_gets_a_wider_prior():
    rng = np.random.default_rng(1)
    assert (
        pooled(shop(2 * PUBLISHED_SHRINKAGE.spread * rng.standard_normal(150))).spread
        > 1.3 * PUBLISHED_SHRINKAGE.spread
    )


def test_few_heads_move_it_part_of_the_way():
    centres = [math.log(pooled(shop([0.4] * n)).centre) for n in (1, 3, 30)]
    assert 0 < centres[0] < centres[1] < centres[2] <= 0.42
    spreads = [pooled(shop([0.4] * n)).spread for n in (1, 3, 30)]
    assert spreads[0] > spreads[1] > spreads[2]
    assert PUBLISHED_SHRINKAGE.spread > spreads[1]  # one head far off says first of all that heads differ


def test_one_head_that_hardly_told_anything_leaves_the_prior_where_it_was():
    # whatever the published centre is, here 1.5: a little said of what has a centre moves it a little; Bayes' rule, derived
    told = np.diag([0.0, 2.0, 0.0, 0.0])
    priors = tuple(replace(p, centre=1.5) if p.name == "shrinkage" else p for p in PUBLISHED)
    after = pooled([book_of(told, np.zeros(4))], priors=priors)
    assert math.log(after.centre) == pytest.approx(math.log(1.5), abs=0.05)


def test_passes_that_tell_a_product_only_shift_the_product_by_what_they_tell_and_no_more():
    # a pass tells shrinkage times kept, and neither by itself; counted each by itself the shift would come twice
    along = np.zeros(4)
    along[[SHRINKAGE, KEPT]] = 1.0
    told = np.multiply.outer(along, along) * 0.08**-2
    each = np.zeros(4)
    each[[SHRINKAGE, KEPT]] = -0.2  # both together -0.4
    priors = pooled_priors(PUBLISHED, [book_of(told, each)] * 60)
    logs = {p.name: math.log(p.centre) for p in priors if p.name in POOLED}
    assert logs["shrinkage"] + logs["kept"] == pytest.approx(-0.4, abs=0.03)


def test_one_odd_head_does_not_poison_the_book():
    sound = shop(np.full(12, 0.1))
    odd = [*sound, *shop([-1.35], seed=5)]
    plain = math.log(pooled(sound).centre)
    moved = abs(math.log(pooled(odd).centre) - plain)
    mean_shift = 1.45 / 13  # what a plain mean of the heads would have moved by
    assert moved < 0.04
    assert moved < 0.4 * mean_shift


def test_an_older_book_without_products_still_teaches():
    plain = [{name: head[name] for name in POOLED} for head in shop([0.4] * 30)]
    assert math.log(pooled(plain).centre) == pytest.approx(0.4, abs=0.06)


def test_what_the_book_gave_does_not_come_back_as_measured():
    used = pooled_priors(PUBLISHED, shop(np.full(20, 0.3)))
    own = [p for p in used if p.name in POOLED]
    # a head that told nothing ends where the pooled prior began; under the published prior it tells nothing either
    nothing = drawn(np.log([p.centre for p in own]), np.diag([p.spread**2 for p in own]))
    for prior in OWN:
        mean, sd = taught(nothing, used)[prior.name]
        assert mean == pytest.approx(math.log(prior.centre), abs=2e-3)
        assert sd == pytest.approx(prior.spread, rel=2e-3)


def test_a_head_of_doubtful_section_teaches_what_its_passes_said_not_how_doubtful_it_was():
    wide = tuple(replace(p, spread=2 * p.spread) if p.name == "stiffness" else p for p in PUBLISHED)
    own = [p for p in wide if p.name in POOLED]
    nothing = drawn(np.log([p.centre for p in own]), np.diag([p.spread**2 for p in own]))
    assert taught(nothing, wide)["stiffness"][1] == pytest.approx(SPREAD[0], rel=2e-3)


def test_four_heads_that_agree_narrow_the_spread_among_heads_by_half_its_variance():
    # 0.7 of the variance lies among a shop's heads and is worth four heads (assumed): after four exact ones at the centre
    # 0.35 of it is left. Their mean, each counted (4 + 1) / 4 by Student's t of four degrees, is doubtful by
    # 1 / (1 / 0.3 + 4 * 1.25 / 0.35) = 0.057: sqrt(0.35 + 0.057) = 0.64; by hand
    after = pooled(shop([0.0] * 4, told_sd=1e-3))
    assert after.spread / PUBLISHED_SHRINKAGE.spread == pytest.approx(0.638, abs=0.02)
