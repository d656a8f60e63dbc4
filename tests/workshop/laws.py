"""What one heat does to a place of the roof: power laws fitted to the tables of 3D elements.

Source: 3D finite elements of a hollow box of 400 x 150 x 90 mm with a 10 mm roof, soaked and short-exposure yield curve
(the project's given tables and own runs, see tests/against_elements); `test_laws` holds the laws against them. Fitted to
the change of bow along the edges of deck and cam face; the centre lines carry a local part besides (`DISH`).

A spot shrinks by the volume S and is as soft, while hot, as a length l of the head without its roof:

    S = 18.8 mm3 (R/12)^2.15 (t/4)^0.69 ((T-250)/290)^1.45 (h/10)^-1
    l = 9.0 mm   (R/12)^2.64 (t/4)^1.32 ((T-250)/290)^2.02 (h/10)^-1 (strain/6.8e-4)^0.12, scaled by arm^2/I

R flux radius, t dwell, T peak, h roof. Under a clamp a spot alone grows by the dwell to the power 0.98 and the radius to
the power 2.2. On the short-exposure curve S is 0.37 and l is 0.53 of that; a head lies between. The exponent of h is the
issue's figure (7 against 9 mm is +45 % of the bow); no table of ours holds another roof.

All that is of four spots that burn at once. `alone` is set on own runs of the same box: one side and then the other, 12 mm
4 s, 18 mm 6 s, 22 mm 12 s, 26 mm 9 s and 12 mm 20 s, and one station alone; 13 % off at the most.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

FREE, SOFT = 18.8, 9.0  # mm3, mm
SHORT_FREE, SHORT_SOFT = 0.37, 0.53  # of the soaked curve
STROKE_FREE, STROKE_SOFT = 3.44, 5.60  # of 40 mm in 12 s, over a spot of 4 s
BOX_ARM2_I = 42.0**2 / 5.7137e6  # 1/mm2
STRAIN = 6.8e-4  # of the roof in the box's first clamp
AGAIN = 0.06  # of a fresh place, where a like heat comes a second time
INSIDE = 0.25  # power of a weaker heat's reach over the old one's: so much of what is kept stands in its way
ALONG = 2.03  # radii: shielding of a neighbour exp(-(d/ALONG R)^2), 0.58 at 1.5 radii
ROW_HOT, ROW_COLD = 0.6, 1.2  # more, where a row near by across the roof is hot with it, or was heated before
NEAR_ROW = 36.0  # mm across, over which that begins to fade; none is left at 60 mm
DIFFUSIVITY = 55.6  # mm2/s
IN_TURN = (0.70, 450.0, 1.2)  # share where no spot burns on the other side: a + b / spread [mm2], at the most
ONE_ROW = (0.30, 1500.0)  # less at the most, where no other station burns with it; spread [mm2] at half
WITHIN = 100.0  # mm along: farther stations do not help
DISH, DISH_WIDTH = 0.0041 / 18.8, 62.0  # mm a mm3, mm: what the centre lines fall besides, near a spot


@dataclass(frozen=True)
class Heat:
    """One spot, or one stroke from `across` to `across_to`, as it really was. `time` of the dwell or the whole stroke."""

    station: float
    across: float
    radius: float
    time: float
    peak: float
    across_to: float | None = None

    @property
    def dwell(self) -> float:
        """Seconds of a spot that is as long on the metal; a stroke of 40 mm in 12 s counts as 4 s."""
        return self.time if self.across_to is None else 4 * (self.time / 12) * (40 / self.path)

    @property
    def path(self) -> float:
        return 0.0 if self.across_to is None else max(abs(self.across_to - self.across), 5.0)

    def apart(self, other: Heat) -> float:
        """Distance across the roof to another [mm]."""
        mine = sorted((self.across, self.across if self.across_to is None else self.across_to))
        its = sorted((other.across, other.across if other.across_to is None else other.across_to))
        return max(its[0] - mine[1], mine[0] - its[1], 0.0)


@dataclass(frozen=True)
class Metal:
    """How a casting answers: `short` 0 on the soaked curve, 1 on the short-exposure one; factors of its own."""

    roof: float
    arm2_i: float
    length: float
    webs: tuple[float, ...]
    short: float = 0.0
    spot: float = 1.0
    kept: float = 1.0
    lean: float = 0.0


@dataclass(frozen=True)
class Place:
    """A heated place: its last heat, the kink it holds now, and what that takes off the middle [mm].

    `own` the most that a heat alone drove there, clamp left out; `reach` of its largest hot zone (`reach_of`).
    """

    heat: Heat
    kink: float
    fall: float
    own: float
    reach: float

    def in_the_way(self, own: float, reach: float) -> float:
        """Kink that a new heat, of so large an own one and so far a reach, finds done already.

        Of what the heat alone shrinks the smaller of the two; of what is kept of a clamp's bend most, the less the farther
        the old hot zone reached beyond the new one.
        """
        alone = min(self.own, max(self.kink, 0.0))
        inside = min(reach / self.reach, 1.0) ** INSIDE
        return min(alone, own) + (max(self.kink, 0.0) - alone) * inside


def shrunk(heat: Heat, metal: Metal) -> float:
    """Volume by which a fresh place shrinks, head free [mm3]."""
    power = (heat.radius / 12) ** 2.15 * (heat.dwell / 4) ** 0.69 * _over(heat.peak) ** 1.45
    stroke = 1.0 if heat.across_to is None else STROKE_FREE * heat.path / 40
    return FREE * power * stroke * SHORT_FREE**metal.short * metal.spot * _place(heat, metal)


def soft(heat: Heat, metal: Metal, strain: float) -> float:
    """Length of head that lacks its roof while the place is hot [mm]; `strain` of the roof in the clamp."""
    held = (max(abs(strain), 1e-6) / STRAIN) ** 0.12
    scale = metal.arm2_i / BOX_ARM2_I * SHORT_SOFT**metal.short * metal.spot * metal.kept
    return SOFT * reach_of(heat) * held * scale * _place(heat, metal)


def reach_of(heat: Heat) -> float:
    """Size of a hot zone as a clamp feels it, over that of 12 mm, 4 s, 540 C."""
    power = (heat.radius / 12) ** 2.64 * (heat.dwell / 4) ** 1.32 * _over(heat.peak) ** 2.02
    return power * (1.0 if heat.across_to is None else STROKE_SOFT * heat.path / 40)


def _over(peak: float) -> float:
    return max(peak - 250, 0.0) / 290


def _place(heat: Heat, metal: Metal) -> float:
    """Roof thickness, webs near by, nothing over the shims, and the casting's own lean."""
    xi = heat.station / metal.length
    end = min(max((min(xi, 1 - xi) - 0.10) / 0.06, 0.0), 1.0)
    near = min((abs(heat.station - web) for web in metal.webs), default=1e3)
    web = 1 - 0.3 * math.exp(-((near / heat.radius) ** 2))
    return (10 / metal.roof) * end * web * (1 + metal.lean * (1 - 2 * xi))


def shielding(new: Heat, old: Heat) -> float:
    """Share of what an old place holds that stands in the way of a new heat."""
    reach = ALONG * math.sqrt((new.radius**2 + old.radius**2) / 2)
    across = new.apart(old) / (0.8 * max(new.radius, old.radius))
    return math.exp(-(((new.station - old.station) / reach) ** 2) - across**2)


def widened(new: Heat, hot: list[Heat], cold: list[Heat]) -> float:
    """What a spot gains where another row, at the same station, is hot with it or was heated before."""
    most = max(
        (share * _beside(new, o) for share, row in ((ROW_HOT, hot), (ROW_COLD, cold)) for o in row),
        default=0.0,
    )
    return 1 + most


def alone(new: Heat, hot: list[Heat]) -> float:
    """Share of its law that a spot gives where others of the four that the law was fitted to do not burn with it.

    A slow flame warms the roof far about: spots that burn together soften one another's metal. A small one that burns
    together with another finds metal that is pressed less.
    """
    spread, share = new.radius**2 / 2 + 4 * DIFFUSIVITY * new.dwell, 1.0
    if not any(abs(o.station - new.station) <= new.radius for o in hot):
        least, slope, most = IN_TURN
        share *= min(least + slope / spread, most)
    if not any(new.radius < abs(o.station - new.station) <= WITHIN for o in hot):
        less, half = ONE_ROW
        wide = (spread / half) ** 3
        share /= 1 + less * wide / (1 + wide)
    return share


def _beside(new: Heat, other: Heat) -> float:
    radius, apart = max(new.radius, other.radius), new.apart(other)
    if new.across_to is not None or abs(other.station - new.station) > radius or apart < 0.8 * radius:
        return 0.0
    return math.exp(-((max(apart - NEAR_ROW, 0.0) / 12) ** 2))


def gained(own: float, kept: float, new: Heat, places: list[Place]) -> float:
    """Kink that a heat adds: its own and what it keeps of the clamp, less what the places it meets hold already; never under AGAIN of it."""
    kink = own + kept
    if kink <= 0:
        return kink
    left, reach = 1.0, reach_of(new)
    for place in places:
        left *= 1 - shielding(new, place.heat) * min(place.in_the_way(own, reach) / kink, 1.0)
    return max(left, AGAIN) * kink


def remembered(places: list[Place], new: Place) -> list[Place]:
    """Places with a new one; the same place heated again is one place, holding both."""
    kept = []
    for place in places:
        near = math.hypot(place.heat.station - new.heat.station, place.heat.apart(new.heat))
        if near < 0.5 * new.heat.radius:
            heat = new.heat if new.kink > 0.1 * place.kink else place.heat
            new = replace(
                new, heat=heat, kink=new.kink + place.kink, fall=new.fall + place.fall,
                own=max(new.own, place.own), reach=max(new.reach, place.reach),
            )  # fmt: skip
        else:
            kept.append(place)
    return [*kept, new]
