r"""Draws from a posterior over standard normal unknowns, given a vectorised log likelihood.

The unknowns u have the prior N(0, I); whoever calls turns them into stiffness, bow and so on. Three steps:

1. the mode by Newton steps, the curvature there by differences: a Gaussian that resembles the posterior; where the surveys'
   own Gaussians mislead, once more on the exact likelihood, raised to small powers first;
2. Sobol draws from that Gaussian, mirrored in pairs and widened a little, each weighted by exact prior times exact likelihood over the
   Gaussian; refitted to the weighted draws where too few of them carry the weight;
3. where the weights still collapse, the draws walk from the Gaussian to the posterior in small steps of heat,
   resampled and moved at each (sequential Monte Carlo).

So what comes out is exact but for the number of draws; `effective` says how many they are worth.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.quantiles import spread_along
from straighten.sobol import sobol_normal

if TYPE_CHECKING:
    from numpy.typing import NDArray

Likelihood = Callable[["NDArray[np.float64]"], "NDArray[np.float64]"]

WIDEN = 1.06  # the Gaussian's sd over the fitted one: tails of the weights stay short
ENOUGH = 0.12  # share of the draws that should carry the weight
DOUBTFUL = 0.08  # share below which the mode is looked for again without the residuals' help
HEATS = (0.01, 0.1, 1.0)  # powers of the likelihood, one after another: from far off it pulls too hard
BEARABLE = 0.04  # share below which the weights are not trusted at all
WALKERS = 512  # draws that walk where the weights are not trusted
WALK_FROM = 3.0  # the Gaussian's sd over the fitted one where the draws must walk
LEAST_SPREAD = 1e-3  # of the Gaussian's variance: a crowd of few survivors still steps in every direction
_STEP = 1e-3  # difference step in prior standard deviations
_NEWTON = 40
_CURVATURE_LASTS = 4  # steps
_SETTLED, _SETTLED_ON_THE_WAY = 1e-3, 0.05  # gain in log posterior of a step that is the last
_SMALLEST_HEAT = 0.02  # fifty steps at the most
MOVES, LAST_MOVES = 4, 20  # of every draw at a step of heat, and at the end


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """Weighted draws of the unknowns.

    `draws` `(n, d)`; `weights` `(n,)`, sum one; `effective` number of draws they are worth; `moved` true where the
    draws had to be resampled and moved; `log_evidence` of the readings.
    """

    draws: NDArray[np.float64]
    weights: NDArray[np.float64]
    effective: float
    moved: bool
    log_evidence: float


def sample_posterior(
    log_likelihood: Likelihood,
    start: NDArray[np.float64],
    count: int,
    seed: int,
    *,
    residuals: Likelihood | None = None,
) -> Posterior:
    """Return draws of the posterior of standard normal unknowns.

    Args:
        log_likelihood: takes draws `(n, d)`, gives `(n,)`.
        start: where to look for the mode first, shape `(d,)`.
        count: number of draws, a power of two.
        seed: fixes every random number.
        residuals: takes `(n, d)`, gives `(n, r)` with the log likelihood near minus half their sum of squares; saves
            the second differences.

    Returns:
        Weighted draws; equal weights where they had to be moved.

    Source:
        Importance sampling around the mode: Geweke, Econometrica 57 (1989) 1317 (from memory).

    Valid:
        One mode, d up to about 90, ridges not so curved that the Gaussian at the mode meets one end of them only (the
        effective number would not tell); held against another sampler on the full model. `effective` is checked by the
        caller.
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
        if attempt == 0 and residuals is not None and tries[-1].effective < DOUBTFUL * count:
            mode, scale = _warmed_mode(log_likelihood, start)
        else:
            mode, scale = _refit(tries[-1], mode, scale)
    best = max(tries, key=lambda tried: tried.effective)
    if best.effective >= BEARABLE * count:
        return best
    return _move(log_likelihood, mode, scale * WALK_FROM, min(count, WALKERS), seed)


def effective_draws(weights: NDArray[np.float64]) -> float:
    """Return how many equal draws the weights are worth: one over the sum of their squares (Kish)."""
    return float(1.0 / np.sum(weights**2))


def _log_posterior(log_likelihood: Likelihood, u: NDArray[np.float64]) -> NDArray[np.float64]:
    log_prior: NDArray[np.float64] = -0.5 * np.sum(u * u, axis=1)
    return log_likelihood(u) + log_prior


def _gaussian_at_mode(
    log_likelihood: Likelihood, start: NDArray[np.float64], settled: float = _SETTLED
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
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
        if not gain > settled:  # also where nothing is a number
            if age == 0:
                break
            age = 0
        else:
            age = (age + 1) % _CURVATURE_LASTS
    return u, root


def _root(hessian: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a square root of the covariance that prior and likelihood's curvature leave: flat brackets at most."""
    eigenvalues, vectors = np.linalg.eigh(np.eye(len(hessian)) - hessian)
    root: NDArray[np.float64] = vectors / np.sqrt(np.maximum(eigenvalues, 1.0))
    return root


def _warmed_mode(
    log_likelihood: Likelihood, start: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return mode and covariance root of the exact posterior, reached by way of its own milder powers."""
    u, root = start, np.eye(start.size)
    for heat in HEATS:

        def milder(draws: NDArray[np.float64], power: float = heat) -> NDArray[np.float64]:
            return power * log_likelihood(draws)

        u, root = _gaussian_at_mode(milder, u, _SETTLED if heat == HEATS[-1] else _SETTLED_ON_THE_WAY)
    return u, root


def _gauss_newton(
    residuals: Likelihood, start: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the mode and covariance root for residuals, by Gauss-Newton steps on forward differences."""

    def cost(u: NDArray[np.float64]) -> NDArray[np.float64]:
        halves: NDArray[np.float64] = 0.5 * np.sum(residuals(u) ** 2, axis=1) + 0.5 * np.sum(u * u, axis=1)
        return halves

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


def _differences(
    log_likelihood: Likelihood, u: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
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


def _gradient(log_likelihood: Likelihood, u: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the gradient of the log likelihood by central differences."""
    eye = _STEP * np.eye(u.size)
    values = log_likelihood(np.concatenate([u + eye, u - eye]))
    gradient: NDArray[np.float64] = (values[: u.size] - values[u.size :]) / (2 * _STEP)
    return gradient


def _weigh(
    log_likelihood: Likelihood, mode: NDArray[np.float64], scale: NDArray[np.float64], count: int, seed: int
) -> Posterior:
    half = sobol_normal(count // 2, mode.size, seed)
    z = np.concatenate([half, -half])  # mirrored, so that the mean of a symmetric posterior is exact
    draws = mode + z @ scale.T
    log_target = _log_posterior(log_likelihood, draws)
    _, log_volume = np.linalg.slogdet(scale)
    log_weights = log_target + 0.5 * np.sum(z * z, axis=1) + log_volume
    top = float(np.max(log_weights))
    raw = np.exp(log_weights - top)
    weights = raw / raw.sum()
    return Posterior(
        draws=draws,
        weights=weights,
        effective=effective_draws(weights),
        moved=False,
        log_evidence=top + float(np.log(raw.mean())),
    )


def _refit(
    posterior: Posterior, mode: NDArray[np.float64], scale: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return mean and covariance root of the weighted draws, leaning on the old ones where draws are few."""
    trust = posterior.effective / (posterior.effective + mode.size)
    mean = trust * (posterior.weights @ posterior.draws) + (1 - trust) * mode
    apart = posterior.draws - mean
    covariance = trust * (apart.T * posterior.weights) @ apart + (1 - trust) * scale @ scale.T
    root = np.linalg.cholesky(covariance + 1e-12 * np.eye(mode.size))
    return np.asarray(mean, dtype=np.float64), np.asarray(root, dtype=np.float64)


@dataclass(slots=True)
class _Crowd:
    """Draws on their way from the Gaussian to the posterior: place, log posterior, log density of the Gaussian."""

    draws: NDArray[np.float64]
    target: NDArray[np.float64]
    gaussian: NDArray[np.float64]

    def keep(self, which: NDArray[np.intp]) -> None:
        self.draws, self.target, self.gaussian = self.draws[which], self.target[which], self.gaussian[which]


def _move(
    log_likelihood: Likelihood, mode: NDArray[np.float64], scale: NDArray[np.float64], count: int, seed: int
) -> Posterior:
    """Walk the draws from the Gaussian to the posterior in small steps of heat: weigh, resample, move.

    Source:
        Del Moral, Doucet, Jasra, J. R. Statist. Soc. B 68 (2006) 411, with the step chosen by the effective
        number of draws (from memory).
    """
    rng = np.random.default_rng(seed)
    z = sobol_normal(count, mode.size, seed)
    draws = mode + z @ scale.T
    crowd = _Crowd(draws, _log_posterior(log_likelihood, draws), -0.5 * np.sum(z * z, axis=1))
    heat, stride, evidence = 0.0, 0.6, float(np.linalg.slogdet(scale)[1])
    while heat < 1.0:
        gap = crowd.target - crowd.gaussian
        step = _next_step(gap, 1.0 - heat)
        heat += step
        evidence += float(np.log(np.mean(np.exp(step * (gap - gap.max()))))) + step * float(gap.max())
        weights = np.exp(step * (gap - gap.max()))
        crowd.keep(spread_along(weights / weights.sum(), count, start=rng.random()))
        for _ in range(MOVES if heat < 1.0 else LAST_MOVES):
            stride = _walk(crowd, log_likelihood, (mode, scale, heat, stride), rng)
    return Posterior(
        draws=crowd.draws,
        weights=np.full(count, 1.0 / count),
        effective=float(len(np.unique(crowd.draws[:, 0]))),
        moved=True,
        log_evidence=evidence,
    )


def _next_step(gap: NDArray[np.float64], most: float) -> float:
    """Return the largest step of heat that leaves half of the draws effective."""

    def leaves_enough(step: float) -> bool:
        raw = np.exp(step * (gap - gap.max()))
        return effective_draws(raw / raw.sum()) >= 0.5 * gap.size

    step = most
    while step > _SMALLEST_HEAT and not leaves_enough(step):
        step *= 0.7
    return min(max(step, _SMALLEST_HEAT), most)


def _walk(
    crowd: _Crowd,
    log_likelihood: Likelihood,
    way: tuple[NDArray[np.float64], NDArray[np.float64], float, float],
    rng: np.random.Generator,
) -> float:
    """Move every draw once, along half of the other draws' spread, and return the stride for the next move."""
    mode, scale, heat, stride = way
    inverse = np.linalg.inv(scale)
    spread = np.linalg.cholesky(
        np.cov(crowd.draws.T).reshape(mode.size, mode.size) + LEAST_SPREAD * scale @ scale.T
    )
    tried = crowd.draws + stride * rng.standard_normal(crowd.draws.shape) @ spread.T * 2.38 / np.sqrt(
        mode.size
    )
    target = _log_posterior(log_likelihood, tried)
    gaussian = -0.5 * np.sum(((tried - mode) @ inverse.T) ** 2, axis=1)
    rise = heat * (target - crowd.target) + (1 - heat) * (gaussian - crowd.gaussian)
    accepted = np.log(rng.random(target.size)) < rise
    crowd.draws[accepted], crowd.target[accepted] = tried[accepted], target[accepted]
    crowd.gaussian[accepted] = gaussian[accepted]
    rate = float(accepted.mean())
    return float(np.clip(stride * (1.2 if rate > 0.25 else 0.85), 0.02, 2.0))
