r"""An oven soak under the clamp: hot yield, creep or relaxation, the clamp's own stretch, and the temper it costs.

A clamped head in the oven first gives way where its stress passes the hot yield, then creeps; what has become
inelastic stays when the clamp comes off. Bending relaxes in deck, roof and walls, shear in the side walls: in a hollow
head the walls' shear is more than half of the set.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.errors import BadInput, OutsideModel
from straighten.heat.cooling import (
    ACTIVATION,
    GAS_CONSTANT,
    KELVIN,
    equivalent_time,
    hardness_range,
    yield_at,
)
from straighten.heat.field import ROOM, expanded, read
from straighten.heat.held import Held, creep, creep_pace, fibres_of, inelastic, relaxation_pace, yield_hot
from straighten.heat.layout import Relaxed
from straighten.heat.lines import (
    LINES,
    SNUG,
    STATIONS,
    bolt_springs,
    middle_falls,
    movement_held,
    movement_of,
    over_length,
    shape_of,
    share_of,
    state_of,
)
from straighten.heat.treatment import Soak
from straighten.shape.modes import INDEX
from straighten.sources import Cited

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from straighten.clamp.clamped import Clamped
    from straighten.clamp.section import Section
    from straighten.head.records import Alloy, Head
    from straighten.heat.held import Yielded
    from straighten.heat.treatment import Response

    Floats = NDArray[np.float64]


LEVELS: Final = 5  # levels of bend worked through; draws lie between them
HOTTEST: Final = Cited(
    350.0,
    "degC",
    "above it the clamp's own steel and the casting's temper are gone; full anneal 315-345 degC",
    "from memory",
)
STEEL_EXPANSION: Final = Cited(
    12e-6, "1/K", "steel bolt, EN 1993-1-2 3.4.1.1 near room temperature", "from memory"
)
SPREADING: Final = Cited(
    0.5,
    "depths",
    "a load's moment and shear are spread over half the depth of the head either way (Saint-Venant)",
    "assumed",
)
SOAK_SPREAD: Final = Cited(
    0.35,
    "log-sd",
    "kept share of a soak without a creep law of one's own: published relaxation of cast alloys differs by as much",
    "assumed",
)


def relax_soak(head: Head, section: Section, clamped: Clamped, soak: Soak, response: Response) -> Relaxed:
    """Return what an oven soak leaves behind in a clamped head.

    A creep law of the alloy's own is used where there is one; the response's `kept` multiplies what stays.

    Raises:
        BadInput: negative times, or colder than the room.
        OutsideModel: hotter than the model knows.

    Source: `held` (derived); relaxation without a creep law: `relief`.
    Valid: even temperature, bolts not touched while hot.
    """
    check_soak(soak)
    levels = _levels(np.abs(clamped.bend))
    held = hold(head, section, clamped, soak, levels)
    per_bend = _falls_per_bend(head, clamped, held, soaked(head.alloy, held, soak), levels)
    falls = per_bend * (clamped.bend * response.kept)[:, None]
    growth = 0.0 if head.base.kind == "rigid" else _growth(head, soak)
    moved = movement_of(head, section, clamped, response)
    # it bends evenly, and kinks nowhere
    movement = movement_held(head, clamped, moved, growth) / over_length(head)
    lines = dict.fromkeys(LINES, falls)
    kept_part = state_of(shape_of(lines, head), response)
    most, kept = np.abs(movement), np.abs(kept_part[:, INDEX["deck_bow"]])
    stopped = np.minimum(1.0, np.divide(most, kept, out=np.ones_like(kept), where=kept > 1e-12))[:, None]
    kept_part *= stopped
    aged = soak.aged_before + ageing(soak)
    hardness = hardness_range(head.alloy, aged, soak.temperature, response.draws)
    return replace(
        _by_clamp(kept_part, movement, middle_falls(lines) * stopped, hardness),
        warm=soak.temperature - ROOM.value,
        peaks=(soak.temperature,),
        caveats=_caveats(head.alloy, soak),
    )


def _by_clamp(kept_part: Floats, movement: Floats, lines: Floats, hardness: tuple[Floats, Floats]) -> Relaxed:
    """What a clamp leaves without spots and without warmth; `hardness` before and after."""
    return Relaxed(
        set_state=kept_part,
        spots_part=np.zeros_like(kept_part),
        kept_part=kept_part,
        kinks=np.zeros((len(kept_part), 0)),
        kept_share=share_of(kept_part[:, INDEX["deck_bow"]], movement),
        held=movement,
        lines=lines,
        hardness_before=hardness[0],
        hardness_after=hardness[1],
        heat=0.0,
        warm=0.0,
        peaks=(),
    )


def _falls_per_bend(head: Head, clamped: Clamped, held: Held, ended: Yielded, levels: Floats) -> Floats:
    """How much every draw's head falls along its length over its bend, (n, 101)."""
    share = kept_falls(held, ended, head.casting.length) / levels[:, None]
    return _between(levels, share, np.abs(clamped.bend))


def cold_yield(head: Head, section: Section, clamped: Clamped, response: Response) -> Relaxed | None:
    """Return what a clamp sets for good without any heat, or None where it stays under the cold yield in every draw.

    The response's `stiffness` does not enter: strain decides.

    Source: `yield_hot` at room temperature; derived.
    """
    limit = float(read(head.alloy.yield_short, ROOM.value))
    top = max(section.neutral_axis, section.height - section.neutral_axis)
    if float(np.abs(clamped.curvature).max()) * top * section.modulus <= limit:
        return None
    levels = _levels(np.abs(clamped.bend))
    held = hold(head, section, clamped, Soak(temperature=ROOM.value, hold=0.0), levels)
    ended = yield_hot(held, limit, head.alloy.hardening)
    falls = _falls_per_bend(head, clamped, held, ended, levels) * clamped.bend[:, None]
    lines = dict.fromkeys(LINES, falls)
    set_state = state_of(shape_of(lines, head), response)
    movement = movement_held(head, clamped, movement_of(head, section, clamped, response))
    hardness = np.asarray(head.alloy.hardness)
    return replace(
        _by_clamp(set_state, movement, middle_falls(lines), (hardness, hardness)),
        caveats=(
            "The clamp bends the cold casting past its yield: it takes a set without any heat, and may crack.",
        ),
    )


def check_soak(soak: Soak) -> None:
    """Refuse a soak that makes no sense (BadInput), or that is hotter than the model knows (OutsideModel)."""
    if min(soak.hold, soak.heat_up, soak.cool_down) < 0:
        raise BadInput("a soak of negative length", where="soak")
    if soak.temperature < ROOM.value:
        raise BadInput(
            f"a soak at {soak.temperature:.0f} C is colder than the room", where="soak.temperature"
        )
    if soak.temperature > HOTTEST.value:
        raise OutsideModel(
            f"a soak at {soak.temperature:.0f} C is beyond the model; {HOTTEST.value:.0f} C is the most",
            where="soak.temperature",
            fix="That is a full anneal: the head would have no strength left.",
        )


def _caveats(alloy: Alloy, soak: Soak) -> tuple[str, ...]:
    found = []
    if alloy.creep is None and soak.temperature > 100:
        found.append(
            "No creep law is published for this alloy: the kept share is a guess within a factor of 1.6."
        )
    if soak.temperature > 260:
        found.append("Above 260 C a T6 head loses its temper within the hour.")
    return tuple(found)


def ageing(soak: Soak) -> float:
    """Return the equivalent time at 250 degC of hold and ramps [s].

    Source: `equivalent_time`; straight ramps.
    """
    ramp = _ramp_share(soak, ACTIVATION.value)
    return float(equivalent_time(soak.temperature, soak.hold + ramp * (soak.heat_up + soak.cool_down)))


def _ramp_share(soak: Soak, activation: float) -> float:
    """Return how much of a straight ramp from room temperature counts as time at temperature."""
    t = np.linspace(ROOM.value, soak.temperature, 201) + KELVIN
    pace = np.exp(activation / GAS_CONSTANT.value * (1 / t[-1] - 1 / t))
    return float(np.trapezoid(pace, dx=1 / 200))


def _levels(bends: Floats) -> Floats:
    low, high = max(float(bends.min()), 1e-7), max(float(bends.max()), 2e-7)
    return np.array([high]) if high < 1.001 * low else np.linspace(low, high, LEVELS)


def _between(levels: Floats, lines: Floats, at: Floats) -> Floats:
    """Interpolate lines (levels, x) to each draw's bend, straight between levels."""
    if levels.size == 1:
        return np.repeat(lines, at.size, axis=0)
    right = np.clip(np.searchsorted(levels, at), 1, levels.size - 1)
    part = np.clip((at - levels[right - 1]) / (levels[right] - levels[right - 1]), 0.0, 1.0)[:, None]
    return np.asarray(lines[right - 1] * (1 - part) + lines[right] * part)


def hold(head: Head, section: Section, clamped: Clamped, soak: Soak, levels: Floats) -> Held:
    """Return the clamped beam at some levels of bend, in the shape of the draws' mean.

    `levels` bends [m], > 0.

    Source: Timoshenko beam; derived.
    Valid: the load's shape is alike in all draws.
    """
    bend = float(np.abs(clamped.bend).mean()) or 1.0
    x = STATIONS * head.casting.length
    size = (levels / bend)[:, None]
    sign = np.sign(float(clamped.bend.mean())) or 1.0
    curvature = sign * np.interp(x, clamped.station, clamped.curvature.mean(axis=0))
    behind = np.clip(np.searchsorted(clamped.station, x, side="right") - 1, 0, clamped.station.size - 1)
    angle = sign * clamped.shear.mean(axis=0)[behind] / section.kGA
    soft = float(read(head.alloy.modulus, soak.temperature)) / head.alloy.modulus[0][1]
    give = section.give_pull * (clamped.bolt_tension**2).sum(axis=1).mean()
    give += section.give_shim * (clamped.shim_force**2).sum(axis=1).mean()
    springs, tighten = _clamp_work(head, clamped, soak)
    weight = np.full(x.size, x[1])
    weight[[0, -1]] /= 2
    return Held(
        curvature=size * _spread(curvature, head),
        angle=size * _spread(angle, head),
        weight=weight,
        springs=(springs * size**2)[:, 0],
        give=(give * size**2)[:, 0],
        tighten=(tighten * size)[:, 0],
        fibres=fibres_of(head, section),
        young=section.modulus,
        shear=section.shear_modulus,
        soft=soft,
    )


def _spread(line: Floats, head: Head) -> Floats:
    """Spread a load's corners over half the depth either way."""
    step = head.casting.length / (STATIONS.size - 1)
    reach = max(round(SPREADING.value * head.casting.height / step), 1)
    kernel = reach + 1 - np.abs(np.arange(-reach, reach + 1))
    return np.convolve(line, kernel / kernel.sum(), mode="same")


def _clamp_work(head: Head, clamped: Clamped, soak: Soak) -> tuple[float, float]:
    """Work of stretched bolts and bent base, and what the head's growth in height adds to it [J]."""
    if head.base.kind == "rigid":
        return 0.0, 0.0
    stretch = ((clamped.bolt_tension**2) / bolt_springs(head)).sum(axis=1).mean()
    base = np.abs(clamped.total_force * clamped.base_bend).mean()
    return float(stretch + base), float(clamped.total_force.mean()) * _growth(head, soak)


def _growth(head: Head, soak: Soak) -> float:
    """How much more than its steel bolts the head grows in height [m]."""
    warm = soak.temperature - ROOM.value
    more = float(expanded(head.alloy.expansion, soak.temperature)) - STEEL_EXPANSION.value * warm
    return more * head.casting.height


def soaked(alloy: Alloy, held: Held, soak: Soak) -> Yielded:
    """Return the inelastic strains at the end of the soak, by the alloy's creep law where it has one."""
    limit = float(yield_at(alloy, soak.temperature, soak.aged_before + ageing(soak)))
    start = yield_hot(held, limit, alloy.hardening)
    if alloy.creep is not None:
        ramp = _ramp_share(soak, alloy.creep.activation)
        time = soak.hold + ramp * (soak.heat_up + soak.cool_down)
        return creep(held, start, creep_pace(alloy.creep, soak.temperature), time)
    pace, end = relaxation_pace(soak.temperature, soak.hold, held.young * held.soft)
    return start if end <= 0 else creep(held, start, pace, end)


def kept_falls(held: Held, ended: Yielded, length: float) -> Floats:
    """Return how much the inelastic strains lower the head along its `length` [m], (levels, 101).

    Source: double integration of curvature, single of shear angle; derived.
    Valid: small slopes.
    """
    bent, slid = inelastic(held, ended.strain, ended.slide)
    step = length / (STATIONS.size - 1)
    fall = _integral(slid - _integral(bent, step), step)
    return fall - fall[:, -1:] * STATIONS


def _integral(values: Floats, step: float) -> Floats:
    steps = (values[:, 1:] + values[:, :-1]) / 2 * step
    return np.concatenate([np.zeros((values.shape[0], 1)), np.cumsum(steps, axis=1)], axis=1)


COOLEST: Final = 160.0  # degC: below it nothing relaxes in a day
STEP: Final = 10.0  # K
HOLDS: Final = tuple(3600.0 * hours for hours in (1, 2, 3, 4, 6, 8))


def soaks(head: Head, holds: Iterable[float] = HOLDS, aged_before: float = 0.0) -> list[Soak]:
    """Return the soaks that a head's oven can give, the coolest first; without an oven, those up to 260 C.

    `holds` times to weigh [s]; `aged_before` what earlier soaks count for [s], as in `Soak`.
    """
    oven = head.oven
    hottest, longest = (
        (260.0, max(HOLDS)) if oven is None else (min(oven.hottest, HOTTEST.value), oven.longest)
    )
    return [
        Soak(temperature=float(t), hold=hold, aged_before=aged_before)
        for t in np.arange(COOLEST, hottest + 0.1, STEP)
        for hold in holds
        if hold <= longest
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class SoakChoice:
    """A soak and what it gives: `kept` share of the bend imposed (over one where bolts and base follow), `hardness` (lowest, highest) [HB] expected after, `warning` in words or ""."""

    soak: Soak
    kept: float
    hardness: tuple[float, float]
    warning: str


def weigh_soak(head: Head, section: Section, clamped: Clamped, soak: Soak, response: Response) -> SoakChoice:
    """Return what one soak takes of the bend and leaves of the hardness: medians over the draws."""
    relaxed = relax_soak(head, section, clamped, soak, response)
    bow, bend = (np.median(v) for v in (relaxed.set_state[:, INDEX["deck_bow"]], clamped.bend))
    low, high = (float(v) for v in np.median(relaxed.hardness_after, axis=0))
    reject = head.thresholds.hardness_reject
    warning = ""
    if low < reject.value:
        warning = f"may end at {low:.0f} HB, under the reject line of {reject.value:.0f} HB ({reject.source})"
    return SoakChoice(
        soak=soak, kept=float(abs(bow) / max(abs(bend), SNUG)), hardness=(low, high), warning=warning
    )


def soak_choices(
    head: Head,
    section: Section,
    clamped: Clamped,
    response: Response,
    holds: Iterable[float] = HOLDS,
    *,
    aged_before: float = 0.0,
) -> tuple[SoakChoice, ...]:
    """Return every one of `soaks` weighed, hottest first, shortest first."""
    order = sorted(soaks(head, holds, aged_before), key=lambda soak: (-soak.temperature, soak.hold))
    return tuple(weigh_soak(head, section, clamped, soak, response) for soak in order)
