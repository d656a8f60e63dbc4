r"""What a thinner head does to the engine: volume and ratio, cam timing, belt, valves; where its cylinders are and what each loses.

Chain or belt on its tight run from crank to cam, no slip: with the difference of radii D and the distance C the length
from a tooth of the one to a tooth of the other is

.. math:: f(C) = \sqrt{C^2 - D^2} + D \arcsin(D / C)

plus arcs that stay. Lowering the cam by t shortens it by f(C) - f(C'), and the cam must turn back by that over its
radius: t cos(phi) / r for small t, sin(phi) = D / C.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from straighten.errors import BadInput
from straighten.head.records import Engine, Head
from straighten.quantiles import Floats
from straighten.sanding.face import COLUMNS, ROWS, Face, area_weights

RINGS, SPOKES = 6, 24  # points of an integral over a bore
_FINE: Final = 6  # points each way in the cell of a place of the face


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """One cylinder of an engine: swept and clearance volume at top dead centre [m3]."""

    swept: float
    clearance: float

    @property
    def ratio(self) -> float:
        """Compression ratio."""
        return (self.swept + self.clearance) / self.clearance


def cylinder_of(engine: Engine) -> Cylinder | None:
    """Return the cylinder as the head file gives it, or None where bore, stroke and ratio are not all known.

    A chamber volume alone counts as the whole clearance volume: gasket and piston crown are left out.

    Source: Definition of the compression ratio (derived).
    """
    if engine.bore is None or engine.stroke is None:
        return None
    swept = math.pi / 4 * engine.bore**2 * engine.stroke
    if engine.ratio is not None:
        return Cylinder(swept=swept, clearance=swept / (engine.ratio - 1))
    return None if engine.chamber is None else Cylinder(swept=swept, clearance=engine.chamber)


def volume_lost(removal: ArrayLike, bore: float, opening: float = 1.0) -> Floats:
    """Return the chamber volume [m3] that goes with the metal over a bore [m].

    The removal is the mean over the chamber's outline [m], `opening` that outline over the area of the bore.
    """
    return np.asarray(removal, dtype=np.float64) * math.pi / 4 * bore**2 * opening


def ratio_after(cylinder: Cylinder, lost: ArrayLike) -> Floats:
    """Return the compression ratio once a volume [m3] is gone from the clearance.

    Source: Definition of the compression ratio (derived).
    Valid: While some clearance is left.
    """
    clearance = cylinder.clearance - np.asarray(lost, dtype=np.float64)
    if np.any(clearance <= 0):
        raise BadInput("the cut is larger than the chamber", where="removal")
    return np.asarray(1 + cylinder.swept / clearance, dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """The tight run of a belt or chain: radii of cam and crank wheel, distance of their centres along the bore [m]."""

    cam: float
    crank: float
    distance: float


def run_of(engine: Engine) -> Run | None:
    """Return the tight run that a head file describes, or None; without crank wheel and distance the run counts as parallel to the bore."""
    if engine.drive == "gears" or engine.cam_pitch_radius is None:
        return None
    cam, crank, distance = engine.cam_pitch_radius, engine.crank_pitch_radius, engine.centre_distance
    if crank is None or distance is None:
        crank, distance = cam, 10 * cam
    return Run(cam=cam, crank=crank, distance=distance)


def cam_retard(run: Run, removal: ArrayLike) -> Floats:
    """Return how far the cam falls back [rad of the cam] by a removal [m]; the crank sees twice that.

    Raises:
        BadInput: the wheels would touch.

    Source: Exact length of the open belt (derived).
    Valid: Tight run straight from crank to cam, no idler in it; the tensioner takes up the slack run.
    """
    after = run.distance - np.asarray(removal, dtype=np.float64)
    if np.any(after <= abs(run.cam - run.crank)) or run.distance <= abs(run.cam - run.crank):
        raise BadInput("the wheels would overlap", where="engine.centre_distance")
    return _shorter(run, after) / run.cam


def _shorter(run: Run, distance: Floats) -> Floats:
    """Return by how much the tight run, tooth to tooth, gets shorter at another distance of the centres [m]."""
    return _tooth_to_tooth(run, np.asarray(run.distance)) - _tooth_to_tooth(run, distance)


def _tooth_to_tooth(run: Run, distance: Floats) -> Floats:
    apart = run.cam - run.crank
    return np.asarray(np.sqrt(distance**2 - apart**2) + apart * np.arcsin(apart / distance), dtype=np.float64)


def belt_slack(run: Run, removal: ArrayLike) -> Floats:
    """Return how much longer the belt is than the way round it [m], for the tensioner to take up.

    Source: Exact length of the open belt round two wheels (derived).
    Valid: Two wheels; idlers and further wheels that do not move with the head change nothing.
    """
    return 2 * _shorter(run, run.distance - np.asarray(removal, dtype=np.float64))


def valve_loss(removal: ArrayLike, angle: float) -> Floats:
    """Return the clearance [m] that a valve at an angle [rad] loses along its own axis by a removal [m].

    Source: Plane geometry (derived): the valve nears the piston by t along the bore, t cos(angle) along its stem.
    Valid: Clearance measured along the stem; the cam's retard is not in it.
    """
    return np.asarray(np.asarray(removal, dtype=np.float64) * math.cos(angle), dtype=np.float64)


def bore_points(centre: tuple[float, float], diameter: float) -> tuple[Floats, Floats, Floats]:
    """Return x, y [m] and weights of sum one, `(144,)` each, that integrate over a bore: Gauss rings in r squared, even spokes.

    Its centre lies at a station and y [m], its diameter is in [m].

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
    """Return the mean cut over the bore of every cylinder [m], `(n, cylinders)`, for depths `(n,)` [m].

    Source: Gauss rule over each bore on the map of the cut, linear between its places (derived).
    Valid: Bores on the middle line of the head; chambers of the bore's outline.
    """
    cut = face.removal(depth).reshape(-1, COLUMNS, ROWS)
    bore = head.engine.bore or 0.8 * head.casting.length / max(head.engine.cylinders, 1)
    found = []
    for centre in centres_of(head)[0]:
        x, y, weights = bore_points((centre, 0.0), bore)
        found.append(_cut_at(cut, x / head.casting.length, 2 * y / head.casting.width) @ weights)
    return np.stack(found, axis=1)


def _cut_at(cut: Floats, xi: Floats, eta: Floats) -> Floats:
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


def land_of(head: Head) -> Floats:
    """Return how much metal every place of the face stands for, `(m,)`, sum one.

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
