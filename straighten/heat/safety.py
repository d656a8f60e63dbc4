"""What heat costs, and the cautions of every card that heats."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from straighten.errors import BadInput, OutsideModel
from straighten.head.ceiling import heat_ceiling
from straighten.heat.cooling import AGED, MIDDLE, bulk_rise, equivalent_time, hardness_range, temper_lost
from straighten.heat.field import ROOM, heated_wall
from straighten.heat.fires import cases_of, standing_cases
from straighten.heat.heating import instants
from straighten.heat.torch import DOUBT, ends_of, target_of
from straighten.heat.treatment import WELLS
from straighten.sources import Cited
from straighten.units import show, show_temperature

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.clamp.section import Section
    from straighten.head.records import Head
    from straighten.heat.heating import SpotCase
    from straighten.heat.treatment import Treatment
    from straighten.units import System

    Floats = NDArray[np.float64]


HeatSource = Literal["torch", "oven"]
_PRACTICE: Final = "common practice, no source"
_BEFORE: Final = (
    Cited(
        "All core and gallery plugs out, head dried (110 C, 1 h): trapped water or oil bursts out as steam.",
        "",
        "trade pages on stripping heads",
        _PRACTICE,
    ),
    Cited(
        "Sodium-filled valves out; never cut or press them: violent with water.",
        "",
        "workshop-manual text",
        "seen",
    ),
    Cited(
        "Local rules on flame and hot work come first; a licensed person where they ask for one.",
        "",
        "local codes",
        _PRACTICE,
    ),
)
_HOT: Final = Cited(
    "Hot aluminium looks cold. Chalk HOT on it, wear gloves; head and plate weigh 20 to 80 kg: lift with help.",
    "",
    "workshop rule",
    _PRACTICE,
)
_TONNES: Final = Cited(
    "The clamp holds tonnes: stand clear of the stud ends, slacken after the wait told and no sooner, a quarter turn at a time.",
    "",
    "clamp force of this plan",
    "derived",
)
_SEALS: Final = Cited(
    "Charred fluoro-rubber seals leave an acid residue: do not touch it.",
    "",
    "safety sheets of fluoroelastomers",
    "from memory",
)
_NO_WATER: Final = Cited(
    "No water and no fan on the spots: let each row cool by itself.",
    "",
    "trade practice of spot heating",
    _PRACTICE,
)
_GROWS: Final = Cited(
    "The head grows more than steel bolts and plate: leave slots or disc springs, or the bolts yield.",
    "",
    "EN 1999-1-2 and EN 1993-1-2 elongations: 585 MPa in a rigid joint heated to 250 C",
    "derived",
)
_CLOSED: Final = Cited(
    "Cool in the closed oven or in still air until hand-warm before unclamping: overnight is best.",
    "",
    "handbook-type page: slow cool",
    "seen",
)
_TORCH: Final = (
    Cited(
        "Aluminium shows no colour before it melts. Go by a crayon pair or a thermocouple, never by eye; burning soot or "
        "soap means far too hot.",
        "",
        "handbook on temperature crayons; blog pages on annealing marks",
        "seen",
    ),
    Cited(
        "Rules for welded structures keep a flame off age-hardened aluminium above about 150 C. Here the roof's temper is "
        "given up on purpose, the deck's never: no flame on the deck side.",
        "",
        "practice for structural aluminium, EN 1090-3 and AWS D1.2",
        "from memory",
    ),
    Cited(
        "Flashback arrestors on both hoses, bottles upright and tied, no oil near oxygen, no solvent-wet head near the "
        "flame; fire watch for 30 minutes after.",
        "",
        "oxy-fuel rules",
        _PRACTICE,
    ),
    Cited(
        "Never on valve seats, plug holes, thin bridges or oil drillings; keep the flame off the bolt bosses.",
        "",
        "trade practice of spot heating",
        _PRACTICE,
    ),
)
_OVEN: Final = (
    Cited(
        "No kitchen oven: oil residue smokes and burns. Wash the head first, ventilate.",
        "",
        "forum reports of ovens full of smoke",
        "seen",
    ),
    Cited(
        "The dial is not the metal: a thermocouple bolted into the middle of the mass starts the soak clock.",
        "",
        "workshop rule",
        _PRACTICE,
    ),
)
# By the step of the card in which a caution counts: 2 tighten, 3 heat, 4 cool.
_BY_STEP: Final[dict[HeatSource, dict[int, tuple[Cited[str], ...]]]] = {
    "torch": {2: (_TONNES,), 3: _TORCH, 4: (_NO_WATER, _HOT, _SEALS)},
    "oven": {2: (_TONNES, _GROWS), 3: _OVEN, 4: (_CLOSED, _HOT, _SEALS)},
}


def before_clamping() -> tuple[Cited[str], ...]:
    """Return what must be done before the head is clamped.

    Valid: usual cautions of the trade; they do not replace local codes or a licensed person.
    """
    return _BEFORE


def cautions(source: HeatSource) -> tuple[Cited[str], ...]:
    """Return the caution lines of a heat source for the work in the clamp, in the order of the work; valid as `before_clamping`."""
    return tuple(line for lines in _BY_STEP[source].values() for line in lines)


def caution_steps(source: HeatSource) -> tuple[int, ...]:
    """Return the step of the card in which each of `cautions` counts: 2 tighten, 3 heat, 4 cool."""
    return tuple(step for step, lines in _BY_STEP[source].items() for _ in lines)


HALF_LOST: Final = 0.5  # share of the temper under which metal counts as softened
_RINGS: Final = np.linspace(0.0, 4.0, 81)  # flux radii
_DOWN: Final = np.linspace(0.0, 1.0, 21)  # of the wall
_LONGEST: Final = 60.0  # s: more time than that need not be told
_WATCHED: Final = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatCost:
    """What spots cost a head.

    `area` of the heated face that loses half its temper, of all spots [m2]; `depth` it reaches [m]; `wall` thickness
    there [m]; `hardness` expected there, lowest and highest [HB]; highest temperatures of `deck`, `seats` and `plugs`
    (the wells' walls) [degC]; `seconds` from the target to the ceiling at the flame's power, None where it takes long or
    never comes; `ceiling` [degC]; `hardens` whether the metal has a temper to lose.
    """

    area: float
    depth: float
    wall: float
    hardness: tuple[float, float]
    deck: float
    seats: float
    plugs: float
    seconds: float | None
    ceiling: float
    hardens: bool


def cost_plain(cost: HeatCost) -> dict[str, Any]:
    """Return the cost as JSON scalars with the unit in every key."""
    return {
        "softened_area_cm2": 1e4 * cost.area if cost.hardens else 0.0,
        "softened_depth_mm": 1e3 * cost.depth if cost.hardens else 0.0,
        "hardness_there_HB": list(cost.hardness),
        "highest_deck_C": cost.deck,
        "highest_seats_C": cost.seats,
        "highest_plug_wells_C": cost.plugs,
        "seconds_to_ceiling_s": cost.seconds,
        "ceiling_C": cost.ceiling,
    }


def heat_cost(head: Head, section: Section, spots: Sequence[Treatment]) -> HeatCost:
    """Return what heat spots cost.

    The deck and the seats in it warm by twice what the heat is worth spread over the whole head, since the spots stand in
    its middle and roof and deck even out within half a minute. The well's wall gets what the roof gets at its distance.

    Raises:
        BadInput: no spots, or sizes that no spot has.
        OutsideModel: a surface would melt.

    Valid: as those; hardness within the spread of the softening time.
    """
    cases = standing_cases(head, section, tuple(spots))
    worst = max(cases, key=lambda case: case.hottest)
    soft = [_softened(case) for case in cases]
    heat = sum(case.power * spot.dwell for case, spot in zip(cases, spots, strict=True))
    deck = ROOM.value + MIDDLE.value * bulk_rise(head, section, heat)
    aged = max(age for _, _, age in soft)
    _, after = hardness_range(head.alloy, aged, worst.hottest, 1)
    return HeatCost(
        area=sum(
            area + 2 * s.length * np.sqrt(area / np.pi) for (area, _, _), s in zip(soft, spots, strict=True)
        ),
        depth=max(depth for _, depth, _ in soft),
        wall=heated_wall(head),
        hardness=(float(after.min()), float(after.max())),
        deck=deck,
        seats=deck,
        plugs=max(_at_the_well(head, spot, case) for spot, case in zip(spots, cases, strict=True)),
        seconds=_seconds_left(head, worst),
        ceiling=heat_ceiling(head.alloy).highest,
        hardens=head.alloy.temper in AGED,
    )


def _softened(case: SpotCase) -> tuple[float, float, float]:
    """Return softened area [m2], its depth [m] and the ageing of the hottest metal [s at 250 degC]."""
    time = instants(case.dwell)
    out = _lost_by(case, case.rise(_RINGS * case.radius, 0.0, time)[:, :, 0], time)
    down = _lost_by(case, case.rise(0.0, _DOWN * case.thickness, time)[:, 0, :], time)
    lost_out, lost_down = temper_lost(out), temper_lost(down)
    reach = float((_RINGS * case.radius)[lost_out > HALF_LOST].max(initial=0.0))
    depth = float((_DOWN * case.thickness)[lost_down > HALF_LOST].max(initial=0.0))
    return float(np.pi * reach**2), depth, float(out[0])


def _lost_by(case: SpotCase, rise: Floats, time: Floats) -> Floats:
    """Return the equivalent time at 250 degC of every point [s] over the whole history."""
    pace = equivalent_time(case.start + rise, 1.0)
    return np.asarray(np.trapezoid(np.vstack([0 * pace[:1], pace]), np.concatenate([[0.0], time]), axis=0))


def _at_the_well(head: Head, spot: Treatment, case: SpotCase) -> float:
    """Return the highest temperature of the wall of a plug well that stands on the middle line beside the spot [degC]."""
    across = min(abs(y) for _, y in ends_of(head, spot))
    away = max(across - WELLS.value, 0.0)
    return case.start + float(case.rise(away, 0.0, instants(case.dwell)).max())


def _seconds_left(head: Head, case: SpotCase) -> float | None:
    """Return how long after the target the surface comes to the ceiling, were the flame left on [s]."""
    time = case.dwell + np.linspace(0.0, _LONGEST, _WATCHED)
    surface = case.start + replace(case, dwell=float(time[-1])).rise(0.0, 0.0, time)[:, 0, 0]
    highest = heat_ceiling(head.alloy).highest
    if surface[-1] < highest:
        return None
    return float(np.interp(highest, surface, time) - case.dwell)


def cost_lines(cost: HeatCost, system: System) -> tuple[str, ...]:
    """Return the cost in sentences, the one place where they are worded."""
    low, high = cost.hardness
    soft = (
        f"The roof's temper is given up on purpose: about {1e4 * cost.area:.0f} cm2 of it lose half their temper, "
        f"{show(cost.depth, system, big=True)} deep of {show(cost.wall, system, big=True)}; expect {low:.0f} to {high:.0f} HB there."
        if cost.hardens and cost.area > 0
        else f"The roof has little temper to lose; expect {low:.0f} to {high:.0f} HB in the spots."
    )
    temperatures = (
        f"Highest elsewhere: deck and valve seats {show_temperature(cost.deck, system)}, walls of the plug wells "
        f"{show_temperature(cost.plugs, system)}. The deck's temper is never given up."
    )
    if cost.seconds is None:
        hand = f"This flame does not bring the roof to {show_temperature(cost.ceiling, system)} within a minute more."
    else:
        hand = (
            f"Left on, the flame takes {cost.seconds:.1f} s from the target to {show_temperature(cost.ceiling, system)}: "
            "that is all the time the hand has."
        )
    return soft, temperatures, hand


def targets_of(head: Head, section: Section, spots: Sequence[Treatment]) -> list[float]:
    """Return the surface temperature that each spot or stroke is meant to reach [degC]: asked for, or worked out from the powers that burn together.

    Source: `target_of`; `SpotCase.beside`.
    Valid: metal at room temperature before it.
    """
    own = [target_of(head, spot) for spot in spots]
    try:
        cases = cases_of(head, section, tuple(spots))
    except (BadInput, OutsideModel):  # what was done so is told by its own target
        return own
    return [
        peak + case.beside if case is not None and spot.peak is None else peak
        for peak, case, spot in zip(own, cases, spots, strict=True)
    ]


def hottest_over(head: Head, section: Section, spots: Sequence[Treatment]) -> float | None:
    """Return the hottest target above the heat ceiling [degC], or None where all keep it."""
    hottest = max(targets_of(head, section, spots), default=ROOM.value)
    return hottest if hottest > heat_ceiling(head.alloy).highest else None


def refused_peak(head: Head, section: Section, spots: Sequence[Treatment]) -> float | None:
    """Return the hottest target that is refused [degC]: any asked for above the ceiling, a worked-out one clearly above it.

    Source: `heat_ceiling`; a peak worked out from a power is known to `DOUBT`.
    """
    highest = heat_ceiling(head.alloy).highest
    doubts = [DOUBT.value if spot.peak is None else 0.0 for spot in spots]
    told = zip(targets_of(head, section, spots), doubts, strict=True)
    return max((peak for peak, doubt in told if peak - doubt > highest), default=None)
