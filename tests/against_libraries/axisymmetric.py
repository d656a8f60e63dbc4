"""The same plate under the same torch in scikit-fem: transient conduction around an axis, and a plane-stress disc.

T. Gustafsson and G. D. McBain, scikit-fem: A Python package for finite element assembly, JOSS 5 (2020) 2369.
"""

from itertools import pairwise

import numpy as np
import skfem
from scipy.sparse.linalg import splu
from skfem import asm, condense, solve
from skfem.helpers import dot, grad


def plate_rise(flame, slab, times, *, out=0.12, across=48, down=12, steps=240):
    """Temperature rise at nodes (r, depth) at `times` [s], Crank-Nicolson after two backward steps.

    Returns the nodes (2, n) and the rises (len(times), n).
    """
    x = np.linspace(0, 1, across + 1)
    radius = out * (0.15 * x + 0.85 * x**2.2)
    depth = slab.thickness * np.linspace(0, 1, down + 1) ** 1.3
    mesh = skfem.MeshQuad.init_tensor(radius, depth)
    basis = skfem.Basis(mesh, skfem.ElementQuad2(), intorder=4)
    top = skfem.FacetBasis(
        mesh, skfem.ElementQuad2(), facets=mesh.facets_satisfying(lambda p: p[1] < 1e-12), intorder=6
    )

    @skfem.BilinearForm
    def conduct(u, v, w):
        return slab.conductivity * dot(grad(u), grad(v)) * w.x[0]

    @skfem.BilinearForm
    def store(u, v, w):
        return slab.capacity * u * v * w.x[0]

    @skfem.LinearForm
    def flux(v, w):
        q = 2 * flame.power / (np.pi * flame.radius**2) * np.exp(-2 * w.x[0] ** 2 / flame.radius**2)
        return q * v * w.x[0]

    stiff, mass, load = asm(conduct, basis).tocsc(), asm(store, basis).tocsc(), asm(flux, top)
    grid = np.unique(
        np.concatenate(
            [flame.dwell * np.linspace(0, 1, steps // 2 + 1) ** 1.5, times, _after(flame, times, steps)]
        )
    )
    rise, found, factors = np.zeros(basis.N), [], {}
    since = 0
    for before, now in pairwise(grid):
        step = now - before
        since = 0 if np.isclose(before, flame.dwell) else since + 1
        theta = 1.0 if since < 2 else 0.5
        key = (round(step, 12), theta)
        if key not in factors:
            factors[key] = splu((mass + theta * step * stiff).tocsc())
        heat = load if now <= flame.dwell + 1e-12 else 0 * load
        rise = factors[key].solve(mass @ rise - (1 - theta) * step * (stiff @ rise) + step * heat)
        if np.any(np.isclose(now, times)):
            found.append(rise.copy())
    return basis.doflocs, np.array(found)


def _after(flame, times, steps):
    last = float(np.max(times))
    return flame.dwell + (last - flame.dwell) * np.linspace(0, 1, steps // 2 + 1) ** 2


def elastic_disc(rise_of, radius, elastic, *, out=0.4, rings=400):
    """Radial and hoop stress at `radius` of a thin disc of radius `out` with a temperature rise(r), free at its rim."""
    young, nu, alpha = elastic
    x = np.linspace(0, 1, rings + 1)
    mesh = skfem.MeshLine(out * (0.1 * x + 0.9 * x**2))
    basis = skfem.Basis(mesh, skfem.ElementLineP2(), intorder=6)
    plane = young / (1 - nu**2)

    @skfem.BilinearForm
    def stiffness(u, v, w):
        r = w.x[0]
        er, et, fr, ft = grad(u)[0], u / r, grad(v)[0], v / r
        return plane * (er * fr + et * ft + nu * (er * ft + et * fr)) * r

    @skfem.LinearForm
    def swelling(v, w):
        r = w.x[0]
        return plane * (1 + nu) * alpha * rise_of(r) * (grad(v)[0] + v / r) * r

    middle = basis.get_dofs(lambda p: p[0] < 1e-12)
    u = solve(*condense(asm(stiffness, basis), asm(swelling, basis), D=middle))
    points = basis.probes(np.asarray(radius)[None])
    field = points @ u
    slope = (
        basis.probes(np.asarray(radius)[None] + 1e-7) @ u - basis.probes(np.asarray(radius)[None] - 1e-7) @ u
    ) / 2e-7
    hoop = field / radius
    thermal = (1 + nu) * alpha * rise_of(radius)
    return plane * (slope + nu * hoop - thermal), plane * (hoop + nu * slope - thermal)


def varying_plate_rise(flame, metal, thickness, times, *, out=0.12, across=36, down=10, steps=80):
    """The same plate with the metal's own heat capacity at every point; backward steps, two Picard rounds each."""
    x = np.linspace(0, 1, across + 1)
    mesh = skfem.MeshQuad.init_tensor(
        out * (0.15 * x + 0.85 * x**2.2), thickness * np.linspace(0, 1, down + 1) ** 1.3
    )
    basis = skfem.Basis(mesh, skfem.ElementQuad2(), intorder=4)
    top = skfem.FacetBasis(
        mesh, skfem.ElementQuad2(), facets=mesh.facets_satisfying(lambda p: p[1] < 1e-12), intorder=6
    )
    (t0, k0), (c_t, c_v) = metal.conductivity[0], np.array(metal.heat_capacity).T
    del t0

    @skfem.BilinearForm
    def conduct(u, v, w):
        return k0 * dot(grad(u), grad(v)) * w.x[0]

    @skfem.BilinearForm
    def store(u, v, w):
        return metal.density * np.interp(20 + w["warm"], c_t, c_v) * u * v * w.x[0]

    @skfem.LinearForm
    def flux(v, w):
        q = 2 * flame.power / (np.pi * flame.radius**2) * np.exp(-2 * w.x[0] ** 2 / flame.radius**2)
        return q * v * w.x[0]

    stiff, load = asm(conduct, basis).tocsc(), asm(flux, top)
    late = flame.dwell + (times[-1] - flame.dwell) * np.linspace(0, 1, steps // 2 + 1) ** 1.5
    grid = np.unique(np.concatenate([flame.dwell * np.linspace(0, 1, steps + 1) ** 1.3, late, times]))
    rise, found = np.zeros(basis.N), []
    for before, now in pairwise(grid):
        step, old = now - before, rise
        heat = load if now <= flame.dwell + 1e-12 else 0 * load
        for _ in range(2):
            mass = asm(store, basis, warm=basis.interpolate((old + rise) / 2)).tocsc()
            rise = splu((mass + step * stiff).tocsc()).solve(mass @ old + step * heat)
        if np.any(np.isclose(now, times)):
            found.append(rise.copy())
    return basis.doflocs, np.array(found)
