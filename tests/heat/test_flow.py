"""Return mapping: yield surface kept, tangents are the derivatives, plastic work never negative."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from straighten.heat.disc import Metal, flow, lean

strains = st.floats(-0.03, 0.03)


def metal(modulus=70e9, stress=100e6, hardening=1e9, nu=0.33):
    one = np.ones(1)
    return Metal(modulus / (1 - nu) * one, modulus / (1 + nu) * one, stress * one, hardening)


@given(a=strains, b=strains, modulus=st.floats(5e9, 8e10), stress=st.floats(1e6, 4e8), hard=st.floats(0, 5e9))
def test_stress_lands_on_the_yield_surface_or_inside(a, b, modulus, stress, hard):
    m = metal(modulus, stress, hard)
    end = flow(np.array([a]), np.array([b]), m)
    q = np.sqrt(end.a**2 + 3 * end.b**2) / 2
    assert q[0] <= (stress + hard * end.slip[0]) * (1 + 1e-9)
    assert end.slip[0] >= 0
    if end.slip[0] > 0:
        assert q[0] == pytest.approx(stress + hard * end.slip[0], rel=1e-9)


@given(a=strains, b=strains)
def test_plastic_work_is_never_negative(a, b):
    m = metal()
    end = flow(np.array([a]), np.array([b]), m)
    work = end.a * (a - end.a / m.sum_modulus) + end.b * (b - end.b / m.difference_modulus)
    assert work[0] >= -1e-6


@pytest.mark.parametrize("seed", range(4))
def test_tangents_are_the_derivatives(seed):
    rng = np.random.default_rng(seed)
    a, b = rng.normal(0, 0.01, 200), rng.normal(0, 0.01, 200)
    modulus, stress = rng.uniform(1e10, 7e10, 200), 10 ** rng.uniform(6.3, 8.3, 200)
    m = Metal(modulus / 0.67, modulus / 1.33, stress, 1e9)
    end, h = flow(a, b, m), 1e-8
    in_a, in_b = flow(a + h, b, m), flow(a, b + h, m)
    in_y = flow(a, b, m._replace(flow_stress=stress + 1.0))
    known = end._asdict() | lean(end, m)._asdict()
    for moved, step, names in (
        (in_a, h, ("aa", "ab", "slip_a")),
        (in_b, h, ("ab", "bb", "slip_b")),
        (in_y, 1.0, ("a_y", "b_y", "slip_y")),
    ):
        for what, name in zip(("a", "b", "slip"), names, strict=True):
            slope = (getattr(moved, what) - getattr(end, what)) / step
            scale = np.abs(known[name]).max()
            assert np.abs(slope - known[name]).max() < 1e-5 * scale


def test_pure_tension_of_a_strip_yields_at_the_yield_stress():
    # sigma_t = 0 needs e_t = -nu e_r while elastic
    m = metal(stress=100e6)
    e = 100e6 / 70e9
    end = flow(np.array([e * 0.67]), np.array([e * 1.33]), m)
    assert (end.a + end.b)[0] / 2 == pytest.approx(100e6, rel=1e-12)
    assert (end.a - end.b)[0] == pytest.approx(0, abs=1e-3)
