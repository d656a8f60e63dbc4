"""Towers that a broken line leaves off the smooth shape: what the heat broke and earlier surveys read makes each better known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from straighten.belief.learn import towers_after
from straighten.heat import HeatSpot
from straighten.plan.records import PassSetup
from straighten.readings.records import Bracket, Line, Readings
from straighten.shape.modes import INDEX, STATE, cam_rows, project_line
from straighten.shape.suspects import examine
from straighten.shape.towers import towers_of
from tests.shape.builders import head

HEAD = replace(head(), bent=0.3e-3)
AT = np.array(HEAD.towers) / HEAD.casting.length
XI = np.linspace(0.0, 1.0, 401)
STATIONS = np.array([0.25, 0.45, 0.7]) * HEAD.casting.length
SETUP = PassSetup(
    clamp=None,
    spots=tuple(HeatSpot(station=s, side="inlet", radius=0.012, dwell=4.0, peak=500.0) for s in STATIONS),
)


def survey(line: np.ndarray, off: np.ndarray, rng: np.random.Generator) -> Readings:
    """The cam line read with the blades owned, its towers so far off it; a hand feels to 8 um."""
    heights = np.interp(AT, XI, line) + off
    along = (AT - AT[0]) / (AT[-1] - AT[0])
    chord = heights[0] * (1 - along) + heights[-1] * along
    balanced = (heights - chord)[1:-1].mean() > 0
    gaps = (heights - chord).max() - (heights - chord) if balanced else chord - heights
    felt, blades = (
        np.maximum(gaps + 8e-6 * rng.standard_normal(gaps.size), 0),
        np.array(sorted(HEAD.gauge_blades)),
    )
    brackets = tuple(
        Bracket(
            station=s, low=float(blades[blades <= g].max(initial=0.0)), high=float(blades[blades > g].min())
        )
        for s, g in zip(HEAD.towers, felt, strict=True)
    )
    mode = "balanced" if balanced else "bridged"
    return Readings(lines=(Line(part="cam", name="single", mode=mode, brackets=brackets),))


def state_of(line: np.ndarray) -> np.ndarray:
    state = np.zeros(len(STATE))
    state[INDEX["cam_bow"] : INDEX["cam_bow"] + 3] = project_line(XI, line)
    return state


def test_a_broken_line_and_an_earlier_survey_make_the_towers_better_known() -> None:
    # the truth: a smooth bow, towers 8 um off it, then three kinks unlike by a fifth (falls of a beam's kinks, geometry)
    errors: dict[str, list[float]] = {"chain": [], "alone": []}
    for seed in range(40):
        rng = np.random.default_rng(seed)
        before = 0.3e-3 * 4 * XI * (1 - XI)
        off = 8e-6 * rng.standard_normal(AT.size)
        kinks = 0.8e-3 * (1 + 0.2 * rng.standard_normal(3))
        fall = sum(
            k * np.where(s > XI, XI * (1 - s), s * (1 - XI)) * HEAD.casting.length
            for k, s in zip(kinks, STATIONS / HEAD.casting.length, strict=True)
        )
        lines, states = (before, before - fall), [state_of(before), state_of(before - fall)]
        seen = [examine(survey(line, off, rng), HEAD) for line in lines]
        true = np.interp(AT, XI, lines[1]) + off - cam_rows(AT) @ states[1]
        (chain,) = towers_after(HEAD, seen, [SETUP], [np.ones((1, 3))], states)
        (alone,) = towers_of(HEAD, seen[1], states[1])
        for name, towers in (("chain", chain), ("alone", alone)):
            wrong = towers.off(states[1][None])[0] - true
            errors[name].append(float(np.sqrt(np.mean((wrong - wrong.mean()) ** 2))))
        assert np.sum(chain.root**2) < np.sum(alone.root**2)
    assert np.mean(errors["chain"]) < 0.9 * np.mean(errors["alone"])


def test_towers_without_heat_or_survey_stay_as_they_were_read() -> None:
    rng = np.random.default_rng(3)
    line = 0.1e-3 * 4 * XI * (1 - XI)
    read, state = examine(survey(line, np.zeros(AT.size), rng), HEAD), state_of(line)
    nothing = PassSetup(clamp=None, spots=())
    (once,) = towers_of(HEAD, read, state)
    (still,) = towers_after(HEAD, [read, None], [nothing], [np.zeros((1, 0))], [state, state])
    assert still.off(state[None]) == pytest.approx(once.off(state[None]))
    assert towers_after(HEAD, [None], [], [], [state]) == ()


def test_a_heat_moves_the_towers_by_its_broken_line_and_makes_them_less_sure() -> None:
    # a second survey that reads the deck alone tells nothing of the towers (derived)
    rng = np.random.default_rng(5)
    before, after = 0.3e-3 * 4 * XI * (1 - XI), 0.1e-3 * 4 * XI * (1 - XI)
    states = [state_of(before), state_of(after)]
    first = examine(survey(before, np.zeros(AT.size), rng), HEAD)
    deck = Line(
        part="deck",
        name="centre",
        mode="bridged",
        brackets=(Bracket(station=0.21, low=0.1e-3, high=0.15e-3),),
    )
    blind = examine(Readings(lines=(deck,)), HEAD)
    (read,) = towers_of(HEAD, first, states[0])
    (then,) = towers_after(HEAD, [first, blind], [SETUP], [np.ones((1, 3))], states)
    fall = [
        sum(min(x, s) * (1 - max(x, s)) for s in STATIONS / HEAD.casting.length) for x in XI
    ]  # of a unit kink each (geometry)
    smooth = state_of(np.array(fall))
    rest = np.interp(AT, XI, fall) - cam_rows(AT) @ smooth
    broken = -rest / smooth[INDEX["cam_bow"]] * 0.2e-3
    assert then.off(states[1][None])[0] == pytest.approx(read.off(states[0][None])[0] + broken, abs=0.3e-6)
    wider = then.root @ then.root.T - read.root @ read.root.T
    assert wider == pytest.approx(np.diag((0.3 * broken) ** 2 + (4e-6) ** 2), abs=2e-13)
