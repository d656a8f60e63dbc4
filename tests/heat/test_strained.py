"""What a disc keeps of a strain from afar: Kirsch's hole, and a whole solution that linearises nothing."""

from dataclasses import replace

import numpy as np
import pytest

from straighten.head.alloys import alloy_named
from straighten.heat.disc import Heating, Mesh, history, untouched
from straighten.heat.heating import SpotCase
from straighten.heat.spot import Plate, Sensitivity
from straighten.heat.spots import _gain
from straighten.heat.torch import power_for_peak
from straighten.heat.treatment import HeatSpot
from tests.heat.collocated import Judge
from tests.heat.heads import METAL, work_spot


def case_of(alloy, radius=0.012, peak=540.0, dwell=4.0, thickness=0.01):
    spot = HeatSpot(station=0.0, side="inlet", radius=radius, dwell=dwell)
    power = power_for_peak(alloy, thickness, spot, peak)
    return SpotCase(alloy=alloy, thickness=thickness, power=power, radius=radius, dwell=dwell, peak=peak)


def hole(rings):
    """A circle of 15 mm that melts to nothing and freezes again, in a wide plate: what it keeps per far strain."""
    edge = 0.015
    radius = np.concatenate(
        [np.linspace(0, edge, rings // 2 + 1), np.geomspace(edge, 0.2, rings // 2 + 1)[1:]]
    )
    mesh = Mesh(radius=radius[None], height=np.zeros((1, 1)), weight=np.full((1, 1), 0.01))
    metal = replace(
        METAL,
        modulus=((20, 70e9),),
        expansion=((20, 0.0),),
        hardening=1.0,
        yield_short=((20, 1e12), (499, 1e12), (500, 1e-1)),
    )
    hot = np.where(mesh.ring[0] < edge, 520.0, 20.0)
    # a breath of warmth under yield first: the far strain is already there when the metal gives way
    steps = np.stack([np.full_like(hot, 20.0), hot, np.full_like(hot, 20.0)])[:, None, :, None]
    plate = Plate(modulus=70e9, poisson=0.33)
    kept = Sensitivity(mesh, plate)
    # the first order needs the middle to flow: push it a little from all sides by hand
    memory = untouched(mesh)
    memory = replace(memory, plastic_sum=memory.plastic_sum - 1e-6 * (mesh.ring < edge)[..., None])
    for moment in history(mesh, metal, Heating(temperature=steps), memory):
        kept.feed(moment)
    volume = np.pi * edge**2 * 0.01
    return [float(part[0]) / volume for part in kept.kept()]


def test_metal_that_carries_nothing_while_hot_keeps_kirschs_strain():
    # hole in a plate: 2/(1 - nu) of an even strain, 4/(1 + nu) of a lopsided one: 3 along and -1 across of uniaxial.
    # Kirsch, Zeitschrift des VDI 42 (1898) 797 (from memory)
    even, lopsided = hole(200)
    assert even == pytest.approx(2 / (1 - 0.33), rel=0.01)
    along = (1 - 0.33) / 2 * even + (1 + 0.33) / 2 * lopsided
    across = (1 - 0.33) / 2 * even - (1 + 0.33) / 2 * lopsided
    # plastic flow of the middle is one-sided along its own push, so the lopsided part keeps a bit less than the hole
    assert along == pytest.approx(3, rel=0.02)
    assert across == pytest.approx(-1, abs=0.05)


@pytest.mark.parametrize("peak", [400.0, 540.0])
def test_the_derivative_is_that_of_the_whole_solution(peak):
    case = case_of(METAL, peak=peak)
    judge, answer = Judge(case), work_spot(case).effect
    nu, tiny = METAL.poisson, 1e-6
    alone = judge.shrinkage(0.0, 0.0)
    pulled = judge.shrinkage(-tiny, nu * tiny)
    uniaxial = (1 - nu) / 2 * answer.even + (1 + nu) / 2 * answer.lopsided
    across = (1 - nu) / 2 * answer.even - (1 + nu) / 2 * answer.lopsided
    assert alone[0] == pytest.approx(answer.shrinkage, rel=1e-4)
    assert (pulled[0] - alone[0]) / tiny == pytest.approx(uniaxial, rel=5e-3)
    assert (pulled[1] - alone[1]) / tiny == pytest.approx(across, rel=1e-2)


@pytest.mark.parametrize(
    ("alloy", "radius", "peak", "thickness"),
    [
        (METAL, 0.012, 540.0, 0.010),
        (METAL, 0.008, 540.0, 0.010),
        (METAL, 0.018, 540.0, 0.010),
        (replace(alloy_named("A356-T6"), temper="as given"), 0.012, 540.0, 0.010),
        (replace(alloy_named("319-T6"), temper="as given"), 0.015, 500.0, 0.008),
    ],
    ids=["box metal", "small", "wide", "A356-T6", "319-T6"],
)
def test_the_gain_beyond_proportion_is_that_of_the_whole_solution(alloy, radius, peak, thickness):
    case = case_of(alloy, radius=radius, peak=peak, thickness=thickness)
    judge, answer = Judge(case), work_spot(case).effect
    nu, strain = alloy.poisson, 7e-4
    uniaxial = (1 - nu) / 2 * answer.even + (1 + nu) / 2 * answer.lopsided
    alone, pulled = judge.shrinkage(0.0, 0.0)[0], judge.shrinkage(-strain, nu * strain)[0]
    relative = strain * alloy.modulus[0][1] / alloy.yield_short[0][1]
    assert (pulled - alone) / strain / uniaxial == pytest.approx(float(_gain(np.array(relative))), rel=0.10)


@pytest.mark.parametrize(
    "alloy", [METAL, replace(alloy_named("319-T6"), temper="as given")], ids=lambda a: a.name
)
def test_a_roof_that_is_pulled_keeps_less_than_in_proportion_as_the_whole_solution_does(alloy):
    # a clamp that bends the other way stretches the roof: against the heat, not with it
    case = case_of(alloy)
    judge, answer = Judge(case), work_spot(case).effect
    nu, relative = alloy.poisson, -0.4
    strain = relative * alloy.yield_short[0][1] / alloy.modulus[0][1]
    uniaxial = (1 - nu) / 2 * answer.even + (1 + nu) / 2 * answer.lopsided
    alone, pulled = judge.shrinkage(0.0, 0.0)[0], judge.shrinkage(-strain, nu * strain)[0]
    exact = (pulled - alone) / strain / uniaxial
    assert exact < 0.8
    assert float(_gain(np.array(relative))) == pytest.approx(exact, rel=0.08)  # what `GAIN` promises
