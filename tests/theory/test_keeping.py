"""The law of what zones keep: bounded, no more from the same heat, the difference from a stronger one; holes after Kirsch."""

import numpy as np
import pytest
import sympy as sp

from straighten.clamp import section_of
from straighten.heat import HeatSpot, nominal, relax_spots
from tests.heat.heads import box, clamped
from tests.theory.derived.plate import derive_hole, derive_keeping, derive_zone_in_plate


def test_the_kept_share_lies_between_nothing_and_the_whole():
    law = derive_keeping()
    size = sp.symbols("sigma", positive=True)
    share = sp.simplify(law.share.subs(law.c, size * law.M / law.fall))
    assert sp.simplify(share - size / (1 + size)) == 0


def test_the_same_heat_again_adds_nothing_and_a_stronger_one_the_difference():
    law = derive_keeping()
    free = {law.c: sp.Integer(0), law.rise: 0}
    assert sp.simplify(law.added.subs(free).subs(law.V, law.s / law.M)) == 0
    stronger = sp.symbols("s2", positive=True)
    again = law.added.subs(free).subs(law.s, stronger).subs(law.V, law.s / law.M)
    assert sp.simplify(again - (stronger - law.s) / law.M) == 0


def test_a_hole_in_a_plate_keeps_what_kirsch_says():
    even, lopsided, area, thick, nu = derive_zone_in_plate()
    law = derive_hole()
    assert sp.simplify(even / (area * thick) - law.even.subs(law.nu, nu)) == 0
    assert sp.simplify(lopsided / (area * thick) - law.lopsided.subs(law.nu, nu)) == 0
    # pulled along alone, m = (1 - nu) e/2 and d = (1 + nu) e/2: three along, minus one across
    m, d = (1 - nu) / 2, (1 + nu) / 2
    assert sp.simplify((even * m + lopsided * d) / (area * thick)) == 3
    assert sp.simplify((even * m - lopsided * d) / (area * thick)) == -1


def test_the_room_keeps_as_the_law_says():
    # one pair of spots over higher and higher shims: what is kept is linear in the movement, as m enters the law
    spots = [
        HeatSpot(station=0.167, side=side, radius=0.012, dwell=4.0, peak=500.0)
        for side in ("exhaust", "inlet")
    ]
    head = box()
    kept = [
        relax_spots(head, section_of(head), clamped(head, t), spots, nominal()) for t in (0.0, 1e-4, 2e-4)
    ]
    falls = np.array([k.kept_part[0, 0] for k in kept])
    bends = np.array([clamped(head, t).bend[0] for t in (0.0, 1e-4, 2e-4)])
    slopes = np.diff(falls) / np.diff(bends)
    assert slopes[1] == pytest.approx(slopes[0], rel=0.15)  # `GAIN` bends it a little
