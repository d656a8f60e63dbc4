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


def repeated(share: sp.Expr, cycles: int, start: sp.Expr) -> list[sp.Expr]:
    """Return the bow after each cycle when every shim is half of the bow at hand and the middle meets the plate."""
    law = derive_release()
    bows = [start]
    for _ in range(cycles):
        bows.append(law.after.subs({law.h: bows[-1], law.t: bows[-1] / 2, law.g: 0, law.f: share, law.s: 0}))
    return bows


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
