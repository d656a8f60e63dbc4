r"""What every spot shrinks: by itself, by its neighbours' strain, and by what it keeps of the clamp's.

A strain (e_x, e_y) that reaches a hot spot from afar leaves the inherent volumes

.. math:: V_x = -(K_m m + K_d d),\quad V_y = -(K_m m - K_d d),\qquad m = \tfrac12(e_x + e_y),\ d = \tfrac12(e_x - e_y)

with the volumes K of `spot.Effect`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.lines import triangle
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.clamp.clamped import Clamped
    from straighten.clamp.section import Section
    from straighten.head.records import Head
    from straighten.heat.layout import SpotsOnHead
    from straighten.heat.response import Response

    Floats = NDArray[np.float64]

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
    0.88,
    "",
    "kept strain over the model's; set on four spots in a clamped 400 x 150 x 90 mm box, on two meshes of 3D finite "
    "elements that differ by 5 %; other flames, bends and places of that box lie between 0.85 and 1.3 of it",
    "fitted",
)
KEPT_SPREAD: Final = Cited(0.15, "log-sd", "the same box", "fitted")
KEPT_ROUNDS: Final = 4  # times the clamp's answer and the spots' mutual strain are put into one another


@dataclass(frozen=True, slots=True)
class ClampFelt:
    """The clamp as the spots feel it: strain at each spot (n, spots), movement it imposes [m] (n,), rise of the middle per kink [m]."""

    strain: Floats
    imposed: Floats
    rise: Floats

    @classmethod
    def of(
        cls, head: Head, section: Section, clamped: Clamped | None, field: SpotsOnHead, response: Response
    ) -> ClampFelt:
        """Take from the clamped state what the spots feel; a free head feels nothing."""
        rise = triangle(
            np.array([head.casting.length / 2 - head.front_shim]),
            np.clip(field.stations - head.front_shim, 0.0, head.rear_shim - head.front_shim),
            head.rear_shim - head.front_shim,
        )[:, 0]
        if clamped is None:
            nothing = np.zeros(response.draws)
            return cls(np.zeros((response.draws, field.stations.size)), nothing, rise)
        held = clamped.bend + np.sign(clamped.bend) * _springs(head, section, clamped, response)
        return cls(-_roof_curvature(head, clamped, field.stations) * field.height, held, rise)


def _springs(head: Head, section: Section, clamped: Clamped, response: Response) -> Floats:
    """Movement stored in local give, bent base and stretched bolts [m], `(n,)`; a rigid base stands for a rigid jig."""
    give = section.give_pull * clamped.bolt_tension.max(axis=1)
    give = (give + section.give_shim * clamped.shim_force.max(axis=1)) / response.stiffness
    if head.base.kind == "rigid":
        return np.asarray(give)
    from straighten.clamp.springs import spring_of

    springs = np.array([spring_of(head, b) for b in range(len(head.bolts))])
    stretch = (clamped.bolt_tension / springs).max(axis=1)
    return np.asarray(give + np.abs(clamped.base_bend) + stretch)


def _roof_curvature(head: Head, clamped: Clamped, stations: Floats) -> Floats:
    """Curvature as the roof's middle feels it, (n, spots): corners of the moment are rounded by shear lag."""
    plates = head.casting.plates
    if plates is not None and plates.solid:
        return clamped.curvature_at(stations)
    half = LAG.value * head.casting.width
    off = np.linspace(-1, 1, 9)
    weight = (1 - np.abs(off)) / (1 - np.abs(off)).sum()
    around = np.clip(stations[:, None] + half * off, 0.0, head.casting.length)
    curvature = clamped.curvature_at(around.ravel()).reshape(-1, stations.size, off.size)
    return np.asarray(curvature @ weight)


def shrunk_volumes(
    field: SpotsOnHead, per_volume: Floats, clamp: ClampFelt, response: Response
) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    """Return shrinkage along and across of every spot (n, spots): its own, and what it keeps of the clamp.

    Args:
        field: the spots' answers and places.
        per_volume: kink per inherent volume, (n, spots) [rad/m3].
        clamp: as the spots feel it.
        response: draws of the unknown factors.

    Source: linear answer of the disc to a strain from afar (derived), `GAIN`, `KEPT`.
    Valid: spots in turn find earlier ones cold; those of one start burn together.
    """
    n, count = per_volume.shape
    own, kept = np.zeros((2, n, count)), np.zeros((2, n, count))
    soft = response.softening[:, None]
    free, even, lopsided = (_mixed(field, name, soft) for name in ("shrinkage", "even", "lopsided"))
    growth = np.array([a.growth for a in field.answers])
    fallen = np.zeros(n)
    for start in np.unique(field.starts):
        now = np.nonzero(field.starts == start)[0]
        before = np.nonzero(field.starts < start)[0]
        strain = _neighbour_strain(field, now, before, growth, own[0])
        along, across = _keep(strain, even[:, now], lopsided[:, now])
        own[0][:, now] = (free[:, now] + along) * response.shrinkage[:, None]
        own[1][:, now] = (free[:, now] + across) * response.shrinkage[:, None]
        lift = per_volume[:, now] * clamp.rise[now]
        risen = (lift * growth[now]).sum(axis=1) - fallen
        kept[:, :, now] = _kept(
            field, now, (clamp, risen, lift), (even[:, now], lopsided[:, now], response.kept)
        )
        fallen = fallen + (lift * (own[0] + kept[0])[:, now]).sum(axis=1)
    return (own[0], own[1]), (kept[0], kept[1])


def _mixed(field: SpotsOnHead, name: str, softening: Floats) -> Floats:
    """One figure of the spots' effects, (n, spots), between sound and softened metal."""
    sound = np.array([getattr(a.sound, name) for a in field.answers])
    soft = np.array([getattr(a.softened, name) for a in field.answers])
    return np.asarray(sound + softening * (soft - sound))


def _keep(strain: Floats, even: Floats, lopsided: Floats) -> tuple[Floats, Floats]:
    """Shrinkage along and across that a strain (n, spots, 2) leaves behind."""
    mean, half = strain.sum(axis=-1) / 2, (strain[..., 0] - strain[..., 1]) / 2
    return -(even * mean + lopsided * half), -(even * mean - lopsided * half)


def _neighbour_strain(
    field: SpotsOnHead, now: NDArray[np.intp], before: NDArray[np.intp], growth: Floats, shrunk: Floats
) -> Floats:
    """Strain at the spots burning now (n, now, 2): from one another's growth, and from what is cold and has shrunk."""
    apart = (field.stations[now][:, None] - field.stations[now]) ** 2
    apart = apart + (field.across[now][:, None] - field.across[now]) ** 2
    enclosed = np.where(apart > 0, -np.expm1(-apart / field.spread[now]), 1.0)
    among = np.einsum("ijc,j->ic", field.mutual[np.ix_(now, now)] * enclosed[..., None], growth[now])
    cold = shrunk[:, before] @ field.mutual[np.ix_(now, before)].transpose(1, 0, 2).reshape(
        before.size, 2 * now.size
    )
    return np.asarray(among - cold.reshape(len(shrunk), now.size, 2))


def _kept(
    field: SpotsOnHead,
    now: NDArray[np.intp],
    held: tuple[ClampFelt, Floats, Floats],
    metal: tuple[Floats, Floats, Floats],
) -> Floats:
    """Return what the spots burning now keep of the clamp, along and across (2, n, now).

    The bolts hold the head where it is: its free shape rises while the spots are hot, has fallen by what earlier
    spots left, and falls by what these spots keep, so that the bend follows. Hot discs also take strain off one
    another in line. Both are found by repetition, in even and lopsided parts side by side.
    """
    clamp, risen, lift = held
    even, lopsided, factor = metal
    alloy, shape = field.cases[0].alloy, (lift.shape[0], 2, now.size)
    yielding = alloy.yield_short[0][1] / alloy.modulus[0][1]
    bar = field.cases[0].bar_width is not None
    halves = np.array([1 - alloy.poisson, 1 + alloy.poisson])[:, None] / 2
    pull = clamp.strain[:, None, now] * halves
    volumes = np.stack([even, lopsided], axis=1) * -factor[:, None, None]
    times, felt, kept = _Times.of(clamp.imposed), _felt(field, now), np.zeros(shape)
    for _ in range(KEPT_ROUNDS):
        fallen = np.einsum("ij,ikj->i", lift, kept)
        strain = times.held(risen - fallen)[:, None, None] * pull
        strain -= (kept.reshape(shape[0], -1) @ felt).reshape(shape)
        kept = volumes * strain
        if not bar:
            kept *= KEPT.value * _gain(strain.sum(axis=1) / -yielding)[:, None]
    return np.stack([kept[:, 0] + kept[:, 1], kept[:, 0] - kept[:, 1]])


def _felt(field: SpotsOnHead, now: NDArray[np.intp]) -> Floats:
    """Even, then lopsided strain at the spots per even, then lopsided shrinkage of each, `(2 now of, 2 now at)` [1/m3]."""
    grid = np.ix_(now, now)
    strain = np.stack([field.mutual[grid], field.lopsided[grid]])
    even, lopsided = strain.sum(axis=-1) / 2, (strain[..., 0] - strain[..., 1]) / 2
    return np.concatenate([even, lopsided], axis=1).transpose(0, 2, 1).reshape(2 * now.size, -1)


def _gain(strain: Floats) -> Floats:
    """Return how much more than in proportion a disc keeps: a clamp's strain helps the heat to yield the rim."""
    s = np.clip(strain, -0.5, 0.7)
    return np.asarray(1 + GAIN.value[0] * s + GAIN.value[1] * s**2)


@dataclass(frozen=True, slots=True)
class _Times:
    """How much of its first bend a clamp still imposes: `some` draws that it bends at all, `per_metre` one over that bend."""

    some: NDArray[np.bool_]
    per_metre: Floats

    @classmethod
    def of(cls, imposed: Floats) -> _Times:
        some = np.abs(imposed) > 1e-6
        return cls(some, 1 / np.where(some, imposed, 1.0))

    def held(self, risen: Floats) -> Floats:
        """Return it once the free shape has risen [m], `(n,)`."""
        return np.asarray(self.some * np.maximum(1 + risen * self.per_metre, 0.0))
