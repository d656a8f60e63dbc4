r"""What every zone of the roof shrinks by: its own heat, what it keeps of the clamp, less what is there already.

Metal that passes its collapse carries nothing; what strain it has when it freezes stays. With M the elastic answer of
the head to shrinking zones (`roof`), the zones H that are hot together end at

.. math:: M_{HH} V_H = s_H - M_{HO} V_O + c_H\, m

s is what their own heat drives (`layout`, `stroke`), V_O what other zones hold from earlier, in this heat or in
another; c the clamp's stress over E at the zones per metre of movement held, and m the movement, which follows the
free shape: up while the roof is warm, down by what the zones take. All is linear in V, M has no negative eigenvalue and
c m falls as V grows: there is one answer, and nothing is iterated. What is kept lies between nothing and the whole
movement held; a place heated again gives back of what it kept no more than the new heat adds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.lines import Bowing, triangle
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.clamp.clamped import Clamped
    from straighten.clamp.section import Section
    from straighten.head.records import Head
    from straighten.heat.layout import Event, Fired
    from straighten.heat.treatment import Response

    Floats = NDArray[np.float64]
    Grip = tuple[Floats, Floats, Floats | float]

GAIN: Final = Cited(
    (0.8, 0.5),
    "",
    "kept strain over proportional = 1 + 0.8 s + 0.5 s^2, s = clamp strain over yield strain, compression positive; set "
    "on our own two-dimensional solution of the disc, six alloys and flames, within 8 %",
    "derived",
)
LAG: Final = Cited(
    0.5,
    "widths",
    "a roof's middle feels a corner of the moment spread over half a width either way (shear lag)",
    "assumed",
)
KEPT: Final = Cited(
    0.86,
    "",
    "kept strain over the model's, for what goes back when the clamp comes off; set on four spots in a clamped box in 3D "
    "finite elements: without it kept strains are 16 % high",
    "fitted",
)
HARDER: Final = Cited(
    0.18,
    "",
    "metal that has flowed once drives its next shrinkage by so much more, since it has hardened; set on four spots heated "
    "again by the same flame in 3D finite elements, 5 to 11 % more by the size of the flame: 8 and 4 % with it, 0 without",
    "fitted",
)
SNUG: Final = 20e-6  # m: where the clamp bends the head by less, the pattern of its strain comes from statics, and no share of it is told


@dataclass(frozen=True, slots=True)
class ClampFelt:
    """The clamp as the zones feel it.

    `pattern` strain along at each zone per metre of movement held, compression positive (n, zones) [1/m]; `imposed`
    movement held while cold (n,) [m]; `most` that can stay of it (n,) [m], not negative; `rise` of the middle per kink
    at each zone [m]; `held` whether it holds at all.
    """

    pattern: Floats
    imposed: Floats
    most: Floats
    rise: Floats
    held: bool

    @classmethod
    def of(
        cls, casting: tuple[Head, Section], clamped: Clamped | None, fired: Fired, grip: Grip
    ) -> ClampFelt:
        """Take from the clamped state what the zones feel; a free head feels nothing.

        `grip` tells how far the clamp moves the middle, the most that can stay of it, and the share that cold metal has not
        yielded to.
        """
        (head, section), (moved, most, elastic) = casting, grip
        span = head.rear_shim - head.front_shim
        inside = np.clip(fired.stations - head.front_shim, 0.0, span)
        rise = triangle(np.array([head.casting.length / 2 - head.front_shim]), inside, span)[:, 0]
        if clamped is None:
            return cls(np.zeros((moved.size, inside.size)), moved, most, rise, held=False)
        strain = _roof_curvature(head, clamped, fired.stations) * fired.height
        snug = np.abs(clamped.bend) < SNUG
        pattern = strain / np.where(snug, 1.0, moved)[:, None]
        if snug.any():
            pattern[snug] = _three_point(head, section, inside) * fired.height
        return cls(pattern, moved * elastic, most, rise, held=True)


def movement_of(head: Head, section: Section, clamped: Clamped, response: Response) -> Floats:
    """Return how far the clamp moves the middle, `(n,)` [m]: the head's own bend, and what local give, bolts and base store."""
    springs = _springs(head, section, clamped, response)
    return np.asarray(clamped.bend + np.where(clamped.bend < 0, -springs, springs))


def movement_held(head: Head, clamped: Clamped, moved: Floats, growth: float = 0.0) -> Floats:
    """Return the most that the head can keep of a clamp, as a bow of its whole deck, `(n,)` [m], signed as the bend.

    Bolts and base follow while the metal gives way, until they hold nothing any more, or until the middle lies on the
    unloaded base: after its own bow and the shims, and the gap that was left. In a reverse set-up: after its bend and
    what the base gives.

    `growth` how much more than its bolts the head grows in height [m].
    """
    bow = np.abs(clamped.bend) - clamped.over_bend
    shims = np.maximum(clamped.base_bend - clamped.middle_height, 0.0)
    usual = bow + shims + np.maximum(clamped.gap.mean(axis=1), 0.0)
    room = np.where(clamped.bend >= 0, usual, np.abs(clamped.bend) + np.abs(clamped.base_bend))
    whole = over_length(head) * np.maximum(np.minimum(np.abs(moved) + growth, room), np.abs(clamped.bend))
    return np.asarray(np.where(clamped.bend < 0, -whole, whole))


@lru_cache(maxsize=64)
def over_length(head: Head) -> float:
    """Return the bow of the whole deck over the movement of its middle against the shims, of a head kinked in the middle."""
    middle, span = head.casting.length / 2, head.rear_shim - head.front_shim
    arm = triangle(np.array([middle - head.front_shim]), np.array([middle - head.front_shim]), span)
    return float(Bowing.at(np.array([middle]), head).kink[0, 0] / arm[0, 0])


def share_of(kept: Floats, movement: Floats) -> Floats:
    """Return what is kept over the movement held, nan where the clamp holds less than `SNUG`: nothing to keep a share of."""
    none = np.full(kept.shape, np.nan)
    return np.asarray(np.divide(kept, movement, out=none, where=np.abs(movement) >= SNUG))


def _three_point(head: Head, section: Section, inside: Floats) -> Floats:
    """Curvature at places between the shims per metre that the middle is held down by, the pull in the middle [1/m2]."""
    span = head.rear_shim - head.front_shim
    moved = span**3 / (48 * section.EI) + span / (4 * section.kGA)
    moved += section.give_pull / max(len(head.bolts), 1) + section.give_shim / 4
    return np.asarray(np.minimum(inside, span - inside) / 2 / section.EI / moved)


def _springs(head: Head, section: Section, clamped: Clamped, response: Response) -> Floats:
    """Movement stored in local give, bent base and stretched bolts [m], `(n,)`; a rigid base stands for a rigid jig."""
    give = section.give_pull * clamped.bolt_tension.max(axis=1)
    give = (give + section.give_shim * clamped.shim_force.max(axis=1)) / response.stiffness
    if head.base.kind == "rigid":
        return np.asarray(give)
    stretch = (clamped.bolt_tension / bolt_springs(head)).max(axis=1)
    return np.asarray(give + np.abs(clamped.base_bend) + stretch)


@lru_cache(maxsize=64)
def bolt_springs(head: Head) -> Floats:
    """Return the spring stiffness of every bolt of the head, `(b,)` [N/m]."""
    from straighten.clamp.springs import spring_of

    return np.array([spring_of(head, b) for b in range(len(head.bolts))])


def _roof_curvature(head: Head, clamped: Clamped, stations: Floats) -> Floats:
    """Curvature as the roof's middle feels it, (n, zones): corners of the moment are rounded by shear lag."""
    plates = head.casting.plates
    if plates is not None and plates.solid:
        return clamped.curvature_at(stations)
    half = LAG.value * head.casting.width
    off = np.linspace(-1, 1, 9)
    weight = (1 - np.abs(off)) / (1 - np.abs(off)).sum()
    around = np.clip(stations[:, None] + half * off, 0.0, head.casting.length)
    curvature = clamped.curvature_at(around.ravel()).reshape(-1, stations.size, off.size)
    return np.asarray(curvature @ weight)


@dataclass(frozen=True, slots=True)
class Shrunk:
    """What the zones of a heat shrink by, along and across (n, zones, 2) [m3].

    `own` by their heat; `kept` of the clamp; `back` what places heated before give back of what they kept.
    """

    own: Floats
    kept: Floats
    back: Floats


def shrunk_volumes(fired: Fired, per_volume: Floats, clamp: ClampFelt, response: Response) -> Shrunk:
    """Return what every zone of a heat shrinks by.

    `per_volume` kink per inherent volume, (n, zones) [rad/m3].

    Source: the law above (derived); `GAIN`, `KEPT`, `HARDER`.
    Valid: bolts not touched while hot.
    """
    n, count = per_volume.shape
    own, kept, back = np.zeros(2 * count), np.zeros((n, 2 * count)), np.zeros((n, 2 * count))
    lift = np.repeat(per_volume * clamp.rise, 2, axis=1) * fired.felt
    bow = fired.bowing.deck_bow(per_volume, fired.felt)
    for event in fired.events:
        at = event.at
        left = event.stiff_past @ fired.past_own + event.stiff[:, event.others] @ own[event.others]
        flows = np.maximum(event.drive, 0.0)
        drive = flows * (1 + HARDER.value * _harder(left, flows))
        own[at] = event.own(drive - left)
        if clamp.held:
            found = _kept(fired, event, (clamp, lift, per_volume), (own, kept + back), response)
            so_far = response.kept * (bow * kept).sum(axis=1)
            drop = response.shrinkage * (bow[:, at] @ own[at])
            kept[:, at], back[:, at] = _bounded(
                found, response.kept[:, None] * bow[:, at], clamp, (so_far, drop)
            )
    shape = (n, count, 2)
    mine = np.broadcast_to(own.reshape(1, count, 2), shape) * response.shrinkage[:, None, None]
    factor = response.kept[:, None, None]
    return Shrunk(mine, kept.reshape(shape) * factor, back.reshape(shape) * factor)


def _harder(left: Floats, drive: Floats) -> Floats:
    """How far the zones have been through it before, nought to one: stress that is there already over what the heat drives."""
    there, aim = left.reshape(-1, 2).mean(axis=1), drive.reshape(-1, 2).mean(axis=1)
    share = np.clip(np.divide(there, aim, out=np.zeros_like(aim), where=aim > 0), 0.0, 1.0)
    return np.repeat(share, 2)


def _kept(
    fired: Fired,
    event: Event,
    held: tuple[ClampFelt, Floats, Floats],
    so_far: tuple[Floats, Floats],
    response: Response,
) -> Floats:
    """Return what the hot zones keep of the clamp per factor one, (n, 2 hot).

    Linear in the movement m that the bolts still hold, and m = m_0 + rise - lift (own + kept): solved for m.
    """
    clamp, lift, per_volume = held
    own, kept = so_far
    at, others = event.at, event.others
    factor, shrink = response.kept, response.shrinkage
    there = kept[:, others] @ event.stiff[:, others].T + event.stiff_past @ fired.past_kept
    felt = np.repeat(clamp.pattern[:, event.zones], 2, axis=1) * fired.felt[at]
    strain = clamp.pattern[:, event.zones] * clamp.imposed[:, None] / fired.yielding
    gain = np.repeat(KEPT.value * _gain(strain), 2, axis=1)
    push = felt * gain
    short = there - np.minimum(event.drive, 0.0)
    flowing = event.among_those((push * clamp.imposed[:, None] - short).mean(axis=0))
    per_metre, less = event.kept(push, flowing), event.kept(short, flowing)
    now = lift[:, at]
    fallen = shrink * (lift @ own) + factor * (lift[:, others] * kept[:, others]).sum(axis=1)
    rise = event.rise * per_volume.mean(axis=1)
    free = clamp.imposed + rise - fallen + factor * (now * less).sum(axis=1)
    movement = free / (1 + np.maximum(factor * (now * per_metre).sum(axis=1), 0.0))
    movement = np.where(clamp.imposed < 0, np.minimum(movement, 0.0), np.maximum(movement, 0.0))
    return np.asarray(per_metre * movement[:, None] - less)


def _bounded(
    found: Floats, bow: Floats, clamp: ClampFelt, so_far: tuple[Floats, Floats]
) -> tuple[Floats, Floats]:
    """Return what the zones keep, and what they give back, (n, 2 hot) each; one of the two is nought.

    `found` what the law says they keep; `bow` fall of the deck's bow per volume, (n, 2 hot); `clamp` tells
    the most that can stay; `so_far` fall of the deck's bow that this heat has kept before, and that these
    zones' own heat brings, (n,) [m].
    """
    down, (kept, drop) = np.where(clamp.imposed < 0, -1.0, 1.0), so_far
    fall = down * (bow * found).sum(axis=1)
    room = np.where(fall > 0, clamp.most - down * kept, np.where(down > 0, drop, 0.0))
    share = np.minimum(1.0, np.maximum(room, 0.0) / np.maximum(np.abs(fall), 1e-12))
    held = found * share[:, None]
    more = (fall > 0)[:, None]
    return np.where(more, held, 0.0), np.where(more, 0.0, held)


def _gain(strain: Floats) -> Floats:
    """Return how much more than in proportion a disc keeps: a clamp's strain helps the heat to yield the rim."""
    s = np.clip(strain, -0.5, 0.7)
    return np.asarray(1 + GAIN.value[0] * s + GAIN.value[1] * s**2)
