r"""From heat under a torch to the shape of the head: what every zone shrinks by, and what that does.

Metal that passes its collapse carries nothing; what strain it has when it freezes stays. With M the elastic answer of
the head to shrinking zones (`roof`), the zones H that are hot together end at

.. math:: M_{HH} V_H = s_H - M_{HO} V_O + c_H\, m

s is what their own heat drives (`layout`), V_O what other zones hold from earlier, in this heat or in
another; c the clamp's stress over E at the zones per metre of movement held, and m the movement, which follows the
free shape: up while the roof is warm, down by what the zones take. All is linear in V, M has no negative eigenvalue and
c m falls as V grows: there is one answer, and nothing is iterated. What is kept lies between nothing and the whole
movement held; a place heated again gives back of what it kept no more than the new heat adds.

By reciprocity a zone that shrinks by V at height z over the neutral axis kinks the head by theta = V z / I.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.head.ceiling import heat_ceiling
from straighten.heat.cooling import bulk_rise, hardness_range
from straighten.heat.fires import cases_of
from straighten.heat.flames import LONGEST, strength_over_reference
from straighten.heat.layout import FRESH, Relaxed, RoofState, ZoneLeft, fire_on
from straighten.heat.lines import (
    SNUG,
    ClampFelt,
    dishing_of,
    kept_twist,
    movement_held,
    movement_of,
    share_of,
    state_of,
)
from straighten.heat.soak import cold_yield
from straighten.heat.spot import work_spots
from straighten.heat.treatment import WORKING
from straighten.shape.modes import INDEX
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from straighten.clamp.clamped import Clamped
    from straighten.clamp.section import Section
    from straighten.head.records import Head
    from straighten.heat.layout import Event, Fired
    from straighten.heat.lines import Grip
    from straighten.heat.treatment import Response, Treatment

    Floats = NDArray[np.float64]


GAIN: Final = Cited(
    (0.8, 0.5),
    "",
    "kept strain over proportional = 1 + 0.8 s + 0.5 s^2, s = clamp strain over yield strain, compression positive; set "
    "on our own two-dimensional solution of the disc, six alloys and flames, within 8 %",
    "derived",
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


@dataclass(frozen=True, slots=True)
class Shrunk:
    """What the zones of a heat shrink by, along and across (n, zones, 2) [m3].

    `own` by their heat; `kept` of the clamp; `back` what places heated before give back of what they kept; `again` the
    zones' own shrinkage, and what it would be on a fresh roof (2, zones).
    """

    own: Floats
    kept: Floats
    back: Floats
    again: Floats


def shrunk_volumes(fired: Fired, per_volume: Floats, clamp: ClampFelt, response: Response) -> Shrunk:
    """Return what every zone of a heat shrinks by.

    `per_volume` kink per inherent volume, (n, zones) [rad/m3].

    Source: the law above (derived); `GAIN`, `KEPT`, `HARDER`.
    Valid: bolts not touched while hot.
    """
    n, count = per_volume.shape
    own, fresh = np.zeros(2 * count), np.zeros(2 * count)
    kept, back = np.zeros((n, 2 * count)), np.zeros((n, 2 * count))
    lift = np.repeat(per_volume * clamp.rise, 2, axis=1) * fired.felt
    bow = fired.bowing.deck_bow(per_volume, fired.felt)
    for event in fired.events:
        at = event.at
        beside = event.stiff[:, event.others] @ own[event.others]
        left = event.stiff_past @ fired.past_own + beside
        flows = np.maximum(event.drive, 0.0)
        drive = flows * (1 + HARDER.value * _harder(left, flows))
        own[at] = event.own(drive - left)
        fresh[at] = event.own(flows - beside) if fired.past_own.size else own[at]
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
    again = np.stack([own, fresh]).reshape(2, count, 2).sum(axis=2)
    return Shrunk(mine, kept.reshape(shape) * factor, back.reshape(shape) * factor, again)


def _share_again(again: Floats) -> Floats:
    """Return which share of what a fresh roof would shrink by was there before, zero to one; `again` as in `Shrunk`."""
    own, whole = again
    share = np.divide(own, whole, out=np.ones_like(whole), where=whole > 0)
    return np.asarray(np.clip(1 - share, 0.0, 1.0))


def _harder(left: Floats, drive: Floats) -> Floats:
    """How far the zones have been through it before, zero to one: stress that is there already over what the heat drives."""
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
    """Return what the zones keep, and what they give back, (n, 2 hot) each; one of the two is zero.

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


def relax_spots(
    head: Head,
    section: Section,
    clamped: Clamped | None,
    spots: Sequence[Treatment],
    response: Response,
    past: RoofState = FRESH,
) -> Relaxed:
    """Return what heat spots and strokes leave behind in a free or a clamped head.

    Treatments with one `start` burn together, later ones find the earlier ones cold: the head warmer by their heat, its
    free shape changed and the clamp's bend with it.

    `clamped` the clamped state of every draw, or None for a free head; `past` what earlier heats have left in
    the roof, `Relaxed.left` of the last one.

    Raises:
        BadInput: no treatments, or one that makes no sense.
        OutsideModel: a surface would melt, or stays too cold.

    Source: Betti's reciprocity (derived); the law above.
    Valid: under the middle two thirds of the head, bolts not touched while hot.
    """
    response = response.under(strength_over_reference(spots))
    felt = response.of_spots()
    cold = None if clamped is None else cold_yield(head, section, clamped, response)
    moved = movement = np.zeros(response.draws)
    if clamped is not None:
        moved = movement_of(head, section, clamped, response)
        movement = movement_held(head, clamped, moved)
    # what cold metal has yielded to is no strain
    elastic = 1.0 if cold is None else 1 - np.nan_to_num(cold.kept_share)
    grip = moved, np.maximum(np.abs(movement), SNUG) * elastic, elastic
    curves = [(curves_of(head)[0], past.short, 1 - response.softening)]
    if len(known := curves_of(head)) > 1 and response.softening.any():
        curves.append((known[1], past.soaked, response.softening))
    each = [
        _on_curve((known, section), clamped, tuple(spots), (felt, grip, left)) for known, left, _ in curves
    ]
    shares = [share for *_, share in curves] if len(curves) > 1 else [np.ones(response.draws)]

    def mixed(name: str) -> Floats:
        return np.asarray(sum(getattr(one, name) * s[:, None] for one, s in zip(each, shares, strict=True)))

    spots_part, kept_part = (state_of(mixed(name), response) for name in ("spots_shape", "kept_shape"))
    kept_part[:, INDEX["twist"]] -= mixed("twist")[:, 0] * response.kept
    lines, caveats = mixed("falls"), _caveats(head, each[0].fired, spots)
    if cold is not None:
        kept_part, lines, caveats = kept_part + cold.kept_part, lines + cold.lines, (*caveats, *cold.caveats)
    fired = each[0].fired
    again = np.asarray(sum(one.again * share.mean() for one, share in zip(each, shares, strict=True)))
    before, after = hardness_range(head.alloy, fired.aged, max(fired.peaks), response.draws)
    return Relaxed(
        set_state=spots_part + kept_part,
        spots_part=spots_part,
        kept_part=kept_part,
        kinks=mixed("kinks"),
        kept_share=share_of(kept_part[:, INDEX["deck_bow"]], movement),
        held=movement,
        lines=lines,
        hardness_before=before,
        hardness_after=after,
        heat=fired.heat,
        warm=bulk_rise(head, section, fired.heat),
        peaks=fired.peaks,
        powers=fired.powers,
        left=RoofState(short=(*past.short, *each[0].left), soaked=(*past.soaked, *each[-1].left)),
        again=float(_share_again(again.sum(axis=1))),
        again_each=_share_again(again),
        caveats=caveats,
    )


@lru_cache(maxsize=64)
def one_curve(head: Head, *, soaked: bool) -> Head:
    """Return the head with metal that follows one of its hot yield curves throughout.

    Source: the alloy's own table.
    Valid: what lies between the two is `Response.softening`.
    """
    curve = head.alloy.yield_soaked if soaked else head.alloy.yield_short
    return replace(head, alloy=replace(head.alloy, yield_short=curve, yield_soaked=curve))


def curves_of(head: Head) -> tuple[Head, ...]:
    """Return the head on its short curve, and on its soaked one where that differs."""
    short = one_curve(head, soaked=False)
    return (
        (short,)
        if head.alloy.yield_soaked == head.alloy.yield_short
        else (short, one_curve(head, soaked=True))
    )


def work_sets(head: Head, section: Section, sets: Iterable[tuple[Treatment, ...]]) -> None:
    """Work through the spots of several sets together, so that `relax_spots` finds each one's answer known.

    Raises:
        BadInput: as `relax_spots`.
        OutsideModel: as `relax_spots`.
    """
    every = [tuple(one) for one in sets]
    heads = curves_of(head)
    work_spots([c for one in every for known in heads for c in cases_of(known, section, one) if c])


@dataclass(frozen=True, slots=True)
class _OnCurve:
    """One heat on one yield curve: shapes `(n, 7)`, falls of the lines `(n, 4)`, twist kept `(n, 1)`, kinks and `Shrunk.again` by treatment, and what is left."""

    fired: Fired
    spots_shape: Floats
    kept_shape: Floats
    falls: Floats
    twist: Floats
    kinks: Floats
    left: tuple[ZoneLeft, ...]
    again: Floats


def _on_curve(
    casting: tuple[Head, Section],
    clamped: Clamped | None,
    spots: tuple[Treatment, ...],
    drawn: tuple[Response, Grip, tuple[ZoneLeft, ...]],
) -> _OnCurve:
    (head, section), (response, grip, past) = casting, drawn
    fired = fire_on(head, section, spots, past)
    per_volume = fired.height * section.modulus / (section.EI * response.stiffness[:, None])
    clamp = ClampFelt.of(casting, clamped, fired, grip)
    shrunk = shrunk_volumes(fired, per_volume, clamp, response)
    (spots_shape, spots_fall), (kept_shape, kept_fall) = (
        fired.bowing.of(_kinks(fired, per_volume, v), per_volume * dishing_of(v[..., 0], v[..., 1]))
        for v in (shrunk.own + shrunk.back, shrunk.kept)
    )
    twist = np.zeros(response.draws)
    if clamped is not None:
        twist = kept_twist(head, section, clamped, fired.stations, fired.shear)
    return _OnCurve(
        fired=fired,
        spots_shape=spots_shape,
        kept_shape=kept_shape,
        falls=spots_fall + kept_fall,
        twist=twist[:, None],
        kinks=_by_treatment(
            fired, _kinks(fired, per_volume, shrunk.own + shrunk.kept + shrunk.back), len(spots)
        ),
        left=_left(fired, shrunk, response),
        again=_by_treatment(fired, shrunk.again, len(spots)),
    )


def _kinks(fired: Fired, per_volume: Floats, volumes: Floats) -> Floats:
    """Kink of every zone, (n, zones) [rad]: the work of the bent head's stress, along and across, on the shrinkage (Betti)."""
    return np.asarray(per_volume * (volumes * fired.felt.reshape(-1, 2)).sum(axis=-1))


def _by_treatment(fired: Fired, kinks: Floats, count: int) -> Floats:
    """Sum what the zones do over each treatment, (n, treatments)."""
    member = fired.belongs[:, None] == np.arange(count)
    return np.asarray(kinks @ member)


def _left(fired: Fired, shrunk: Shrunk, response: Response) -> tuple[ZoneLeft, ...]:
    """Return what the heat has left in each zone, factors one; of the clamp's share the mean over the draws."""
    own = (shrunk.own / response.shrinkage[:, None, None]).mean(axis=0)
    kept = ((shrunk.kept + shrunk.back) / response.kept[:, None, None]).mean(axis=0)
    return tuple(
        ZoneLeft(zone=zone, stiffer=(s[0], s[1]), own=(o[0], o[1]), kept=(k[0], k[1]))
        for zone, s, o, k in zip(
            fired.zones, fired.stiffer.tolist(), own.tolist(), kept.tolist(), strict=True
        )
    )


def _caveats(head: Head, fired: Fired, treatments: Sequence[Treatment]) -> tuple[str, ...]:
    """Say in words where the model is at its limits."""
    length, found = head.casting.length, []
    if any(abs(t.station / length - 0.5) > WORKING.value / 2 + 1e-6 for t in treatments):
        found.append("Spots outside the middle seven tenths of the head hardly move it.")
    ceiling = heat_ceiling(head.alloy)
    if any(peak > ceiling.highest for peak in fired.peaks):
        found.append(
            f"Over the heat ceiling of {ceiling.highest:.0f} C, and no card asks for it: {ceiling.reason}."
        )
    if any(t.dwell > LONGEST.value for t in treatments):
        found.append(
            f"More than {LONGEST.value:g} s under the torch warms the roof far around; longer ones were held "
            "against nothing, so expect less certainty than the ranges say."
        )
    return tuple(found)
