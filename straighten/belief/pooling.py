r"""What other heads of the shop teach of the next one: partial pooling of each factor, robust against an odd head.

A head's log factor is the shop's mean plus its own share, :math:`x_i \sim N(\mu, \tau_w^2)`. The published prior's
variance is split evenly between the two, so that an empty book gives the published prior back. Each head's own
likelihood :math:`N(x_i, \sigma_i^2)` is its posterior with the published prior taken out,

.. math:: \sigma_i^{-2} = s_i^{-2} - \tau_0^{-2}, \qquad x_i = c_0 + (m_i - c_0)\, \sigma_i^2 / s_i^2 ,

and the shop's mean follows by weights :math:`(\nu + 1) / (\nu + z_i^2) / (\tau_w^2 + \sigma_i^2)`: those of Student's t,
under which an odd head counts for little. The variance between heads is that of expectation-maximisation, begun with the
published one: a head that tells nothing changes nothing.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from straighten.belief.priors import Prior

    Floats = NDArray[np.float64]
    Learned = Mapping[str, tuple[float, float]]

POOLED: Final = ("stiffness", "shrinkage", "kept", "cam_ratio")  # factors that a shop's heads share
FREEDOM: Final = Cited(4.0, "degrees", "of Student's t: one head in ten or so is odd", "assumed")
SHOP_SHARE: Final = Cited(
    0.5, "", "of the published variance lies between shops, the rest between heads of one shop", "assumed"
)
PRIOR_HEADS: Final = Cited(4.0, "heads", "that the published spread between heads is worth", "assumed")
LEAST_TOLD: Final = 0.02  # share of the prior variance that a head must have taken off to count
_ROUNDS: Final = 12


def pooled_priors(priors: Sequence[Prior], others: Sequence[Learned]) -> tuple[Prior, ...]:
    """Return the priors narrowed by what other heads of the same alloy family and heat source taught.

    Args:
        priors: the published ones.
        others: for every other head factor -> (mean, standard deviation) of its log under the published prior.

    Source:
        Hierarchical normal model with Student weights (derived; partial pooling: Gelman et al., Bayesian Data Analysis,
        3rd ed., chapter 5, from memory).

    Valid:
        Heads alike but for alloy family and heat source.
    """
    return tuple(_pooled(prior, others) if prior.name in POOLED else prior for prior in priors)


def under_published(mean: float, sd: float, used: Prior, published: Prior) -> tuple[float, float]:
    """Return mean and sd of a log factor as they would be under the published prior, for the book.

    Without it what the book gave would come back into the book as if it had been measured.

    Args:
        mean: posterior mean of the log under the prior used.
        sd: its standard deviation.
        used: the pooled prior.
        published: the published one.

    Source:
        Product of normal densities (derived).

    Valid:
        Posteriors that are nearly normal.
    """
    told = max(sd**-2 - used.spread**-2, 0.0)
    precision = told + published.spread**-2
    shift = mean * sd**-2 - math.log(used.centre) * used.spread**-2 if told else 0.0
    centre = (shift + math.log(published.centre) * published.spread**-2) / precision
    return centre, precision**-0.5


def _pooled(prior: Prior, others: Sequence[Learned]) -> Prior:
    told = [other[prior.name] for other in others if prior.name in other]
    centre, variance = math.log(prior.centre), prior.spread**2
    means, sds = (
        np.array(part, dtype=np.float64) for part in (zip(*told, strict=True) if told else ((), ()))
    )
    share = 1 - sds**2 / variance  # of the prior variance that the head's own passes took off
    means, share = means[share > LEAST_TOLD], share[share > LEAST_TOLD]
    if not means.size:
        return prior
    seen = centre + (means - centre) / share
    noise = variance * (1 - share) / share
    mean, of_mean, within = _shop(seen, noise, (centre, variance))
    reason = f"{prior.reason}; narrowed by {means.size} other heads in the book"
    return replace(
        prior, centre=math.exp(mean), spread=min(math.sqrt(of_mean + within), prior.spread), reason=reason
    )


def _shop(seen: Floats, noise: Floats, published: tuple[float, float]) -> tuple[float, float, float]:
    """Return the shop's mean, its variance, and the variance between the shop's heads."""
    centre, variance = published
    between, within = SHOP_SHARE.value * variance, (1 - SHOP_SHARE.value) * variance
    start, mean, of_mean = within, float(np.median(seen)), between
    nu, heads = FREEDOM.value, PRIOR_HEADS.value
    for _ in range(_ROUNDS):
        trust = (nu + 1) / (nu + (seen - mean) ** 2 / (within + noise))
        precision = 1 / between + float(np.sum(trust / (within + noise)))
        mean = (centre / between + float(np.sum(trust * seen / (within + noise)))) / precision
        of_mean = 1 / precision
        known = within / (within + noise)  # share of a head's own departure that its passes tell
        own = trust * (known * (seen - mean)) ** 2 + within * (1 - known)
        within = (heads * start + float(own.sum())) / (heads + seen.size)
    return mean, of_mean, within
