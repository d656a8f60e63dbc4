"""The Timoshenko beam on two end shims, pulled down in the middle: deflection by bending and by shear."""

from __future__ import annotations

from dataclasses import dataclass

import sympy as sp


@dataclass(frozen=True, slots=True, kw_only=True)
class PulledBeam:
    """Symbols and results: span `L`, two pulls P/2 at `a` from each support, `EI`, `kGA`.

    `under_pull` deflection at the pull; `middle` deflection in the middle; `strain` bending curvature between the
    pulls.
    """

    L: sp.Symbol
    a: sp.Symbol
    P: sp.Symbol
    EI: sp.Symbol
    kGA: sp.Symbol
    under_pull: sp.Expr
    middle: sp.Expr
    curvature: sp.Expr


def derive_pulled_beam() -> PulledBeam:
    """Derive the deflection of the half beam by integrating M / EI and V / kGA with the symmetry conditions.

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
    return PulledBeam(
        L=length,
        a=a,
        P=load,
        EI=bending,
        kGA=shear,
        under_pull=under,
        middle=middle,
        curvature=inner / bending,
    )
