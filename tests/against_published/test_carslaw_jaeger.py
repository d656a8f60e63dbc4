"""Heat sources on solids, closed forms.

H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed., Oxford 1959, section 10.5 (sources on a
half-space), and M. Lax, J. Appl. Phys. 48 (1977) 3919 (Gaussian beam) -- from memory; the figures below are the
closed forms worked out with conductivity 150 W/mK, density 2680 kg/m3 and heat capacity 963 J/kgK (derived).
"""

import numpy as np
import pytest

from straighten.heat.field import Flame, Slab, slab_rise, surface_rise, through_thickness

SOURCE = "Carslaw and Jaeger, Conduction of Heat in Solids, 10.5; Lax, J. Appl. Phys. 48 (1977) 3919"
MARK = "derived"  # worked out from the closed forms, which are from memory

DEEP = Slab(thickness=4.0, conductivity=150.0, capacity=2680 * 963.0)
ROOF = Slab(thickness=0.010, conductivity=150.0, capacity=2680 * 963.0)
W = 0.010  # 1/e radius of the flux; ours is down to exp(-2): wider by the square root of two


@pytest.mark.parametrize(
    ("seconds", "kelvin"),
    [(0.5, 98.532), (1, 118.566), (5, 153.905), (10, 163.580), (60, 177.950)],
)
def test_gaussian_source_on_a_half_space_is_the_closed_form(seconds, kelvin, published):
    # P/(pi^1.5 k w) atan(sqrt(4 a t)/w) for 1000 W
    found = slab_rise(Flame(power=1000, radius=W * 2**0.5, dwell=1e9), DEEP, 0.0, 0.0, seconds)[0, 0, 0]
    published(
        "Gaussian source on a half-space", found, kelvin, unit="K", abs=0.0005, case=f"after {seconds} s"
    )


def test_steady_gaussian_source_tends_to_188_063_kelvin(published):
    flame = Flame(power=1000, radius=W * 2**0.5, dwell=1e9)
    found = slab_rise(flame, Slab(thickness=400.0, conductivity=150.0, capacity=2680 * 963.0), 0.0, 0.0, 1e6)
    published("steady Gaussian source", found[0, 0, 0], 188.063, unit="K", rel=1e-3)


def disc_of_gaussians(seconds, radius=0.010, power=1000.0):
    """A uniform disc as the sum of many narrow Gaussians: a check of place as well as of time."""
    width = 4e-4
    side = np.arange(-radius, radius + 1e-9, width)
    x, y = np.meshgrid(side, side)
    r = np.hypot(x, y)[np.hypot(x, y) <= radius]
    flame = Flame(power=1.0, radius=width * 2**0.5, dwell=1e9)
    return power * slab_rise(flame, DEEP, r, 0.0, seconds)[0, :, 0].mean()


@pytest.mark.parametrize(("seconds", "kelvin"), [(0.5, 114.713), (1, 138.865), (5, 177.586), (60, 202.082)])
def test_uniform_disc_is_the_closed_form(seconds, kelvin, published):
    # (2 q sqrt(a t)/k)(1/sqrt(pi) - ierfc(R/(2 sqrt(a t)))), centre
    found = disc_of_gaussians(seconds)
    published("uniform disc source", found, kelvin, unit="K", rel=0.01, case=f"after {seconds} s")
    one_dimensional = 2 * 1000 / (np.pi * 1e-4) * np.sqrt(DEEP.diffusivity * seconds / np.pi) / 150
    assert disc_of_gaussians(seconds) < one_dimensional


def test_instantaneous_sheet_in_a_plate_is_both_series():
    # mirrors and cosines are the same function: Poisson summation
    depth = np.linspace(0, ROOF.thickness, 9)
    age = np.array([0.02, 0.1, 0.17, 0.18, 0.5, 3.0])
    n = np.arange(-60, 61)
    spread = 4 * ROOF.diffusivity * age[:, None, None]
    mirrors = np.exp(-((depth[:, None] + 2 * ROOF.thickness * n) ** 2) / spread).sum(-1)
    mirrors /= np.sqrt(np.pi * ROOF.diffusivity * age[:, None])
    np.testing.assert_allclose(through_thickness(depth, age, ROOF), mirrors, rtol=1e-12, atol=1e-9)


def test_flux_on_a_plate_tends_to_the_one_dimensional_two_sided_plate():
    # wide flame: T = q t/(rho c h) + (q h/k)(1/3) on the face and -(q h/k)/6 on the back, after h^2/a
    wide = Flame(power=1e4, radius=2.0, dwell=1e9)
    flux = 2 * wide.power / (np.pi * wide.radius**2)
    seconds = 10.0
    rise = slab_rise(wide, ROOF, 0.0, np.array([0.0, ROOF.thickness]), seconds)[0, 0]
    mean = flux * seconds / (ROOF.capacity * ROOF.thickness)
    across = flux * ROOF.thickness / ROOF.conductivity
    assert rise[0] == pytest.approx(mean + across / 3, rel=1e-3)
    assert rise[1] == pytest.approx(mean - across / 6, rel=1e-3)


@pytest.mark.parametrize("seconds", [1.0, 4.0, 9.0])
def test_the_plate_holds_the_heat_that_went_in(seconds):
    flame = Flame(power=2479.0, radius=0.012, dwell=4.0)
    r = np.linspace(0, 0.5, 4001)
    x, weight = np.polynomial.legendre.leggauss(16)
    rise = slab_rise(flame, ROOF, r, ROOF.thickness / 2 * (1 + x), seconds)[0] @ weight / 2
    held = np.trapezoid(rise * 2 * np.pi * r, r) * ROOF.thickness * ROOF.capacity
    assert held == pytest.approx(flame.power * min(seconds, flame.dwell), rel=1e-4)


def test_roof_of_10_mm_reaches_542_degrees_under_2479_watts():
    # 3D finite elements of the same flux (CalculiX, hexahedra): 542.1 degC; seen. The model's one heat constant
    # (where to read the properties) is set on this figure, so this only guards it.
    slab = Slab(thickness=0.010, conductivity=155.0, capacity=2680 * 1000.0)
    assert 20 + surface_rise(Flame(power=2479.04, radius=0.012, dwell=4.0), slab) == pytest.approx(
        542.1, abs=1.0
    )
