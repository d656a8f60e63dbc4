"""The sampler against posteriors known in closed form and against quadrature."""

from itertools import permutations

import numpy as np
import pytest

from straighten.belief.posterior import (
    WALK_FROM,
    _Crowd,
    _move,
    _walk,
    sample_posterior,
)
from straighten.quantiles import weighted_quantiles


def normal_case(prior_mean, prior_sd, data, sd):
    """One unknown mu = prior_mean + prior_sd u with normal observations: conjugate, so known exactly."""

    def log_likelihood(u):
        mu = prior_mean + prior_sd * u
        return -0.5 * np.sum(((np.asarray(data) - mu) / sd) ** 2, axis=1)

    drawn = sample_posterior(log_likelihood, np.zeros(1), 4096, seed=20)
    mu = prior_mean + prior_sd * drawn.draws[:, 0]
    mean = drawn.weights @ mu
    return mean, np.sqrt(drawn.weights @ (mu - mean) ** 2)


@pytest.mark.parametrize(("n", "mean", "sd"), [(10, 150.7317, 6.24695), (100, 150.0748, 1.99750)])
def test_normal_mean_with_known_spread(n, mean, sd):
    # source: Gelman et al., Bayesian Data Analysis, 3rd ed., exercise 2.8 (problem from memory, numbers derived)
    ours = normal_case(180.0, 40.0, [150.0] * n, 20.0)
    assert ours[0] == pytest.approx(mean, abs=1e-4)
    assert ours[1] == pytest.approx(sd, abs=1e-4)


@pytest.mark.parametrize(
    ("data", "mean", "sd"),
    [((0.30,), 0.34, 0.0894427), ((0.30, 0.38), 0.3577778, 0.0666667), ((0.38, 0.30, 0.34), 0.3523077, 0.0554700)],
)  # fmt: skip
def test_set_fraction_learned_one_by_one(data, mean, sd):
    # source: conjugate normal update, prior 0.50 +- 0.20, observations +- 0.10 (derived)
    ours = normal_case(0.50, 0.20, data, 0.10)
    assert ours[0] == pytest.approx(mean, abs=1e-5)
    assert ours[1] == pytest.approx(sd, abs=1e-5)


def test_the_order_of_the_observations_does_not_matter():
    # source: conjugate normal update as above (derived): the same to 1e-7 in any order
    for data in permutations((0.30, 0.38, 0.34)):
        ours = normal_case(0.50, 0.20, data, 0.10)
        assert ours[0] == pytest.approx(0.3523077, abs=1e-7)
        assert ours == pytest.approx(normal_case(0.50, 0.20, (0.30, 0.38, 0.34), 0.10), abs=1e-9)


def test_thirty_linear_unknowns_match_the_normal_equations():
    rng = np.random.default_rng(0)
    rows = rng.standard_normal((60, 30))
    seen = rows @ rng.standard_normal(30) + 0.1 * rng.standard_normal(60)
    drawn = sample_posterior(
        lambda u: -50 * np.sum((u @ rows.T - seen) ** 2, axis=1), np.zeros(30), 4096, seed=1
    )
    exact = np.linalg.inv(np.eye(30) + 100 * rows.T @ rows)
    sd = np.sqrt(np.diag(exact))
    error = (drawn.weights @ drawn.draws - exact @ (100 * rows.T @ seen)) / sd
    assert np.abs(error).max() < 0.02
    assert drawn.effective > 1000


def test_draws_that_walk_follow_a_curved_ridge():
    sd = 0.05

    def ridge(u):
        return -0.5 * ((u[:, 0] + u[:, 1] ** 2) / sd) ** 2 - 0.5 * ((u[:, 2] - u[:, 1] ** 2) / sd) ** 2

    drawn = _move(ridge, np.zeros(3), WALK_FROM * np.eye(3), 1024, seed=5)
    # given u1 the two others are normal in closed form, so the marginal of u1 is a one-dimensional integral
    grid = np.linspace(-4, 4, 8001)
    density = np.exp(-0.5 * grid**2 - grid**4 / (1 + sd**2))
    density /= density.sum()
    exact = np.interp([0.1, 0.5, 0.9], np.cumsum(density), grid)
    ours = weighted_quantiles(drawn.draws[:, 1], drawn.weights, (0.1, 0.5, 0.9))
    assert drawn.moved
    assert np.abs(ours - exact).max() < 0.2  # a thousand walkers on a ridge twenty times longer than wide


def test_a_crowd_of_few_survivors_still_steps_in_every_direction():
    rng = np.random.default_rng(0)
    before = rng.standard_normal((64, 1)) * rng.standard_normal(20)  # all on one line: a spread of rank one
    gaussian = -0.5 * np.sum(before**2, axis=1)
    crowd = _Crowd(before.copy(), gaussian.copy(), gaussian.copy())
    _walk(crowd, lambda u: np.zeros(len(u)), (np.zeros(20), np.eye(20), 0.0, 0.6), rng)
    assert np.linalg.matrix_rank(crowd.draws - before, tol=1e-6) > 10


def test_the_same_seed_gives_the_same_draws():
    def flat(u):
        return -0.5 * np.sum((u - 0.3) ** 2, axis=1)

    one, two = (sample_posterior(flat, np.zeros(4), 256, seed=9) for _ in range(2))
    assert np.array_equal(one.draws, two.draws)
    assert np.array_equal(one.weights, two.weights)
