"""The Timoshenko beam on two end shims, pulled in the middle: its deflection, the kink of a spot, what stays."""

from __future__ import annotations

from types import SimpleNamespace

import sympy as sp


def derive_pulled_beam() -> SimpleNamespace:
    """Derive the deflection of the half beam by integrating M / EI and V / kGA with the symmetry conditions.

    Span `L`, two pulls P/2 at `a` from each support, `EI`, `kGA`; `under_pull` deflection at the pull; `middle` deflection
    in the middle; `curvature` bending curvature between the pulls.

    Source: Timoshenko beam theory (derived here); the bending part is Roark's simply supported beam under two equal
    loads (from memory).
    """
    length, a, load, bending, shear, x = sp.symbols("L a P EI kGA x", positive=True)
    c1, c2, c3, c4 = sp.symbols("c1:5")
    outer = load / 2 * x  # moment between support and pull
    inner = load / 2 * a
    slope_outer = -sp.integrate(outer, x) / bending + c1
    slope_inner = -sp.integrate(inner, x) / bending + c2
    w_outer = sp.integrate(slope_outer, x) + load / 2 * x / shear + c3
    w_inner = sp.integrate(slope_inner, x) + c4
    conditions = [
        w_outer.subs(x, 0),
        slope_inner.subs(x, length / 2),
        (slope_outer - slope_inner).subs(x, a),
        (w_outer - w_inner).subs(x, a),
    ]
    found = sp.solve(conditions, [c1, c2, c3, c4], dict=True)[0]
    under = sp.simplify(w_outer.subs(found).subs(x, a))
    middle = sp.simplify(w_inner.subs(found).subs(x, length / 2))
    return SimpleNamespace(
        L=length,
        a=a,
        P=load,
        EI=bending,
        kGA=shear,
        under_pull=under,
        middle=middle,
        curvature=inner / bending,
    )


def virtual_moment(x: sp.Expr, at: sp.Expr, length: sp.Expr) -> sp.Expr:
    """Return the moment at `at` of a beam on its two ends under a unit load at `x`, from equilibrium."""
    reaction = sp.Symbol("R", positive=True)
    left = sp.solve(sp.Eq(reaction * length, length - x), reaction)[0]  # moments about the right end
    return sp.Piecewise((left * at, at <= x), (left * at - (at - x), True))


def derive_influence() -> SimpleNamespace:
    """Derive kink and line of one spot.

    By the reciprocal theorem the displacement under a unit load at x equals the work of the unit load's stress on
    the inherent strain: integral of sigma_1 eps* dV with sigma_1 = M_1(a) z / I, that is M_1(a) V z / I. A kink
    theta does the work M_1(a) theta, so theta = V z / I, and the line follows the influence line of the moment.

    `x` where the line is looked at, `a` station of the spot, `L` length, `z` height of the spot over the neutral
    axis, `I` second moment, `V` inherent strain volume (shrinkage counts positive); `kink` = V z / I; `line` the
    lowering of the line at x; `bow` its value in the middle, `bow_front` the same for a spot in the front half.

    Source: Betti's theorem and Maier's form of it for inherent strains (derived here); triangle of a kinked
    straight line checked by integrating its curvature.
    """
    x, a, length, z, inertia, volume = sp.symbols("x a L z I V", positive=True)
    moment = virtual_moment(x, a, length)
    stress = moment * z / inertia
    line = stress * volume
    kink = volume * z / inertia
    bow = sp.simplify(line.subs(x, length / 2))
    return SimpleNamespace(
        x=x, a=a, L=length, z=z, I=inertia, V=volume, kink=kink, line=line, bow=bow, bow_front=bow.args[0][0]
    )


def derive_release() -> SimpleNamespace:
    """Derive the release law from elastic springback.

    The clamp imposes the bend h + t - g on a head that is free of load at the bow h. Heat turns the share f of
    that elastic bend into inherent strain; releasing gives back the rest, (1 - f) of it. The spots' own shrinkage s
    comes off as well.

    Bow `h`, shim `t`, gap left `g`, kept share `f`, what the spots shrink `s`; `after` bow after release; `over_bend` needed
    for a straight head; `shim` for the middle pulled to the plate.

    Source: Linear elastic springback (derived here).
    """
    h, t, g, f, s = sp.symbols("h t g f s", positive=True)
    bend = h + t - g
    clamped = g - t
    springback = (1 - f) * bend
    after = sp.expand(clamped + springback - s)
    over_bend = sp.simplify(sp.solve(sp.Eq(after, 0), t)[0] - g)
    shim = sp.simplify((over_bend + g).subs({g: 0, s: 0}))
    return SimpleNamespace(h=h, t=t, g=g, f=f, s=s, bend=bend, after=after, over_bend=over_bend, shim=shim)
