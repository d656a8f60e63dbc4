r"""What a thinner head does to the engine: volume and ratio, cam timing, belt, valves.

Chain or belt on its tight run from crank to cam, no slip: with the difference of radii D and the distance C the length
from a tooth of the one to a tooth of the other is

.. math:: f(C) = \sqrt{C^2 - D^2} + D \arcsin(D / C)

plus arcs that stay. Lowering the cam by t shortens it by f(C) - f(C'), and the cam must turn back by that over its
radius: t cos(phi) / r for small t, sin(phi) = D / C.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.errors import BadInput

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from straighten.head.records import Engine
    from straighten.quantiles import Floats


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
    """Return the chamber volume that goes with the metal [m3].

    Args:
        removal: mean over the chamber's outline [m].
        bore: [m].
        opening: outline of the chamber over the area of the bore [-].
    """
    return np.asarray(removal, dtype=np.float64) * math.pi / 4 * bore**2 * opening


def ratio_after(cylinder: Cylinder, lost: ArrayLike) -> Floats:
    """Return the compression ratio once a volume is gone from the clearance.

    Args:
        cylinder: before.
        lost: [m3].

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
    if engine.crank_pitch_radius is None or engine.centre_distance is None:
        return Run(
            cam=engine.cam_pitch_radius, crank=engine.cam_pitch_radius, distance=10 * engine.cam_pitch_radius
        )
    return Run(cam=engine.cam_pitch_radius, crank=engine.crank_pitch_radius, distance=engine.centre_distance)


def cam_retard(run: Run, removal: ArrayLike) -> Floats:
    """Return how far the cam falls back [rad of the cam]; the crank sees twice that.

    Args:
        run: geometry of the tight run.
        removal: by which cam and crank come nearer along the bore [m].

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
    """Return the clearance to the piston that a valve loses along its own axis [m].

    Args:
        removal: along the bore [m].
        angle: of the valve from the bore's axis [rad].

    Source: Plane geometry (derived): the valve nears the piston by t along the bore, t cos(angle) along its stem.
    Valid: Clearance measured along the stem; the cam's retard is not in it.
    """
    return np.asarray(np.asarray(removal, dtype=np.float64) * math.cos(angle), dtype=np.float64)
