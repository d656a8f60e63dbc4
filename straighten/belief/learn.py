"""What is believed of one head after its surveys and passes: draws of shape and response, towers, what surprises."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from straighten.belief.pooling import pooled_priors
from straighten.belief.posterior import Posterior, effective_draws, sample_posterior
from straighten.belief.priors import ALIKE, FACTORS, MOST_PASSES, Prior, Unknowns, priors_for, response_of
from straighten.clamp import section_of
from straighten.head.records import Head
from straighten.heat import FRESH, RoofState, both_curves
from straighten.plan.forecast import bumps_of, run_pass
from straighten.plan.records import Draws, PassSetup
from straighten.plan.surface import Taken, pass_taker
from straighten.quantiles import Floats, tenths, weights_of
from straighten.readings import Readings
from straighten.shape.modes import INDEX, prior_sd
from straighten.shape.suspects import Examined, examine
from straighten.shape.towers import Known, Towers, towers_of
from straighten.sobol import sobol_normal
from straighten.sources import Cited
from straighten.units import System, show

DRAWS: Final = 4096
SEED: Final = 20
FIT_POINTS: Final = 512
FIT_SPREAD: Final = 1.15  # the points reach a little beyond what is believed
FIT_SEED: Final = 31
OWN_SHARE: Final = 0.5  # least of a survey's spread that is its own
LEAST_SHARE: Final = 1e-6  # of a covariance's largest eigenvalue: smaller ones are noise of the arithmetic
LEAST_EFFECTIVE: Final = 60  # draws below which a caveat is printed
UNLIKE: Final = Cited(
    0.3, "of the broken line", "places of one heat differ by so much, standard deviation", "assumed"
)
SETTLING: Final = Cited(4e-6, "m", "a tower moves so much by itself in a heat, standard deviation", "assumed")
UNTHOUGHT: Final = Cited(
    2.6, "standard deviations", "one sound result in a hundred lies further from what was foretold", "derived"
)
LEAST_OFF: Final = Cited(20e-6, "m", "less is a blade's step", "common practice, no source")
_LINES: Final = (("deck", "deck_bow"), ("cam line", "cam_bow"))


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

    @property
    def logs(self) -> Floats:
        """Logarithms of the weights, `(n,)`."""
        return np.log(self.draws.weights + 1e-300)

    def weighed(self, logs: Floats) -> Belief:
        """Return it with other weights, told by their logarithms `(n,)` of any sum."""
        weights = weights_of(logs)
        return replace(self, draws=replace(self.draws, weights=weights), effective=effective_draws(weights))


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

    `surveys` one more than passes; None where a pass was not measured after; `passes` in order; beyond the last six the
    older ones are left out with their surveys; `others` what other heads of the shop taught, see `pooling.pooled_priors`.

    Source: Bayes' rule; every survey as the normal that stands for its brackets (derived).
    Valid: As the forward model; one casting, not cracked between the surveys.
    """
    came = len(passes) <= MOST_PASSES and _never_faced(surveys[0], head)
    older = max(0, len(passes) - MOST_PASSES)
    surveys, passes = surveys[older:], passes[older:]
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
    """Return the posterior of the unknowns given the surveys after every stage, None where nothing was measured.

    Each survey counts as the normal that expectation propagation makes of its brackets: half the square of
    `survey_residuals`. Draws from the brackets' own probability agree with it (emcee, in the tests).

    Source: room `shape`, moments.
    Valid: surveys whose readings tell which way the lines bow.
    """
    distance = survey_residuals(unknowns, seen)
    return sample_posterior(
        lambda u: -0.5 * np.sum(distance(u) ** 2, axis=1),
        unknowns.start(None if seen[0] is None else seen[0].posterior.mean),
        count,
        seed,
        residuals=distance,
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


def survey_residuals(unknowns: Unknowns, seen: Sequence[Examined | None]) -> Callable[[Floats], Floats]:
    """Return the surveys as whitened distances `(n, r)` from draws of the unknowns `(n, d)`.

    Source: a normal with its prior taken out (derived).
    Valid: as `infer`.
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


def towers_after(
    head: Head,
    seen: Sequence[Examined | None],
    passes: Sequence[PassSetup],
    kinks: Sequence[Floats],
    states: Sequence[Floats],
) -> tuple[Towers, ...]:
    """Return the towers of every cam line by the last survey and what was known before it; none without a survey.

    `seen` surveys, one more than passes; None where nothing was measured; `kinks` of every treatment of a pass [rad],
    `(1, treatments)`, of which only the ratios count; `states` believed before the first pass and after each, `(11,)` [m].

    Source: `shape.towers`; the broken line of a set less its modes (`bumps_of`), as large as the cam line moved.
    Valid: Soaks bend a smooth line.
    """
    towers: tuple[Towers, ...] = ()
    known: list[Known] = []
    for number, survey in enumerate(seen):
        if number and known:
            moved = states[number - 1] - states[number]
            setup = passes[number - 1]
            broken = _broken(head, setup, kinks[number - 1]) * moved[INDEX["cam_bow"]]
            known = [_after(one, broken) for one in known]
        if survey is not None:
            towers = towers_of(head, survey, states[number], known)
            known = [one.known(states[number]) for one in towers]
    return towers


def _broken(head: Head, setup: PassSetup, kinks: Floats) -> Floats:
    """Return what a pass leaves at each tower off the smooth shape, over the bow it takes off, `(towers,)`."""
    count = len(head.towers)
    return bumps_of(head, setup.spots, kinks)[0, :count] if setup.spots else np.zeros(count)


def _after(known: Known, broken: Floats) -> Known:
    spread = (UNLIKE.value * broken) ** 2 + SETTLING.value**2
    return Known(mean=known.mean + broken, covariance=known.covariance + np.diag(spread))


def surprises(
    foretold: tuple[Floats, Floats, Floats], measured: tuple[Floats, Floats], system: System = "mm"
) -> tuple[str, ...]:
    """Return a sentence for each line whose bow after a pass is not one that was thought possible: it is kept all the same.

    `foretold` shapes before and after the pass `(n, 11)` [m], weights `(n,)`; `measured` what the survey alone says after
    it, mean `(11,)` [m] and covariance `(11, 11)` [m2].

    Source: Posterior predictive tail, normal (derived).
    Valid: One pass between two surveys.
    """
    before, after, weights = foretold
    found = []
    for title, name in _LINES:
        column = INDEX[name]
        middle = float(weights @ after[:, column])
        spread = float(weights @ (after[:, column] - middle) ** 2) + float(measured[1][column, column])
        off = float(measured[0][column]) - middle
        if abs(off) > max(UNTHOUGHT.value * spread**0.5, LEAST_OFF.value):
            was = float(weights @ before[:, column])
            found.append(_sentence(title, (was, middle, float(measured[0][column])), system))
    return tuple(found)


def _sentence(title: str, bows: tuple[float, float, float], system: System) -> str:
    was, expected, now = bows
    told = f"The {title} should stand near {show(expected, system)} and reads {show(now, system)}"
    planned, moved = was - expected, was - now
    if planned * moved < 0:
        why = "it went the wrong way: released or measured while hot? shims in the wrong place? a crack? a line read in another mode?"
    elif abs(moved) < abs(planned):
        why = "it moved far less: a shim that slipped or crushed, a gap not closed, a flame too cool or too short, a line read in another mode?"
    else:
        why = "it moved far more: a crack, metal hotter than planned, measured while hot, a blade read wrong?"
    return f"{told}; {why} It is kept and learned from; look before the next pass, and strike the entry if it was wrong."
