r"""Draws from a posterior over standard normal unknowns, given a vectorised log likelihood.

The unknowns u have the prior N(0, I); whoever calls turns them into stiffness, bow and so on. Two steps:

1. the mode by Newton steps, the curvature there by differences: a Gaussian that resembles the posterior;
2. Sobol draws from that Gaussian, mirrored in pairs and widened a little, each weighted by prior times likelihood over
   the Gaussian; refitted to the weighted draws where too few of them carry the weight.

So what comes out is exact but for the number of draws; `effective` says how many they are worth.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from straighten.quantiles import Floats, weights_of
from straighten.sobol import sobol_normal

Likelihood = Callable[[Floats], Floats]

WIDEN = 1.06  # the Gaussian's sd over the fitted one: tails of the weights stay short
ENOUGH = 0.12  # share of the draws that should carry the weight
_STEP = 1e-3  # difference step in prior standard deviations
_NEWTON = 40
_CURVATURE_LASTS = 4  # steps
_SETTLED = 1e-3  # gain in log posterior of a step that is the last


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """Weighted draws of the unknowns.

    `draws` `(n, d)`; `weights` `(n,)`, sum one; `effective` number of draws they are worth.
    """

    draws: Floats
    weights: Floats
    effective: float


def sample_posterior(
    log_likelihood: Likelihood,
    start: Floats,
    count: int,
    seed: int,
    *,
    residuals: Likelihood | None = None,
) -> Posterior:
    """Return draws of the posterior of standard normal unknowns.

    `log_likelihood` takes draws `(n, d)`, gives `(n,)`; `start` where to look for the mode first, `(d,)`; `count` a power of
    two; `residuals` takes `(n, d)`, gives `(n, r)` with the log likelihood near minus half their sum of squares; saves the
    second differences.

    Source: Importance sampling around the mode: Geweke, Econometrica 57 (1989) 1317 (from memory).
    Valid: One mode, d up to about 90, ridges not so curved that the Gaussian at the mode meets one end of them only (the
    effective number would not tell); held against another sampler on the full model. `effective` is checked by the caller.
    """
    if residuals is None:
        mode, scale = _gaussian_at_mode(log_likelihood, start)
    else:
        mode, scale = _gauss_newton(residuals, start)
    tries = []
    for attempt in range(3):
        tries.append(_weigh(log_likelihood, mode, scale * WIDEN, count, seed + attempt))
        if tries[-1].effective >= ENOUGH * count:
            return tries[-1]
        mode, scale = _refit(tries[-1], mode, scale)
    return max(tries, key=lambda tried: tried.effective)


def effective_draws(weights: Floats) -> float:
    """Return how many equal draws the weights are worth: one over the sum of their squares (Kish)."""
    return float(1.0 / np.sum(weights**2))


def _log_posterior(log_likelihood: Likelihood, u: Floats) -> Floats:
    return np.asarray(log_likelihood(u) - 0.5 * np.sum(u * u, axis=1))


def _gaussian_at_mode(log_likelihood: Likelihood, start: Floats) -> tuple[Floats, Floats]:
    """Return the mode and a square root of the covariance there, by damped Newton steps.

    The curvature, which costs the square of the unknowns, is looked at anew every few steps only.
    """
    u = start.astype(np.float64)
    value = float(_log_posterior(log_likelihood, u[None, :])[0])
    root, age = np.eye(u.size), 0
    lengths = 0.5 ** np.arange(0, 12)
    for _ in range(_NEWTON):
        if age == 0:
            gradient, hessian = _differences(log_likelihood, u)
            root = _root(hessian)
        else:
            gradient = _gradient(log_likelihood, u)
        tried = u + lengths[:, None] * (root @ (root.T @ (gradient - u)))
        values = _log_posterior(log_likelihood, tried)
        best = int(np.argmax(values))
        gain = float(values[best]) - value
        if gain > 0:
            u, value = tried[best], float(values[best])
        if not gain > _SETTLED:  # also where nothing is a number
            if age == 0:
                break
            age = 0
        else:
            age = (age + 1) % _CURVATURE_LASTS
    return u, root


def _root(hessian: Floats) -> Floats:
    """Return a square root of the covariance that prior and likelihood's curvature leave: flat brackets at most."""
    eigenvalues, vectors = np.linalg.eigh(np.eye(len(hessian)) - hessian)
    return np.asarray(vectors / np.sqrt(np.maximum(eigenvalues, 1.0)))


def _gauss_newton(residuals: Likelihood, start: Floats) -> tuple[Floats, Floats]:
    """Return the mode and covariance root for residuals, by Gauss-Newton steps on forward differences."""

    def cost(u: Floats) -> Floats:
        return np.asarray(0.5 * np.sum(residuals(u) ** 2, axis=1) + 0.5 * np.sum(u * u, axis=1))

    u, root = start.astype(np.float64), np.eye(start.size)
    value = float(cost(u[None, :])[0])
    for _ in range(_NEWTON):
        found = residuals(np.concatenate([u[None, :], u + _STEP * np.eye(u.size)]))
        slope = (found[1:] - found[0]) / _STEP  # (d, r)
        root = np.linalg.inv(np.linalg.cholesky(np.eye(u.size) + slope @ slope.T)).T
        step = -root @ (root.T @ (slope @ found[0] + u))
        lengths = 0.5 ** np.arange(0, 10)
        tried = cost(u + lengths[:, None] * step)
        best = int(np.argmin(tried))
        if not tried[best] < value:
            break
        gain = value - float(tried[best])
        u, value = u + lengths[best] * step, float(tried[best])
        if gain < 1e-3:
            break
    return u, root


def _differences(log_likelihood: Likelihood, u: Floats) -> tuple[Floats, Floats]:
    """Return gradient and Hessian of the log likelihood by central differences, in one vectorised call."""
    d = u.size
    eye = _STEP * np.eye(d)
    first, second = np.triu_indices(d, k=1)
    points = np.concatenate([u[None, :], u + eye, u - eye, u + eye[first] + eye[second]])
    values = log_likelihood(points)
    middle, up, down, both = values[0], values[1 : d + 1], values[d + 1 : 2 * d + 1], values[2 * d + 1 :]
    gradient = (up - down) / (2 * _STEP)
    hessian = np.diag((up - 2 * middle + down) / _STEP**2)
    # f(+i,+j) - f(+i) - f(+j) + f(0) carries the cross derivative
    cross = (both - up[first] - up[second] + middle) / _STEP**2
    hessian[first, second] = cross
    hessian[second, first] = cross
    return gradient, hessian


def _gradient(log_likelihood: Likelihood, u: Floats) -> Floats:
    """Return the gradient of the log likelihood by central differences."""
    eye = _STEP * np.eye(u.size)
    values = log_likelihood(np.concatenate([u + eye, u - eye]))
    return np.asarray((values[: u.size] - values[u.size :]) / (2 * _STEP))


def _weigh(log_likelihood: Likelihood, mode: Floats, scale: Floats, count: int, seed: int) -> Posterior:
    half = sobol_normal(count // 2, mode.size, seed)
    z = np.concatenate([half, -half])  # mirrored, so that the mean of a symmetric posterior is exact
    draws = mode + z @ scale.T
    log_weights = _log_posterior(log_likelihood, draws) + 0.5 * np.sum(z * z, axis=1)
    weights = weights_of(log_weights)
    return Posterior(draws=draws, weights=weights, effective=effective_draws(weights))


def _refit(posterior: Posterior, mode: Floats, scale: Floats) -> tuple[Floats, Floats]:
    """Return mean and covariance root of the weighted draws, leaning on the old ones where draws are few."""
    trust = posterior.effective / (posterior.effective + mode.size)
    mean = trust * (posterior.weights @ posterior.draws) + (1 - trust) * mode
    apart = posterior.draws - mean
    covariance = trust * (apart.T * posterior.weights) @ apart + (1 - trust) * scale @ scale.T
    root = np.linalg.cholesky(covariance + 1e-12 * np.eye(mode.size))
    return np.asarray(mean), np.asarray(root)
