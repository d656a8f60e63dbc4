"""Towers off the smooth shape: each is told by the blades at it, as exactly as they allow, and the limit counts it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from straighten.readings.gauges import LEVELLING, UNEVENNESS
from straighten.readings.records import Line, Readings
from straighten.shape import fit_shape
from straighten.shape.flatness import straightness
from straighten.shape.modes import STATE
from straighten.shape.seats import FORM
from straighten.shape.suspects import Misfit, examine
from straighten.shape.towers import towers_of
from tests.shape.builders import blank_line, gaps_of, head, limit, state, survey, twin_cam_head

FINE = tuple(k * 1e-5 for k in range(4, 60))  # blades every hundredth of a millimetre
BENT = replace(head(), gauge_blades=FINE, bent=0.5e-3)  # a head that came in with half a millimetre
UNEVEN = float(np.hypot(UNEVENNESS.value, FORM.value * BENT.bent))
SHARES = np.array(BENT.towers) / BENT.casting.length


def jagged(off_mm: list[float], on=BENT, **numbers: float) -> Readings:
    """A survey of a head whose towers stand so much lower than the smooth shape."""
    found, rise = survey(state(**numbers), on), np.array(off_mm) * 1e-3
    share = (SHARES - SHARES[0]) / (SHARES[-1] - SHARES[0])
    more = rise - (1 - share) * rise[0] - share * rise[-1]
    lines = [
        _as_read(line, gaps_of(line, state(**numbers), on) + more) if line.part == "cam" else line
        for line in found.lines
    ]
    return replace(found, lines=tuple(lines))


def _as_read(line: Line, gaps: np.ndarray) -> Line:
    blades = np.array(FINE)
    brackets = [
        replace(b, low=float(blades[blades <= gap].max(initial=0.0)), high=float(blades[blades > gap].min()))
        for b, gap in zip(line.brackets, gaps, strict=True)
    ]
    return replace(line, brackets=tuple(brackets))


def test_a_low_tower_counts_in_the_limit_of_a_line_that_is_straight_besides() -> None:
    # minimum zone of the heights themselves, ISO 12780-1 (from memory)
    off = [0.0] * len(SHARES)
    off[2] = -0.03
    found = fit_shape(jagged([-v + 0.1 * 4 * s * (1 - s) for v, s in zip(off, SHARES, strict=True)]), BENT)
    heights = -np.array([-v + 0.1 * 4 * s * (1 - s) for v, s in zip(off, SHARES, strict=True)]) * 1e-3
    true = straightness(SHARES, heights).minimum_zone
    assert limit(found, "cam line overall").value == pytest.approx(true, abs=0.010e-3)
    line = next(line for line in found.lines if line.title == "cam line")
    assert line.straightness.minimum_zone == pytest.approx(true, abs=0.010e-3)


@pytest.mark.parametrize("bow", [-0.1, 0.1, 0.3])
def test_towers_are_known_as_their_brackets_tell(bow: float) -> None:
    # against draws of the heights weighted with every bracket's own probability (Bayes)
    lines = [line for line in jagged([0, 0.01, 0.03, -0.01, 0.0], cam_bow=bow).lines if line.part == "cam"]
    assert lines[0].mode == ("bridged" if bow < 0 else "balanced")
    seen = examine(Readings(lines=tuple(lines)), BENT)
    (block,), shape = seen.equations.blocks, seen.posterior.mean
    (towers,) = towers_of(BENT, seen)
    rng = np.random.default_rng(1)
    off = UNEVEN * rng.standard_normal((400_000, len(SHARES)))
    along = (SHARES - SHARES[0]) / (SHARES[-1] - SHARES[0])
    if bow < 0:  # the edge rests on both ends; a low tower gapes
        shown = off[:, :1] * (1 - along) + off[:, -1:] * along - off
    else:  # it lies on the middle and is held level
        level = LEVELLING.value * rng.standard_normal((len(off), 1))
        shown = off[:, [2]] - off + level * (2 * along - 1)
    gaps = shown + block.seats.gaps(shape[None])[0]
    odds = norm.cdf((block.high - gaps) / block.sd) - norm.cdf((block.low - gaps) / block.sd)
    weight = np.prod(odds, axis=1)
    weight /= weight.sum()
    mean = weight @ off
    assert towers.off(shape[None])[0] == pytest.approx(mean, abs=2e-6)
    spread = np.sqrt(weight @ (off - mean) ** 2)
    told = np.sqrt(np.sum(towers.root**2, axis=1))
    assert told == pytest.approx(spread, rel=0.1)
    drawn = towers.draws(np.repeat(shape[None], 4096, axis=0))
    assert drawn.std(axis=0) == pytest.approx(spread, rel=0.1)
    assert drawn[0] == pytest.approx(towers.off(shape[None])[0], abs=1e-12)


def test_a_crowned_line_tells_its_towers_too() -> None:
    # the edge lies on the top tower: the others gape by how much lower they stand (geometry)
    line = blank_line("cam", "single", "balanced", BENT.towers)
    heights = np.array([0.0, 0.14, 0.20, 0.10, 0.0]) * 1e-3
    read_so = _as_read(line, heights.max() - heights)
    found = fit_shape(Readings(lines=(read_so,)), BENT)
    true = straightness(SHARES, heights).minimum_zone
    assert limit(found, "cam line overall").value == pytest.approx(true, abs=0.012e-3)


def test_towers_that_were_not_read_are_as_uneven_as_the_head_may_be() -> None:
    deck = tuple(line for line in survey(state(cam_bow=0.1), BENT).lines if line.part == "deck")
    (towers,) = towers_of(BENT, examine(Readings(lines=deck), BENT))
    assert towers.off(np.zeros((1, len(STATE)))) == pytest.approx(np.zeros((1, len(SHARES))))
    assert towers.root == pytest.approx(UNEVEN * np.eye(len(SHARES)))


def test_each_of_two_cam_lines_has_its_own_towers() -> None:
    on = replace(twin_cam_head(), gauge_blades=FINE, bent=0.5e-3)
    readings = survey(state(cam_bow=0.15), on)
    lines = [
        _as_read(line, gaps_of(line, state(cam_bow=0.15), on) + np.array([0, 0, 0.06, 0, 0]) * 1e-3)
        if line.name == "inlet"
        else line
        for line in readings.lines
    ]
    found = fit_shape(replace(readings, lines=tuple(lines)), on)
    exhaust, inlet = (towers.off(found.mean[None])[0] for towers in found.towers)
    assert inlet[2] < -0.008e-3
    assert np.abs(exhaust).max() < 0.010e-3


def test_a_reading_that_fits_nothing_else_is_a_step_of_its_tower() -> None:
    at = Misfit(title="cam line", place=2, part="cam", xi=float(SHARES[2]), eta=0.0, off=0.08e-3, sentence="")
    seen, shape = examine(survey(state(cam_bow=0.1), BENT), BENT), state(cam_bow=0.1)
    (plain,), (step,) = (towers_of(BENT, one) for one in (seen, replace(seen, misfits=(at,))))
    assert (step.off(shape[None]) - plain.off(shape[None]))[0] == pytest.approx(
        [0, 0, -0.08e-3, 0, 0], abs=1e-9
    )
