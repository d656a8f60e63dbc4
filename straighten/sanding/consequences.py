"""What the removed metal does to the engine, before and after, with the limits: one record for the sheet."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from straighten.head.records import Head
from straighten.plan.loss import metal_to_sand
from straighten.quantiles import Floats, Triple
from straighten.readings.records import RIM
from straighten.sanding.engine import (
    Cylinder,
    belt_slack,
    cam_retard,
    centres_of,
    cuts_per_cylinder,
    cylinder_of,
    land_of,
    ratio_after,
    run_of,
    valve_loss,
    volume_lost,
)
from straighten.sanding.face import COLUMNS, ROWS, Face, area_weights, face_of_states
from straighten.shape.modes import DECK, INDEX
from straighten.sources import Cited

CORNERS: Final = RIM[:4]
_CORNER_PLACES: Final = (0, ROWS - 1, (COLUMNS - 1) * ROWS, COLUMNS * ROWS - 1)

WEDGE: Final = Cited(0.05e-3, "m", "four corners alike within 0.025 to 0.05 mm", "common practice, no source")
VALVES: Final = (
    ("inlet", Cited(2.0e-3, "m", "80 thou inlet valve to piston, found with clay: trade figure", "seen")),
    ("exhaust", Cited(2.5e-3, "m", "100 thou exhaust valve to piston, found with clay: trade figure", "seen")),
)  # fmt: skip
SINKING: Final = Cited(
    2.0, "times the cut", "valves sunk 0.2 mm give back 0.1 mm of cut: a French shop's page", "seen"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PerCylinder:
    """One cylinder: mean `cut` over its bore [m], volume `lost` [m3], compression `ratio` after or None; each 10, 50, 90 %."""

    number: int
    cut: Triple
    lost: Triple | None
    ratio: Triple | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Valve:
    """One kind of valve: `angle` [rad], clearance `lost` along its axis [m], `after` [m] or None, `least` that must stay, and whether it `holds`."""

    name: str
    angle: float
    lost: Triple
    after: Triple | None
    least: Cited[float]
    holds: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GasketChoice:
    """A gasket of another thickness [m]: what of the cut is left uncompensated [m], ratio or None and cam retard [rad] or None with it."""

    thickness: float
    left: float
    ratio: float | None
    retard: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Consequences:
    """Before and after; lengths [m], angles [rad of the cam], each after as 10, 50, 90 %.

    `corners` height before and after by corner; `cam_root` deck to cam line before and after; `least_height` left over
    it or None; `wedge` difference of the corners after, with `wedge_before`; `cylinders`; `ratio_before`; `retard`
    of the cam or None; `slack` for the tensioner or None; `valves`; `gaskets`; `sink` by which the valves may be sunk
    to give the cut back; `warnings` and what was `assumed`, in words without figures to convert.
    """

    corners: dict[str, tuple[float, Triple]]
    cam_root: tuple[float, Triple]
    over_least: Triple | None
    wedge_before: float | None
    wedge: Triple
    cylinders: tuple[PerCylinder, ...]
    ratio_before: float | None
    retard: Triple | None
    slack: Triple | None
    valves: tuple[Valve, ...]
    gaskets: tuple[GasketChoice, ...]
    sink: Triple
    warnings: tuple[str, ...]
    assumed: tuple[str, ...]


def consequences(head: Head, face: Face, depth: Floats, measured: dict[str, float]) -> Consequences:
    """Return what taking a depth `(n,)` [m] off the highest places does.

    `measured` are overall heights at the corners before [m]; the head file's height counts where there is none.

    Valid: The head sinks by the mean cut, since the gasket bridges what little is left.
    """
    mean = mean_cut(face, depth)
    cylinder, run = cylinder_of(head.engine), run_of(head.engine)
    corners = _corners(head, face, depth, measured)
    after = np.stack([values for _, values in corners.values()])
    before = [measured[name] for name in CORNERS if name in measured]
    retard = None if run is None else cam_retard(run, mean)
    lowest = after.min(axis=0)
    return Consequences(
        corners={name: (start, points(values)) for name, (start, values) in corners.items()},
        cam_root=(head.cam_height, points(head.cam_height - mean)),
        over_least=None if head.limits.least_height is None else points(lowest - head.limits.least_height.value),
        wedge_before=max(before) - min(before) if len(before) > 1 else None,
        wedge=points(after.max(axis=0) - lowest),
        cylinders=tuple(_cylinders(head, face, depth, cylinder)),
        ratio_before=None if cylinder is None else cylinder.ratio,
        retard=None if retard is None else points(retard),
        slack=None if run is None else points(belt_slack(run, mean)),
        valves=tuple(_valves(head, mean)), gaskets=tuple(_gaskets(head, float(np.median(mean)), cylinder)),
        sink=points(SINKING.value * mean),
        warnings=tuple(_warnings(head)), assumed=tuple(_assumed(head, measured)),
    )  # fmt: skip


def points(values: Floats) -> Triple:
    """Return the 10, 50 and 90 % points of even draws."""
    low, middle, high = np.quantile(values, [0.1, 0.5, 0.9])
    return float(low), float(middle), float(high)


def mean_cut(face: Face, depth: Floats) -> Floats:
    """Return the cut averaged over the face [m], `(n,)`."""
    return face.removal(depth) @ area_weights()


def _corners(
    head: Head, face: Face, depth: Floats, measured: dict[str, float]
) -> dict[str, tuple[float, Floats]]:
    cut = face.removal(depth)
    return {
        name: (start := measured.get(name, head.casting.height), start - cut[:, place])
        for name, place in zip(CORNERS, _CORNER_PLACES, strict=True)
    }


def _cylinders(head: Head, face: Face, depth: Floats, cylinder: Cylinder | None) -> Iterator[PerCylinder]:
    bore, opening = head.engine.bore, head.engine.opening
    for number, cut in enumerate(cuts_per_cylinder(head, face, depth).T, 1):
        lost = None if bore is None else volume_lost(cut, bore, opening)
        ratio = None if cylinder is None or lost is None else points(ratio_after(cylinder, lost))
        yield PerCylinder(
            number=number, cut=points(cut), lost=None if lost is None else points(lost), ratio=ratio
        )


def _valves(head: Head, mean: Floats) -> Iterator[Valve]:
    engine = head.engine
    for number, angle in enumerate(engine.valve_angles):
        name, least = VALVES[number % 2]
        lost = valve_loss(mean, angle)
        known = number < len(engine.valve_clearances)
        after = engine.valve_clearances[number] - lost if known else None
        yield Valve(
            name=name, angle=angle, lost=points(lost),
            after=None if after is None else points(after), least=least,
            holds=None if after is None else bool(np.quantile(after, 0.1) >= least.value),
        )  # fmt: skip


def _gaskets(head: Head, cut: float, cylinder: Cylinder | None) -> Iterator[GasketChoice]:
    """Yield every thickness on offer; the first one listed is what is fitted now."""
    options, run = head.engine.gasket_options, run_of(head.engine)
    bore = head.engine.bore
    for thickness in options:
        left = cut - (thickness - options[0])
        ratio = None
        if cylinder is not None and bore is not None:
            lost = volume_lost(cut, bore, head.engine.opening) - volume_lost(thickness - options[0], bore)
            ratio = float(ratio_after(cylinder, lost))
        retard = None if run is None else float(cam_retard(run, left))
        yield GasketChoice(thickness=thickness, left=left, ratio=ratio, retard=retard)


def _warnings(head: Head) -> Iterator[str]:
    engine = head.engine
    if engine.drive == "gears":
        yield (
            "Gear train to the cam: any cut takes backlash away between the last gears. Measure the backlash and hold it to "
            "the maker's figure; a cut may be ruled out altogether."
        )
    else:
        yield (
            "The cam is retarded: set it with an adjustable wheel or an offset key where the maker's timing marks no longer meet."
        )
    if len(engine.valve_angles):
        yield (
            "The retarded cam opens the inlet later (more room) and closes the exhaust later (less room). Turn the engine by "
            "hand and check the exhaust clearance with clay or an indicator."
        )
    if engine.cylinders > 1 and engine.gasket == "multi-layer steel":
        yield "A thicker steel gasket must be the maker's; do not stack gaskets or shims under one."


def _assumed(head: Head, measured: dict[str, float]) -> Iterator[str]:
    engine = head.engine
    yield centres_of(head)[1]
    missing = [name for name in CORNERS if name not in measured]
    if missing:
        yield f"height of the head file taken at {', '.join(missing)}: not measured"
    if cylinder_of(engine) is None:
        yield "bore, stroke and compression ratio are not all given: no ratio is told"
    elif engine.ratio is None:
        yield "the chamber volume counts as the whole clearance volume: gasket and piston crown are left out"
    if engine.bore is not None and math.isclose(engine.opening, 1.0):
        yield "chamber outline as large as the bore"
    if engine.drive != "gears" and engine.cam_pitch_radius is None:
        yield "pitch diameter of the cam wheel is not given: no timing is told"
    elif engine.drive != "gears" and engine.centre_distance is None:
        yield "tight run taken as parallel to the bore: crank wheel and centre distance are not given"
    if engine.valve_angles:
        yield "valve angles stand in the order inlet, exhaust"
    if len(engine.gasket_options) > 1:
        yield "the first gasket option listed is the one fitted now"


_MM: Final = {"unit": "mm"}  # in the plain form of an answer


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeRow:
    """What one remaining bow would cost; None where the head file does not say enough.

    `bow` of the deck left by straightening, `removal` until the deck is inside its limit, `left` metal that may come off
    after it, `cam_bow` that stays whatever is sanded, all [m]; how far the cam falls back in degrees of cam and crank;
    compression ratio of the cylinders that change most and least; `allowed` where no more comes off than may.
    """

    bow: float = field(metadata=_MM)
    cam_bow: float = field(metadata=_MM)
    removal: float = field(metadata=_MM)
    left: float = field(metadata=_MM)
    cam_deg: float | None
    crank_deg: float | None
    ratio_most: float | None
    ratio_least: float | None
    allowed: bool


def trade(head: Head, state: ArrayLike, allowed: float) -> tuple[TradeRow, ...]:
    """Return what is left to sand, and what it does, if straightening stopped at any of nine bows from now to zero.

    Of the shape now, `(11,)` [m], the bow is scaled, with its lean and peak; the rest stays. `allowed` may still come off [m].

    Source: Minimum zone (ISO 12781-1:2011, from memory), consequences by `engine` (derived).
    Valid: Deck and cam line come down by the same amount.
    """
    shape = np.asarray(state, dtype=np.float64)
    now = float(shape[INDEX["deck_bow"]])
    wanted = np.linspace(now, 0.0, 9)
    face = face_of_states(_scaled(shape, now, wanted), land=land_of(head))
    inside = metal_to_sand(head, face.zone)
    depth = np.minimum(inside, face.height)
    run = run_of(head.engine)
    retard = None if run is None else cam_retard(run, mean_cut(face, depth) + inside - depth)
    cams = [None] * wanted.size if retard is None else np.degrees(retard).tolist()
    ratios = _ratios(head, face, inside - depth, depth)
    cam_bows = shape[INDEX["cam_bow"]] - (now - wanted)
    return tuple(
        TradeRow(
            bow=bow, cam_bow=cam_bow, removal=off, left=allowed - off,
            cam_deg=cam, crank_deg=None if cam is None else 2 * cam,
            ratio_most=most, ratio_least=least, allowed=off <= allowed,
        )
        for bow, cam_bow, off, cam, (most, least) in zip(
            wanted.tolist(), cam_bows.tolist(), inside.tolist(), cams, ratios, strict=True
        )
    )  # fmt: skip


def _scaled(shape: Floats, now: float, wanted: Floats) -> Floats:
    states = np.repeat(shape[None, :], wanted.size, axis=0)
    share = wanted / now if now else np.ones_like(wanted)
    for name in ("deck_bow", "deck_skew", "deck_peak"):
        states[:, INDEX[name]] = shape[INDEX[name]] * share
    states[:, DECK.stop :] = 0.0
    return states


def _ratios(head: Head, face: Face, more: Floats, depth: Floats) -> list[tuple[float | None, float | None]]:
    """Return for each depth the ratio of the cylinders that change most and least; None where it is not known."""
    cylinder, bore = cylinder_of(head.engine), head.engine.bore
    if cylinder is None or bore is None:
        return [(None, None)] * depth.size
    cuts = cuts_per_cylinder(head, face, depth) + more[:, None]
    ratios = ratio_after(cylinder, volume_lost(cuts, bore, head.engine.opening))
    return list(zip(ratios.max(axis=1).tolist(), ratios.min(axis=1).tolist(), strict=True))
