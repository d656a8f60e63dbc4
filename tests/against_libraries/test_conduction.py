"""The torch's field and the elastic disc against scikit-fem, a general finite-element library."""

from dataclasses import replace

import numpy as np
import pytest

from straighten.heat.disc import Heating, Mesh, history, untouched
from straighten.heat.field import Flame, Slab, slab_rise
from tests.against_libraries.axisymmetric import elastic_disc, plate_rise
from tests.heat.heads import METAL

ROOF = Slab(thickness=0.010, conductivity=155.0, capacity=2680 * 1000.0)
TORCH = Flame(power=2479.0, radius=0.012, dwell=4.0)
TIMES = np.array([1.0, 2.5, 4.0, 4.6, 6.0, 10.0])


@pytest.fixture(scope="module")
def elements():
    return plate_rise(TORCH, ROOF, TIMES)


def test_field_agrees_within_2_percent_of_the_peak_wherever_above_100_degrees(elements):
    (r, depth), rises = elements
    ours = np.array([slab_rise(TORCH, ROOF, r[k], depth[k], TIMES)[:, 0, 0] for k in range(r.size)]).T
    peak = rises.max()
    hot = (rises > 80) | (ours > 80)
    assert hot.sum() > 500
    assert np.abs(ours - rises)[hot].max() < 0.02 * peak


def test_surface_peak_agrees_within_half_a_percent(elements):
    (r, depth), rises = elements
    centre = int(np.argmin(r + depth))
    ours = slab_rise(TORCH, ROOF, 0.0, 0.0, TIMES)[:, 0, 0]
    assert ours[2] == pytest.approx(rises[2, centre], rel=5e-3)


def test_elastic_disc_agrees_within_half_a_percent():
    young, nu, alpha = 70e9, 0.33, 22e-6
    rise_of = lambda r: 60 * np.exp(-2 * r**2 / 0.015**2)  # noqa: E731 - a Gaussian, elastic throughout
    metal = replace(
        METAL, modulus=((20, young),), expansion=((20, alpha),), yield_short=((20, 1e12),), poisson=nu
    )
    mesh = Mesh(radius=np.linspace(0, 0.08, 321)[None], height=np.zeros((1, 1)), weight=np.full((1, 1), 0.01))
    heat = Heating(temperature=20 + rise_of(mesh.ring[0])[None, None, :, None])
    end = next(iter(history(mesh, metal, heat, untouched(mesh))))
    a, b = end.flowed.a[0, :, 0], end.flowed.b[0, :, 0]
    radial, hoop = elastic_disc(rise_of, mesh.ring[0], (young, nu, alpha))
    scale = np.abs(radial).max()
    assert np.abs((a + b) / 2 - radial).max() < 0.005 * scale
    assert np.abs((a - b) / 2 - hoop).max() < 0.005 * scale


@pytest.mark.parametrize("peak", [300.0, 540.0])
def test_constant_properties_at_a_quarter_of_the_rise_stand_for_varying_ones(peak):
    """Heat capacity that grows with temperature, solved by Picard steps on the same mesh."""
    from straighten.heat.field import slab_of
    from straighten.heat.torch import power_for_peak
    from straighten.heat.treatment import HeatSpot
    from tests.against_libraries.axisymmetric import varying_plate_rise

    spot = HeatSpot(station=0.0, side="inlet", radius=0.012, dwell=4.0)
    power = power_for_peak(METAL, 0.010, spot, peak)
    flame = replace(TORCH, power=power)
    (r, depth), rises = varying_plate_rise(flame, METAL, 0.010, np.array([4.0, 6.0]))
    ours = np.array(
        [
            slab_rise(flame, slab_of(METAL, 0.010, peak), r[k], depth[k], [4.0, 6.0])[:, 0, 0]
            for k in range(r.size)
        ]
    ).T
    hot = (rises > 80) | (ours > 80)
    assert np.abs(ours - rises)[hot].max() < 0.02 * rises.max()
