"""Where the deck face has metal, and what every cylinder loses of it."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.sanding.face import COLUMNS, ROWS, area_weights

if TYPE_CHECKING:
    from straighten.head.records import Head
    from straighten.quantiles import Floats
    from straighten.sanding.face import Face

RINGS, SPOKES = 6, 24


def bore_points(centre: tuple[float, float], diameter: float) -> tuple[Floats, Floats, Floats]:
    """Return points and weights that integrate over a bore: Gauss rings in r squared, even spokes.

    Args:
        centre: station and y [m].
        diameter: [m].

    Returns:
        x, y and weights with the sum one, `(144,)` each.

    Source: Gauss-Legendre product rule for the disc (derived); exact for polynomials up to the eleventh degree.
    Valid: Smooth cuts; a cut with an edge in the bore within a percent.
    """
    nodes, weights = np.polynomial.legendre.leggauss(RINGS)
    radius = diameter / 2 * np.sqrt((nodes + 1) / 2)
    angle = 2 * math.pi * (np.arange(SPOKES) + 0.5) / SPOKES
    x = centre[0] + np.outer(radius, np.cos(angle)).ravel()
    y = centre[1] + np.outer(radius, np.sin(angle)).ravel()
    return x, y, np.repeat(weights / 2 / SPOKES, SPOKES)


def centres_of(head: Head) -> tuple[tuple[float, ...], str]:
    """Return the stations of the cylinders [m] and where they come from: between the cam towers where these fit, else evenly spread."""
    count = head.engine.cylinders
    towers = sorted(head.towers)
    if len(towers) == count + 1:
        return (
            tuple((a + b) / 2 for a, b in pairwise(towers)),
            "cylinders midway between the cam towers (assumed)",
        )
    pitch = head.casting.length / count
    return tuple((n + 0.5) * pitch for n in range(count)), "cylinders spread evenly over the length (assumed)"


def cuts_per_cylinder(head: Head, face: Face, depth: Floats) -> Floats:
    """Return the mean cut over the bore of every cylinder [m], `(n, cylinders)`.

    Args:
        head: bore, cylinders, outline.
        face: in draws.
        depth: off the highest place, `(n,)` [m].

    Source: Gauss rule over each bore on the map of the cut, linear between its places (derived).
    Valid: Bores on the middle line of the head; chambers of the bore's outline.
    """
    cut = face.removal(depth).reshape(-1, COLUMNS, ROWS)
    bore = head.engine.bore or 0.8 * head.casting.length / max(head.engine.cylinders, 1)
    found = []
    for centre in centres_of(head)[0]:
        x, y, weights = bore_points((centre, 0.0), bore)
        found.append(_read(cut, x / head.casting.length, 2 * y / head.casting.width) @ weights)
    return np.stack(found, axis=1)


def _read(cut: Floats, xi: Floats, eta: Floats) -> Floats:
    """Return maps `(n, COLUMNS, ROWS)` at places, linear in between, `(n, m)`."""
    u = np.clip(xi, 0, 1) * (COLUMNS - 1)
    v = (np.clip(eta, -1, 1) + 1) / 2 * (ROWS - 1)
    i, j = np.minimum(u.astype(int), COLUMNS - 2), np.minimum(v.astype(int), ROWS - 2)
    a, b = u - i, v - j
    value: Floats = (
        (1 - a) * (1 - b) * cut[:, i, j]
        + a * (1 - b) * cut[:, i + 1, j]
        + (1 - a) * b * cut[:, i, j + 1]
        + a * b * cut[:, i + 1, j + 1]
    )
    return value


_FINE: Final = 6  # points each way in the cell of a place


def land_of(head: Head) -> Floats:
    """Return how much metal every place of the face stands for, `(m,)`, sum one.

    Args:
        head: outline, bore, cylinders, chamber opening.

    Source: Chambers as circles of the opening's area on the middle line (derived).
    Valid: Bolt holes and water ways count as spread evenly.
    """
    bore = head.engine.bore
    if bore is None:
        return area_weights()
    radius = bore / 2 * head.engine.opening**0.5
    share = (np.arange(_FINE) + 0.5) / _FINE - 0.5
    x = np.add.outer(np.linspace(0, 1, COLUMNS), share / (COLUMNS - 1)).clip(0, 1) * head.casting.length
    y = np.add.outer(np.linspace(-1, 1, ROWS), 2 * share / (ROWS - 1)).clip(-1, 1) * head.casting.width / 2
    gap = x[:, None, :, None, None] - np.array(centres_of(head)[0])
    far = np.hypot(gap, y[None, :, None, :, None]).min(axis=-1)
    metal = (far > radius).mean(axis=(2, 3)).ravel() * area_weights()
    land: Floats = metal / metal.sum()
    return land
