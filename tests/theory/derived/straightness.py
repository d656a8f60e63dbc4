"""The straightness of a bowed line by its three definitions, what a plane cut takes off it, and the zone of a twisted face."""

from __future__ import annotations

from types import SimpleNamespace

import sympy as sp


def _span(slope: sp.Expr, h: sp.Symbol, u: sp.Symbol) -> sp.Expr:
    """Return largest less smallest height over 0..1 of the parabola less a sloping line, the top inside."""
    rest = 4 * h * u * (1 - u) - slope * u
    top = sp.solve(sp.diff(rest, u), u)[0]
    return sp.expand(rest.subs(u, top) - sp.Min(rest.subs(u, 0), rest.subs(u, 1)))


def derive_parabola() -> SimpleNamespace:
    """Derive the deviations of a parabola and its bearing curve.

    Minimum zone: leaning the line by m h shifts the top and lifts one end; the span is h (1 + |m|/2 + m^2/16), least
    without a lean, so it is the bow itself. Least squares: the normal equations give a level line.

    Returns:
        Symbols and results for z = 4 h u (1 - u): bow `h`, place `u` from 0 to 1, depth `d` of a cut over h.
        `end_point`, `minimum_zone`, `least_squares` deviations; `share` of the length cut and `mean` cut over h by a
        level plane d h under the highest places of a hollow line.

    Source: Definitions of ISO 12780-1 (from memory); derived here.
    """
    h, d = sp.symbols("h d", positive=True)
    u, m, c = sp.symbols("u m c", real=True)
    z = 4 * h * u * (1 - u)
    lean = sp.Symbol("lean", nonnegative=True)
    leaned = sp.simplify(_span(lean * h, h, u) / h)
    growth = sp.simplify(sp.diff(leaned, lean))
    if growth.subs(lean, 1).is_positive is not True or sp.limit(growth, lean, 0, "+").is_positive is not True:
        raise ArithmeticError("leaning would help")
    error = sp.integrate((z - m * u - c) ** 2, (u, 0, 1))
    line = sp.solve([sp.diff(error, m), sp.diff(error, c)], [m, c], dict=True)[0]
    level = sp.simplify(line[m])
    edge = (1 - sp.sqrt(1 - d)) / 2  # where 4 u (1 - u) = d
    cut = sp.integrate(d - 4 * u * (1 - u), u)
    mean = 2 * (cut.subs(u, edge) - cut.subs(u, 0))
    return SimpleNamespace(
        h=h, u=u, d=d, end_point=z.subs(u, sp.Rational(1, 2)), minimum_zone=sp.simplify(leaned.subs(lean, 0) * h),
        least_squares=sp.simplify(_span(level, h, u)), share=sp.simplify(2 * edge), mean=sp.simplify(mean),
    )  # fmt: skip


def derive_twist() -> SimpleNamespace:
    """Derive the zone of a twisted face: the four corners decide, and every slope along between -c and c is as good.

    Returns:
        Symbols and results for z = t x y on a face from -1 to 1 both ways, a plane of slope c > 0 across taken off.
        `zone` least zone that any slope along gives then; `slope` its derivative with respect to c.

    Source: Definition of ISO 12781-1 (from memory); derived here.
    """
    t, c, odds = sp.symbols("t c w", positive=True)
    along = c * (1 - odds) / (1 + odds)  # any slope along between -c and c as the odds run from 0 upward
    high = t + sp.Abs(sp.factor(along + c))  # the corners x = y
    low = -t - sp.Abs(sp.factor(along - c))  # the corners x = -y
    zone = sp.simplify(high - low)
    if zone.has(odds):
        raise ArithmeticError("the slope along would matter")
    return SimpleNamespace(t=t, c=c, zone=zone, slope=sp.diff(zone, c))
