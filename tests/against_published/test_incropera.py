"""Cooling of a solid body in still air, lumped, and free convection.

F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, lumped capacitance, Churchill and Chu's upright
plate, Stefan-Boltzmann (from memory); figures derived by solving the equations numerically for m 12 kg, c 963 J/kgK,
A 0.45 m2, room 20 degC. The cube is a textbook problem (seen), its answer derived.
"""

import pytest

from straighten.heat.cooling import Body, cooling_time
from tests.heat.upright import film_upright

SOURCE = "Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, lumped cooling, Churchill and Chu"
MARK = "derived"

STORE = 12 * 963.0


@pytest.mark.parametrize(("end", "seconds"), [(100, 2711.9), (60, 4491.9), (50, 5230.7)])
def test_newtons_cooling(end, seconds, published):
    body = Body(capacity=STORE, surface=0.45, emissivity=0.0, convection=10.0)
    found = cooling_time(body, 250.0, end)
    published("Newton cooling from 250 C", found, seconds, unit="s", abs=0.1, case=f"to {end} C")


@pytest.mark.parametrize(
    ("emissivity", "seconds"),
    [(0.2, (788.3, 1918.1, 3725.1, 6452.0, 7613.1)), (0.9, (341.8, 871.7, 1793.0, 3293.0, 3956.7))],
)
def test_convection_and_radiation(emissivity, seconds, published):
    body = Body(capacity=STORE, surface=0.45, emissivity=emissivity, convection=5.0)
    for end, expected in zip((200, 150, 100, 60, 50), seconds, strict=True):
        case = f"emissivity {emissivity}, to {end} C"
        found = cooling_time(body, 250.0, end)
        published("convection and radiation from 250 C", found, expected, unit="s", rel=1e-3, case=case)


def test_aluminium_cube_of_40_mm(published):
    body = Body(capacity=0.04**3 * 2707 * 896, surface=6 * 0.04**2, emissivity=0.0, convection=120.0)
    found = cooling_time(body, 450.0, 250.0, 100.0)
    published("cube of 40 mm, 450 to 250 C in air of 100 C", found, 114.2, unit="s", rel=5e-3)


@pytest.mark.parametrize(("surface", "film"), [(250, 8.2), (150, 7.4), (60, 5.8)])
def test_upright_plate_of_120_mm(surface, film, published):
    found = film_upright(0.12, surface)
    published("free convection, upright 120 mm", found, film, unit="W/m2K", rel=0.05, case=f"{surface} C")
