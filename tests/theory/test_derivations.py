"""The derivations themselves: what they give, against closed forms of the trade's own arithmetic."""

import pytest
import sympy as sp

from straighten.theory.beam import derive_influence, derive_pulled_beam, derive_release

SOURCE = "Kinematics of the release; the half-bow rule of the trade"
MARK = "derived"


def kinked_line(x: sp.Expr, a: sp.Expr, length: sp.Expr, kink: sp.Expr) -> sp.Expr:
    """Return the lowering at x of a line straight but for a kink at a, ends held: the geometry alone."""
    slope = sp.Symbol("slope")
    left = sp.solve(sp.Eq(slope * length - kink * (length - a), 0), slope)[0]
    return sp.Piecewise((left * x, x <= a), (left * x - kink * (x - a), True))


def repeated(share: sp.Expr, cycles: int, start: sp.Expr) -> list[sp.Expr]:
    """Return the bow after each cycle when every shim is half of the bow at hand and the middle meets the plate."""
    law = derive_release()
    bows = [start]
    for _ in range(cycles):
        bows.append(law.after.subs({law.h: bows[-1], law.t: bows[-1] / 2, law.g: 0, law.f: share, law.s: 0}))
    return bows


def test_reciprocity_gives_the_same_line_as_the_geometry_of_a_kink():
    law = derive_influence()
    bent = kinked_line(law.x, law.a, law.L, law.kink)
    for x, a in ((2, 5), (7, 5), (5, 5), (1, 9)):
        apart = (bent - law.line).subs({law.L: 10, law.x: x, law.a: a})
        assert sp.simplify(apart) == 0


@pytest.mark.parametrize(
    ("share", "ratio"),
    [(sp.Rational(2, 3), sp.Rational(1, 2)), (sp.Rational(1, 2), 1), (sp.Rational(2, 5), sp.Rational(3, 2)),
     (sp.Rational(3, 10), sp.Rational(7, 3))],
)  # fmt: skip
def test_shim_over_bow_for_a_straight_head(share, ratio, published):
    # source: kinematics of the release, shim/bow = 1/f - 1 (derived); f = 2/3 is the half-bow rule of the trade
    law = derive_release()
    found = sp.simplify(law.shim.subs({law.f: share}) / law.h)
    assert found == ratio
    published("shim over bow for a straight head", found, ratio, rel=1e-12, case=f"kept share {share}")


@pytest.mark.parametrize(
    ("share", "bows"),
    [("2/5", ("1", "2/5", "4/25", "8/125", "16/625")), ("4/5", ("1", "-1/5", "1/25", "-1/125"))],
)
def test_repeated_half_bow_shims(share, bows, published):
    # source: b(n+1) = b(n) (1 - 1.5 f) (derived)
    ours = repeated(sp.Rational(share), len(bows) - 1, sp.Integer(1))
    assert ours == [sp.Rational(bow) for bow in bows]
    last = f"after {len(bows) - 1} cycles, kept share {share}"
    published("bow left by shims of half the bow", ours[-1], sp.Rational(bows[-1]), rel=1e-12, case=last)


def test_no_heat_leaves_the_bow_and_full_relaxation_leaves_the_shim():
    law = derive_release()
    assert law.after.subs({law.f: 0, law.s: 0}) == law.h
    assert sp.simplify(law.after.subs({law.f: 1, law.s: 0, law.g: 0}) + law.t) == 0


def test_what_the_spots_shrink_comes_off_the_bow():
    # source: heat on the cam side shrinks it, so that the bow falls by just so much (derived)
    law = derive_release()
    assert sp.diff(law.after, law.s) == -1
    assert sp.simplify(law.after.subs(law.s, law.h) - law.after.subs(law.s, 0) + law.h) == 0


def test_centre_load_is_the_handbook_case():
    # source: Roark, simply supported beam, centre load: P L^3 / 48 EI and P L / 4 kGA (from memory)
    beam = derive_pulled_beam()
    middle = beam.middle.subs(beam.a, beam.L / 2)
    handbook = beam.P * beam.L**3 / (48 * beam.EI) + beam.P * beam.L / (4 * beam.kGA)
    assert sp.simplify(middle - handbook) == 0
