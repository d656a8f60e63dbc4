"""Free convection at an upright face, which the still air of `straighten.heat.cooling` is held against."""

from straighten.clamp.section import GRAVITY
from straighten.heat.cooling import KELVIN
from straighten.heat.field import ROOM


def film_upright(height: float, surface: float, room: float = ROOM.value) -> float:
    """Return the convection coefficient of an upright face in still air [W/(m2 K)].

    Args:
        height: of the face [m].
        surface: its temperature [degC].
        room: [degC].

    Source: Churchill & Chu 1975, laminar form, Incropera & DeWitt (from memory); air as an ideal gas, Sutherland's
        viscosity and conductivity.
    Valid: Rayleigh number under 1e9.
    """
    film = (surface + room) / 2 + KELVIN
    viscosity = 1.458e-6 * film**1.5 / (film + 110.4)
    conductivity = 2.6482e-3 * film**0.5 / (1 + 245.4 * 10 ** (-12 / film) / film)
    prandtl = viscosity * 1007 / conductivity
    kinematic = viscosity * 287.05 * film / 101325
    rayleigh = GRAVITY.value / film * (surface - room) * height**3 * prandtl / kinematic**2
    nusselt = 0.68 + 0.670 * rayleigh**0.25 / (1 + (0.492 / prandtl) ** (9 / 16)) ** (4 / 9)
    return float(nusselt * conductivity / height)
