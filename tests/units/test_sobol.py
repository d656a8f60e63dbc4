"""The draws are the Sobol points of Joe and Kuo, shifted by a seed."""

import numpy as np
from scipy.stats import qmc

from straighten.sobol import MOST_DIMENSIONS, sobol_normal, sobol_points


def test_points_equal_those_of_scipy_bit_for_bit():
    # source: scipy.stats.qmc.Sobol, unscrambled (Joe and Kuo 2008)
    ours = sobol_points(1024, MOST_DIMENSIONS, None)
    theirs = qmc.Sobol(MOST_DIMENSIONS, scramble=False).random(1024)
    assert np.array_equal(ours, theirs)


def test_a_shift_keeps_the_balance_and_the_seed_repeats_it():
    points = sobol_points(256, 8, seed=3)
    # every dyadic sixteenth of every axis holds the same number of points: the property of a (t, m, s) net
    counts = np.array([np.bincount((points[:, k] * 16).astype(int), minlength=16) for k in range(8)])
    assert (counts == 16).all()
    assert np.array_equal(points, sobol_points(256, 8, seed=3))
    assert not np.array_equal(points, sobol_points(256, 8, seed=4))


def test_normal_draws_have_the_moments_of_the_standard_normal():
    z = sobol_normal(4096, 12, seed=1)
    assert np.abs(z.mean(axis=0)).max() < 2e-3
    assert np.abs(z.std(axis=0) - 1).max() < 2e-3


def test_two_seeds_side_by_side_are_independent():
    one, two = sobol_normal(4096, 12, seed=20), sobol_normal(4096, 12, seed=41)
    squares = (one**2 - 1).T @ (two**2 - 1) / 8192
    assert np.abs(one.T @ two / 4096).max() < 0.07  # four and a half standard deviations of chance
    assert np.abs(squares).max() < 0.07
