"""The fully restrained bar that is heated and cooled: residual stress against temperature.

Y. Ueda, H. Murakawa, N. Ma, Welding Deformation and Residual Stress Prevention, Butterworth-Heinemann 2012, chapter on
inherent strain, three-bar model (title seen); figures derived: no residual below T1 = s_y/(alpha E) = 107.1 K, then
alpha E dT - s_y up to 2 T1, then s_y. s_y 165 MPa, E 70 GPa, alpha 22e-6 1/K.
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from straighten.heat.disc import Metal, flow

SOURCE = "Ueda, Murakawa, Ma, Welding Deformation and Residual Stress Prevention, 2012, restrained bar"
MARK = "derived"

E, NU, ALPHA, STRENGTH = 70e9, 0.33, 22e-6, 165e6
ONE = np.ones(1)


def restrained(rise):
    """Uniaxial bar between walls: the strain across is whatever leaves no stress across."""
    metal = Metal(E / (1 - NU) * ONE, E / (1 + NU) * ONE, STRENGTH * ONE, 1.0)
    plastic_sum = plastic_difference = 0.0
    along = 0.0
    for warm in (*np.linspace(0, rise, 60)[1:], *np.linspace(rise, 0, 60)[1:]):
        thermal = ALPHA * warm

        def step(across, thermal=thermal, ps=plastic_sum, pd=plastic_difference):
            return flow((across - 2 * thermal - ps) * ONE, (-across - pd) * ONE, metal)

        across = brentq(lambda e: float((step(e).a - step(e).b)[0]), -0.05, 0.05, xtol=1e-14)
        end = step(across)
        plastic_sum += float((end.x * end.a / 2)[0])
        plastic_difference += float((end.x * end.b * 1.5)[0])
        along = float((end.a + end.b)[0]) / 2
    return along


@pytest.mark.parametrize(("rise", "mpa"), [(80.0, 0.0), (150.0, 66.0), (214.3, 165.0), (300.0, 165.0)])
def test_residual_stress_of_the_restrained_bar(rise, mpa, published):
    found = restrained(rise) / 1e6
    published(
        "residual stress of a restrained bar", found, mpa, unit="MPa", abs=0.1, case=f"heated by {rise} K"
    )
