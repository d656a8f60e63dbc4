"""Quantiles of weighted draws against numpy's of draws repeated as often as they weigh."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from straighten.quantiles import quantile, tenths, weighted_quantiles

values = st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=40, unique=True).map(np.array)


@given(values, st.floats(0.01, 0.99), st.floats(0.1, 10))
def test_equal_weights_of_any_sum_give_hazen_s_quantiles(some, share, weight):
    """Hazen's plotting positions (k - 1/2) / n: numpy.quantile, method "hazen"."""
    expected = np.quantile(some, share, method="hazen")
    assert quantile(some, np.full(some.size, weight), share) == pytest.approx(expected, abs=1e-9)


def test_a_draw_that_weighs_a_hundred_times_as_much_stands_for_a_hundred():
    some, weights = np.array([3.0, 1.0, 2.0]), np.array([1.0, 100.0, 50.0])
    crowd = np.repeat(some, 40 * weights.astype(int))
    assert tenths(some, weights)[0] == 1.0 == np.quantile(crowd, 0.1, method="hazen")
    low, high = weighted_quantiles(some, weights, (50 / 151, 125 / 151))
    assert (low, high) == pytest.approx((1.0, 2.0))
