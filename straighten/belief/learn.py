"""What is believed of one head after its surveys and passes: weighted draws of shape and response."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.belief.pooling import pooled_priors
from straighten.belief.posterior import Posterior, sample_posterior
from straighten.belief.priors import Prior, priors_for, response_of
from straighten.belief.uneven import towers_after
from straighten.belief.unknowns import ALIKE, FACTORS, MOST_PASSES, Unknowns
from straighten.clamp import section_of
from straighten.heat import FRESH, both_curves
from straighten.plan.forecast import run_pass
from straighten.plan.records import Draws
from straighten.plan.surface import pass_taker
from straighten.quantiles import tenths
from straighten.shape.modes import INDEX, prior_sd
from straighten.shape.suspects import examine
from straighten.sobol import sobol_normal

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.heat import RoofState
    from straighten.plan.records import PassSetup
    from straighten.plan.surface import Taken
    from straighten.readings import Readings
    from straighten.shape.suspects import Examined
    from straighten.shape.towers import Towers

    Floats = NDArray[np.float64]

DRAWS: Final = 4096
SEED: Final = 20
FIT_POINTS: Final = 512
FIT_SPREAD: Final = 1.15  # the points reach a little beyond what is believed
FIT_SEED: Final = 31
OWN_SHARE: Final = 0.5  # least of a survey's spread that is its own
LEAST_SHARE: Final = 1e-6  # of a covariance's largest eigenvalue: smaller ones are noise of the arithmetic
LEAST_EFFECTIVE: Final = 60  # draws below which a caveat is printed


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """Weighted draws and how they came about.

    `draws` latest shape and response; `priors` of the factors; `factors` name -> 10, 50, 90 % quantiles; `effective`
    number of draws the weights are worth; `history` shapes at every stage `(stages, n, 11)`; `towers` of every cam line
    by the last survey, none without one; `caveats` in words.
    """

    draws: Draws
    priors: tuple[Prior, ...]
    factors: dict[str, tuple[float, float, float]]
    effective: float
    history: tuple[Floats, ...]
    towers: tuple[Towers, ...] = ()
    caveats: tuple[str, ...] = ()


def learn(
    head: Head,
    surveys: Sequence[Readings | None],
    passes: Sequence[PassSetup],
    *,
    count: int = DRAWS,
    seed: int = SEED,
    others: Sequence[Mapping[str, tuple[float, float]]] = (),
) -> Belief:
    """Return what is believed after the surveys and the passes between them.

    Args:
        head: the head.
        surveys: one more than passes; None where a pass was not measured after.
        passes: what was done, in order; beyond the last six the older ones are left out with their surveys.
        count: number of draws.
        seed: fixes them.
        others: what other heads of the shop taught, see `pooling.pooled_priors`.

    Source: Bayes' rule; every survey as the normal that stands for its brackets (derived).
    Valid: As the forward model; one casting, not cracked between the surveys.
    """
    came = len(passes) <= MOST_PASSES and _never_faced(surveys[0], head)
    surveys, passes = (
        surveys[max(0, len(passes) - MOST_PASSES) :],
        passes[max(0, len(passes) - MOST_PASSES) :],
    )
    priors = pooled_priors(priors_for(head), others)
    seen = [None if survey is None else examine(survey, head) for survey in surveys]
    taken, kinks = _takers(head, priors, passes, seen)
    unknowns = Unknowns(priors=priors, passes=taken, came=came)
    belief = _belief(unknowns, infer(unknowns, seen, count, seed))
    means = [belief.draws.weights @ states for states in belief.history]
    return replace(belief, towers=towers_after(head, seen, passes, kinks, means))


def _never_faced(survey: Readings | None, head: Head) -> bool:
    """Whether deck and cam line still stand to one another as the heat left them."""
    if survey is None or survey.intake.skimmed == "yes" or head.limits.removed_before > 0:
        return False
    parts = {line.part for line in survey.lines if not all(b.blank for b in line.brackets)}
    return {"deck", "cam"} <= parts


def infer(unknowns: Unknowns, seen: Sequence[Examined | None], count: int, seed: int) -> Posterior:
    """Return the posterior of the unknowns given the surveys after every stage.

    Args:
        unknowns: priors of the factors and what each pass takes.
        seen: one more than passes; None where nothing was measured.
        count: number of draws.
        seed: fixes them.
    """
    return sample_posterior(
        survey_likelihood(unknowns, seen),
        _start(unknowns, seen),
        count,
        seed,
        residuals=survey_residuals(unknowns, seen),
    )


def _takers(
    head: Head, priors: tuple[Prior, ...], passes: Sequence[PassSetup], seen: Sequence[Examined | None]
) -> tuple[tuple[Taken, ...], list[Floats]]:
    """Return what each pass takes off, as functions fitted over what is believed before it, and its kinks for the mean shape."""
    section, size = section_of(head), len(priors) + len(prior_sd())
    z = FIT_SPREAD * sobol_normal(FIT_POINTS, size, FIT_SEED)
    response, states = response_of(priors, z), z[:, len(priors) :] * prior_sd()
    takers: list[Taken] = []
    kinks: list[Floats] = []
    past: RoofState = FRESH
    for setup, before in zip(passes, seen, strict=False):
        if before is not None:
            root = np.linalg.cholesky(before.posterior.covariance)
            states = before.posterior.mean + z[:, len(priors) :] @ root.T
        taken = pass_taker(head, section, setup, states, response, past)
        takers.append(taken)
        kinks.append(np.zeros((1, 0)))
        if setup.spots:
            relaxed = run_pass(head, section, states.mean(axis=0)[None], both_curves(), setup, past)[1]
            kinks[-1], past = relaxed.kinks, relaxed.left
        states = states - taken(states, response)
    return tuple(takers), kinks


def survey_likelihood(unknowns: Unknowns, seen: Sequence[Examined | None]) -> Callable[[Floats], Floats]:
    """Return the log probability of all surveys for draws of the unknowns `(n, d)`, up to a constant.

    Each survey counts as the normal that expectation propagation makes of its brackets: half the square of
    `survey_residuals`. Draws from the brackets' own probability agree with it (emcee, in the tests).

    Args:
        unknowns: as in `infer`.
        seen: as in `infer`.

    Source: room `shape`, moments.
    Valid: surveys whose readings tell which way the lines bow.
    """
    distance = survey_residuals(unknowns, seen)

    def log_likelihood(u: Floats) -> Floats:
        found: Floats = -0.5 * np.sum(distance(u) ** 2, axis=1)
        return found

    return log_likelihood


def survey_residuals(unknowns: Unknowns, seen: Sequence[Examined | None]) -> Callable[[Floats], Floats]:
    """Return the surveys as whitened distances `(n, r)` from draws of the unknowns `(n, d)`.

    Args:
        unknowns: as in `infer`.
        seen: as in `infer`.

    Source: a normal with its prior taken out (derived).
    Valid: as `survey_likelihood`.
    """
    sites = [None if survey is None else _site(survey) for survey in seen]

    def distance(u: Floats) -> Floats:
        off = unknowns.misread(u)
        parts = [
            (shape + off - site[0]) @ site[1]
            for site, shape in zip(sites, unknowns.shapes(u), strict=True)
            if site is not None
        ]
        return np.concatenate([*parts, unknowns.as_it_went(u)], axis=1)

    return distance


def _site(survey: Examined) -> tuple[Floats, Floats]:
    """Return mean and precision root of what a survey alone says: its posterior with the prior taken out, and what surveys misread alike."""
    precision = np.linalg.inv(survey.posterior.covariance)
    alone = precision - np.diag(prior_sd() ** -2.0)
    values, vectors = np.linalg.eigh((alone + alone.T) / 2)
    values = np.maximum(values, LEAST_SHARE * values[-1])
    centre = vectors @ ((vectors.T @ (precision @ survey.posterior.mean)) / values)
    widths, axes = np.linalg.eigh(_own((vectors / values) @ vectors.T))
    return centre, axes / np.sqrt(np.maximum(widths, LEAST_SHARE * widths[-1]))


def _own(covariance: Floats) -> Floats:
    """Return the covariance of a survey without what all surveys of the head misread alike."""
    scale = np.ones(len(covariance))
    for name, sd in ALIKE.items():
        whole = float(covariance[INDEX[name], INDEX[name]])
        scale[INDEX[name]] = max(1 - sd**2 / whole, OWN_SHARE**2) ** 0.5
    return covariance * np.outer(scale, scale)


def _start(unknowns: Unknowns, seen: Sequence[Examined | None]) -> Floats:
    means = [np.zeros(len(prior_sd())) if survey is None else survey.posterior.mean for survey in seen]
    return unknowns.start(means)


def _belief(unknowns: Unknowns, posterior: Posterior) -> Belief:
    u, weights = posterior.draws, posterior.weights
    response = unknowns.response(u)
    shapes = unknowns.shapes(u)
    factors = {
        prior.name: tenths(prior.value(u[:, column]), weights)
        for column, prior in enumerate(unknowns.priors[:FACTORS])
    }
    return Belief(
        draws=Draws(states=shapes[-1], response=response, weights=weights),
        priors=unknowns.priors,
        factors=factors,
        effective=posterior.effective,
        history=tuple(shapes),
        caveats=_caveats(posterior),
    )


def _caveats(posterior: Posterior) -> tuple[str, ...]:
    """Say where the draws are too few to be trusted to a blade's step."""
    if posterior.effective >= LEAST_EFFECTIVE:
        return ()
    few = f"Readings and passes fit together badly: only {posterior.effective:.0f} draws carry the belief"
    return (f"{few}, so its ranges are rough. Measure once more.",)


def prior_factors(priors: Sequence[Prior]) -> dict[str, tuple[float, float, float]]:
    """Return the 10, 50 and 90 % quantiles of every factor before anything is measured."""
    z = 1.2815515655446004
    at = np.array([-z, 0.0, z])
    return {prior.name: tuple(map(float, prior.value(at))) for prior in priors}  # type: ignore[misc]
