"""The exact bracket likelihood: probabilities that add to one, brute force, tails, and the fit's own moments."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad

from straighten.readings.gauges import UNEVENNESS, blade_noise, edge_noise
from straighten.readings.records import Bracket, Gauges, Readings
from straighten.shape import fit_shape
from straighten.shape.equations import equations_of
from straighten.shape.modes import INDEX, STATE, prior_sd
from straighten.shape.moments import fit_of, log_interval, tilted
from tests.shape.brackets import log_likelihood, log_probability
from tests.shape.builders import blank_line, dial, head, state, survey


def one(low: float, high: float) -> Readings:
    line = blank_line("deck", "centre", "bridged", (0.210,))
    return Readings(lines=(replace(line, brackets=(Bracket(station=0.210, low=low, high=high),)),))


def test_the_brackets_of_all_blades_together_have_probability_one() -> None:
    edges = [0.0, *sorted(head().gauge_blades), math.inf]
    shapes = np.stack([state(deck_bow=bow) for bow in (0.1, 0.2, 0.7)])
    total = sum(np.exp(log_likelihood(one(a, b), head(), shapes)) for a, b in itertools.pairwise(edges))
    assert total == pytest.approx(np.ones(3), abs=1e-9)


def test_one_reading_has_the_probability_of_a_normal_in_a_bracket() -> None:
    # blade, unevenness at the reading and under both rests (half each), straightedge: one normal (GUM: root of squares)
    spread = math.sqrt(
        blade_noise(Gauges()) ** 2 + UNEVENNESS.value**2 * (1 + 2 * 0.25) + edge_noise(Gauges(), 0.42) ** 2
    )
    expected = stats.norm.cdf((0.25e-3 - 0.23e-3) / spread) - stats.norm.cdf((0.20e-3 - 0.23e-3) / spread)
    found = log_likelihood(one(0.20e-3, 0.25e-3), head(), state(deck_bow=0.23))
    assert math.exp(found[0]) == pytest.approx(expected, rel=0.01)


def test_readings_of_one_line_share_the_unevenness_under_its_rests() -> None:
    line = blank_line("deck", "centre", "bridged", (0.105, 0.210, 0.315))
    found_at = zip(line.brackets, (0.10e-3, 0.15e-3, 0.12e-3), strict=True)
    brackets = tuple(Bracket(station=b.station, low=low, high=low + 0.01e-3) for b, low in found_at)
    shape = state(deck_bow=0.15)
    found = log_likelihood(Readings(lines=(replace(line, brackets=brackets),)), head(), shape)[0]
    rng = np.random.default_rng(4)
    draws = 400_000
    rests = rng.normal(0, UNEVENNESS.value, (draws, 2))
    edge = edge_noise(Gauges(), 0.42) * rng.normal(0, 1, draws)
    own = math.hypot(blade_noise(Gauges()), UNEVENNESS.value)
    probability = np.ones(draws)
    for b in brackets:
        u = b.station / 0.42
        gap = 4 * u * (1 - u) * (0.15e-3 - edge) - (1 - u) * rests[:, 0] - u * rests[:, 1]
        probability *= stats.norm.cdf((b.high - gap) / own) - stats.norm.cdf((b.low - gap) / own)
    assert found == pytest.approx(math.log(probability.mean()), abs=0.03)


@pytest.mark.parametrize(
    ("a", "b"), [(-1.0, 2.0), (-40.0, -38.0), (38.0, 40.0), (-math.inf, -30.0), (7.0, math.inf), (5.0, 5.5)]
)
def test_the_log_of_an_interval_is_exact_far_out_in_both_tails(a: float, b: float) -> None:
    # scipy.stats as judge: logsf and logcdf are exact in the tails
    if a > 0:
        a_log, b_log = stats.norm.logsf(a), stats.norm.logsf(b)
    else:
        a_log, b_log = stats.norm.logcdf(b), stats.norm.logcdf(a)
    expected = a_log + math.log1p(-math.exp(b_log - a_log))
    assert log_interval(np.array([a]), np.array([b]))[0] == pytest.approx(expected, rel=1e-9)


def test_the_moments_of_a_bracket_are_those_of_numerical_integration() -> None:
    mean, variance, noise, low, high = 0.3, 1.4, 0.5, 0.1, 0.7
    log_z, slope, bend = tilted(
        np.array([mean]), np.array([variance + noise**2]), np.array([low]), np.array([high])
    )

    def weight(t: float) -> float:
        inside = stats.norm.cdf((high - t) / noise) - stats.norm.cdf((low - t) / noise)
        return float(inside * stats.norm.pdf(t, mean, math.sqrt(variance)))

    z, first, second = (quad(lambda t, p=p: t**p * weight(t), -9, 9)[0] for p in (0, 1, 2))
    assert math.exp(log_z[0]) == pytest.approx(z, rel=1e-7)
    assert mean + variance * slope[0] == pytest.approx(first / z, rel=1e-7)
    assert variance - variance**2 * bend[0] == pytest.approx(second / z - (first / z) ** 2, rel=1e-6)


def test_dial_readings_alone_give_the_conjugate_normal_s_mean_and_spread() -> None:
    # normal prior, normal readings: closed form (Gelman et al., Bayesian Data Analysis, ch. 3 -- from memory)
    line = dial("cam", "single", [0.0, 0.15e-3, 0.21e-3, 0.13e-3, 0.0], head().towers)
    (sweep,) = equations_of(Readings(lines=(line,)), head()).swept
    precision = np.diag(prior_sd() ** -2.0) + sweep.rows.T @ sweep.rows / sweep.sd**2
    found = fit_shape(Readings(lines=(line,)), head())
    assert found.covariance == pytest.approx(np.linalg.inv(precision), rel=1e-9)
    assert found.mean == pytest.approx(
        np.linalg.solve(precision, sweep.rows.T @ sweep.values / sweep.sd**2), rel=1e-9
    )
    joint = sweep.rows @ np.diag(prior_sd() ** 2) @ sweep.rows.T + sweep.sd**2 * np.eye(sweep.values.size)
    assert found.evidence == pytest.approx(
        stats.multivariate_normal.logpdf(sweep.values, cov=joint), rel=1e-9
    )


@pytest.mark.parametrize("bow", [0.27, -0.27])
def test_mean_covariance_and_evidence_are_those_of_importance_sampling(bow: float) -> None:
    # lines that cross share nothing here, so that the likelihood is the same exact one on both sides
    readings = survey(state(deck_bow=bow, deck_skew=0.03, twist=0.02, cam_bow=bow))
    lines = tuple(
        line for line in readings.lines if line.name in ("exhaust edge", "centre", "inlet edge", "single")
    )
    equations = equations_of(Readings(lines=lines), head())
    found = fit_of(equations)
    rng = np.random.default_rng(5)
    root = np.linalg.cholesky(found.covariance) * 1.15
    normal = rng.standard_normal((30_000, len(STATE)))
    draws = found.mean + normal @ root.T
    log_target = log_probability(equations, draws) + stats.norm.logpdf(draws, 0, prior_sd()).sum(axis=1)
    log_weight = log_target - stats.norm.logpdf(normal).sum(axis=1) + np.log(np.diag(root)).sum()
    weight = np.exp(log_weight - log_weight.max())
    evidence = log_weight.max() + math.log(weight.mean())
    weight /= weight.sum()
    mean = weight @ draws
    sd = np.sqrt(weight @ (draws - mean) ** 2)
    own = np.sqrt(np.diag(found.covariance))
    assert 1 / (weight**2).sum() > 5_000  # the judge itself is sound
    off = np.abs(mean - found.mean) / own
    assert off[[INDEX["deck_bow"], INDEX["cam_bow"]]].max() < 0.1
    assert off.max() < 0.3  # where a balanced edge touches bends the equations; the fit takes one place
    assert own / sd == pytest.approx(np.ones(11), abs=0.2)
    assert evidence == pytest.approx(found.evidence, abs=0.3)


def test_a_thousand_shapes_take_less_than_half_a_second() -> None:
    import time

    readings = survey(state(deck_bow=0.3, cam_bow=0.3))
    shapes = np.random.default_rng(1).normal(0, 1e-4, (1024, 11)) + state(deck_bow=0.3, cam_bow=0.3)
    log_likelihood(readings, head(), shapes[:10])
    times = []
    for _ in range(3):
        start = time.perf_counter()
        found = log_likelihood(readings, head(), shapes)
        times.append(time.perf_counter() - start)
    assert np.isfinite(found).all()
    assert min(times) < 0.5
