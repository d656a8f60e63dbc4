"""A disc in an endless plate: how stiff the plate holds it, what its growth moves around it, what a hole keeps."""

from __future__ import annotations

from types import SimpleNamespace

import sympy as sp


def _stress(u: sp.Expr, r: sp.Symbol, modulus: sp.Expr, nu: sp.Expr, own: sp.Expr) -> sp.Expr:
    """Return the radial plane stress of a radial displacement, less an inherent strain."""
    radial, hoop = sp.diff(u, r) - own, u / r - own
    return modulus / (1 - nu**2) * (radial + nu * hoop)


def derive_ring() -> SimpleNamespace:
    """Derive the plate's answer from u'' + u'/r - u/r^2 = 0: outside u = c/r, inside u = k r; force and displacement meet.

    Returns:
        Symbols and results: radius `a`, distance `r`, thickness `h`, modulus `E`, `nu`, inherent strain `e`.
        `spring` radial force per radian over the displacement of the rim; `moved` displacement at r outside per inherent
        volume `V` = e pi a^2 h (even growth, half of V_x + V_y); `squeezed` total strain of the disc itself over e.

    Source: Lame's thick ring with an endless outer radius, plane stress (derived here).
    """
    a, r, thickness, modulus, nu, volume = sp.symbols("a r h E nu V", positive=True)
    c, k, own = sp.symbols("c k e")
    outside, inside = c / r, k * r
    for u in (outside, inside):
        if sp.simplify(sp.diff(u, r, 2) + sp.diff(u, r) / r - u / r**2) != 0:
            raise ArithmeticError("no equilibrium")
    spring = sp.simplify(
        -_stress(outside, r, modulus, nu, sp.Integer(0)).subs(r, a) * a * thickness / outside.subs(r, a)
    )
    met = sp.solve(
        [
            (outside - inside).subs(r, a),
            (_stress(outside, r, modulus, nu, sp.Integer(0)) - _stress(inside, r, modulus, nu, own)).subs(
                r, a
            ),
        ],
        [c, k],
        dict=True,
    )[0]
    moved = sp.simplify(outside.subs(c, met[c]).subs(own, volume / (sp.pi * a**2 * thickness)))
    return SimpleNamespace(
        a=a, r=r, h=thickness, E=modulus, nu=nu, V=volume,
        spring=spring, moved=moved, squeezed=sp.simplify(met[k] / own),
    )  # fmt: skip


def derive_hole() -> SimpleNamespace:
    """Derive the displacement of a hole's outline in a strained plate from Airy's stress function.

    phi = S/4 [r^2 - 2 a^2 ln r - (r^2 - 2 a^2 + a^4/r^2) cos 2 theta] for the stress S along theta = 0. It is biharmonic
    and leaves the rim free; the hoop strain along the rim is that of an ellipse, whose axes it tells.

    Returns:
        Strain of a hole's outline over the far strain, `nu`: `even` for the same strain all round, `lopsided` for
        cos 2 theta; `along` and `across` an uniaxial stress's own strain.

    Source: Kirsch, Zeitschrift des VDI 42 (1898) 797 (from memory); checked here.
    """
    r, a, far, modulus, nu = sp.symbols("r a S E nu", positive=True)
    theta = sp.Symbol("theta", real=True)
    phi = far / 4 * (r**2 - 2 * a**2 * sp.log(r) - (r**2 - 2 * a**2 + a**4 / r**2) * sp.cos(2 * theta))

    def laplace(f: sp.Expr) -> sp.Expr:
        return sp.diff(f, r, 2) + sp.diff(f, r) / r + sp.diff(f, theta, 2) / r**2

    radial = sp.diff(phi, r) / r + sp.diff(phi, theta, 2) / r**2
    shear = -sp.diff(sp.diff(phi, theta) / r, r)
    if sp.simplify(laplace(laplace(phi))) != 0 or any(sp.simplify(f.subs(r, a)) for f in (radial, shear)):
        raise ArithmeticError("no free rim")
    hoop = sp.simplify(sp.diff(phi, r, 2).subs(r, a)) / modulus  # uniaxial at the free rim
    mean = sp.integrate(hoop, (theta, 0, 2 * sp.pi)) / (2 * sp.pi)
    wave = sp.integrate(hoop * sp.cos(2 * theta), (theta, 0, 2 * sp.pi)) / sp.pi
    # The rim becomes an ellipse x = (1 + ex) a cos t, y = (1 + ey) a sin t: hoop strain (ex + ey)/2 - (ex - ey)/2 cos 2t.
    strain = (mean - wave, mean + wave)
    along, across = (sp.simplify(e / (far / modulus)) for e in strain)
    even = sp.simplify(
        (along + across) / (1 - nu)
    )  # far strains 1 and -nu: mean (1 - nu)/2, half difference (1 + nu)/2
    lopsided = sp.simplify((along - across) / (1 + nu))
    return SimpleNamespace(nu=nu, even=even, lopsided=lopsided, along=along, across=across)


def derive_keeping() -> SimpleNamespace:
    """Derive from M (V + x) = s + c m, m = m0 + rise - fall x, where V fell before the movement was taken up.

    Returns:
        Symbols and results of one zone in a clamp that holds the middle.
        `M` stress over E per shrinkage, `c` clamp's stress over E per movement, `fall` of the middle per shrinkage, `m0`
        movement held, `rise` of the warm roof, `s` stress over E its own heat drives, `V` held from before. `shrinkage` in
        all after the heat; `added` by it; `share` kept of the movement where nothing but the clamp drives it.

    Source: Metal that passes its collapse carries nothing; linear elastic head (derived here).
    """
    stiff, clamp, fall, held = sp.symbols("M c fall m0", positive=True)
    rise, own, before, more = sp.symbols("rise s V x", real=True)
    movement = held + rise - fall * more
    added = sp.solve(stiff * (before + more) - own - clamp * movement, more)[0]
    share = sp.simplify((fall * added / held).subs({own: 0, before: 0, rise: 0}))
    return SimpleNamespace(
        M=stiff,
        c=clamp,
        fall=fall,
        m0=held,
        rise=rise,
        s=own,
        V=before,
        shrinkage=sp.simplify(before + added),
        added=sp.simplify(added),
        share=share,
    )


def derive_zone_in_plate() -> tuple[sp.Expr, sp.Expr, sp.Symbol, sp.Symbol, sp.Symbol]:
    """Return the volumes that a hole keeps of an even and of a lopsided far strain, with A, h and nu.

    An even inclusion strain e has the stress -E e/2 inside, a lopsided one -E e/4; far strains m and d have E m/(1 - nu)
    and E d/(1 + nu). The hole's strain makes both zero.

    Source: Eshelby 1957, circular inclusion in plane stress (from memory); derived here for the hole.
    """
    area, thick, nu = sp.symbols("A h nu", positive=True)
    strain = sp.symbols("e", positive=True)
    even = sp.solve(1 / (1 - nu) - strain / 2, strain)[0] * area * thick
    lopsided = sp.solve(1 / (1 + nu) - strain / 4, strain)[0] * area * thick
    return sp.simplify(even), sp.simplify(lopsided), area, thick, nu
