r"""Mean and covariance of a shape from its brackets, by expectation propagation.

Each bracket is replaced by the Gaussian that leaves the same mean and variance when it joins the others; the
replacement is repeated until nothing moves. For interval readings of linear quantities, whose probability is
log-concave, this settles in a few rounds and is far nearer to the truth than a parabola laid at the mode: inside a
wide bracket the likelihood is flat.

Source: T. Minka, "Expectation propagation for approximate Bayesian inference", 2001 -- from memory; the moments of
an interval are derived below and checked against sampling.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, fields

import numpy as np

from straighten.quantiles import Floats
from straighten.shape.modes import CAM, INDEX, STATE, Spot, prior_sd
from straighten.shape.seats import Block, Equations

ROUNDS = 40
STILL = 2e-3  # settled when no reading's mean moves by more than this share of its noise
DAMPING = 0.85
_CONTACT_ROUNDS = 6
_AS_GOOD = 0.5  # log of odds below which two answers are equally good
_ROOT_TAU = math.log(math.sqrt(2 * math.pi))
_FAR = 5.0  # standard deviations from which a difference of probabilities loses digits


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """What the readings say.

    `mean` `(11,)` and `covariance` `(11, 11)` of the state; `evidence` log-probability of the readings; `expected`, `off`
    `(k,)`: what all the OTHER readings say each reading should be [m], and how far outside its bracket that lies in
    standard deviations, its own noise in them.
    """

    mean: Floats
    covariance: Floats
    evidence: float
    expected: Floats
    off: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sites:
    """Bracketed readings as linear functions of state, straightedge error and rests, with bounds and noise."""

    rows: Floats
    low: Floats
    high: Floats
    noise: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Gauss:
    """A Gaussian by precision and precision times mean."""

    precision: Floats
    shift: Floats


def fit_of(equations: Equations) -> Fit:
    """Return mean, covariance and evidence of the state given the equations and the prior.

    Where the edges touch depends on the shape: that is found again at the mean until it stays the same.
    """
    found = _settled(equations, (0,) * len(equations.blocks))
    two_sided = any(block.two_sided for block in equations.blocks)
    return _with_the_deck(equations, found) if two_sided else found


def _with_the_deck(equations: Equations, found: Fit) -> Fit:
    """Return the answer in which the cam line bows the way the deck does, where the readings allow either."""
    deck, cam = found.mean[INDEX["deck_bow"]], found.mean[INDEX["cam_bow"]]
    if deck * cam >= 0:
        return found
    turned = found.mean.copy()
    turned[CAM] *= -1
    other = _settled(equations, _seats(equations, turned))
    return other if other.evidence > found.evidence - _AS_GOOD else found


def _settled(equations: Equations, seats: tuple[int, ...]) -> Fit:
    """Return the answer with every edge touching where its own mean says it does, or the best met on the way."""
    best = found = _propagate(*_linear(equations, seats))
    for _ in range(_CONTACT_ROUNDS):
        before, seats = seats, _seats(equations, found.mean)
        if seats == before:
            return found
        found = _propagate(*_linear(equations, seats))
        best = max(best, found, key=lambda p: p.evidence)
    return best


def _seats(equations: Equations, state: Floats) -> tuple[int, ...]:
    """Return how every edge touches a shape."""
    return tuple(block.seats.pick(state) for block in equations.blocks)


def _linear(equations: Equations, seats: tuple[int, ...]) -> tuple[_Sites, _Gauss, float]:
    """Return sites, prior with dial sweeps worked in, and their log-normaliser, for one way of touching.

    Behind the state stand the straightedge's error and the unevenness of every spot that more than one reading meets.
    """
    columns = _shared_spots(equations.blocks, seats)
    size = len(STATE) + 1 + len(columns)
    parts = [
        _block_sites(block, way, columns, size) for block, way in zip(equations.blocks, seats, strict=True)
    ]
    prior, log_scale = _prior(equations, size)
    return _joined(parts, size), prior, log_scale


def _joined(parts: list[_Sites], size: int) -> _Sites:
    every = [_Sites(rows=np.zeros((0, size)), low=np.zeros(0), high=np.zeros(0), noise=np.zeros(0)), *parts]
    return _Sites(**{f.name: np.concatenate([getattr(p, f.name) for p in every]) for f in fields(_Sites)})


def _block_sites(block: Block, way: int, columns: dict[Spot, int], size: int) -> _Sites:
    seats = block.seats
    rows = np.zeros((block.sd.size, size))
    rows[:, : len(STATE)] = seats.rows[way]
    rows[:, len(STATE)] = block.edge
    for rest, spot in enumerate(seats.spots[way]):
        rows[:, columns[spot]] += seats.rests[way, :, rest]
    shared = np.array([columns.get(spot, -1) for spot in block.own_spots])
    met = np.flatnonzero(shared >= 0)
    rows[met, shared[met]] += block.own[met]
    return _Sites(
        rows=rows,
        low=block.low - seats.offset[way],
        high=block.high - seats.offset[way],
        noise=np.where(shared >= 0, block.sd, block.noise),
    )


def _shared_spots(blocks: tuple[Block, ...], seats: tuple[int, ...]) -> dict[Spot, int]:
    """Return the column of every spot that carries an edge or is read on more than one line."""
    rests = [spot for block, way in zip(blocks, seats, strict=True) for spot in block.seats.spots[way]]
    read = Counter(spot for block in blocks for spot in block.own_spots)
    shared = dict.fromkeys([*rests, *(spot for spot, times in read.items() if times > 1)])
    return {spot: len(STATE) + 1 + n for n, spot in enumerate(shared)}


def _prior(equations: Equations, size: int) -> tuple[_Gauss, float]:
    precision = np.ones(size)
    precision[: len(STATE)] = 1 / prior_sd() ** 2
    matrix = np.diag(precision)
    shift = np.zeros(size)
    constant = 0.5 * float(np.sum(np.log(precision)))
    for sweep in equations.swept:
        rows = sweep.rows / sweep.sd
        values = sweep.values / sweep.sd
        matrix[: len(STATE), : len(STATE)] += rows.T @ rows
        shift[: len(STATE)] += rows.T @ values
        constant -= 0.5 * float(values @ values) + values.size * (_ROOT_TAU + math.log(sweep.sd))
    return _Gauss(precision=matrix, shift=shift), constant


def _propagate(sites: _Sites, prior: _Gauss, constant: float) -> Fit:
    count = sites.noise.size
    tau, nu = np.zeros(count), np.zeros(count)
    covariance = _inverse(prior.precision)
    mean = covariance @ prior.shift
    for _ in range(ROUNDS):
        centre, variance = _marginals(sites.rows, mean, covariance)
        cavity, width = _without(centre, variance, tau, nu)
        _, slope, bend = tilted(cavity, width + sites.noise**2, sites.low, sites.high)
        keep = np.maximum(1 - width * bend, 1e-9)
        tau = (1 - DAMPING) * tau + DAMPING * np.maximum(bend, 0) / keep
        nu = (1 - DAMPING) * nu + DAMPING * (slope + cavity * bend) / keep
        covariance = _inverse(prior.precision + (sites.rows.T * tau) @ sites.rows)
        mean = covariance @ (prior.shift + sites.rows.T @ nu)
        moved = np.abs(sites.rows @ mean - centre)
        if np.all(moved < STILL * sites.noise):
            break
    return _summary(sites, _Gauss(precision=tau, shift=nu), (mean, covariance), constant)


def _inverse(matrix: Floats) -> Floats:
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def _marginals(rows: Floats, mean: Floats, covariance: Floats) -> tuple[Floats, Floats]:
    return rows @ mean, np.maximum(np.einsum("ij,ij->i", rows @ covariance, rows), 1e-24)


def _without(centre: Floats, variance: Floats, tau: Floats, nu: Floats) -> tuple[Floats, Floats]:
    """Return mean and variance of each reading's gap as the others alone know it."""
    width = 1 / np.maximum(1 / variance - tau, 1e-9 / variance)
    return width * (centre / variance - nu), width


def tilted(mean: Floats, variance: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats, Floats]:
    r"""Return log Z of an interval under N(mean, variance) and its first and minus its second derivative by the mean.

    .. math:: Z = \Phi(\beta) - \Phi(\alpha), \quad
              g = \frac{\varphi(\alpha) - \varphi(\beta)}{Z \sigma}, \quad
              h = g^2 + \frac{\beta \varphi(\beta) - \alpha \varphi(\alpha)}{Z \sigma^2}

    `mean` [m] and `variance` [m2], bounds `low`, `high` [m], which may be infinite; `(k,)` each.
    """
    sigma = np.sqrt(variance)
    alpha, beta = (low - mean) / sigma, (high - mean) / sigma
    log_z = log_interval(alpha, beta)
    at_low, at_high = (np.exp(-0.5 * x**2 - _ROOT_TAU - log_z) for x in (alpha, beta))
    slope = (at_low - at_high) / sigma
    inner = np.where(np.isfinite(beta), beta, 0) * at_high - np.where(np.isfinite(alpha), alpha, 0) * at_low
    return log_z, slope, slope**2 + inner / variance


def _summary(sites: _Sites, site: _Gauss, joint: tuple[Floats, Floats], constant: float) -> Fit:
    mean, covariance = joint
    centre, variance = _marginals(sites.rows, mean, covariance)
    cavity, width = _without(centre, variance, site.precision, site.shift)
    log_z, _, _ = tilted(cavity, width + sites.noise**2, sites.low, sites.high)
    spread = np.sqrt(width + sites.noise**2)
    off = np.maximum(np.maximum(sites.low - cavity, cavity - sites.high), 0) / spread
    joined = 1 / (1 / width + site.precision)
    both = joined * (cavity / width + site.shift)
    scale = np.sum(log_z - _log_part(both, joined) + _log_part(cavity, width))
    _, log_det = np.linalg.slogdet(covariance)
    evidence = (
        constant + 0.5 * float(mean @ np.linalg.solve(covariance, mean)) + 0.5 * float(log_det) + float(scale)
    )
    size = len(STATE)
    return Fit(
        mean=mean[:size],
        covariance=(covariance[:size, :size] + covariance[:size, :size].T) / 2,
        evidence=evidence,
        expected=cavity,
        off=off,
    )


def _log_part(mean: Floats, variance: Floats) -> Floats:
    return np.asarray(0.5 * mean**2 / variance + 0.5 * np.log(variance))


def log_interval(a: Floats, b: Floats) -> Floats:
    r"""Return log(Phi(b) - Phi(a)) for a < b, without loss far out in either tail.

    `a`, `b` bounds in standard deviations, of one shape; either may be infinite.

    Source: Reflection of the normal distribution, \Phi(b) - \Phi(a) = \Phi(-a) - \Phi(-b) -- derived.
    """
    from scipy.special import ndtr

    with np.errstate(divide="ignore"):
        found: Floats = np.log(ndtr(b) - ndtr(a))
    above = a > _FAR
    far = (b < -_FAR) | above
    if far.any():
        lower, upper = np.where(above, -b, a), np.where(above, -a, b)
        found[far] = _log_tail(lower[far], upper[far])
    return found


def _log_tail(lower: Floats, upper: Floats) -> Floats:
    """Return log(Phi(upper) - Phi(lower)) for both far below zero."""
    from scipy.special import log_ndtr

    top, bottom = log_ndtr(upper), log_ndtr(lower)
    return np.asarray(top + np.log(-np.expm1(np.minimum(bottom - top, -1e-300))))
