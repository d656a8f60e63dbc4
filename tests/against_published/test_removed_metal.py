"""What removed metal does, against worked figures.

Sources: definitions of swept volume and compression ratio, plane geometry and the length of an open belt (derived;
the figures below were worked out by hand from them to the digits printed); a rule of thumb of public discussions,
0.25 mm for half to one degree and 2 mm on a 109 mm wheel for 2.1 degrees (seen; cam or crank is often not said).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from straighten.head.records import Engine
from straighten.sanding.engine import (
    Cylinder,
    Run,
    belt_slack,
    bore_points,
    cam_retard,
    cylinder_of,
    ratio_after,
    valve_loss,
    volume_lost,
)

SOURCE = "Plane geometry of cylinder, belt and valve; swept volume and compression ratio by definition"
MARK = "derived"

SQUARE = Engine(bore=0.086, stroke=0.086, ratio=10.0)


def cylinder() -> Cylinder:
    found = cylinder_of(SQUARE)
    assert found is not None
    return found


def test_volumes_of_a_square_engine(published):
    published("swept volume, 86 x 86 mm", cylinder().swept * 1e6, 499.557, unit="cm3", abs=1e-3)
    published("clearance volume at 10:1", cylinder().clearance * 1e6, 55.506, unit="cm3", abs=1e-3)


@pytest.mark.parametrize(
    ("cut", "opening", "lost", "ratio"),
    [
        (0.1, 1.0, 0.581, 10.0952), (0.2, 1.0, 1.162, 10.1924), (0.5, 1.0, 2.904, 10.4969),
        (0.1, 0.8, None, 10.0760), (0.2, 0.8, None, 10.1533), (0.5, 0.8, None, 10.3932),
    ],
)  # fmt: skip
def test_compression_after_a_cut(cut, opening, lost, ratio, published):
    volume = volume_lost(cut * 1e-3, 0.086, opening)
    case = f"{cut} mm cut, chamber open over {opening:.0%} of the bore"
    published("compression ratio", ratio_after(cylinder(), volume), ratio, abs=1e-4, case=case)
    if lost is not None:
        published("chamber volume lost", volume * 1e6, lost, unit="cm3", abs=1e-3, case=case)


@pytest.mark.parametrize(("bore", "lost"), [(86, 0.58), (76, 0.45), (96, 0.72)])
def test_chamber_lost_per_tenth_of_a_millimetre(bore, lost):
    assert float(volume_lost(0.1e-3, bore * 1e-3)) * 1e6 == pytest.approx(lost, abs=5e-3)


def test_slope_of_the_ratio(published):
    step = 1e-9
    slope = (float(ratio_after(cylinder(), volume_lost(step, 0.086))) - 10.0) / (step * 1e3)
    published("slope of the ratio", slope, 81 / 86, unit="1/mm", abs=1e-4)


PARALLEL = Run(cam=0.05, crank=0.05, distance=0.4)


@pytest.mark.parametrize(
    ("cut", "cam", "crank"), [(0.25, 0.2865, 0.5730), (0.1, 0.1146, 0.2292), (0.5, 0.5730, 1.1459)]
)
def test_timing_on_a_run_parallel_to_the_bore(cut, cam, crank, published):
    found = math.degrees(float(cam_retard(PARALLEL, cut * 1e-3)))
    published("cam retard, run parallel to the bore", found, cam, unit="deg", abs=1e-4, case=f"{cut} mm cut")
    assert 2 * found == pytest.approx(crank, abs=1.1e-4)


def test_timing_on_an_inclined_run(published):
    run = Run(cam=0.05, crank=0.025, distance=0.3)
    found = math.degrees(float(cam_retard(run, 0.25e-3)))
    published("cam retard, inclined run, 0.25 mm cut", found, 0.28548, unit="deg", abs=1e-5)


def test_rule_of_thumb_two_millimetres_on_a_109_mm_wheel(published):
    found = math.degrees(float(cam_retard(Run(cam=0.0545, crank=0.0545, distance=0.4), 2e-3)))
    published("cam retard, 2 mm on a wheel of 109 mm", found, 2.1026, unit="deg", abs=1e-4)
    assert 2 * found == pytest.approx(4.2052, abs=1e-4)


def taut(run: Run, cut: float, cam_angle: float) -> float:
    """Return the length of a string from a tooth of the crank wheel to a tooth of the cam wheel, found by searching.

    The string leaves the crank wheel and reaches the cam wheel wherever the whole way is shortest outside both.
    """
    centre = np.array([0.0, run.distance - cut])
    angles = np.linspace(-math.pi, math.pi, 400_001)
    # a line with unit normal n touches both circles on the same side where n . (c2 - c1) = r1 - r2
    normal = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    miss = normal @ centre - (run.crank - run.cam)
    places = np.flatnonzero(np.diff(np.sign(miss)))
    touch = max(
        (angles[p] - miss[p] * (angles[p + 1] - angles[p]) / (miss[p + 1] - miss[p]) for p in places),
        key=math.cos,
    )
    n = np.array([math.cos(touch), math.sin(touch)])
    straight = float(np.linalg.norm(centre + run.cam * n - run.crank * n))
    return straight + (run.cam * (cam_angle - touch) + run.crank * (touch - 0.0))


@pytest.mark.parametrize(("cam", "crank"), [(0.05, 0.025), (0.025, 0.05), (0.05, 0.05)])
def test_timing_agrees_with_a_string_laid_round_the_wheels(cam, crank):
    run = Run(cam=cam, crank=crank, distance=0.3)
    cut = 0.8e-3
    start = 1.3
    before, after = taut(run, 0.0, start), taut(run, cut, start)
    turned = (before - after) / cam  # so far the tooth must go on for the string to be taut again
    assert float(cam_retard(run, cut)) == pytest.approx(turned, abs=2e-8)


def test_slack_of_a_belt_round_two_like_wheels_is_twice_the_cut():
    assert float(belt_slack(PARALLEL, 0.3e-3)) == pytest.approx(0.6e-3, rel=1e-9)


@pytest.mark.parametrize(("angle", "lost"), [(0, 0.2500), (15, 0.2415), (20, 0.2349), (25, 0.2266)])
def test_valve_nears_the_piston_along_its_axis(angle, lost, published):
    found = float(valve_loss(0.25e-3, math.radians(angle))) * 1e3
    published("valve clearance lost, 0.25 mm cut", found, lost, unit="mm", abs=1e-4, case=f"{angle} deg")


def mean_over_bore(cut, centre, diameter):
    x, y, weights = bore_points(centre, diameter)
    return float(weights @ cut(x, y))


def test_wedge_over_a_bore_is_its_value_at_the_centre():
    found = mean_over_bore(lambda x, y: 1e-3 * x + 2e-4 * y, (0.1, 0.02), 0.086)
    assert found == pytest.approx(1e-3 * 0.1 + 2e-4 * 0.02, rel=1e-12)


def test_crown_over_a_bore_in_closed_form():
    """Mean of a (x - m)^2 over a disc of radius R about x0: a ((x0 - m)^2 + R^2 / 4) (derived)."""
    a, middle, x0, radius = 5e-3, 0.21, 0.065, 0.042
    found = mean_over_bore(lambda x, y: a * (x - middle) ** 2, (x0, 0.0), 2 * radius)
    assert found == pytest.approx(a * ((x0 - middle) ** 2 + radius**2 / 4), rel=1e-12)


def test_twist_over_a_bore_on_the_middle_line_cancels():
    assert mean_over_bore(lambda x, y: x * y, (0.1, 0.0), 0.086) == pytest.approx(0.0, abs=1e-15)
