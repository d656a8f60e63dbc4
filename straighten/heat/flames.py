"""The flames owned: what a trial tells of them, how each may be used, and how far what it does is in doubt.

In a trial the torch is held still for some seconds. Then every crayon has melted out to its own ring. Each ring says that
the hottest the roof ever was there is the crayon's melting point. Radius and power are those that fit the rings and the
radius judged by eye, each weighed by its own error. The closed-form field is linear in the power.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.errors import BadInput
from straighten.head.ceiling import heat_ceiling
from straighten.head.equipment import RADII, TIMES
from straighten.heat.field import ROOM, Flame, heated_wall, is_solid, slab_of, slab_rise
from straighten.heat.torch import absorbed_power, power_bracket, power_from_trial
from straighten.sources import Cited
from straighten.units import show, show_temperature

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Alloy, CrayonRing, Head, Torch
    from straighten.heat.treatment import Treatment

    Floats = NDArray[np.float64]


RADIUS_TOLD: Final = Cited(0.15, "", "log-sd of a flame's radius judged by eye", "assumed")
MARK: Final = Cited(1.0e-3, "m", "error of a ring read with a rule", "assumed")
CRAYON: Final = Cited(
    0.01, "", "a temperature crayon tells its melting point to 1 %", "common practice, no source"
)
CLOCK: Final = Cited(0.3, "s", "error of seconds counted by hand", "assumed")
FIELD: Final = Cited(0.02, "", "of all rises of one hold: constant heat properties, see `slab_of`", "fitted")
POWER_GUESS: Final = Cited(1.5, "log-sd", "power before the trial: 0.2 to 10 kW", "assumed")
ODD: Final = Cited(3.5, "", "standard deviations at which a ring is called odd", "assumed")
_LATER: Final = np.append(1.0, 1.0 + np.geomspace(0.02, 6.0, 24))  # of the dwell: a ring grows on for a while
_FIT_ROUNDS: Final = 25
_STEP: Final = 1e-3
_SETTLED: Final = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameFit:
    """What the rings say: flux `radius` [m] and absorbed `power` [W] with log standard deviations `radius_spread`, `power_spread`."""

    radius: float
    power: float
    radius_spread: float
    power_spread: float


def tried(head: Head) -> Head:
    """Return the head with power and radius of every tip worked out from its trial, where there was one.

    Raises:
        BadInput: a trial that tells no heat.
    """
    tips = tuple(_tip_tried(head, tip) for tip in head.spare_tips)
    torch = None if head.torch is None else _tip_tried(head, head.torch)
    return replace(head, torch=torch, spare_tips=tips)


def _tip_tried(head: Head, torch: Torch) -> Torch:
    if torch.rings:
        fit = fit_rings(head.alloy, heated_wall(head), torch.radius, torch.rings)
        return replace(
            torch, radius=fit.radius, power=fit.power, radius_spread=fit.radius_spread,
            largest=max(fit.radius, torch.largest),
        )  # fmt: skip
    if torch.power is not None or torch.trial is None:
        return torch
    power = power_from_trial(head.alloy, heated_wall(head), torch.radius, torch.trial)
    if torch.unmelted is not None:
        low, high = power_bracket(head.alloy, heated_wall(head), torch.radius, torch.trial, torch.unmelted)
        power = math.sqrt(low * high)
    return replace(torch, power=power)


def fit_rings(
    alloy: Alloy, thickness: float, told: float, rings: Sequence[CrayonRing], start: float = ROOM.value
) -> FlameFit:
    """Return the flame that left the rings.

    `thickness` of the roof [m]; `told` flux radius judged by eye [m], known to `RADIUS_TOLD`; one of the `rings` is enough
    for the power, two far apart for the radius; `start` temperature of the roof before [degC].

    Raises:
        BadInput: no ring, a crayon under the roof's own temperature, or rings that no flame leaves together.

    Source: Gauss-Newton on the logs of radius and power; field of `slab_rise`; derived.
    Valid: torch still and upright over a wide bay, roof at room temperature.
    """
    _check_rings(rings, start)
    holds = sorted({ring.seconds for ring in rings})
    sway = [math.hypot(0.5 * CLOCK.value / hold, FIELD.value) for hold in holds]  # of all rises of one hold
    prior = np.array([math.log(told), math.log(1500.0), *(0.0 for _ in holds)])
    weight = 1 / np.array([RADIUS_TOLD.value, POWER_GUESS.value, *sway])
    metal, at = (alloy, thickness, start), prior.copy()
    for _ in range(_FIT_ROUNDS):
        residual, slope = _whitened(metal, rings, at)
        normal = slope.T @ slope + np.diag(weight**2)
        move = np.clip(np.linalg.solve(normal, slope.T @ -residual + weight**2 * (prior - at)), -0.3, 0.3)
        at = at + move
        if np.abs(move).max() < _SETTLED:
            break
    residual, slope = _whitened(metal, rings, at)
    spread = np.sqrt(np.diag(np.linalg.inv(slope.T @ slope + np.diag(weight**2))))
    odd = tuple(n for n, r in enumerate(residual.tolist(), start=1) if abs(r) > ODD.value)
    if odd or not RADII.value[0] <= math.exp(at[0]) <= RADII.value[1]:
        worst = f"ring {odd[0]} of {len(rings)}" if odd else "their size"
        raise BadInput(
            f"no flame leaves these rings together; {worst} fits worst",
            where="torch.rings",
            fix="Measure each ring's radius from the middle of the flame, not its width; try once more on cold metal.",
        )
    of_radius, of_power = spread[:2].tolist()
    return FlameFit(
        radius=math.exp(at[0]), power=math.exp(at[1]), radius_spread=of_radius, power_spread=of_power
    )


def _check_rings(rings: Sequence[CrayonRing], start: float) -> None:
    if not rings:
        raise BadInput("no crayon ring", where="torch.rings", fix="Give at least one.")
    for number, ring in enumerate(rings, start=1):
        if ring.temperature <= start + 20 or ring.seconds < TIMES.value[0] or not 0 <= ring.radius <= 0.1:
            raise BadInput(
                f"ring {number}: {show_temperature(ring.temperature)} out to {show(ring.radius, big=True)} after "
                f"{ring.seconds:g} s tells no heat",
                where="torch.rings",
                fix=f"Give the crayon's melting point, the ring's radius under 100 mm, and {TIMES.value[0]:g} seconds or more.",
            )


def _whitened(
    metal: tuple[Alloy, float, float], rings: Sequence[CrayonRing], at: Floats
) -> tuple[Floats, Floats]:
    """Return rise missed by each ring over its error `(rings,)`, and its slopes along log radius, log power and each hold's sway."""
    rise, along = _hottest(metal, rings, at)
    crayons = np.array([r.temperature for r in rings])
    error = np.hypot(along * MARK.value, CRAYON.value * crayons)
    wider, _ = _hottest(metal, rings, at + _STEP * (np.arange(at.size) == 0))
    holds = np.unique([r.seconds for r in rings])
    same = np.array([r.seconds for r in rings])[:, None] == holds
    slopes = np.column_stack([(wider - rise) / _STEP, rise, same * rise[:, None]])
    return (rise - (crayons - metal[2])) / error, slopes / error[:, None]


def _hottest(
    metal: tuple[Alloy, float, float], rings: Sequence[CrayonRing], at: Floats
) -> tuple[Floats, Floats]:
    """Return the highest rise at each ring [K] and how fast it falls outward [K/m]."""
    alloy, thickness, start = metal
    radius, power = np.exp(at[:2])
    sway = dict(zip(sorted({r.seconds for r in rings}), np.exp(at[2:]).tolist(), strict=True))
    slab = slab_of(alloy, thickness, max(r.temperature for r in rings), start)
    rises, falls = [], []
    for ring in rings:
        flame = Flame(power=float(power) * sway[ring.seconds], radius=float(radius), dwell=ring.seconds)
        field = slab_rise(flame, slab, [ring.radius, ring.radius + 1e-4], 0.0, ring.seconds * _LATER)[:, :, 0]
        here, beyond = field.max(axis=0)
        rises.append(here)
        falls.append((here - beyond) / 1e-4)
    return np.array(rises), np.array(falls)


HAND: Final = Cited(
    1.5, "s", "least time from the target to the ceiling: a hand takes a flame off no faster", "assumed"
)
SHORTEST: Final = Cited(1.0, "s", "least dwell that a hand can repeat to a fifth", "assumed")
COOLEST: Final = Cited(250.0, "degC", "under it hardly any metal yields, whatever the dwell", "derived")
LARGEST_RADIUS: Final = Cited(
    30e-3, "m", "largest flame whose spots were held against 3D elements", "derived"
)
LONGEST: Final = Cited(
    20.0, "s", "longest dwell that is planned, held against 3D elements with a wide flame", "assumed"
)
SPREAD: Final = Cited(
    0.5,
    "",
    "least flux radius over the way heat spreads in the dwell; 3D elements held no slower flame",
    "fitted",
)
COOLER: Final = (30.0, 60.0, 90.0, 120.0)  # K under the target asked for: the mildest that a large tip can do
HELD: Final = (1.0, 1.06, 1.12, 1.18, 1.25, 1.37, 1.5, 1.75, 2.0)  # flux radii tried, over the least
_INSTANTS: Final = np.geomspace(0.5, TIMES.value[1], 160)


def recipes(head: Head) -> tuple[Torch, ...]:
    """Return every flame as it may be held: flux radius, dwell and target together, the mildest first.

    A flame of one power reaches the target sooner when it is held nearer; held farther than tried, one that
    takes longer than the heat needs to spread is left out. The target stays under the ceiling, and so far
    under it that the hand has `HAND` to take the flame off; a flame that cannot give that is left out.

    Source: closed-form field of a Gaussian flux on a plate, `heat_ceiling`, `HAND`.
    Valid: roof as thick as told; heat properties as `slab_of`.
    """
    found: list[Torch] = []
    for tip in (head.torch, *head.spare_tips):
        if tip is None:
            continue
        power = absorbed_power(head.alloy, heated_wall(head), tip)
        for times, cooler in (*((times, 0.0) for times in HELD), *((1.0, less) for less in COOLER)):
            radius = min(round(times * tip.radius, 4), tip.largest, LARGEST_RADIUS.value)
            target = tip.peak - cooler
            held = _held(head.alloy, heated_wall(head), (power, radius), target, farther=times > 1)
            if held is None or (cooler and held[1] > target + 1):
                continue
            one = replace(tip, radius=radius, dwell=held[0], peak=held[1], power=None)
            if one not in found:
                found.append(one)
    return tuple(sorted(found, key=strength_of))


def strength_of(flame: Torch | Treatment) -> float:
    """Return by what a flame's effect goes, to sort flames by [m2 s K]: area, dwell and heat over `COOLEST`."""
    return flame.radius**2 * flame.dwell * max((flame.peak or COOLEST.value) - COOLEST.value, 1.0)


REFERENCE_PEAK: Final = 540.0  # degC
LEAST_STRENGTH: Final = 1e-3  # of the reference: what does not heat at all is refused elsewhere
REFERENCE: Final = Cited(
    0.167, "m2 s K", "strength of 12 mm, 4 s, 540 C: where 3D elements were asked most", "derived"
)


def strength_over_reference(spots: Sequence[Treatment]) -> float:
    """Return the mean log strength of treatments over the reference, which scales `Response.growth`; 0 for none.

    Source: `strength_of`; one of known power counts as hot as the reference.
    Valid: treatments of about one strength.
    """
    known = [replace(spot, peak=REFERENCE_PEAK, power=None) if spot.peak is None else spot for spot in spots]
    logs = [math.log(max(strength_of(spot) / REFERENCE.value, LEAST_STRENGTH)) for spot in known]
    return sum(logs) / max(len(logs), 1)


@lru_cache(maxsize=256)
def _held(
    alloy: Alloy, wall: float, flame: tuple[float, float], target: float, *, farther: bool
) -> tuple[float, float] | None:
    """Return dwell [s] and the peak it reaches [degC], or None where the flame gives the hand no time or no heat."""
    power, radius = flame
    slab = slab_of(alloy, wall, target)
    on = Flame(power=power, radius=radius, dwell=2 * TIMES.value[1])
    surface = ROOM.value + slab_rise(on, slab, 0.0, 0.0, _INSTANTS)[:, 0, 0]
    ceiling = heat_ceiling(alloy).highest
    until = _when(surface, ceiling) - HAND.value
    dwell = min(_when(surface, min(target, ceiling)), until, LONGEST.value)
    if dwell < SHORTEST.value or (farther and dwell > (radius / SPREAD.value) ** 2 / slab.diffusivity):
        return None
    peak = float(np.interp(dwell, _INSTANTS, surface))
    return None if peak < COOLEST.value else (round(dwell, 1), round(peak))


def _when(surface: Floats, temperature: float) -> float:
    """Return when the surface first stands at a temperature [s]; infinite where it never does."""
    if surface[-1] < temperature:
        return np.inf
    return float(np.interp(temperature, surface, _INSTANTS))


_ELEMENTS: Final = "3D elements of a hollow box, own run"
PER_RADIUS: Final = Cited(
    1.9, "", f"log effect per log of the flux radius: +-15 % is +-33 % ({_ELEMENTS})", "seen"
)
PER_ROOF: Final = Cited(
    0.186, "1/mm", f"log effect per millimetre of roof: 7 against 9 mm is +45 % ({_ELEMENTS})", "seen"
)
PER_PEAK: Final = Cited(
    0.0083, "1/K", f"log effect per kelvin of the peak: +-20 K is +-18 % ({_ELEMENTS})", "seen"
)
CURVE: Final = Cited(
    0.33,
    "log-sd",
    f"nobody knows which of the two hot yield curves a casting under a torch follows: a factor of two ({_ELEMENTS})",
    "seen",
)
MODEL: Final = Cited(
    0.20, "log-sd", "castings are no boxes: what the model misses from head to head", "assumed"
)
ROOF_GUESSED: Final = Cited(1.0, "mm", "standard deviation of a roof nobody measured", "assumed")
ROOF_MEASURED: Final = Cited(
    0.3, "mm", "of a roof read in a plug well or with a gauge: cast walls vary", "assumed"
)
PEAK_BY_HAND: Final = Cited(20.0, "K", "standard deviation of a peak held by hand and crayon", "assumed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """One part of the first range: what it is `of`, its `spread` now (log standard deviation), the spread `then` once it is measured, how to `measure` it (empty where nothing is to be done), and the `source`."""

    of: str
    spread: float
    then: float
    measure: str
    source: str


def spot_doubts(head: Head) -> tuple[Doubt, ...]:
    """Return the parts of the first range of a spot's effect, in quadrature the whole.

    Source: 3D elements' own exponents; what is told by eye, hand or gauge as marked.
    Valid: one head before its first pass; passes narrow what they all share.
    """
    torch, alloy = head.torch, head.alloy
    radius = RADIUS_TOLD.value if torch is None or torch.radius_spread is None else torch.radius_spread
    roof = ROOF_GUESSED.value if head.casting.roof_assumed else ROOF_MEASURED.value
    solid = is_solid(head)
    known_curve = alloy.yield_short == alloy.yield_soaked
    return (
        Doubt(of="hot yield curve", spread=0.0 if known_curve else CURVE.value, then=CURVE.value, measure="", source=str(CURVE)),
        Doubt(
            of="alloy and temper", spread=alloy.spread, then=min(alloy.spread, _NAMED), source=f"{alloy.name}: spread of its yield",
            measure="name the alloy and temper cast or stamped on the head" if alloy.name.startswith("unknown") else "",
        ),
        Doubt(
            of="flame's radius", spread=PER_RADIUS.value * radius, then=PER_RADIUS.value * min(radius, _BY_RINGS),
            measure="crayon rings on the roof: [[torch.rings]]" if torch is not None and torch.radius_spread is None else "", source=str(PER_RADIUS),
        ),
        Doubt(
            of="roof's thickness", spread=0.0 if solid else PER_ROOF.value * roof, then=PER_ROOF.value * min(roof, ROOF_MEASURED.value),
            measure="the roof in a plug well or with a gauge: casting.roof_thickness" if head.casting.roof_assumed and not solid else "",
            source=str(PER_ROOF),
        ),
        Doubt(of="peak by hand", spread=PER_PEAK.value * PEAK_BY_HAND.value, then=PER_PEAK.value * PEAK_BY_HAND.value, measure="", source=str(PER_PEAK)),
        Doubt(of="what the model misses", spread=MODEL.value, then=MODEL.value, measure="", source=str(MODEL)),
    )  # fmt: skip


_BY_RINGS: Final = 0.125  # log-sd of a radius fitted to six rings of one hold of 4 s: 0.09 to 0.125, tested
_NAMED: Final = 0.12  # log-sd of the yield of a named alloy and temper, the middle of the table


def spread_of(doubts: tuple[Doubt, ...]) -> float:
    """Return the log standard deviation of all doubts together: independent parts."""
    return math.hypot(*(doubt.spread for doubt in doubts))


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureNext:
    """A thing to measure: `what`, and the log standard deviation of a spot's effect `before` and `after`."""

    what: str
    before: float
    after: float

    @property
    def sentence(self) -> str:
        """Return it as a person reads it; a range is what lies within the factor of eight cases in ten."""
        low, high = (math.exp(1.2816 * spread) for spread in (self.after, self.before))
        return f"Measure this next: {self.what}. It narrows the first range of a spot's effect from a factor of {high:.2f} to {low:.2f} either way."


def measure_next(head: Head) -> tuple[MeasureNext, ...]:
    """Return what is worth measuring before the first heat, the most telling first.

    Valid: heads with a torch; none otherwise.
    """
    if head.torch is None:
        return ()
    doubts = spot_doubts(head)
    now = spread_of(doubts)
    found = [
        MeasureNext(
            what=doubt.measure,
            before=now,
            after=spread_of(tuple(replace(d, spread=d.then) if d is doubt else d for d in doubts)),
        )
        for doubt in doubts
        if doubt.measure
    ]
    return tuple(sorted(found, key=lambda step: step.after))
