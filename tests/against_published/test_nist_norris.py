"""NIST Statistical Reference Datasets, linear regression, Norris (seen): certified values to ten digits and more.

J. Norris, NIST, calibration of ozone monitors, 36 observations; certified slope, intercept and standard deviations.
Our least squares line must hit slope and intercept; the standard deviations are worked out from its residuals.
"""

from __future__ import annotations

import numpy as np
import pytest

from straighten.shape.flatness import _least_squares

SOURCE = "NIST Statistical Reference Datasets, linear regression, Norris"
MARK = "seen"

X = """0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 556.0 228.1
995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5"""
Y = """0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 557.7 228.3
998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2"""

SLOPE, INTERCEPT = 1.00211681802045, -0.262323073774029
SD_SLOPE, SD_INTERCEPT, SD_REST = 4.29796848199937e-4, 0.232818234301152, 0.884796396144373


@pytest.fixture
def data() -> tuple[np.ndarray, np.ndarray]:
    return np.array(X.split(), dtype=float), np.array(Y.split(), dtype=float)


def test_the_data_are_copied_right(data: tuple[np.ndarray, np.ndarray]) -> None:
    x, y = data
    assert x.size == y.size == 36
    assert x.sum() == pytest.approx(15090.4, abs=1e-9)
    assert y.sum() == pytest.approx(15112.9, abs=1e-9)


def test_slope_and_intercept_are_the_certified_ones(data, published) -> None:
    slope, intercept = _least_squares(*data)
    published("slope", slope, SLOPE, rel=1e-12)
    published("intercept", intercept, INTERCEPT, rel=1e-10)


def test_the_residuals_give_the_certified_standard_deviations(data, published) -> None:
    x, y = data
    slope, intercept = _least_squares(x, y)
    rest = y - slope * x - intercept
    sd = np.sqrt(rest @ rest / (x.size - 2))
    spread = np.sum((x - x.mean()) ** 2)
    published("residual standard deviation", sd, SD_REST, rel=1e-10)
    published("standard deviation of the slope", sd / np.sqrt(spread), SD_SLOPE, rel=1e-10)
    of_intercept = sd * np.sqrt(1 / x.size + x.mean() ** 2 / spread)
    published("standard deviation of the intercept", of_intercept, SD_INTERCEPT, rel=1e-10)
