r"""From spots to the shape of the head: reciprocity, neighbours, and what the clamp's bend leaves in hot metal.

A spot whose wall shrinks by the inherent volume V at height z over the neutral axis kinks the head by

.. math:: \theta = V z / I

V is that of the spot alone, changed by the strain that reaches it from afar while it is hot: from the clamp, from
other spots burning at the same time (they grow) and from spots already cold (they have shrunk).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.errors import BadInput, OutsideModel
from straighten.head.records import side_sign
from straighten.heat.cooling import bulk_rise, spot_start
from straighten.heat.field import Slab
from straighten.heat.hardness import SPREAD, hardness_after
from straighten.heat.lines import dishing_of, line_falls, middle, state_of, triangle
from straighten.heat.neighbours import Strip, Webs, heat_from_others, lopsided_strain, mutual_strain
from straighten.heat.relaxed import Relaxed
from straighten.heat.spot import Effect, SpotAnswer, SpotCase, work_spot
from straighten.heat.torch import ROOM, peak_for_power, power_for_peak, slab_of
from straighten.heat.twist import kept_twist
from straighten.shape.modes import INDEX
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.clamp.clamped import Clamped
    from straighten.clamp.section import Section
    from straighten.head.records import Head
    from straighten.heat.response import Response
    from straighten.heat.treatment import HeatSpot

    Floats = NDArray[np.float64]

MOST_ROUNDS: Final = 3  # a place heated more often is taken as heated so often: it has settled
DOUBT: Final = Cited(
    30.0, "K", "a peak worked out from the power is no better than this; under it a caveat stands", "assumed"
)
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
KEPT_ROUNDS: Final = 6
WALL_DEPTH: Final = Cited(
    1 / 3,
    "",
    "share of a side wall's height that stretches along with the roof's edge near a spot",
    "assumed",
)
WALL: Final = Cited(6e-3, "m", "side wall of a head whose plates are not known", "assumed")
HALFWAY: Final = Cited(
    2.0, "dwells", "age of the heat while neighbouring spots act on one another", "assumed"
)


def heated_wall(head: Head) -> float:
    """Return the thickness of the metal under the torch [m]: the roof, or a solid casting's whole height.

    Source: definition.
    Valid: spots on the cam side.
    """
    plates = head.casting.plates
    return head.casting.height if plates is not None and plates.solid else head.casting.roof


def spot_case(
    head: Head,
    spot: HeatSpot,
    start: float = ROOM.value,
    others: tuple[tuple[float, float], ...] = (),
) -> SpotCase:
    """Return what the spot's answer depends on, power and peak completed from one another.

    Args:
        head: alloy and wall.
        spot: with either peak or power.
        start: temperature of the head when the torch comes on [degC].
        others: sources of heat beside it, of `heat_from_others`.

    Raises:
        BadInput: neither or both of peak and power, or sizes that no spot has.
        OutsideModel: the surface would melt.

    Source: `power_for_peak`, `peak_for_power`; derived.
    Valid: peaks under the alloy's solidus.
    """
    wall = heated_wall(head)
    if (spot.peak is None) == (spot.power is None):
        raise BadInput("give either the surface peak or the absorbed power of a spot", where="spots")
    if min(spot.radius, spot.dwell) <= 0:
        raise BadInput("flux radius and dwell of a spot must be above nought", where="spots")
    if spot.power is not None:
        power, peak = spot.power, peak_for_power(head.alloy, wall, spot, spot.power, start)
    else:
        peak = float(spot.peak or 0.0)
        power = power_for_peak(head.alloy, wall, spot, peak, start)
    if peak > head.alloy.solidus + DOUBT.value:
        raise OutsideModel(
            f"the surface would reach {peak:.0f} C; {head.alloy.name} begins to melt at {head.alloy.solidus:.0f} C",
            where="spots",
            fix="Shorten the dwell or hold the torch farther away.",
        )
    return SpotCase(
        alloy=head.alloy,
        thickness=wall,
        power=power,
        radius=spot.radius,
        dwell=spot.dwell,
        peak=peak,
        start=start,
        rounds=min(1 + spot.heated_before, MOST_ROUNDS),
        bar_width=head.casting.width if wall == head.casting.height else None,
        others=others if wall < head.casting.height else (),
    )


@dataclass(frozen=True, slots=True)
class _Field:
    """The spots on one head: answers and geometry, ready for arithmetic over draws."""

    answers: tuple[SpotAnswer, ...]
    cases: tuple[SpotCase, ...]
    stations: Floats
    starts: Floats
    across: Floats
    height: Floats  # of the shrinkage over the neutral axis [m]
    mutual: Floats  # (at, of, 2) strain per volume [1/m3]
    lopsided: Floats  # (at, of, 2) strain per lopsided volume [1/m3]
    spread: Floats  # area over which the heat has spread halfway [m2]


def relax_spots(
    head: Head, section: Section, clamped: Clamped | None, spots: Sequence[HeatSpot], response: Response
) -> Relaxed:
    """Return what heat spots leave behind in a free or a clamped head.

    Spots with one `start` burn together, later ones find the earlier ones cold: the head warmer by their heat, its
    free shape changed and the clamp's bend with it.

    Args:
        head: casting, alloy, spot rows.
        section: the casting as a beam.
        clamped: the clamped state of every draw, or None for a free head.
        spots: in any order.
        response: draws of the unknown factors.

    Raises:
        BadInput: no spots, or a spot that makes no sense.
        OutsideModel: a surface would melt.

    Source: Betti's reciprocity (derived); `work_spot`; `mutual_strain`.
    Valid: spots apart, under the middle two thirds of the head, bolts not touched while hot.
    """
    if not spots:
        raise BadInput("no heat spots", where="spots", fix="Name at least one spot.")
    field = _field(head, section, spots)
    per_volume = field.height * section.modulus / (section.EI * response.stiffness[:, None])
    clamp = _Clamp.of(head, section, clamped, field, response)
    own, kept = _volumes(field, per_volume, clamp, response)
    parts = [
        line_falls(per_volume * along, per_volume * dishing_of(along, across), field.stations, head)
        for along, across in (own, kept)
    ]
    spots_part, kept_part = (state_of(p, head, response) for p in parts)
    if clamped is not None:
        shear = np.array([a.sound.lopsided for a in field.answers])
        kept_part[:, INDEX["twist"]] += (
            kept_twist(head, section, clamped, field.stations, shear) * response.kept
        )
    bend = clamped.bend if clamped is not None else np.zeros(response.draws)
    heat = sum(a.heat for a in field.answers)
    sound = np.asarray(head.alloy.hardness)
    aged = max(a.aged for a in field.answers)
    pace = np.exp(SPREAD.value * np.array([1.28, -1.28]))
    return Relaxed(
        set_state=spots_part + kept_part,
        spots_part=spots_part,
        kept_part=kept_part,
        kinks=per_volume * (own[0] + kept[0]),
        kept_share=_share(kept_part[:, INDEX["deck_bow"]], bend),
        lines=middle(parts[0]) + middle(parts[1]),
        hardness_before=sound,
        hardness_after=hardness_after(head.alloy, sound, aged, pace),
        heat=heat,
        warm=bulk_rise(head, section, heat),
        peaks=tuple(c.peak for c in field.cases),
        caveats=_caveats(head, field),
    )


def _share(kept: Floats, bend: Floats) -> Floats:
    return np.divide(kept, bend, out=np.zeros_like(kept), where=np.abs(bend) > 1e-9)


def _field(head: Head, section: Section, spots: Sequence[HeatSpot]) -> _Field:
    wall = heated_wall(head)
    starts = np.array([s.start for s in spots])
    cold = [spot_case(head, s) for s in spots]
    warm = spot_start(head, section, starts, np.array([c.power * c.dwell for c in cold]))
    across = np.array([side_sign(s.side) * (head.spot_rows if s.across is None else s.across) for s in spots])
    stations = np.array([s.station for s in spots])
    places = tuple((float(x), float(y)) for x, y in zip(stations, across, strict=True))
    cases = tuple(
        spot_case(head, s, warm[k], heat_from_others(webs_of(head), places, k, _together(starts, k)))
        for k, s in enumerate(spots)
    )
    answers = tuple(work_spot(c) for c in cases)
    offset = np.array([_offset(a.sound) for a in answers])
    disc = np.sqrt(np.array([a.hot_volume for a in answers]) / (np.pi * wall))
    return _Field(
        answers=answers,
        cases=cases,
        stations=stations,
        starts=starts,
        across=across,
        height=section.height - wall / 2 + offset - section.neutral_axis,
        mutual=mutual_strain(strip_of(head), places),
        lopsided=lopsided_strain(head.alloy.poisson, strip_of(head).thickness, places, disc),
        spread=np.array([_spread(c, slab_of(c.alloy, wall, c.peak, c.start)) for c in cases]),
    )


def _together(starts: Floats, spot: int) -> tuple[int, ...]:
    return tuple(np.nonzero(starts == starts[spot])[0].tolist())


def webs_of(head: Head) -> Webs:
    """Return the cross walls under the roof, ends included where plates give them.

    Source: the casting's own sizes.
    Valid: webs that reach the roof.
    """
    webs = head.casting.webs
    roof = head.casting.roof
    return Webs(stations=tuple(w.station for w in webs), ratio=tuple(w.thickness / roof for w in webs))


def _offset(effect: Effect) -> float:
    return effect.lift / effect.shrinkage if effect.shrinkage > 0 else 0.0


def _spread(case: SpotCase, slab: Slab) -> float:
    return case.radius**2 / 2 + 4 * slab.diffusivity * HALFWAY.value * case.dwell


def strip_of(head: Head) -> Strip:
    """Return the roof as a strip between the side walls.

    Source: the casting's own sizes; `WALL_DEPTH`, `WALL` (assumed).
    Valid: hollow castings and bars.
    """
    casting, plates = head.casting, head.casting.plates
    if plates is not None and plates.solid:
        return Strip(
            half_width=casting.width / 2, thickness=casting.height, wall_area=0.0, poisson=head.alloy.poisson
        )
    wall = plates.side_walls if plates is not None and plates.side_walls else WALL.value
    return Strip(
        half_width=casting.width / 2 - wall / 2,
        thickness=casting.roof,
        wall_area=wall * casting.height * WALL_DEPTH.value,
        poisson=head.alloy.poisson,
    )


@dataclass(frozen=True, slots=True)
class _Clamp:
    """The clamp as the spots feel it: strain at each spot (n, spots), movement it imposes [m] (n,), rise of the middle per kink [m]."""

    strain: Floats
    imposed: Floats
    rise: Floats

    @classmethod
    def of(
        cls, head: Head, section: Section, clamped: Clamped | None, field: _Field, response: Response
    ) -> _Clamp:
        rise = triangle(
            np.array([head.casting.length / 2 - head.front_shim]),
            np.clip(field.stations - head.front_shim, 0.0, head.rear_shim - head.front_shim),
            head.rear_shim - head.front_shim,
        )[:, 0]
        if clamped is None:
            nothing = np.zeros(response.draws)
            return cls(np.zeros((response.draws, field.stations.size)), nothing, rise)
        give = section.give_pull * clamped.bolt_tension.max(axis=1)
        give = (give + section.give_shim * clamped.shim_force.max(axis=1)) / response.stiffness
        held = clamped.bend + np.sign(clamped.bend) * give + clamped.base_bend
        return cls(-_roof_curvature(head, clamped, field.stations) * field.height, held, rise)


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


def _volumes(
    field: _Field, per_volume: Floats, clamp: _Clamp, response: Response
) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    """Shrinkage along and across of every spot (n, spots): its own with its neighbours', and what it keeps of the clamp."""
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


def _mixed(field: _Field, name: str, softening: Floats) -> Floats:
    """One figure of the spots' effects, (n, spots), between sound and softened metal."""
    sound = np.array([getattr(a.sound, name) for a in field.answers])
    soft = np.array([getattr(a.softened, name) for a in field.answers])
    return np.asarray(sound + softening * (soft - sound))


def _keep(strain: Floats, even: Floats, lopsided: Floats) -> tuple[Floats, Floats]:
    """Shrinkage along and across that a strain (n, spots, 2) leaves behind."""
    mean, half = strain.sum(axis=-1) / 2, (strain[..., 0] - strain[..., 1]) / 2
    return -(even * mean + lopsided * half), -(even * mean - lopsided * half)


def _neighbour_strain(
    field: _Field, now: NDArray[np.intp], before: NDArray[np.intp], growth: Floats, shrunk: Floats
) -> Floats:
    """Strain at the spots burning now (n, now, 2): from one another's growth, and from what is cold and has shrunk."""
    apart = (field.stations[now][:, None] - field.stations[now]) ** 2
    apart = apart + (field.across[now][:, None] - field.across[now]) ** 2
    enclosed = np.where(apart > 0, -np.expm1(-apart / field.spread[now]), 1.0)
    among = np.einsum("ijc,j->ic", field.mutual[np.ix_(now, now)] * enclosed[..., None], growth[now])
    cold = np.einsum("ijc,nj->nic", field.mutual[np.ix_(now, before)], -shrunk[:, before])
    return np.asarray(among + cold)


def _kept(
    field: _Field,
    now: NDArray[np.intp],
    held: tuple[_Clamp, Floats, Floats],
    metal: tuple[Floats, Floats, Floats],
) -> Floats:
    """Return what the spots burning now keep of the clamp, along and across (2, n, now).

    The bolts hold the head where it is: its free shape rises while the spots are hot, has fallen by what earlier
    spots left, and falls by what these spots keep, so that the bend follows. Hot discs also take strain off one
    another in line. Both are found by repetition.
    """
    clamp, risen, lift = held
    even, lopsided, factor = metal
    alloy = field.cases[0].alloy
    yielding = alloy.yield_short[0][1] / alloy.modulus[0][1]
    bar = field.cases[0].bar_width is not None
    grid = np.ix_(now, now)
    pull = clamp.strain[:, now, None] * np.array([1.0, -alloy.poisson])
    kept = np.zeros((2, *lift.shape))
    for _ in range(KEPT_ROUNDS):
        times = _held(clamp.imposed, risen - (lift * kept[0]).sum(axis=1))
        sides = (kept[0] + kept[1]) / 2, (kept[0] - kept[1]) / 2
        mutual = np.einsum("ijc,nj->nic", field.mutual[grid] * (1 - np.eye(now.size))[..., None], -sides[0])
        mutual += np.einsum("ijc,nj->nic", field.lopsided[grid], -sides[1])
        strain = times[:, None, None] * pull + mutual
        gain = 1.0 if bar else _gain(-strain[..., 0] / yielding)
        kept = np.stack(_keep(strain, even, lopsided)) * gain * factor[:, None]
    return kept


def _gain(strain: Floats) -> Floats:
    """Return how much more than in proportion a disc keeps: a clamp's strain helps the heat to yield the rim."""
    s = np.clip(strain, -0.5, 0.7)
    return np.asarray(1 + GAIN.value[0] * s + GAIN.value[1] * s**2)


def _held(imposed: Floats, risen: Floats) -> Floats:
    """Return how much of its first bend the clamp imposes once the free shape has risen [m]."""
    some = np.abs(imposed) > 1e-6
    return np.where(some, np.maximum(1 + risen / np.where(some, imposed, 1.0), 0.0), 0.0)


def _caveats(head: Head, field: _Field) -> tuple[str, ...]:
    """Say in words where the model is at its limits."""
    length, found = head.casting.length, []
    if any(not 1 / 6 <= s / length <= 5 / 6 for s in field.stations):
        found.append("spots outside the middle two thirds of the head hardly move it")
    if any(c.peak > head.alloy.solidus - 25 for c in field.cases):
        found.append("within 25 C of melting: the torch must not dwell a second longer")
    if any(a.soft_volume > 0 for a in field.answers):
        found.append("the middle of each spot loses its temper for good")
    return tuple(found)
