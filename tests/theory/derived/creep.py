"""What time at temperature leaves of a held stress, with and without a threshold."""

from __future__ import annotations

from types import SimpleNamespace

import sympy as sp


def derive_relaxation() -> SimpleNamespace:
    """Derive what creep leaves of a stress whose strain is held: ds/dt = -E A s^n.

    Separated, s^-n ds = -E A dt; both sides are integrated and solved for the stress left.

    Returns:
        Symbols and results: stress at first `s0`, factor `A`, exponent `n`, modulus `E`, time `t`.
        `left` stress after the time; `faster` how many times the pace grows from temperature `T1` to `T2` [K] at
        activation energy `Q`, gas constant `R`.

    Source: Norton's law at constant strain (derived here).
    """
    s0, factor, n, modulus, t, s = sp.symbols("s0 A n E t s", positive=True)
    grown = s ** (1 - n) / (1 - n)
    if sp.simplify(sp.diff(grown, s) - s**-n) != 0:
        raise ArithmeticError("the integral of a power went wrong")
    level = sp.Symbol("level", positive=True)  # s^(1-n), linear in the unknown
    found = sp.solve(sp.Eq((level - s0 ** (1 - n)) / (1 - n), -modulus * factor * t), level)[0]
    first, second, energy, gas = sp.symbols("T1 T2 Q R", positive=True)
    faster = sp.exp(energy / gas * (1 / first - 1 / second))
    return SimpleNamespace(
        s0=s0, A=factor, n=n, E=modulus, t=t, T1=first, T2=second, Q=energy, R=gas,
        left=found ** (1 / (1 - n)), faster=faster,
    )  # fmt: skip


def derive_over_threshold() -> SimpleNamespace:
    """Derive ds/dphi = -(s - b) and the pseudo-time that takes the share r of what lies over the threshold.

    Returns:
        Symbols and results: stress at first `s0`, threshold `b`, pseudo-time `phi`; `left`; `end` where the
        share `r` is gone.

    Source: Linear equation of the first order (derived here).
    """
    s0, base, phi, share = sp.symbols("s0 b phi r", positive=True)
    s = sp.Function("s")
    found = sp.dsolve(sp.Eq(s(phi).diff(phi), base - s(phi)), s(phi), ics={s(0): s0}).rhs
    end = sp.solve(sp.Eq(sp.simplify((s0 - found) / (s0 - base)), share), phi)[0]
    return SimpleNamespace(s0=s0, b=base, phi=phi, r=share, left=found, end=end)
