"""Shrinking zones of the roof strain one another: closed forms of the endless plate, energy, mirrors, cross walls; heat at webs."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straighten.heat.field import Webs
from straighten.heat.heating import felt_around, sources_of
from straighten.heat.plates import Sizes, Zone, endless, mutual, sizes_of
from straighten.heat.roof import roof_of
from tests.heat.heads import bar, box

NU = 0.33
SHEET = Sizes(length=0.6, width=0.6, roof=0.01, wall=0.0, deck=0.0, height=0.0, webs=(), poisson=NU)
BOX = sizes_of(box())


def disc(x, y, radius=0.016):
    return Zone(x=x, y=y, x_end=x, y_end=y, radius=radius)


def test_a_zone_in_an_endless_plate_meets_half_of_an_even_strain_and_a_quarter_of_a_lopsided_one():
    # circular inclusion in a plane: sigma = -E e/2 and -E e/4 inside (Eshelby 1957, from memory); elements of 5 mm smear
    # the rim, which takes an eighth: `stiffer` gives it back to spots
    zone = disc(0.3, 0.0, 0.03)
    area = np.pi * 0.03**2
    m = endless(roof_of(SHEET), (zone,)) * area * 0.01
    assert m.sum() / 2 == pytest.approx(1 / 2, rel=0.15)
    assert (m[0, 0] + m[1, 1] - m[0, 1] - m[1, 0]) / 2 == pytest.approx(1 / 4, rel=0.15)


def test_a_zone_that_shrinks_strains_the_plate_as_one_over_r_squared():
    # u = (1 + nu) V / (2 pi h r): Timoshenko & Goodier (from memory); a finite sheet, zones of finite size
    m = mutual(roof_of(SHEET), (disc(0.26, 0.0), disc(0.34, 0.0), disc(0.26, 0.08)))
    size = 1 / (2 * np.pi * 0.01 * 0.08**2)  # stress over E of an even shrinkage of volume one
    along, across = m[2:4, 0:2].sum(axis=1) / size, m[4:6, 0:2].sum(axis=1) / size
    np.testing.assert_allclose(along, [1.0, -1.0], rtol=0.2)  # pulled towards it, squeezed around it
    np.testing.assert_allclose(across, [-1.0, 1.0], rtol=0.2)


@settings(max_examples=15, deadline=None)
@given(
    places=st.lists(
        st.tuples(st.floats(0.08, 0.32), st.floats(-0.055, 0.055), st.floats(0.007, 0.04)),
        min_size=2,
        max_size=5,
    )
)
def test_zones_cost_energy_however_they_overlap(places):
    zones = tuple(disc(*place) for place in places)
    m = mutual(roof_of(BOX), zones)
    np.testing.assert_allclose(m, m.T, rtol=1e-9, atol=1e-9 * np.abs(m).max())
    assert np.linalg.eigvalsh(m).min() > -1e-6 * np.abs(m).max()


@pytest.mark.parametrize("mirror", [lambda x, y: (0.4 - x, y), lambda x, y: (x, -y)], ids=["ends", "sides"])
def test_a_mirrored_roof_mirrors_the_answer(mirror):
    here = mutual(roof_of(BOX), (disc(0.17, 0.03), disc(0.25, -0.01)))
    there = mutual(roof_of(BOX), (disc(*mirror(0.17, 0.03)), disc(*mirror(0.25, -0.01))))
    np.testing.assert_allclose(here, there, rtol=0.01, atol=0.01 * np.abs(here).max())


def test_a_zone_inside_another_takes_its_share_of_it():
    # an even strain in a disc is even inside it (Eshelby): what a smaller disc in it feels is what itself feels
    roof = roof_of(SHEET)
    small, large = disc(0.3, 0.0, 0.02), disc(0.3, 0.0, 0.04)
    m = endless(roof, (small, large))
    assert m[0:2, 2:4].sum() == pytest.approx(m[2:4, 2:4].sum(), rel=0.08)


def test_cross_walls_hold_a_bent_roof_sideways():
    # 3D elements of the box: strain across over strain along is -0.15 to -0.23, not -0.33; seen. Plates alone give less.
    roof = roof_of(BOX)
    stress = roof.bent[np.argmin(abs(roof.x - 0.167)), np.argmin(abs(roof.y - 0.03))]
    ratio = (stress[1] - NU * stress[0]) / (stress[0] - NU * stress[1])
    assert -0.30 < ratio < -0.15
    bare = roof_of(
        Sizes(length=0.4, width=0.142, roof=0.01, wall=0.008, deck=0.012, height=0.079, webs=(), poisson=NU)
    )
    free = bare.bent[40, 20]
    assert (free[1] - NU * free[0]) / (free[0] - NU * free[1]) == pytest.approx(-NU, abs=0.02)
    assert np.all(roof_of(sizes_of(bar())).bent == [1.0, 0.0])


def test_a_roof_that_is_warm_all_over_with_its_walls_is_pressed_by_the_deck_alone():
    roof = roof_of(BOX)
    warm = np.full((roof.x.size, roof.unfolded.size), 1e-3)
    middle = (Zone(x=roof.x[40], y=roof.y[15], x_end=roof.x[40], y_end=roof.y[15], radius=roof.dx),)
    everything = roof.squeezed(middle, warm, down=1.0)[0]
    cold_walls = warm.copy()
    cold_walls[:, : roof.unfolded.size // 2 - 15] = cold_walls[:, roof.unfolded.size // 2 + 15 :] = 0.0
    assert abs(everything[0]) < 0.5 * abs(roof.squeezed(middle, cold_walls)[0, 0])


def test_heat_parts_at_a_web_as_the_walls_conduct():
    # three half-endless plates of one thickness: two thirds go on, a third is thrown back as cold; derived
    webs = Webs(stations=(0.0, 0.066), ratio=(1.0, 1.0))
    places = ((0.033, 0.03), (-0.033, 0.03), (0.033, -0.03))
    sources = felt_around(sources_of(webs, places, (0, 1, 2)), 0.003)
    assert (0.06, 1.0) in sources  # across the bay, nothing in between
    assert (0.066, 0.67) in sources  # the next bay, through the web
    assert sources.count((0.066, -0.33)) == 2  # own mirror images at both webs
    assert felt_around(sources_of(Webs(stations=(), ratio=()), places, (0,)), 0.01) == ()


def test_far_neighbours_are_left_out():
    webs = Webs(stations=(), ratio=())
    assert felt_around(sources_of(webs, ((0.0, 0.0), (0.3, 0.0)), (0, 1)), 0.002) == ()
