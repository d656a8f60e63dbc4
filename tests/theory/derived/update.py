"""What normal readings make of a normal belief: the conjugate update, by completing the square."""

from __future__ import annotations

from types import SimpleNamespace

import sympy as sp


def _normal(x: sp.Expr, mean: sp.Expr, deviation: sp.Expr) -> sp.Expr:
    return sp.exp(-((x - mean) ** 2) / (2 * deviation**2)) / (deviation * sp.sqrt(2 * sp.pi))


def derive_update() -> SimpleNamespace:
    """Derive belief times likelihood: the log is a parabola, its top the mean, its curvature one over the variance.

    Returns:
        Symbols and results: belief of mean `m` and deviation `s`, reading `y` of deviation `r`.
        `mean` and `deviation` after it; `evidence` density of the reading beforehand.

    Source: Bayes' theorem for normal densities (derived here).
    """
    m, y, x = sp.symbols("m y x", real=True)
    s, r = sp.symbols("s r", positive=True)
    log = -((x - m) ** 2) / (2 * s**2) - (y - x) ** 2 / (2 * r**2)
    mean = sp.simplify(sp.solve(sp.diff(log, x), x)[0])
    deviation = sp.simplify(1 / sp.sqrt(-sp.diff(log, x, 2)))
    evidence = sp.simplify(
        (_normal(x, m, s) * _normal(y, x, r) / _normal(x, mean, deviation)).subs(x, 0)
    )  # the same at every x
    return SimpleNamespace(m=m, s=s, y=y, r=r, mean=mean, deviation=deviation, evidence=evidence)
