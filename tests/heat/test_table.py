"""The table of spots: draws between nodes against the disc itself."""

from dataclasses import replace
from time import perf_counter

import numpy as np
import pytest

from straighten.heat.spot import work_spot
from straighten.heat.spot_case import SpotCase
from straighten.heat.table import draw_spots
from straighten.heat.torch import power_for_peak
from straighten.heat.treatment import HeatSpot
from tests.heat.heads import METAL

CASE = SpotCase(alloy=METAL, thickness=0.01, power=1.0, radius=0.012, dwell=4.0, peak=500.0)


def exact(peak, dwell):
    spot = HeatSpot(station=0.0, side="inlet", radius=0.012, dwell=dwell)
    power = power_for_peak(METAL, 0.01, spot, peak)
    return work_spot(replace(CASE, power=power, peak=peak, dwell=dwell))


def test_draws_agree_with_the_disc_within_the_stated_error():
    rng = np.random.default_rng(5)
    peaks, dwells = rng.uniform(350, 545, 12), rng.uniform(2.0, 6.0, 12)
    draws = draw_spots(CASE, peaks, dwells)
    for k in range(12):
        answer = exact(float(peaks[k]), float(dwells[k]))
        for name in ("shrinkage", "even", "lopsided"):
            stated = draws.error if name == "shrinkage" else draws.kept_error
            assert getattr(draws, name)[k] == pytest.approx(getattr(answer.sound, name), rel=stated)


def test_nodes_themselves_are_exact():
    dwell = float(np.exp(8 * np.log(1.2)))
    draws = draw_spots(CASE, np.array([500.0]), np.array([dwell]))
    assert draws.shrinkage[0] == pytest.approx(exact(500.0, dwell).sound.shrinkage, rel=1e-9)


def test_a_thousand_draws_cost_no_more_than_their_nodes():
    rng = np.random.default_rng(6)
    peaks, dwells = rng.normal(500, 8, 1000), 4.0 * rng.lognormal(0, 0.05, 1000)
    draw_spots(CASE, peaks, dwells)
    start = perf_counter()
    draws = draw_spots(CASE, peaks, dwells)
    assert perf_counter() - start < 0.05
    assert 0.02 < np.std(np.log(draws.shrinkage)) < 0.3


def test_a_cold_flame_shrinks_nothing():
    assert draw_spots(CASE, np.array([150.0]), np.array([3.0])).shrinkage[0] < 1e-12
