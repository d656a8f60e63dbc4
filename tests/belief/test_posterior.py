"""The sampler against posteriors known in closed form and against quadrature."""

import numpy as np
import pytest

from straighten.belief.posterior import sample_posterior, weighted_quantiles


def normal_case(prior_mean, prior_sd, data, sd):
    """One unknown mu = prior_mean + prior_sd u with normal observations: conjugate, so known exactly."""

    def log_likelihood(u):
        mu = prior_mean + prior_sd * u
        return -0.5 * np.sum(((np.asarray(data) - mu) / sd) ** 2, axis=1)

    drawn = sample_posterior(log_likelihood, np.zeros(1), 4096, seed=2)
    mu = prior_mean + prior_sd * drawn.draws[:, 0]
    mean = drawn.weights @ mu
    return mean, np.sqrt(drawn.weights @ (mu - mean) ** 2)


@pytest.mark.parametrize(("n", "mean", "sd"), [(10, 150.7317, 6.24695), (100, 150.0748, 1.99750)])
def test_normal_mean_with_known_spread(n, mean, sd):
    # source: Gelman et al., Bayesian Data Analysis, 3rd ed., exercise 2.8 (problem from memory, numbers derived)
    ours = normal_case(180.0, 40.0, [150.0] * n, 20.0)
    assert ours[0] == pytest.approx(mean, abs=2e-3 * sd)
    assert ours[1] == pytest.approx(sd, rel=2e-3)


@pytest.mark.parametrize(
    ("data", "mean", "sd"),
    [((0.30,), 0.34, 0.08944), ((0.30, 0.38), 0.35778, 0.06667), ((0.38, 0.30, 0.34), 0.3523077, 0.05547)],
)
def test_set_fraction_learned_one_by_one(data, mean, sd):
    # source: conjugate normal update, prior 0.50 +- 0.20, observations +- 0.10 (derived)
    ours = normal_case(0.50, 0.20, data, 0.10)
    assert ours[0] == pytest.approx(mean, abs=2e-3 * sd)
    assert ours[1] == pytest.approx(sd, rel=2e-3)


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


def test_a_curved_ridge_is_followed_when_the_weights_collapse():
    sd = 0.05

    def ridge(u):
        return -0.5 * ((u[:, 0] + u[:, 1] ** 2) / sd) ** 2 - 0.5 * ((u[:, 2] - u[:, 1] ** 2) / sd) ** 2

    drawn = sample_posterior(ridge, np.zeros(3), 4096, seed=5)
    # given u1 the two others are normal in closed form, so the marginal of u1 is a one-dimensional integral
    grid = np.linspace(-4, 4, 8001)
    density = np.exp(-0.5 * grid**2 - grid**4 / (1 + sd**2))
    density /= density.sum()
    exact = np.interp([0.1, 0.5, 0.9], np.cumsum(density), grid)
    ours = weighted_quantiles(drawn.draws[:, 1], drawn.weights, (0.1, 0.5, 0.9))
    assert drawn.moved
    assert np.abs(ours - exact).max() < 0.2  # a thousand walkers on a ridge twenty times longer than wide


def test_a_crowd_of_few_survivors_still_walks():
    # a needle in twenty dimensions far from where the search begins: after the first resampling hardly two draws differ
    def needle(u):
        return -0.5 * np.sum(((u - 2.0) / 1e-3) ** 2, axis=1) - 3e3 * np.abs(u[:, 0] - 2.0)

    drawn = sample_posterior(needle, np.full(20, -2.0), 64, seed=3)
    assert np.isfinite(drawn.draws).all()
    assert drawn.weights.sum() == pytest.approx(1.0)


def test_the_same_seed_gives_the_same_draws():
    def flat(u):
        return -0.5 * np.sum((u - 0.3) ** 2, axis=1)

    one, two = (sample_posterior(flat, np.zeros(4), 256, seed=9) for _ in range(2))
    assert np.array_equal(one.draws, two.draws)
    assert np.array_equal(one.weights, two.weights)


@pytest.mark.parametrize(
    ("prior", "data", "sd", "mean", "own"),
    [
        ((180.0, 40.0), [150.0] * 10, 20.0, 150.731707, 6.246950),
        ((180.0, 40.0), [150.0] * 100, 20.0, 150.074813, 1.997505),
        ((0.50, 0.20), [0.30], 0.10, 0.34, 0.0894427),
        ((0.50, 0.20), [0.30, 0.38], 0.10, 0.3577778, 0.0666667),
        ((0.50, 0.20), [0.38, 0.34, 0.30], 0.10, 0.3523077, 0.0554700),
    ],
)
def test_conjugate_cases_to_a_hundred_thousandth_where_draws_are_many(prior, data, sd, mean, own):
    # source: Gelman et al., Bayesian Data Analysis, 3rd ed., exercise 2.8 (problem from memory), and the same update by hand (derived)
    def log_likelihood(u):
        return -0.5 * np.sum(((np.asarray(data) - prior[0] - prior[1] * u) / sd) ** 2, axis=1)

    drawn = sample_posterior(log_likelihood, np.zeros(1), 2**17, seed=2)
    mu = prior[0] + prior[1] * drawn.draws[:, 0]
    found = drawn.weights @ mu
    assert found == pytest.approx(mean, rel=1e-5)
    assert np.sqrt(drawn.weights @ (mu - found) ** 2) == pytest.approx(own, rel=1e-4)
