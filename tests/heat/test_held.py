"""A section held in the clamp while it yields: what a soak's tests of bending do not show."""

import numpy as np
import pytest

from straighten.clamp import section_of
from straighten.head.records import Base
from straighten.heat import Soak
from straighten.heat.held import Fibres, Held, yield_hot
from straighten.heat.soak import hold
from tests.heat.heads import box, clamped


@pytest.mark.parametrize("times", [1.2, 2.0, 5.0])
def test_pure_shear_past_its_yield_hardens_by_von_mises(times):
    # tau sqrt 3 = limit + H slip, slip the slide over sqrt 3 (equal plastic work), tau = G (angle - slide): by hand
    shear, limit, hardening, young = 26e9, 100e6, 7e9, 70e9
    angle = times * limit / 3**0.5 / shear
    fibres = Fibres(height=np.array([0.05, -0.05]), area=np.ones(2), shear_area=np.ones(2))
    held = Held(
        curvature=np.zeros((1, 1)), angle=np.array([[angle]]), weight=np.ones(1), springs=np.zeros(1), give=np.zeros(1),
        tighten=np.zeros(1), fibres=fibres, young=young, shear=shear, soft=1.0,
    )  # fmt: skip
    slide = (3**0.5 * shear * angle - limit) / (3**0.5 * shear + hardening / 3**0.5)
    ended = yield_hot(held, limit, hardening)
    assert ended.slide[0, 0] == pytest.approx(slide, rel=1e-3)


def test_a_clamp_that_bends_twice_as_far_stores_four_times_the_work():
    # elastic work goes with the square of the load (Clapeyron, from memory); bolts and base pull, the head's growth pushes once
    head = box(base=Base(kind="plate", thickness=0.04, width=0.2, length=0.5, material="steel"))
    section, bent = section_of(head), clamped(head, 1e-4)
    bend = float(np.abs(bent.bend).mean())
    held = hold(head, section, bent, Soak(temperature=220.0, hold=3600.0), bend * np.array([1.0, 2.0, 0.5]))
    for stored in (held.springs, held.give):
        assert stored[0] > 0
        assert stored / stored[0] == pytest.approx([1.0, 4.0, 0.25])
    assert held.tighten / held.tighten[0] == pytest.approx([1.0, 2.0, 0.5])
    assert held.curvature[1] == pytest.approx(2 * held.curvature[0])
