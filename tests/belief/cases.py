"""Heads drawn from the belief's own prior, passed and read by its own rules: what calibration is judged on."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from straighten.belief.learn import infer
from straighten.belief.priors import FACTORS, Unknowns, priors_for, response_of
from straighten.clamp import ClampSetup, section_of
from straighten.head import head_from_text, template_head
from straighten.heat.treatment import schedule
from straighten.plan.candidates import bolt_sets
from straighten.plan.records import PassSetup
from straighten.plan.spots import rows_for
from straighten.plan.surface import pass_taker
from straighten.readings.records import Readings
from straighten.shape.equations import Block, Equations, equations_of
from straighten.shape.modes import INDEX, prior_sd
from straighten.shape.moments import fit_of
from straighten.shape.suspects import Examined
from straighten.sobol import sobol_normal
from tests.shape.brackets import busiest_spot, log_probability
from tests.shape.builders import blank_line

HEAD = head_from_text(template_head(), "template")
BLADES = np.array([0.0, *HEAD.gauge_blades])


@cache
def one_pass() -> Unknowns:
    """Unknowns of the template head with one pass done, its surface fitted over the whole prior of a hollow head."""
    section = section_of(HEAD)
    priors = priors_for(HEAD)
    z = sobol_normal(512, len(priors) + prior_sd().size, 31)
    states = 0.6 * z[:, len(priors) :] * prior_sd()
    states[:, [INDEX["deck_bow"], INDEX["cam_bow"]]] += 0.3e-3
    setup = PassSetup(
        clamp=ClampSetup(shims=(0.3e-3,) * 4, bolts=bolt_sets(HEAD)[-1]),
        spots=schedule([place for row in rows_for(HEAD, HEAD.torch) for place in row], HEAD.torch),
    )
    taken = pass_taker(HEAD, section, setup, states, response_of(priors, z))
    return Unknowns(priors=priors, passes=(taken,))


@dataclass(frozen=True)
class Case:
    """One head: its true unknowns and its two surveys."""

    truth: np.ndarray
    seen: tuple[Examined, ...]


@cache
def blank_equations() -> Equations:
    """The template survey's equations with no reading in them yet."""
    stations = tuple(s * HEAD.casting.length for s in (1 / 6, 1 / 3, 1 / 2, 2 / 3, 5 / 6))
    lines = tuple(
        blank_line("deck", n, "bridged", stations) for n in ("exhaust edge", "centre", "inlet edge")
    )
    lines += (blank_line("cam", "single", "balanced", HEAD.towers),)
    filled = tuple(
        replace(line, brackets=tuple(replace(b, low=0.0, high=1e-3) for b in line.brackets)) for line in lines
    )
    return equations_of(Readings(lines=filled), HEAD)


def read(state: np.ndarray, rng: np.random.Generator) -> Examined:
    """What blades find on a shape, the noise drawn as the likelihood has it: what lines share stands a deviation up or down.

    With these drawn as normals instead, the mean rank of the cam ratio moves from 0.50 to 0.455: the price of the two-point rule.
    """
    equations = blank_equations()
    middle = busiest_spot(equations)
    edge, uneven = rng.choice([-1.0, 1.0], 2)
    blocks = []
    for block in equations.blocks:
        there = np.array([spot == middle for spot in block.own_spots])
        gaps = block.seats.gaps(state[None])[0] + edge * block.edge + uneven * block.own * there
        gaps = gaps + block.seats.rests[0] @ rng.choice([-1.0, 1.0], 2)
        gaps = gaps + np.where(there, block.sd, block.noise) * rng.standard_normal(gaps.size)
        blocks.append(_bracketed(block, gaps))
    told = Equations(blocks=tuple(blocks), swept=())
    return Examined(equations=told, posterior=None, suspects=(), misfits=())


def looked_at(survey: Examined) -> Examined:
    """Return the survey with its own posterior worked out."""
    return replace(survey, posterior=fit_of(survey.equations))


def _bracketed(block: Block, gaps: np.ndarray) -> Block:
    place = np.searchsorted(BLADES, gaps, side="right") - 1
    low = np.where(place <= 0, -np.inf, BLADES[np.maximum(place, 0)])
    high = np.where(place + 1 < BLADES.size, BLADES[np.minimum(place + 1, BLADES.size - 1)], np.inf)
    return replace(block, low=low, high=np.maximum(high, BLADES[1]))


def draw(seed: int) -> Case:
    """Return the head of a seed, drawn from the prior and read before and after its pass.

    Only surveys that show a hollow deck and a high cam line in the middle are kept, as the mode of the lines says. What is kept
    depends on the readings alone, so that the posterior stays what it is.
    """
    rng = np.random.default_rng([seed, 21])
    unknowns = one_pass()
    while True:
        truth = rng.standard_normal(unknowns.size)
        shapes = unknowns.shapes(truth[None])
        first = read(shapes[0][0], rng)
        if not _hollow(first):
            continue
        second = read(shapes[1][0], rng)
        if _hollow(second):
            return Case(truth=truth, seen=(looked_at(first), looked_at(second)))


def _hollow(survey: Examined) -> bool:
    """Whether the middle of every deck line shows a gap, and the ends of the cam line do, none beyond the blades."""
    *deck, cam = survey.equations.blocks
    middles = [block.low[block.low.size // 2] for block in deck]
    return min([*middles, cam.low[0], cam.low[-1]]) > 0.04e-3 and all(
        np.isfinite(block.high).all() for block in survey.equations.blocks
    )


def exact_likelihood(unknowns: Unknowns, seen: tuple[Examined, ...]):
    """The log probability of all surveys' brackets, by the brackets' own law: what the belief's normals stand for."""

    def log_likelihood(u: np.ndarray) -> np.ndarray:
        pairs = zip(seen, unknowns.shapes(u), strict=True)
        return sum(log_probability(survey.equations, shape) for survey, shape in pairs)

    return log_likelihood


def ranks(case: Case, unknowns: Unknowns, count: int = 1024) -> np.ndarray:
    """Return the posterior probability below the truth of every factor, `(9,)`."""
    posterior = infer(unknowns, case.seen, count, 20)
    below = posterior.draws[:, :FACTORS] < case.truth[:FACTORS]
    return posterior.weights @ below


__all__ = ["HEAD", "Case", "draw", "exact_likelihood", "infer", "one_pass", "ranks", "read"]
