"""What stays after release, and the over-bend that makes a bow vanish."""

from __future__ import annotations

from types import SimpleNamespace

import sympy as sp


def derive_release() -> SimpleNamespace:
    """Derive the release law from elastic springback.

    The clamp imposes the bend h + t - g on a head that is free of load at the bow h. Heat turns the share f of
    that elastic bend into inherent strain; releasing gives back the rest, (1 - f) of it. The spots' own shrinkage s
    comes off as well.

    Returns:
        Symbols and results: bow `h`, shim `t`, gap left `g`, kept share `f`, what the spots shrink `s`.
        `after` bow after release; `over_bend` needed for a straight head; `shim` for the middle pulled to the plate.

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
