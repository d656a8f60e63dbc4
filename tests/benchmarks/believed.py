"""Heads as the planner believes them: its own forward model with factors drawn from its own prior, read as it assumes.

Not part of the workshop, which knows nothing of the planner: what is asked here is whether the ranges hold where all
that the planner assumes is so. Castings are the workshop's; shape, factors, luck of a pass and readings are the
planner's own.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from straighten.belief.priors import priors_for, response_of
from straighten.clamp import section_of
from straighten.desk.setup_file import setup_file, setup_of
from straighten.filecheck import parse_toml
from straighten.head import head_from_text
from straighten.heat import FRESH
from straighten.plan.forecast import NOISE_SIZE, left_after, run_pass
from straighten.readings.gauges import FEEL, UNEVENNESS
from straighten.shape.modes import INDEX, STATE, cam_rows, deck_rows, prior_sd
from tests.workshop import castings, files
from tests.workshop.bench import Deed, Outcome
from tests.workshop.castings import XI, Truth

UNEVEN = 1e3 * UNEVENNESS.value  # mm
BLADE = 1e3 * math.hypot(
    FEEL.value, 5e-6 / math.sqrt(3)
)  # mm: feel, and blades off their thickness by 5 um at most
LEAST_BOW, MOST_BOW = 0.10e-3, 0.60e-3  # m


class Believed:
    """One head: its truth as lines, and the world that acts on it."""

    def __init__(self, number: int) -> None:
        rng = np.random.default_rng([number, 9])
        plain = castings.draw(number)
        casting = replace(plain.casting, limits=(*plain.casting.limits[:3], 0.0))
        self.head = head_from_text(files.head_file(casting), "believed head")
        self.section = section_of(self.head)
        priors = priors_for(self.head)
        self.response = response_of(priors, rng.standard_normal((1, len(priors))))
        self.state, self.roof = _shape(rng), FRESH
        lines = 3, casting.cam_lines
        self.truth = _lined(
            replace(
                plain, casting=casting, rough=_uneven(rng), tower_off=rng.normal(0, UNEVEN, (lines[1], len(casting.towers))),
                hand={"feel": BLADE, "dwell": 1.0, "peak": 0.0, "edge": 0.0, "gap": 0.0, "misread": 0.0},
            ), self.state,
        )  # fmt: skip
        self.truth = replace(self.truth, start_cam=self.truth.cam_bow)

    def acts(self, truth: Truth, deed: Deed, luck: int | None = None) -> Outcome:
        """Return what a clamping does by the planner's model; a luck other than None leaves the head as it is."""
        rng = np.random.default_rng(
            [truth.number, 10, truth.passes, -1 if luck is None else luck][: 3 + (luck is not None)]
        )
        text = files.done_file(deed, deed.gap)
        file = setup_file(parse_toml(text, "card"), where="card", system=self.head.system)
        setup = setup_of(file, self.head, "card")
        relaxed = run_pass(self.head, self.section, self.state[None], self.response, setup, self.roof)[1]
        state = left_after(
            self.state[None], relaxed.set_state, self.response, rng.standard_normal((1, NOISE_SIZE))
        )[0]
        if luck is None:
            self.state, self.roof = state, relaxed.left
        after = _lined(replace(truth, passes=truth.passes + 1), state)
        past = after.cam_bow * np.sign(truth.start_cam) < -truth.casting.limits[1]
        return Outcome(truth=replace(after, past=truth.past or bool(past)), gap=deed.gap)


def _uneven(rng: np.random.Generator) -> np.ndarray:
    """Unevenness of the three deck lines between fifteen places [mm], as in the benchmark of surveys."""
    return np.stack([np.interp(XI, np.linspace(0, 1, 15), rng.normal(0, UNEVEN, 15)) for _ in range(3)])


def _shape(rng: np.random.Generator) -> np.ndarray:
    """A shape of the prior, hollow, with bows between 0.10 and 0.60 mm [m]."""
    sd = prior_sd()
    while True:
        state = rng.standard_normal(sd.size) * sd
        deck, cam = INDEX["deck_bow"], INDEX["cam_bow"]
        state[deck], state[cam] = abs(state[deck]), abs(state[cam])
        if LEAST_BOW < state[deck] < MOST_BOW and LEAST_BOW < state[cam] < MOST_BOW:
            return state


def _lined(truth: Truth, state: np.ndarray) -> Truth:
    """The lines of a shape [mm]."""
    assert len(STATE) == state.size
    sides = (0.0,) if truth.casting.cam_lines == 1 else (-1.0, 1.0)
    return replace(
        truth, deck=1e3 * np.stack([deck_rows(XI, np.full(XI.size, eta)) @ state for eta in (-1.0, 0.0, 1.0)]),
        cam=1e3 * np.stack([cam_rows(XI, side) @ state for side in sides]),
    )  # fmt: skip
