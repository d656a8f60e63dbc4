"""The clamp against PyNiteFEA, a general frame library: two beams, outriggers, compression-only springs.

Both models are Bernoulli beams here, as the library knows no shear; shear stands in the handbook tests. Fifty cases run
in `python -m tests.benchmarks.clamp`, a few of each kind here.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.clamp import compare
from tests.clamp.benches import random_bench


@pytest.mark.parametrize("seed", [1, 3, 6, 17, 25, 26])
def test_deflection_and_contact_forces_agree(seed):
    deflection, force, _, _ = compare(seed)
    assert deflection < 1e-6
    assert force < 2e-6


def test_the_cases_hold_rigid_and_bending_bases_and_reverse_pulls():
    kinds = [
        (h.base.kind, s.reverse) for h, _, s in (random_bench(np.random.default_rng(k)) for k in range(50))
    ]
    assert {kind for kind, _ in kinds} == {"rigid", "plate", "block"}
    assert {reverse for _, reverse in kinds} == {True, False}
