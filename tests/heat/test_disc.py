"""The heated disc against closed forms of elasticity and plasticity, and its order of convergence."""

from dataclasses import replace

import numpy as np
import pytest

from straighten.heat.disc import Heating, Mesh, heated_together, history, side_by_side, untouched
from tests.heat.heads import METAL

E, NU, ALPHA = 70e9, 0.33, 22e-6
PLAIN = replace(
    METAL,
    modulus=((20, E),),
    yield_short=((20, 1e12),),
    expansion=((20, ALPHA),),
    poisson=NU,
    hardening=1.0,
)


def mesh_of(radius, layers=1, thickness=0.01):
    x, weight = np.polynomial.legendre.leggauss(layers)
    half = thickness / 2
    return Mesh(radius=radius[None], height=(x * half)[None], weight=(weight * half)[None])


def last(mesh, alloy, heat):
    """Run steps of ring temperatures (steps, rings) through one disc."""
    every = np.asarray(heat)[:, None, :, None] * np.ones((1, 1, 1, mesh.height.shape[1]))
    moment = None
    for moment in history(mesh, alloy, Heating(temperature=every), untouched(mesh)):  # noqa: B007
        pass
    return moment


def hot_circle(rings, hot=0.02, rim=0.1, rise=100.0):
    """A disc of radius `hot` at `rise` over a cold endless plate; a node lies on the edge."""
    inner = np.linspace(0, hot, rings // 2 + 1)
    outer = np.linspace(hot, rim, rings // 2 + 1)[1:]
    mesh = mesh_of(np.concatenate([inner, outer]))
    return mesh, np.where(mesh.ring[0] < hot, 20 + rise, 20.0)


def test_hot_circle_in_a_cold_plate_carries_half_of_full_restraint():
    # sigma = -E alpha T / 2 inside, falling as 1/r^2 outside: Timoshenko & Goodier, Theory of Elasticity, thermal
    # stress of a hot spot in a plate (from memory)
    mesh, heat = hot_circle(400)
    end = last(mesh, PLAIN, [heat])
    radial = ((end.flowed.a + end.flowed.b) / 2)[0, :, 0]
    inside = mesh.ring[0] < 0.02
    full = E * ALPHA * 100
    np.testing.assert_allclose(radial[inside], -full / 2, rtol=2e-3)
    np.testing.assert_allclose(radial[~inside], -full / 2 * (0.02 / mesh.ring[0][~inside]) ** 2, rtol=5e-3)


def test_plate_with_a_parabola_of_heat_is_the_integral_solution():
    # sigma_r = -E alpha / r^2 int_0^r T r dr in an endless plate
    mesh = mesh_of(np.linspace(0, 0.1, 401))
    r = mesh.ring[0]
    rise = np.where(r < 0.05, 80 * (1 - (r / 0.05) ** 2), 0.0)
    end = last(mesh, PLAIN, [20 + rise])
    inside = np.minimum(r, 0.05)
    integral = 80 * (inside**2 / 2 - inside**4 / (4 * 0.05**2))
    radial = ((end.flowed.a + end.flowed.b) / 2)[0, :, 0]
    np.testing.assert_allclose(radial, -E * ALPHA * integral / r**2, rtol=2e-3, atol=2e-3 * E * ALPHA * 80)


def test_a_plate_warm_all_over_has_no_stress_inside_a_growing_rim():
    # Lame: what is warm beyond a circle pushes nothing on a cold middle in an endless plate
    mesh = mesh_of(np.linspace(0, 0.2, 401))
    r = mesh.ring[0]
    heat = np.where((r > 0.1) & (r < 0.15), 120.0, 20.0)
    end = last(mesh, PLAIN, [heat])
    assert np.abs(end.flowed.a[0, r < 0.09, 0]).max() < 1e-3 * E * ALPHA * 100


@pytest.mark.parametrize("rise", [40.0, 80.0, 120.0, 300.0])
def test_a_hot_circle_keeps_tension_only_past_its_first_yield(rise):
    # the plate just outside the circle, pressed along the radius and pulled around it, yields first: at
    # sqrt(3) E alpha T / 2 = s_y; derived from von Mises and the stress above
    strength = 165e6
    metal = replace(PLAIN, yield_short=((20, strength),), hardening=1e3)
    mesh, heat = hot_circle(80, rise=rise)
    steps = [20 + (heat - 20) * s for s in (*np.linspace(0.05, 1, 20), *np.linspace(0.95, 0, 20))]
    end = last(mesh, metal, steps)
    middle = float(end.flowed.a[0, 5, 0]) / 2
    if rise < 2 * strength / (np.sqrt(3) * E * ALPHA):
        assert middle == pytest.approx(0.0, abs=1e3)
    else:
        assert 0.2 * strength < middle <= strength * (1 + 1e-6)


def test_elastic_plastic_hot_circle_is_the_thick_plate_with_a_yielded_middle():
    """Heated past yield, the middle is at yield all over and the cold plate around it elastic.

    Equi-biaxial yield inside: sigma_r = sigma_t = -s_y at r < a; outside the circle sigma_r = -s_y (a/r)^2 with hoop
    the same in tension, which yields where sqrt(3) s_y (a/r)^2 > s_y: a plastic ring out to r = c. Below that heat
    the displacement at the edge is (1 + nu) s_y a / E. Derived; Lame's cylinder (Roark, from memory).
    """
    strength = 100e6
    cold = 1e12
    metal = replace(PLAIN, yield_short=((20, cold), (59, cold), (60, strength)), hardening=1e3)
    rise = 3 * strength / (E * ALPHA)
    mesh, heat = hot_circle(400, rise=rise)
    end = last(mesh, metal, [20 + (heat - 20) * s for s in np.linspace(0.1, 1, 30)])
    inside = mesh.ring[0] < 0.0199
    np.testing.assert_allclose(end.flowed.a[0, inside, 0] / 2, -strength, rtol=1e-4)
    edge = end.displacement[0, 200]
    assert edge == pytest.approx((1 + NU) * strength * 0.02 / E, rel=2e-3)


def test_the_radial_solver_converges_with_the_second_order():
    exact = -E * ALPHA * 80 * 0.25  # sigma_r under the middle of the parabola: -E alpha T0 / 2 / 2 at r -> 0
    errors = []
    for rings in (20, 40, 80, 160):
        mesh = mesh_of(np.linspace(0, 0.1, rings + 1))
        r = mesh.ring[0]
        rise = np.where(r < 0.05, 80 * (1 - (r / 0.05) ** 2), 0.0)
        end = last(mesh, PLAIN, [20 + rise])
        inside = np.minimum(r, 0.05)
        true = -E * ALPHA * 80 * (inside**2 / 2 - inside**4 / (4 * 0.05**2)) / r**2
        found = ((end.flowed.a + end.flowed.b) / 2)[0, :, 0]
        keep = (r > 0.01) & (r < 0.045)
        errors.append(np.abs(found - true)[keep].max() / abs(exact))
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all(orders > 1.8), orders
    assert errors[-1] < 1e-3


def test_discs_side_by_side_do_not_feel_one_another():
    mesh, heat = hot_circle(60)
    pair = Mesh(
        radius=np.concatenate([mesh.radius, 1.5 * mesh.radius]),
        height=np.tile(mesh.height, (2, 1)),
        weight=np.tile(mesh.weight, (2, 1)),
    )
    both = np.stack([heat, heat])[None, :, :, None]
    moment = next(iter(history(pair, PLAIN, Heating(temperature=both), untouched(pair))))
    alone = last(mesh, PLAIN, [heat])
    np.testing.assert_allclose(moment.flowed.a[0], alone.flowed.a[0], rtol=1e-9)
    np.testing.assert_allclose(moment.displacement[1], 1.5 * moment.displacement[0], rtol=1e-9, atol=1e-15)


def test_thick_and_thin_discs_side_by_side_get_what_they_get_alone():
    # a thinner plate of the same heat moves as much and carries less; what stands beside it does not matter; derived
    radius = np.linspace(0, 0.1, 61)
    meshes = [mesh_of(radius, layers=3, thickness=h) for h in (0.012, 0.006, 0.003)]
    heats = [np.where(meshes[0].ring[0] < 0.02, 20 + rise, 20.0) for rise in (100.0, 60.0, 30.0)]
    heatings = [Heating(temperature=np.tile(heat[None, None, :, None], (1, 1, 1, 3))) for heat in heats]
    together = side_by_side(meshes)
    np.testing.assert_allclose(together.thickness, [0.012, 0.006, 0.003])
    np.testing.assert_allclose(
        np.ptp(together.height, axis=1), np.sqrt(0.6) * together.thickness
    )  # Gauss, three points
    moment = next(iter(history(together, PLAIN, heated_together(heatings), untouched(together))))
    for k, (mesh, heat) in enumerate(zip(meshes, heats, strict=True)):
        alone = last(mesh, PLAIN, [heat])
        np.testing.assert_allclose(moment.displacement[k], alone.displacement[0], rtol=1e-9, atol=1e-15)
        np.testing.assert_allclose(moment.flowed.a[k], alone.flowed.a[0], rtol=1e-9, atol=1.0)
