r"""What other heads of the shop teach of the next one: partial pooling of the factors together, robust against an odd head.

A pass tells mainly how much comes off, which is a product of factors: a head learns the product well and its factors badly,
and their doubts are tied. So a head goes into the book with the mean and standard deviation of every factor's log and of every
product of two, which together give the whole covariance. What its own passes said is that posterior with the published prior
taken out, a precision :math:`\Lambda_i` and a vector :math:`\eta_i`.

The heads' logs scatter about the shop's mean, :math:`x_i \sim N(\mu, W)`, and that about the published centre,
:math:`\mu \sim N(c, B)`; the published variance is split between B and W, so that an empty book gives the published
prior back. With the heads' own x integrated out a head is worth :math:`K_i = \Lambda_i - \Lambda_i P_i \Lambda_i`,
:math:`P_i = (\Lambda_i + W^{-1})^{-1}`, so that

.. math:: \mathrm{cov}(\mu) = \Big(B^{-1} + \sum t_i K_i\Big)^{-1}, \qquad
          \bar\mu = \mathrm{cov}(\mu)\,\Big(B^{-1} c + \sum t_i W^{-1} P_i \eta_i\Big)

with Student's weights :math:`t_i = (\nu + r_i) / (\nu + \delta_i)`: a head that lies :math:`\delta_i` off in the
:math:`r_i` directions it tells of counts for little. W is that of expectation-maximisation, begun with the published one: a
head that tells nothing changes nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Final

import numpy as np

from straighten.belief.priors import PUBLISHED, Prior
from straighten.plan.records import Draws
from straighten.quantiles import Floats
from straighten.sources import Cited

Learned = Mapping[str, tuple[float, float]]

POOLED: Final = ("stiffness", "shrinkage", "kept", "cam_ratio")  # factors that a shop's heads share
PRODUCT: Final = "{} x {}"
FREEDOM: Final = Cited(4.0, "degrees", "of Student's t: one head in ten or so is odd", "assumed")
SHOP_SHARE: Final = Cited(
    0.3, "", "of the published variance lies between shops, the rest between heads of one shop", "assumed"
)
PRIOR_HEADS: Final = Cited(4.0, "heads", "that the published spread between heads is worth", "assumed")
LEAST_VARIANCE: Final = 1e-6  # of a log factor: one draw that carries all the weight knows no better
LEAST_TOLD: Final = 1e-3  # of the best told direction of any head: less is no direction to be odd in
LARGEST_LOG: Final = 10.0  # of a factor: 22 000 times what physics says; beyond it squares could overflow
_ROUNDS: Final = 12


def pooled_priors(priors: Sequence[Prior], others: Sequence[Learned]) -> tuple[Prior, ...]:
    """Return the priors narrowed by what other heads of the same alloy family and heat source taught.

    `priors` those of this head without the book; `others` for every other head what `taught` gave; factors without products
    count as learned apart. A head that teaches what none can (a log beyond `LARGEST_LOG`) is left out.

    Source: Hierarchical normal model with Student weights (derived; partial pooling: Gelman et al., Bayesian Data Analysis,
    3rd ed., chapter 5, from memory).
    Valid: Heads alike but for alloy family and heat source.
    """
    told = [other for other in others if all(name in other for name in POOLED) and _can_be(other)]
    if not told:
        return tuple(priors)
    own = [prior for prior in priors if prior.name in POOLED]
    published = _centre(_published()), _spread(_published())
    precisions, vectors = map(
        np.array, zip(*(_without(*_normal(other), published) for other in told), strict=True)
    )
    mean, variance = _shop(precisions, vectors, _centre(own), _spread(own) ** 2)
    narrowed = {
        prior.name: replace(
            prior,
            centre=math.exp(mean[n]),
            spread=math.sqrt(variance[n]),
            reason=f"{prior.reason}; with what {len(told)} other heads in the book taught",
        )
        for n, prior in enumerate(own)
    }
    return tuple(narrowed.get(prior.name, prior) for prior in priors)


def _can_be(other: Learned) -> bool:
    return all(abs(mean) <= LARGEST_LOG and 0 <= sd <= LARGEST_LOG for mean, sd in other.values())


def taught(draws: Draws, used: Sequence[Prior]) -> dict[str, tuple[float, float]]:
    """Return what a head's draws say of the pooled factors and their products, as it would be under the published priors.

    Without that what the book gave would come back into the book as if it had been measured.

    `draws` as believed after the head's passes; `used` the priors that they came from. Each factor, or "one x other", goes
    with mean and standard deviation of its log: what `pooled_priors` takes from every other head.

    Source: Product of normal densities (derived).
    Valid: Posteriors that are nearly normal.
    """
    logs = np.log(np.stack([getattr(draws.response, name) for name in POOLED], axis=1))
    mean = draws.weights @ logs
    covariance = (logs - mean).T * draws.weights @ (logs - mean) + LEAST_VARIANCE * np.eye(len(POOLED))
    own = [prior for prior in used if prior.name in POOLED]
    precision, vector = _without(mean, covariance, (_centre(own), _spread(own)))
    inner = np.diag(_spread(_published()) ** -2.0)
    covariance = np.linalg.inv(precision + inner)
    mean = covariance @ (vector + inner @ _centre(_published()))
    found = {name: (float(mean[n]), math.sqrt(covariance[n, n])) for n, name in enumerate(POOLED)}
    for a, b in combinations(range(len(POOLED)), 2):
        both = covariance[a, a] + covariance[b, b] + 2 * covariance[a, b]
        found[PRODUCT.format(POOLED[a], POOLED[b])] = (float(mean[a] + mean[b]), math.sqrt(both))
    return found


def _published() -> list[Prior]:
    return [prior for prior in PUBLISHED if prior.name in POOLED]


def _centre(priors: Sequence[Prior]) -> Floats:
    return np.log([prior.centre for prior in priors])


def _spread(priors: Sequence[Prior]) -> Floats:
    return np.array([prior.spread for prior in priors])


def _without(mean: Floats, covariance: Floats, prior: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    """Return precision and vector of a posterior with its prior (centre, spread) taken out.

    Counted in the prior's own spreads a direction that is known no better than before is told nothing of.
    """
    centre, spread = prior
    scale = np.multiply.outer(spread, spread)
    values, vectors = np.linalg.eigh(np.linalg.inv(covariance / scale))
    gained = np.where(values > 1, values - 1, 0.0)
    kept = np.where(values > 1, values, 0.0)
    told = vectors * gained @ vectors.T / scale
    away = vectors * kept @ vectors.T @ ((mean - centre) / spread) / spread
    return told, told @ centre + away


def _normal(other: Learned) -> tuple[Floats, Floats]:
    """Return mean and covariance of a head's pooled factors from those of the factors and their products."""
    mean = np.array([other[name][0] for name in POOLED])
    covariance = np.diag([other[name][1] ** 2 for name in POOLED])
    for a, b in combinations(range(len(POOLED)), 2):
        product = other.get(PRODUCT.format(POOLED[a], POOLED[b]))
        if product is not None:
            covariance[a, b] = covariance[b, a] = (product[1] ** 2 - covariance[a, a] - covariance[b, b]) / 2
    values, vectors = np.linalg.eigh(covariance)
    return mean, vectors * np.maximum(values, LEAST_VARIANCE) @ vectors.T


def _shop(precision: Floats, vector: Floats, centre: Floats, variance: Floats) -> tuple[Floats, Floats]:
    """Return mean and variance of a further head's logs: the shop's mean with its doubt, and what its heads differ by."""
    between = np.diag(1 / (SHOP_SHARE.value * variance))
    start = within = (1 - SHOP_SHARE.value) * variance
    mean, heads = centre, PRIOR_HEADS.value
    for _ in range(_ROUNDS):
        inner = np.diag(1 / within)
        own = np.linalg.inv(precision + inner)  # P, the doubt about a head of its own
        worth = precision - precision @ own @ precision
        lean = np.einsum("hi,hij->hj", vector, own) @ inner  # W^-1 P eta of every head: all are symmetric
        trust = _trust(worth, lean, mean)
        doubt = np.linalg.inv(between + np.einsum("h,hij->ij", trust, worth))
        mean = doubt @ (between @ centre + trust @ lean)
        apart = np.einsum("hij,hj->hi", own, vector + inner @ mean) - mean
        found = trust[:, None] * apart**2 + np.diagonal(own, axis1=1, axis2=2)
        within = (heads * start + found.sum(axis=0)) / (heads + len(vector))
    return mean, np.diagonal(doubt) + within


def _trust(worth: Floats, lean: Floats, mean: Floats) -> Floats:
    """Return Student's weight of every head: how far off it lies, in the directions that it tells of."""
    off = lean - worth @ mean
    values, vectors = np.linalg.eigh(worth)
    along = np.einsum("hij,hi->hj", vectors, off)
    told = values > LEAST_TOLD * values.max()
    delta = np.sum(np.where(told, along**2 / np.where(told, values, 1.0), 0.0), axis=1)
    return np.asarray((FREEDOM.value + told.sum(axis=1)) / (FREEDOM.value + delta))
