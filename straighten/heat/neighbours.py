r"""How hot or shrunk spots strain one another: centres of dilatation in a strip with stiffened edges.

A spot that grows by the volume V in an endless plate moves the metal around it outward by

.. math:: u = \frac{(1+\nu) V}{2\pi h}\,\frac{1}{r}

The roof is no endless plate but a strip between two side walls: no force across its edges, and along them a wall
that stretches with it. The correction for the edges is an Airy function in Fourier space along the strip.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.gauss import gauss

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Burst = Callable[[Floats, Floats], tuple[Floats, Floats, Floats]]

_WAVES: Final = 128
_NEAREST: Final = 0.15  # spots are taken to lie at least this share of the half width from an edge
UNFELT: Final = 0.08  # heat of neighbours and mirrors, over the spot's own, that is left out
FAINT: Final = 1e-4  # heat of one of them that is left out: moves a spot's shrinkage by less than 1e-5
_SHORTEST: Final = 40.0  # highest wave number times the distance from spot over edge to spot


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """The roof as a strip: `half_width` to the side walls [m], `thickness` [m], `wall_area` that stretches with an edge [m2], `poisson`."""

    half_width: float
    thickness: float
    wall_area: float
    poisson: float


@lru_cache(maxsize=512)
def mutual_strain(strip: Strip, places: tuple[tuple[float, float], ...]) -> Floats:
    """Return the strain at each place per volume of even growth (V_x + V_y)/2 at each other.

    Args:
        strip: the roof.
        places: station and distance from the middle line of each spot [m].

    Returns:
        Array `(at, of, 2)` of xx and yy strain per volume [1/m3]; the diagonal is the edges' answer to a spot alone.

    Source: Timoshenko & Goodier, Theory of Elasticity, Airy function in a strip (from memory); derived.
    Valid: spots apart by more than their hot diameter; ends of the head farther away than the strip's width.
    """
    x, y = _inside(strip, places)
    dx, dy = x[:, None] - x, y[:, None] - y
    far = np.where((dx == 0) & (dy == 0), np.inf, (dx**2 + dy**2) ** 2)
    xx = (1 + strip.poisson) * (dy**2 - dx**2) / far
    scale = 1 / (2 * np.pi * strip.thickness)
    return scale * (np.stack([xx, -xx], axis=-1) + _edges(strip, x, y, _even_burst))


@lru_cache(maxsize=512)
def lopsided_strain(
    strip: Strip, places: tuple[tuple[float, float], ...], radius: tuple[float, ...]
) -> Floats:
    """Return the strain at each place per lopsided inherent volume (V_x - V_y)/2 at each other, `(at, of, 2)` [1/m3].

    Args:
        strip: the roof.
        places: station and distance from the middle line of each spot [m].
        radius: of each disc [m].

    Source: circular inclusion in a plane, Eshelby 1957 and Kirsch 1898, edges as in `mutual_strain` (from memory);
        derived.
    Valid: discs apart.
    """
    x, y = _inside(strip, places)
    dx, dy = x[:, None] - x, y[:, None] - y
    r2 = dx**2 + dy**2
    r2 = np.where(r2 == 0, np.inf, r2)
    cos2, sin2 = (dx**2 - dy**2) / r2, 2 * dx * dy / r2
    near = 3 * np.array(radius) ** 2 / r2
    radial, hoop, shear = -(4 - near) * cos2, -near * cos2, -(2 - near) * sin2
    mean, half = (radial + hoop) / 2, (radial - hoop) / 2
    s_xx = (mean + half * cos2 - shear * sin2) / r2
    s_yy = (mean - half * cos2 + shear * sin2) / r2
    nu = strip.poisson
    direct = np.stack([s_xx - nu * s_yy, s_yy - nu * s_xx], axis=-1)
    return (direct + _edges(strip, x, y, _lopsided_burst)) / (4 * np.pi * strip.thickness)


def _inside(strip: Strip, places: tuple[tuple[float, float], ...]) -> tuple[Floats, Floats]:
    x, y = np.array(places).T
    limit = (1 - _NEAREST) * strip.half_width
    return x, np.clip(y, -limit, limit)


def _even_burst(k: Floats, away: Floats) -> tuple[Floats, Floats, Floats]:
    """Stresses xx, yy and (imaginary) xy of Airy's ln r at a line a distance away, along the line in wave numbers."""
    fade = np.pi * k * np.exp(-k * np.abs(away))
    return fade, -fade, fade * np.sign(away)


def _lopsided_burst(k: Floats, away: Floats) -> tuple[Floats, Floats, Floats]:
    """The same of Airy's cos 2 theta."""
    ka = k * np.abs(away)
    fade = 2 * np.pi * k * np.exp(-ka)
    return fade * (2 - ka), fade * ka, fade * np.sign(away) * (1 - ka)


def _edges(strip: Strip, x: Floats, y: Floats, burst: Burst) -> Floats:
    """Strains times E that the edges add, by Fourier integral along the strip."""
    c, nu = strip.half_width, strip.poisson
    shortest = 2 * c - 2 * np.abs(y).max()
    node, weight = gauss(_WAVES)
    k = (node + 1) / 2 * _SHORTEST / shortest
    weight = weight / 2 * _SHORTEST / shortest
    answer = np.linalg.solve(*_edge_equations(strip, k, y, burst))  # (k, 4, of)
    value, _, second = _airy(k, y, c)
    s_xx = np.einsum("kai,kis->kas", second, answer)
    s_yy = -np.einsum("k,kai,kis->kas", k**2, value, answer)
    waves = np.cos(k[:, None, None] * (x[:, None] - x)) * weight[:, None, None] / np.pi
    s_xx, s_yy = (waves * s_xx).sum(axis=0), (waves * s_yy).sum(axis=0)
    return np.stack([s_xx - nu * s_yy, s_yy - nu * s_xx], axis=-1)


def _airy(k: Floats, y: Floats, c: float) -> tuple[Floats, Floats, Floats]:
    """Airy's four solutions at y and their first two derivatives, scaled by exp(-k c): shape (k, y, 4)."""
    ky = k[:, None] * y
    fade = np.exp(-k * c)[:, None]
    ch, sh = np.cosh(ky) * fade, np.sinh(ky) * fade
    k1, k2 = k[:, None, None], (k**2)[:, None, None]
    value = np.stack([ch, ky * sh, sh, ky * ch], axis=-1)
    first = k1 * np.stack([sh, sh + ky * ch, ch, ch + ky * sh], axis=-1)
    second = k2 * np.stack([ch, 2 * ch + ky * sh, sh, 2 * sh + ky * ch], axis=-1)
    return value, first, second


def _edge_equations(strip: Strip, k: Floats, y: Floats, burst: Burst) -> tuple[Floats, Floats]:
    """No force across each edge; shear along it stretches the wall."""
    c, nu, h = strip.half_width, strip.poisson, strip.thickness
    edge = np.array([c, -c])
    value, first, second = _airy(k, edge, c)
    side = np.sign(edge)[None, :, None]
    k1, k2 = k[:, None, None], (k**2)[:, None, None]
    pulled = strip.wall_area * k1 * (second + nu * k2 * value)
    rows = np.concatenate([-k2 * value, -k1 * first * h * side - pulled], axis=1)
    xx, yy, xy = burst(k1, edge[None, :, None] - y)  # wave, edge, source
    along = xy * h * side - strip.wall_area * k1 * (xx - nu * yy)
    right = np.concatenate([-yy, -along], axis=1)
    size = np.abs(rows).max(axis=2, keepdims=True)
    return rows / size, right / size


@dataclass(frozen=True, slots=True, kw_only=True)
class Webs:
    """Cross walls under the roof: `stations` [m] and `ratio` of web to roof thickness, alike in order."""

    stations: tuple[float, ...]
    ratio: tuple[float, ...]


def heat_from_others(
    webs: Webs, places: tuple[tuple[float, float], ...], burning: tuple[int, ...], spread: float
) -> tuple[tuple[float, float], ...]:
    """Return the sources that warm a spot besides itself: distances [m] and shares of one spot's heat.

    At a web of thickness ratio k the roof's heat parts: 2/(2 + k) goes on, k/(2 + k) goes down the web, which acts as
    a mirror image of that much cold. Sources of the same bay have images at its two webs.

    Args:
        webs: cross walls.
        places: station and distance from the middle line of each spot [m].
        burning: numbers of all spots that burn together; the sources are those that warm the first.
        spread: area over which the heat has spread when neighbours begin to matter [m2].

    Source: heat at a junction of three half-endless plates, after Carslaw & Jaeger (from memory); derived.
    Valid: webs deep against the spread of the heat.
    """
    spot = burning[0]
    x, y = places[spot]
    left = max(
        (k for k, w in enumerate(webs.stations) if w <= x), key=webs.stations.__getitem__, default=None
    )
    right = min(
        (k for k, w in enumerate(webs.stations) if w > x), key=webs.stations.__getitem__, default=None
    )
    found = []
    for other in burning:
        ox, oy = places[other]
        between = [k for k, w in enumerate(webs.stations) if min(x, ox) < w <= max(x, ox)]
        if other != spot:
            passed = np.prod([2 / (2 + webs.ratio[k]) for k in between])
            found.append((float(np.hypot(ox - x, oy - y)), float(passed)))
        if between:
            continue
        found += [
            (float(np.hypot(2 * webs.stations[k] - ox - x, oy - y)), -webs.ratio[k] / (2 + webs.ratio[k]))
            for k in (left, right)
            if k is not None
        ]
    felt = [abs(s) * np.exp(-(d**2) / spread) for d, s in found]
    if sum(felt) < UNFELT:
        return ()
    return tuple(
        sorted(
            (round(d, 3), round(s, 2))
            for (d, s), part in zip(found, felt, strict=True)
            if d > 1e-4 and part > FAINT
        )
    )
