"""The sampler against posteriors known in closed form and against quadrature."""

from itertools import permutations

import numpy as np
import pytest
from scipy.optimize import least_squares

from straighten.belief.posterior import _gauss_newton, sample_posterior


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


def test_the_same_seed_gives_the_same_draws():
    def flat(u):
        return -0.5 * np.sum((u - 0.3) ** 2, axis=1)

    one, two = (sample_posterior(flat, np.zeros(4), 256, seed=9) for _ in range(2))
    assert np.array_equal(one.draws, two.draws)
    assert np.array_equal(one.weights, two.weights)


def test_the_mode_of_curved_residuals_is_that_of_another_solver():
    # two readings of products of three standard normal unknowns, far from where the search begins: scipy's least squares
    def residuals(u):
        return np.stack(
            [(np.exp(u[:, 0]) * (2 + u[:, 1]) - 5) / 0.1, (u[:, 1] * u[:, 2] + u[:, 2] - 1) / 0.2], axis=1
        )

    start = np.array([-1.5, 0.5, 2.0])
    mode, root = _gauss_newton(residuals, start)
    judge = least_squares(lambda u: np.concatenate([residuals(u[None])[0], u]), start, xtol=1e-12, ftol=1e-12)
    assert mode == pytest.approx(judge.x, abs=0.02)  # of the unknowns' own standard deviations
    assert root @ root.T == pytest.approx(np.linalg.inv(judge.jac.T @ judge.jac), rel=0.05, abs=1e-3)
