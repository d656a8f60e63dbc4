"""Spots strain one another: closed forms of the endless plate, edges without force, symmetry, heat at webs."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from straighten.heat.neighbours import Strip, Webs, heat_from_others, lopsided_strain, mutual_strain

NU = 0.33
WIDE = Strip(half_width=50.0, thickness=0.01, wall_area=0.0, poisson=NU)
ROOF = Strip(half_width=0.071, thickness=0.01, wall_area=2.4e-4, poisson=NU)


def test_growing_spot_in_an_endless_plate_strains_as_one_over_r_squared():
    # u = (1 + nu) V / (2 pi h r): Timoshenko & Goodier (from memory); derived
    found = mutual_strain(WIDE, ((0.0, 0.0), (0.06, 0.0), (0.0, 0.06)))
    size = (1 + NU) / (2 * np.pi * 0.01 * 0.06**2)
    np.testing.assert_allclose(found[0, 1], [-size, size], rtol=1e-5)
    np.testing.assert_allclose(found[0, 2], [size, -size], rtol=1e-5)
    np.testing.assert_allclose(found[0, 0], 0, atol=1e-5 * size)


@pytest.mark.parametrize("away", [0.04, 0.06, 0.10])
def test_a_hole_in_line_takes_stress_off_as_kirsch_says(away):
    # sigma_x/S - 1 = -5/2 (a/r)^2 + 3/2 (a/r)^4 on the line of pull, sigma_y/S = 1/2 (a/r)^2 - 3/2 (a/r)^4.
    # Kirsch 1898 (from memory). The hole's inherent strain is (3, -1) S/E over its volume.
    a, h = 0.012, 0.01
    volume = np.pi * a**2 * h
    places = ((0.0, 0.0), (away, 0.0))
    even = mutual_strain(WIDE, places)[0, 1] * volume
    lopsided = lopsided_strain(WIDE, places, (a, a))[0, 1] * 2 * volume
    xx, yy = even + lopsided
    q = (a / away) ** 2
    along, across = -2.5 * q + 1.5 * q**2, 0.5 * q - 1.5 * q**2
    assert xx == pytest.approx(along - NU * across, rel=1e-4)
    assert yy == pytest.approx(across - NU * along, rel=1e-4)


def test_a_hole_beside_puts_stress_on_as_kirsch_says():
    # across the pull: sigma_x/S - 1 = 1/2 (a/r)^2 + 3/2 (a/r)^4
    a, away = 0.012, 0.05
    volume = np.pi * a**2 * 0.01
    places = ((0.0, 0.0), (0.0, away))
    found = (mutual_strain(WIDE, places) + 2 * lopsided_strain(WIDE, places, (a, a)))[0, 1] * volume
    q = (a / away) ** 2
    along, across = 0.5 * q + 1.5 * q**2, 1.5 * q - 1.5 * q**2
    assert found[0] == pytest.approx(along - NU * across, rel=1e-4)


@pytest.mark.parametrize("kernel", ["even", "lopsided"])
def test_the_free_edge_of_a_strip_carries_no_stress_across(kernel):
    # sigma_y at the edge = (e_y + nu e_x) E / (1 - nu^2): nought there, not nought without the edges
    free = Strip(half_width=0.07, thickness=0.01, wall_area=0.0, poisson=NU)

    def across(strip, y):
        places = ((0.0, y), (0.01, 0.0))
        found = (
            mutual_strain(strip, places) if kernel == "even" else lopsided_strain(strip, places, (0.0, 0.0))
        )
        return float(found[0, 1, 1] + NU * found[0, 1, 0])

    # the model keeps spots 15 % off the edge; so near it the stress must already be small
    assert abs(across(free, 0.0595)) < 0.25 * abs(across(WIDE, 0.0595))
    assert abs(across(free, 0.03)) > 0.25 * abs(across(WIDE, 0.03))


@settings(max_examples=25, deadline=None)
@given(x=st.floats(-0.1, 0.1), y=st.floats(-0.055, 0.055), away=st.floats(0.03, 0.12))
def test_mutual_strain_is_alike_from_both_sides(x, y, away):
    # mirror the strip: left for right and side for side
    here = mutual_strain(ROOF, ((x, y), (x + away, -y)))
    there = mutual_strain(ROOF, ((-x, -y), (-x - away, y)))
    np.testing.assert_allclose(here[0, 1], there[0, 1], rtol=1e-7, atol=1e-3)
    np.testing.assert_allclose(here[0, 1], here[1, 0], rtol=1e-6, atol=1e-3 * np.abs(here).max())


def test_heat_parts_at_a_web_as_the_walls_conduct():
    # three half-endless plates of one thickness: two thirds go on, a third is thrown back as cold; derived
    webs = Webs(stations=(0.0, 0.066), ratio=(1.0, 1.0))
    places = ((0.033, 0.03), (-0.033, 0.03), (0.033, -0.03))
    sources = heat_from_others(webs, places, (0, 1, 2), 0.01)
    assert (0.06, 1.0) in sources  # across the bay, nothing in between
    assert (0.066, 0.67) in sources  # the next bay, through the web
    assert sources.count((0.066, -0.33)) == 2  # own mirror images at both webs
    assert heat_from_others(Webs(stations=(), ratio=()), places, (0,), 0.01) == ()


def test_far_neighbours_are_left_out():
    webs = Webs(stations=(), ratio=())
    assert heat_from_others(webs, ((0.0, 0.0), (0.3, 0.0)), (0, 1), 0.002) == ()
