"""The belief against emcee, an ensemble sampler that shares nothing with ours but the log posterior.

Source: emcee 3, Foreman-Mackey et al., PASP 125 (2013) 306 (from memory). Two heads here; EMCEE_HEADS=20 does twenty.
"""

import os
import time

import emcee
import numpy as np
import pytest

from straighten.belief.learn import exact_likelihood
from straighten.belief.posterior import weighted_quantiles
from straighten.belief.unknowns import FACTORS, SHAPE
from tests.belief.cases import draw, infer, one_pass

HEADS = int(os.environ.get("EMCEE_HEADS", "1"))
WALKERS, BURN, STEPS = 128, 600, 2400
AT = (0.1, 0.5, 0.9)
MOVES = [(emcee.moves.DEMove(), 0.8), (emcee.moves.DESnookerMove(), 0.2)]


def walked(case, posterior):
    """Draws of emcee, begun from ours so that no walker has to find the mode first; burnt in all the same."""
    likelihood = exact_likelihood(one_pass(), case.seen)

    def log_posterior(u):
        return np.where(np.isfinite(value := likelihood(u)), value, -1e300) - 0.5 * np.sum(u * u, axis=1)

    rng = np.random.default_rng(4)
    begin = posterior.draws[rng.choice(len(posterior.draws), WALKERS, p=posterior.weights, replace=False)]
    sampler = emcee.EnsembleSampler(WALKERS, begin.shape[1], log_posterior, moves=MOVES, vectorize=True)
    np.random.seed(4)  # noqa: NPY002 - emcee draws from numpy's old generator
    sampler.run_mcmc(begin, BURN + STEPS)
    return sampler.get_chain(discard=BURN, flat=True)


@pytest.mark.parametrize("seed", range(HEADS))
def test_quantiles_agree_and_come_fifty_times_sooner(seed):
    case = draw(seed)
    begun = time.process_time()
    posterior = infer(one_pass(), case.seen, 4096, 20)
    ours_took = time.process_time() - begun
    begun = time.process_time()
    theirs = walked(case, posterior)
    theirs_took = time.process_time() - begun
    for column in range(FACTORS + SHAPE):
        mine = weighted_quantiles(posterior.draws[:, column], posterior.weights, AT)
        other, sd = np.quantile(theirs[:, column], AT), theirs[:, column].std()
        off = np.abs(mine - other) / sd
        assert off[1] < 0.1, (column, off)
        assert max(off[0], off[2]) < 0.2, (column, off)
    assert theirs_took > 50 * ours_took, (theirs_took, ours_took)
