"""The straightness of a bowed line by its three definitions, what a plane cut takes off it, and the zone of a twisted face."""

from __future__ import annotations

from dataclasses import dataclass

import sympy as sp


@dataclass(frozen=True, slots=True, kw_only=True)
class Parabola:
    """Symbols and results for z = 4 h u (1 - u): bow `h`, place `u` from 0 to 1, depth `d` of a cut over h.

    `end_point`, `minimum_zone`, `least_squares` deviations; `share` of the length cut and `mean` cut over h by a
    level plane d h under the highest places of a hollow line.
    """

    h: sp.Symbol
    u: sp.Symbol
    d: sp.Symbol
    end_point: sp.Expr
    minimum_zone: sp.Expr
    least_squares: sp.Expr
    share: sp.Expr
    mean: sp.Expr


def _span(slope: sp.Expr, h: sp.Symbol, u: sp.Symbol) -> sp.Expr:
    """Return largest less smallest height over 0..1 of the parabola less a sloping line, the top inside."""
    rest = 4 * h * u * (1 - u) - slope * u
    top = sp.solve(sp.diff(rest, u), u)[0]
    return sp.expand(rest.subs(u, top) - sp.Min(rest.subs(u, 0), rest.subs(u, 1)))


def derive_parabola() -> Parabola:
    """Derive the deviations of a parabola and its bearing curve.

    Minimum zone: leaning the line by m h shifts the top and lifts one end; the span is h (1 + |m|/2 + m^2/16), least
    without a lean, so it is the bow itself. Least squares: the normal equations give a level line.

    Source: Definitions of ISO 12780-1 (from memory); derived here.
    """
    h, d = sp.symbols("h d", positive=True)
    u, m, c = sp.symbols("u m c", real=True)
    z = 4 * h * u * (1 - u)
    lean = sp.Symbol("lean", nonnegative=True)
    leaned = sp.simplify(_span(lean * h, h, u) / h)
    growth = sp.simplify(sp.diff(leaned, lean))
    if growth.subs(lean, 1).is_positive is not True or sp.limit(growth, lean, 0, "+").is_positive is not True:
        message = "leaning would help"
        raise ArithmeticError(message)
    error = sp.integrate((z - m * u - c) ** 2, (u, 0, 1))
    line = sp.solve([sp.diff(error, m), sp.diff(error, c)], [m, c], dict=True)[0]
    level = sp.simplify(line[m])
    edge = (1 - sp.sqrt(1 - d)) / 2  # where 4 u (1 - u) = d
    cut = sp.integrate(d - 4 * u * (1 - u), u)
    mean = 2 * (cut.subs(u, edge) - cut.subs(u, 0))
    return Parabola(
        h=h, u=u, d=d, end_point=z.subs(u, sp.Rational(1, 2)), minimum_zone=sp.simplify(leaned.subs(lean, 0) * h),
        least_squares=sp.simplify(_span(level, h, u)), share=sp.simplify(2 * edge), mean=sp.simplify(mean),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Twist:
    """Symbols and results for z = t x y on a face from -1 to 1 both ways, a plane of slope c > 0 across taken off.

    `zone` least zone that any slope along gives then; `slope` its derivative with respect to c.
    """

    t: sp.Symbol
    c: sp.Symbol
    zone: sp.Expr
    slope: sp.Expr


def derive_twist() -> Twist:
    """Derive the zone of a twisted face: the four corners decide, and every slope along between -c and c is as good.

    Source: Definition of ISO 12781-1 (from memory); derived here.
    """
    t, c, odds = sp.symbols("t c w", positive=True)
    along = c * (1 - odds) / (1 + odds)  # any slope along between -c and c as the odds run from 0 upward
    high = t + sp.Abs(sp.factor(along + c))  # the corners x = y
    low = -t - sp.Abs(sp.factor(along - c))  # the corners x = -y
    zone = sp.simplify(high - low)
    if zone.has(odds):
        message = "the slope along would matter"
        raise ArithmeticError(message)
    return Twist(t=t, c=c, zone=zone, slope=sp.diff(zone, c))
