"""What stays after release, and the over-bend that makes a bow vanish."""

from __future__ import annotations

from dataclasses import dataclass

import sympy as sp


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """Symbols and results: bow `h`, shim `t`, gap left `g`, kept share `f`, what the spots shrink `s`.

    `after` bow after release; `over_bend` needed for a straight head; `shim` for the middle pulled to the plate.
    """

    h: sp.Symbol
    t: sp.Symbol
    g: sp.Symbol
    f: sp.Symbol
    s: sp.Symbol
    bend: sp.Expr
    after: sp.Expr
    over_bend: sp.Expr
    shim: sp.Expr


def derive_release() -> Release:
    """Derive the release law from elastic springback.

    The clamp imposes the bend h + t - g on a head that is free of load at the bow h. Heat turns the share f of
    that elastic bend into inherent strain; releasing gives back the rest, (1 - f) of it. The spots' own shrinkage s
    comes off as well.

    Source: Linear elastic springback (derived here).
    """
    h, t, g, f, s = sp.symbols("h t g f s", positive=True)
    bend = h + t - g
    clamped = g - t
    springback = (1 - f) * bend
    after = sp.expand(clamped + springback - s)
    over_bend = sp.simplify(sp.solve(sp.Eq(after, 0), t)[0] - g)
    shim = sp.simplify((over_bend + g).subs({g: 0, s: 0}))
    return Release(h=h, t=t, g=g, f=f, s=s, bend=bend, after=after, over_bend=over_bend, shim=shim)


def repeated(share: sp.Expr, cycles: int, start: sp.Expr) -> list[sp.Expr]:
    """Return the bow after each cycle when every shim is half of the bow at hand and the middle meets the plate."""
    law = derive_release()
    bows = [start]
    for _ in range(cycles):
        bows.append(law.after.subs({law.h: bows[-1], law.t: bows[-1] / 2, law.g: 0, law.f: share, law.s: 0}))
    return bows
