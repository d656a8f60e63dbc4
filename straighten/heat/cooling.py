r"""After the heat: how warm it leaves the head, how long to wait, and how much of the temper it takes.

Two clocks run. Heat put into the roof evens out down the walls within a minute or so; as long as the roof is warmer
than the deck the head reads high by

.. math:: \Delta b = \frac{\alpha\, \Delta T\, L^2}{8 H}

The whole head then loses its heat to still air by convection and radiation, which takes hours.

Over-ageing counts in time corrected for temperature, the time at 250 degC that does the same:

.. math:: \theta = \int e^{-\frac{Q}{R}\left(\frac{1}{T} - \frac{1}{T_{250}}\right)}\, dt

The share of the temper lost is s = x / (1 + x), x = (theta / tau)^m, between the sound metal and the soft one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp.section import GRAVITY
from straighten.heat.field import ROOM, gauss, is_solid, read
from straighten.sources import Cited
from straighten.units import show_difference

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from straighten.clamp.section import Section
    from straighten.head.records import Alloy, Head

    Floats = NDArray[np.float64]


KELVIN: Final = 273.15
STEFAN_BOLTZMANN: Final = Cited(5.670374419e-8, "W/(m2 K4)", "CODATA 2018", "from memory")
CONVECTION: Final = Cited(
    5.0,
    "W/(m2 K)",
    "still air, block of a head's size; Churchill and Chu give 6 to 8 on upright faces",
    "from memory",
)
EMISSIVITY: Final = Cited(
    0.3,
    "",
    "clean and uncovered aluminium, EN 1999-1-2:2023, 5.2.1.4 Emissivity coefficient (title of the clause seen, figure second hand)",
    "seen",
)
HAND_WARM: Final = Cited(40.0, "degC", "unclamp when hand-warm", "common practice, no source")
SMALLEST_WARMTH: Final = Cited(2.0, "K", "a head this close to the room counts as cold", "assumed")
STEELS: Final = {  # density times heat capacity [J/(m3 K)]
    "steel": Cited(7850 * 460.0, "J/(m3 K)", "carbon steel near room temperature", "from memory"),
    "iron": Cited(7200 * 500.0, "J/(m3 K)", "grey cast iron", "from memory"),
    "aluminium": Cited(2700 * 920.0, "J/(m3 K)", "EN 1999-1-2, 3.2.2 and 3.3.1.2", "from memory"),
}
BLOCK_FILL: Final = Cited(0.4, "", "share of an engine block's outline that is metal", "assumed")
MIDDLE: Final = Cited(
    2.0,
    "",
    "spots stand in the middle: their heat bows the head twice as much as if it were spread",
    "derived",
)
COOL_STEPS: Final = 64
LONG_WAIT: Final = 1800.0  # s: beyond it nobody looks at single minutes
START_STEP: Final = 5.0  # K: starts this alike share one answer


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """What cools as one: heat `capacity` [J/K], `surface` to the air [m2], `emissivity`, `convection` [W/(m2 K)]."""

    capacity: float
    surface: float
    emissivity: float = EMISSIVITY.value
    convection: float = CONVECTION.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """How long to leave it [s]: until a reading is `honest`, until it may be unclamped (`unclamp`), `why` in words."""

    honest: float
    unclamp: float
    why: str


def heat_capacity(head: Head, section: Section) -> float:
    """Return the heat capacity of the bare head [J/K].

    Source: weight of the section over standard gravity, the alloy's own table.
    Valid: near room temperature.
    """
    return section.weight / GRAVITY.value * float(read(head.alloy.heat_capacity, ROOM.value))


def bulk_rise(head: Head, section: Section, heat: float) -> float:
    """Return the rise of the whole head once the heat [J] is even in it [K].

    Source: heat balance.
    Valid: before any of it is lost.
    """
    return heat / heat_capacity(head, section)


def head_body(head: Head, section: Section) -> Body:
    """Return the bare head as a cooling body: the faces of its outline, inner walls left out.

    Source: a box.
    Valid: ports and towers add to the surface, so it cools a bit faster.
    """
    c = head.casting
    surface = 2 * (c.length * c.width + c.length * c.height + c.width * c.height)
    return Body(capacity=heat_capacity(head, section), surface=surface)


def clamped_body(head: Head, section: Section) -> Body:
    """Return head and base together, as they stand in the oven and beside it.

    Source: sizes of the base; a rigid base is left out.
    Valid: head and base at one temperature.
    """
    alone, base = head_body(head, section), head.base
    if base.kind == "rigid":
        return alone
    capacity = STEELS[base.material].value * base.thickness * base.width * base.length
    capacity *= BLOCK_FILL.value if base.kind == "block" else 1.0
    surface = base.width * base.length + 2 * base.thickness * (base.width + base.length)
    return Body(capacity=alone.capacity + capacity, surface=alone.surface + surface)


def cooling_time(body: Body, start: float, end: float, room: float = ROOM.value) -> float:
    r"""Return the time to cool from `start` to `end` [s] in still air.

    .. math:: t = \int \frac{C\, dT}{A\,(h (T - T_0) + \varepsilon\sigma (T^4 - T_0^4))}

    `start` [degC]; `end` [degC], above the room; `room` [degC].

    Source: Newton's law and Stefan-Boltzmann; Incropera & DeWitt (from memory); quadrature derived.
    Valid: one temperature throughout (Biot number far under 0.1).
    """
    if start <= end:
        return 0.0
    node, weight = gauss(COOL_STEPS)
    top, bottom = math.log(start - room), math.log(end - room)
    over = np.exp((top + bottom) / 2 + (top - bottom) / 2 * node)
    warm, cold = room + over + KELVIN, room + KELVIN
    loss = body.convection * over + body.emissivity * STEFAN_BOLTZMANN.value * (warm**4 - cold**4)
    return float((over / loss * weight).sum() * (top - bottom) / 2 * body.capacity / body.surface)


def evening_time(head: Head) -> float:
    """Return the time constant in which roof and deck come to one temperature [s].

    Roof and deck as two stores, side walls, webs and end walls as the conductor between them.

    Source: two lumps and a conductor; derived. 3D elements of a 400 x 150 x 90 mm box: 25 s.
    Valid: hollow castings; a solid one evens out over its height.
    """
    casting, plates, alloy = head.casting, head.casting.plates, head.alloy
    conductivity = float(read(alloy.conductivity, ROOM.value))
    capacity = alloy.density * float(read(alloy.heat_capacity, ROOM.value))
    if is_solid(head):
        return casting.height**2 / (math.pi**2 * conductivity / capacity)
    wall = plates.side_walls if plates is not None else 0.006
    ends = plates.end_walls if plates is not None else 0.006
    across = sum(w.thickness for w in casting.webs) + 2 * ends
    walls = 2 * wall * casting.length + across * casting.width
    flow = conductivity * walls / (casting.height - (casting.roof + casting.deck) / 2)
    face = casting.length * casting.width * capacity
    roof, deck = face * casting.roof, face * casting.deck
    return roof * deck / (roof + deck) / flow


def thermal_bow(head: Head, warmer: float) -> float:
    """Return how much a roof warmer than the deck by `warmer` [K] bows the head up [m].

    Source: alpha dT L^2 / (8 H), Timoshenko (from memory); derived.
    Valid: straight gradient over the height.
    """
    alpha = float(read(head.alloy.expansion, ROOM.value))
    return alpha * warmer * head.casting.length**2 / (8 * head.casting.height)


def wait_after_spots(head: Head, section: Section, heat: float, step: float) -> Wait:
    """Return the wait after the last torch spot.

    `heat` put in by the last round of spots [J]; `step` of the blades one reads with [m]; a reading is honest
    to half of it.

    Valid: the heat of one round of spots; a clamped head cools as a bare one, since it stands on shims.
    """
    casting = head.casting
    roof = head.alloy.density * float(read(head.alloy.heat_capacity, ROOM.value))
    roof *= casting.length * casting.width * (casting.height / 2 if is_solid(head) else casting.roof)
    first, even = MIDDLE.value * thermal_bow(head, heat / roof), evening_time(head)
    honest = even * max(math.log(first / (step / 2)), 0.0) if first > 0 else 0.0
    body, warm = head_body(head, section), ROOM.value + bulk_rise(head, section, heat)
    warmer, stays = (show_difference(rise, head.system) for rise in (heat / roof, warm - ROOM.value))
    why = (
        f"the roof is {warmer} warmer than the deck at first and bows the head up; "
        f"that halves every {even * math.log(2):.0f} s; the whole head stays {stays} warm"
    )
    wait = max(cooling_time(body, warm, HAND_WARM.value), honest, even * 3)  # it is read once it is free
    return Wait(honest=wait, unclamp=wait, why=why)


def wait_after_soak(head: Head, section: Section, temperature: float, step: float) -> Wait:
    """Return the wait after the oven is switched off and opened.

    `temperature` of the soak [degC]; `step` of the blades one reads with [m].

    Source: `cooling_time`; while it cools, top and foot differ by what the air takes (derived).
    Valid: still air, oven door open or the assembly out on the bench.
    """
    body = clamped_body(head, section)
    unclamp = cooling_time(body, temperature, HAND_WARM.value)
    near = ROOM.value + max(SMALLEST_WARMTH.value, _warmth_read(head, body, step))
    honest = max(unclamp, cooling_time(body, temperature, near))
    why = "slow cooling in still air; the bench reading waits for the room's temperature, unclamping for hand-warm"
    return Wait(honest=honest, unclamp=unclamp, why=why)


def _warmth_read(head: Head, body: Body, step: float) -> float:
    """Warmth over the room at which the air's one-sided cooling bows the head by half a blade step [K]."""
    casting = head.casting
    conductivity = float(read(head.alloy.conductivity, ROOM.value))
    loss = body.convection + 4 * body.emissivity * STEFAN_BOLTZMANN.value * (ROOM.value + KELVIN) ** 3
    per_kelvin = loss * casting.height / (conductivity * 0.2)  # a fifth of the section conducts upright
    bow = thermal_bow(head, per_kelvin)
    return step / 2 / bow if bow > 0 else math.inf


def clock(start: datetime, wait: float) -> datetime:
    """Return the time of day when a wait [s] is over, rounded up to the minute; a long wait to five minutes."""
    over, step = start + timedelta(seconds=wait), 300 if wait > LONG_WAIT else 60
    late = over.minute * 60 % step + over.second + over.microsecond * 1e-6
    return over if late == 0 else over + timedelta(seconds=step - late)


def spot_start(head: Head, section: Section, starts: Floats, heat: Floats) -> list[float]:
    """Return the temperature of the head when each spot's torch comes on [degC], to five degrees.

    `starts` when each torch comes on [s]; `heat` each spot puts in [J].

    Source: heat balance with Newton cooling.
    Valid: heat even in the head before the next spot; a bit warmer right beside the last one.
    """
    body = head_body(head, section)
    loss = body.convection + 4 * body.emissivity * STEFAN_BOLTZMANN.value * (ROOM.value + KELVIN) ** 3
    gap = starts[:, None] - starts
    left = np.where(gap > 0, np.exp(-loss * body.surface / body.capacity * np.maximum(gap, 0.0)), 0.0)
    rise = (left * heat).sum(axis=1) / body.capacity
    return [ROOM.value + START_STEP * round(r / START_STEP) for r in rise.tolist()]


GAS_CONSTANT: Final = Cited(8.314462618, "J/(mol K)", "CODATA 2018, exact in the SI of 2019", "from memory")
REFERENCE: Final = 250.0 + KELVIN
ACTIVATION: Final = Cited(
    137.5e3,
    "J/mol",
    "6061-T6 and 6063-T6 fall under their specified yield after 16 h at 390 F and 4 h at 425 F (California State "
    "University senior project 2015, abstract seen); Arrhenius through the two points",
    "derived",
)
ACTIVATION_SPREAD: Final = Cited(
    28e3,
    "J/mol",
    "the same two points were read at doublings of time, so each crossing lies in a factor of two: 69 to 206 kJ/mol",
    "derived",
)
PIVOT: Final = Cited(
    209.0, "degC", "middle of those two points: there the activation energy does not matter", "derived"
)
HALF_LIFE: Final = Cited(
    1.25 * 3600,
    "s",
    "half of the temper lost at 250 degC: between 0.5 h (yield at 0.87 of T6, from the same two points) and 2 to 4 h "
    "(proof stress 0.40 to 0.44 of T6, LM25 data page)",
    "derived",
)
STEEPNESS: Final = Cited(1.58, "", "slope between the same two figures", "derived")
SOFT_HARDNESS: Final = Cited(
    0.60,
    "",
    "hardness of the soft metal over T6; HB 65-75 against 90-110 after 2 to 4 h at 250 degC (LM25)",
    "derived",
)
SPREAD: Final = Cited(
    0.5, "log-sd", "of the softening time: half to twice, the width of the sources at 250 degC", "derived"
)
TESTED: Final = Cited(
    600.0,
    "s",
    "a hot tensile test holds the bar at temperature about ten minutes before the pull",
    "from memory",
)
LONG: Final = Cited(100 * 3600.0, "s", "conditioned test bars are soaked 100 h", "from memory")
OVERAGED: Final = Cited(
    3.0 * 3600, "s at 250 degC", "T7 and TB7 stabilise at 250 degC for 2 to 4 h (LM25 data page)", "seen"
)
AGED: Final = ("T5", "T51", "T6", "T61", "T571", "TF", "unknown")
OVER_AGED: Final = ("T7", "T71", "TB7")


def equivalent_time(
    temperature: ArrayLike, duration: ArrayLike, activation: ArrayLike = ACTIVATION.value
) -> Floats:
    """Return the time at 250 degC [s] that ages as much as `duration` [s] at `temperature` [degC].

    `temperature` [degC], any shape; `duration` [s], same shape or scalar; `activation` [J/mol].

    Source: temperature-corrected time, Shercliff & Ashby, Acta Metall. Mater. 38 (1990) 1789 (from memory).
    Valid: below the solvus, about 480 degC; above it the precipitates dissolve, which softens as well.
    """
    kelvin = np.asarray(temperature, dtype=np.float64) + KELVIN
    faster = np.asarray(activation, dtype=np.float64) / GAS_CONSTANT.value * (1 / REFERENCE - 1 / kelvin)
    return np.asarray(np.asarray(duration, dtype=np.float64) * REFERENCE / kelvin * np.exp(faster))


def temper_lost(aged: ArrayLike, pace: ArrayLike = 1.0) -> Floats:
    """Return the share of the temper lost after an equivalent time at 250 degC [s]; `pace` multiplies the time.

    Source: `HALF_LIFE` and `STEEPNESS` (derived).
    Valid: Al-Si-Mg castings in T6; half to twice the time (`SPREAD`).
    """
    x = (
        np.asarray(aged, dtype=np.float64) * np.asarray(pace, dtype=np.float64) / HALF_LIFE.value
    ) ** STEEPNESS.value
    return np.asarray(x / (1 + x))


def yield_at(alloy: Alloy, temperature: ArrayLike, aged: ArrayLike, pace: ArrayLike = 1.0) -> Floats:
    """Return the yield stress [Pa] at temperature of metal that has aged so long, between the alloy's two hot curves.

    The curve of short exposure holds where no more is lost than bars lose while they are warmed and pulled, the soaked one
    where as much is lost as in bars that were conditioned at that temperature before the test.

    `temperature` of the metal now [degC], any shape; `aged` equivalent time at 250 degC so far [s], shape
    that goes with it; `pace` multiplies the time.

    Source: `temper_lost` between its values after `TESTED` and `LONG` at that temperature; mixing of the logs (assumed).
    Valid: metal held at that temperature; `hardness_after` gives what ageing costs the cold metal.
    """
    tested, conditioned = (temper_lost(equivalent_time(temperature, t.value)) for t in (TESTED, LONG))
    share = np.clip((temper_lost(aged, pace) - tested) / np.maximum(conditioned - tested, 1e-12), 0.0, 1.0)
    short, soaked = read(alloy.yield_short, temperature), read(alloy.yield_soaked, temperature)
    return np.asarray(short * (soaked / short) ** share)


def pace_spread(temperature: ArrayLike) -> Floats:
    """Return the log standard deviation of the pace of softening at a temperature [degC].

    Source: `SPREAD`, and `ACTIVATION_SPREAD` about its pivot (derived).
    """
    away = 1 / (PIVOT.value + KELVIN) - 1 / (np.asarray(temperature, dtype=np.float64) + KELVIN)
    return np.hypot(SPREAD.value, ACTIVATION_SPREAD.value / GAS_CONSTANT.value * away)


def hardness_after(alloy: Alloy, before: ArrayLike, aged: ArrayLike, pace: ArrayLike = 1.0) -> Floats:
    """Return the hardness [HB] after an equivalent time at 250 degC.

    `alloy` its temper tells how far the metal has aged already; `before` hardness measured now, or the
    table's [HB]; `aged` equivalent time at 250 degC [s]; `pace` multiplies the time (spread of the
    softening).

    Source: LM25 data page: HB 65-75 after 2 to 4 h at 250 degC against 90-110 (seen); shape derived.
    Valid: Al-Si-Mg castings; metal without a temper keeps its hardness.
    """
    aged_time, start = np.asarray(aged, dtype=np.float64), 0.0
    if alloy.temper in OVER_AGED:
        start = OVERAGED.value
    elif alloy.temper not in AGED and not alloy.family.startswith("own"):
        return np.broadcast_to(
            np.asarray(before, dtype=np.float64), np.broadcast(before, aged_time).shape
        ).copy()
    drop = 1 - SOFT_HARDNESS.value
    now, then = (1 - drop * temper_lost(t, pace) for t in (start, start + aged_time))
    return np.asarray(np.asarray(before, dtype=np.float64) * then / now)


def hardness_range(alloy: Alloy, aged: float, temperature: float, draws: int) -> tuple[Floats, Floats]:
    """Return lowest and highest hardness before and after an ageing, each `(draws, 2)` [HB].

    `aged` equivalent time at 250 degC [s]; `temperature` hottest of the metal [degC]: the pace is known worse
    away from 200 degC; `draws` how many rows, all alike.

    Source: `hardness_after`; the 10 and 90 % ends of `pace_spread`.
    """
    sound = np.broadcast_to(np.asarray(alloy.hardness, dtype=np.float64), (draws, 2))
    pace = np.exp(1.28 * pace_spread(temperature) * np.array([1.0, -1.0]))
    return sound, hardness_after(alloy, sound, aged, pace)
