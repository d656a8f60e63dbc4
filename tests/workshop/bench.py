"""At the bench: what a person does of what was planned, and what it does to the head."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from tests.workshop import laws
from tests.workshop.castings import MIDDLE, XI, Truth
from tests.workshop.clamping import Grip, grip
from tests.workshop.laws import Heat, Place

SLIP, SETTLE = 0.04, 0.15  # chance that a shim slips, that stacks settle
CEILING = 535.0  # degC: an operator who misses upward sees the crayon run and lifts the torch


@dataclass(frozen=True)
class Deed:
    """What is to be done in one clamping; the radius of a heat is what its owner takes the tip for.

    `groups` of heats that burn at once, in order; `torque` that is not to be passed [Nm], None by hand.
    """

    shims: tuple[float, float, float, float]
    pulls: tuple[float, ...]
    groups: tuple[tuple[Heat, ...], ...]
    gap: float = 0.0
    torque: float | None = None
    reverse: bool = False

    @property
    def heats(self) -> tuple[Heat, ...]:
        return tuple(heat for group in self.groups for heat in group)


@dataclass(frozen=True)
class Outcome:
    """The head after a clamping, and the gap that was left in the middle [mm]."""

    truth: Truth
    gap: float


def carried_out(truth: Truth, deed: Deed, luck: int | None = None) -> Outcome:
    """Return what a clamping does, all its heats in one go. `luck` other than None draws another luck than the head's own."""
    clamping = Clamping(truth, deed, luck)
    clamping.heat(deed.groups)
    return Outcome(truth=clamping.released(), gap=clamping.gap)


class Clamping:
    """One clamping under way: heats in one go or in stages, between which the nuts are slackened and a blade is tried.

    `truth` the head as it lies now, `gap` left in the middle when it was last pulled down, as it is read [mm].
    """

    def __init__(self, truth: Truth, deed: Deed, luck: int | None = None) -> None:
        self.truth, self.deed, self.gap = truth, deed, 0.0
        self._rng, self._count = luck_of(truth, luck), 0
        self._scale, self._each = (
            _luck(truth, self._rng),
            np.exp(0.12 * self._rng.standard_normal(96)),
        )
        self._missed = self._rng.standard_normal((96, 4))
        self._shims = _shims(deed, self._rng)

    def heat(self, groups: tuple[tuple[Heat, ...], ...]) -> None:
        """Pull the head down over its shims, and heat one group after the other."""
        truth, deed = self.truth, self.deed
        stop = {"gap": deed.gap + truth.hand["gap"], "reverse": float(deed.reverse)}
        if deed.torque is not None:
            stop["torque"] = deed.torque
        held = grip(truth, self._shims, deed.pulls, stop)
        self.gap = held.gap - truth.hand["gap"]
        places, fallen = list(truth.places), 0.0
        drop, dish = np.zeros(XI.size), np.zeros(XI.size)
        for group in groups:
            numbers = np.arange(self._count, self._count + len(group)) % 96
            done = [_as_done(truth, heat, self._missed[n]) for heat, n in zip(group, numbers, strict=True)]
            found = _burnt(truth, (held, fallen), done, places, self._scale * self._each[numbers])
            self._count += len(group)
            for place in found:
                drop += place.kink * _triangle(truth, place.heat.station)
                dish += _dish(truth, place)
                fallen += place.fall
                places = laws.remembered(places, place)
        self.truth = replace(_fallen(truth, drop, dish), places=tuple(places))

    def slack(self) -> tuple[float, float]:
        """Gap under the middle of the exhaust edge and of the inlet edge, nuts slack, the head on its shims [mm]."""
        a, b = (s / self.truth.casting.length for s in self.truth.casting.shims)
        found = []
        for edge, sides in ((0, (0, 2)), (2, (1, 3))):
            line = self.truth.deck[edge]
            under = (np.interp(a, XI, line) + np.interp(b, XI, line)) / 2
            shims = sum(self._shims[n] for n in sides) / 2
            found.append(float(line[MIDDLE] - under) + shims - self.truth.hand["gap"])
        return found[0], found[1]

    def released(self) -> Truth:
        """The head after the clamping, cold and free."""
        after = _loosened(self.truth, self._rng)
        past = after.cam_bow * math.copysign(1, after.start_cam) < -after.casting.limits[1]
        return replace(after, passes=after.passes + 1, past=after.past or past)


def luck_of(truth: Truth, luck: int | None) -> np.random.Generator:
    """The head's own luck in this clamping, or another."""
    seed = [truth.number, 2, truth.passes] if luck is None else [truth.number, 7, truth.passes, luck]
    return np.random.default_rng(seed)


def _luck(truth: Truth, rng: np.random.Generator) -> float:
    """A factor of the pass: log scale `scatter`, Student t with five degrees of freedom."""
    return math.exp(truth.scatter * rng.standard_t(5) / math.sqrt(5 / 3))


def _shims(deed: Deed, rng: np.random.Generator) -> tuple[float, ...]:
    """The stacks as they are under load: blades off their thickness, settling now and then, one slipping."""
    off = rng.normal(0, 0.004, 4) - (rng.uniform(0.01, 0.03) if rng.random() < SETTLE else 0.0)
    real = [max(s + o, 0.0) if s > 0 else 0.0 for s, o in zip(deed.shims, off, strict=True)]
    if rng.random() < SLIP:
        real[rng.integers(4)] *= 0.4
    return tuple(real)


def _as_done(truth: Truth, heat: Heat, off: np.ndarray) -> Heat:
    """The heat as it really was: a flame of its true size, dwell and peak missed, a place off by some 2 mm."""
    hand = truth.hand
    tip = int(np.argmin([abs(t - heat.radius) for t in truth.casting.tips]))
    time = heat.time * hand["dwell"] * math.exp(0.12 * off[0])
    peak = min(heat.peak + hand["peak"] + 14 * off[1], CEILING)
    shift = 2 * off[3]
    return replace(
        heat, station=heat.station + 2 * off[2], across=heat.across + shift, radius=heat.radius * truth.flame[tip],
        time=time, peak=peak, across_to=None if heat.across_to is None else heat.across_to + shift,
    )  # fmt: skip


def _burnt(
    truth: Truth, held: tuple[Grip, float], group: list[Heat], places: list[Place], luck: np.ndarray
) -> list[Place]:
    """What every heat of a group adds: its own shrinking, and what its hot place takes over of the clamp's bend."""
    clamp, fallen = held
    again = sum(p.fall * max(laws.shielding(h, p.heat) for h in group) for p in places)
    eased = math.copysign(again - fallen, (again - fallen) * float(clamp.curvature[MIDDLE]))
    force = max(clamp.force + eased / clamp.closing, 0.0) if clamp.force > 0 else 0.0
    cold = [p.heat for p in places]
    others = [[o for o in group if o is not h] for h in group]
    sides = [laws.widened(h, hot, cold) * laws.alone(h, hot) for h, hot in zip(group, others, strict=True)]
    softness = []
    for heat, side, own in zip(group, sides, luck, strict=True):
        bent = float(np.interp(heat.station / truth.casting.length, XI, clamp.curvature))
        length = side * own * laws.soft(heat, truth.metal, bent * force * truth.arm)
        softness.append(
            (length * bent, length * bent * _middle(truth, heat.station) * math.copysign(1, bent or 1.0))
        )
    force /= 1 + sum(s for _, s in softness) / clamp.closing
    found = []
    for heat, side, own, (kink, _) in zip(group, sides, luck, softness, strict=True):
        own_kink = side * own * laws.shrunk(heat, truth.metal) * truth.arm / truth.inertia
        added = laws.gained(own_kink, kink * force, heat, places)
        fall, reach = added * _middle(truth, heat.station), max(laws.reach_of(heat), 1e-6)
        found.append(Place(heat=heat, kink=added, fall=fall, own=own_kink, reach=reach))
    return found


def _triangle(truth: Truth, station: float) -> np.ndarray:
    xi, length = station / truth.casting.length, truth.casting.length
    return length * np.where(xi > XI, XI * (1 - xi), xi * (1 - XI))


def _middle(truth: Truth, station: float) -> float:
    return float(_triangle(truth, station)[MIDDLE])


def _dish(truth: Truth, place: Place) -> np.ndarray:
    """What the centre lines fall besides, near a heat [mm]."""
    volume = place.kink * truth.inertia / truth.arm
    x = XI * truth.casting.length
    return 0.55 * laws.DISH * volume * np.exp(-(((x - place.heat.station) / laws.DISH_WIDTH) ** 2))


def _fallen(truth: Truth, drop: np.ndarray, dish: np.ndarray) -> Truth:
    """The lines after heats: edges by the kinks, centre lines by the dish besides, the cam line by its own ratio."""
    deck = truth.deck - drop
    deck[1] -= dish
    cam = truth.cam - truth.cam_ratio * drop
    if truth.casting.cam_lines == 1:
        cam = cam - truth.cam_ratio * dish
    return replace(truth, deck=deck, cam=cam)


def _loosened(truth: Truth, rng: np.random.Generator) -> Truth:
    """What every line does of its own at a release: 3 um of bow and of a wave."""
    modes = np.stack([4 * XI * (1 - XI), np.sin(2 * math.pi * XI)])
    loose = 0.003 * rng.standard_normal((3 + truth.cam.shape[0], 2)) @ modes
    return replace(truth, deck=truth.deck + loose[:3], cam=truth.cam + loose[3:])
