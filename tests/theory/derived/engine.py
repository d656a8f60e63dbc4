"""What metal taken off the head does to the engine: compression, timing, valve clearance; and Preston's strokes."""

from __future__ import annotations

from types import SimpleNamespace

import sympy as sp


def derive_compression() -> SimpleNamespace:
    """Derive the ratio after a cut from its definition, (V_h + V_c) / V_c with V_h = A s: the bore cancels.

    Returns:
        Symbols and results: ratio before `e`, stroke `s`, mean removal `t`, outline over bore `w`;
        `after` the ratio then, `slope` its growth per removal at first.

    Source: Definition of the compression ratio (derived here).
    """
    ratio, stroke, removal, outline, area, clearance = sp.symbols("e s t w A V_c", positive=True)
    swept = area * stroke
    before = sp.solve(sp.Eq((swept + clearance) / clearance, ratio), clearance)[0]
    less = before - removal * area * outline
    after = sp.simplify((swept + less) / less)
    slope = sp.simplify(sp.diff(after, removal).subs(removal, 0))
    return SimpleNamespace(e=ratio, s=stroke, t=removal, w=outline, after=after, slope=slope)


def derive_timing() -> SimpleNamespace:
    """Derive the cam's retard: the crank held, the tight run keeps its length and the cam turns by what it is too long.

    The straight part is a leg of the right triangle with hypotenuse c and other leg R - q; the arcs up to the line of
    centres are R (pi/2 + g) and q (pi/2 - g), sin g = (R - q)/c.

    Returns:
        Symbols and results: radii `R` of the cam's and `q` of the crank's wheel, centre distance `c`, lowering `t`.
        `tight` length of the tight run from tooth to tooth; `retard` of the cam [rad], the line of centres along the bore;
        `slope` per lowering at first.

    Source: Open belt about two wheels (derived here).
    """
    big, small, distance, lowered = sp.symbols("R q c t", positive=True)
    lean = sp.asin((big - small) / distance)
    tight = sp.sqrt(distance**2 - (big - small) ** 2) + big * (sp.pi / 2 + lean) + small * (sp.pi / 2 - lean)
    retard = (tight - tight.subs(distance, distance - lowered)) / big
    slope = sp.simplify(sp.diff(retard, lowered).subs(lowered, 0))
    return SimpleNamespace(R=big, q=small, c=distance, t=lowered, tight=tight, retard=retard, slope=slope)


def derive_strokes() -> SimpleNamespace:
    """Derive the volume taken: Preston's depth rate k p v over the area in touch is k F v, whatever that area is.

    A sheet's bite falls from one to r as exp(-x/m) over its strokes x; integrated over them.

    Returns:
        Symbols and results: coefficient `k`, load `F`, stroke `l`, paper's lasting share `r`, fading `m`, strokes `n`.
        `volume` of metal that so many strokes of one sheet take; `work` the same in strokes of ever fresh paper.

    Source: Preston, J. Soc. Glass Technol. 11 (1927) 214 (from memory); derived here.
    """
    k, load, length, lasting, fading, strokes, area, x = sp.symbols("k F l r m n A x", positive=True)
    per_stroke = k * (load / area) * length * area  # depth k p l over the area in touch: the area cancels
    bite = lasting + (1 - lasting) * sp.exp(-x / fading)
    work = sp.simplify(sp.integrate(bite, (x, 0, strokes)))
    return SimpleNamespace(
        k=k,
        F=load,
        l=length,
        r=lasting,
        m=fading,
        n=strokes,
        volume=sp.simplify(per_stroke * work),
        work=work,
    )
