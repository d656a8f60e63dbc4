r"""Cooling: how warm the heat leaves the head, how long until a reading is honest, until it may be unclamped.

Two clocks run. Heat put into the roof evens out down the walls within a minute or so; as long as the roof is warmer
than the deck the head reads high by

.. math:: \Delta b = \frac{\alpha\, \Delta T\, L^2}{8 H}

The whole head then loses its heat to still air by convection and radiation, which takes hours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp.section import GRAVITY
from straighten.heat.field import ROOM, gauss, read
from straighten.heat.hardness import KELVIN
from straighten.sources import Cited

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.clamp.section import Section
    from straighten.head.records import Base, Head

    Floats = NDArray[np.float64]


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
    return Body(capacity=alone.capacity + capacity, surface=alone.surface + _base_surface(base))


def _base_surface(base: Base) -> float:
    edges = 2 * base.thickness * (base.width + base.length)
    return base.width * base.length + edges


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
    if plates is not None and plates.solid:
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
    roof *= casting.length * casting.width * (casting.height / 2 if _solid(head) else casting.roof)
    first, even = MIDDLE.value * thermal_bow(head, heat / roof), evening_time(head)
    honest = even * max(math.log(first / (step / 2)), 0.0) if first > 0 else 0.0
    body, warm = head_body(head, section), ROOM.value + bulk_rise(head, section, heat)
    unclamp = cooling_time(body, warm, HAND_WARM.value)
    honest = max(honest, even * 3)
    why = (
        f"the roof is {heat / roof:.0f} K warmer than the deck at first and bows the head up; "
        f"that halves every {even * math.log(2):.0f} s; the whole head stays {warm - ROOM.value:.0f} K warm"
    )
    wait = max(unclamp, honest)  # it is read once it is free
    return Wait(honest=wait, unclamp=wait, why=why)


def _solid(head: Head) -> bool:
    return head.casting.plates is not None and head.casting.plates.solid


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
