"""A section held in the clamp while it yields: what a soak's tests of bending do not show."""

import numpy as np
import pytest

from straighten.heat.held import Fibres, Held, yield_hot


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
