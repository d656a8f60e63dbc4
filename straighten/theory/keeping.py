"""What zones of a roof keep: shrinkage, the clamp that follows, a place heated again, and why nothing runs away."""

from __future__ import annotations

from dataclasses import dataclass

import sympy as sp


@dataclass(frozen=True, slots=True, kw_only=True)
class Keeping:
    """Symbols and results of one zone in a clamp that holds the middle.

    `M` stress over E per shrinkage, `c` clamp's stress over E per movement, `fall` of the middle per shrinkage, `m0`
    movement held, `rise` of the warm roof, `s` stress over E its own heat drives, `V` held from before. `shrinkage` in
    all after the heat; `added` by it; `share` kept of the movement where nothing but the clamp drives it.
    """

    M: sp.Symbol
    c: sp.Symbol
    fall: sp.Symbol
    m0: sp.Symbol
    rise: sp.Symbol
    s: sp.Symbol
    V: sp.Symbol
    shrinkage: sp.Expr
    added: sp.Expr
    share: sp.Expr


def derive_keeping() -> Keeping:
    """Derive from M (V + x) = s + c m, m = m0 + rise - fall x, where V fell before the movement was taken up.

    Source: Metal that passes its collapse carries nothing; linear elastic head (derived here).
    """
    stiff, clamp, fall, held = sp.symbols("M c fall m0", positive=True)
    rise, own, before, more = sp.symbols("rise s V x", real=True)
    movement = held + rise - fall * more
    added = sp.solve(stiff * (before + more) - own - clamp * movement, more)[0]
    share = sp.simplify((fall * added / held).subs({own: 0, before: 0, rise: 0}))
    return Keeping(
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
    and E d/(1 + nu). The hole's strain makes both nought.

    Source: Eshelby 1957, circular inclusion in plane stress (from memory); derived here for the hole.
    """
    area, thick, nu = sp.symbols("A h nu", positive=True)
    strain = sp.symbols("e", positive=True)
    even = sp.solve(1 / (1 - nu) - strain / 2, strain)[0] * area * thick
    lopsided = sp.solve(1 / (1 + nu) - strain / 4, strain)[0] * area * thick
    return sp.simplify(even), sp.simplify(lopsided), area, thick, nu
