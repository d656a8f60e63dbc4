"""How many heads of the workshop end straight for one who knows each of them: ``python -m tests.benchmarks.reach``.

Options: ``[--heads 40] [--seed 144] [--places middles|thirds|quarters]``. The last line printed is one JSON object:
heads, straight, past, heats, by_bow as in `tests.benchmarks.jobs`.

The truth of the head is known and so are the workshop's laws; luck of pass and place is not. A pass is chosen by what it
would leave on the average: tip, shims, and a dwell of its own for every place, one place after the other, until nothing
gets better. The first pass aims as if heat did 1.4 times, the second 1.1 times what it does, so that luck seldom goes past
straight. Places of one pass are 2.5 flux radii apart. Four clampings at the most.

What it says: heads lost here are lost to the tools and places, not to what nobody could know. It looks one pass ahead,
with one tip and one peak, so it is no upper bound.
"""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tests.benchmarks.jobs import by_bow, counted
from tests.workshop.bench import Clamping, Deed, carried_out
from tests.workshop.castings import Truth, draw
from tests.workshop.ended import cam_out, cut, straight
from tests.workshop.laws import Heat

PARTS = {"middles": (0.5,), "thirds": (1 / 3, 0.5, 2 / 3), "quarters": (0.25, 0.5, 0.75)}  # of a bay
AIMS = (1.4, 1.1, 1.0, 1.0)  # what heat is reckoned to do over its law, pass by pass
SHIMS, DWELLS = (0.0, 0.15, 0.3, 0.45), (0, 2, 3, 5, 8, 12, 18, 25)
APART, OFF_WEB = 2.5, 0.8  # flux radii
PEAK, LONGEST, SWEEPS = 515.0, 25.0, 3


class Foretold(Clamping):
    """A clamping as it goes on the average, heat doing `aim` times its law."""

    def __init__(self, truth: Truth, deed: Deed, aim: float) -> None:
        super().__init__(truth, deed, luck=0)
        self._scale, self._each, self._missed = aim, np.ones(96), np.zeros((96, 4))
        self._shims = deed.shims


@dataclass(frozen=True)
class Way:
    """One tip over one height of shims: places that may be heated and how long each is."""

    tip: float
    shim: float
    places: tuple[float, ...]
    dwells: tuple[float, ...]

    def deed(self, truth: Truth) -> Deed:
        c = truth.casting
        inner = sorted(c.bolts, key=lambda b: abs(b - c.length / 2))[: 3 if len(c.bolts) > 4 else 2]
        heats = [
            (Heat(place, side * c.rows, self.tip, dwell, PEAK),)
            for place, dwell in zip(self.places, self.dwells, strict=True)
            if dwell
            for side in (-1, 1)
        ]
        return Deed(shims=(self.shim,) * 4, pulls=tuple(sorted(inner)), groups=tuple(heats))

    def fits(self) -> bool:
        hot = [place for place, dwell in zip(self.places, self.dwells, strict=True) if dwell]
        return all(b - a >= APART * self.tip - 0.1 for a, b in pairwise(hot))

    def near(self) -> Iterator[Way]:
        """Yield it with one place heated longer, shorter, not at all, or anew."""
        for k, dwell in enumerate(self.dwells):
            for other in [dwell * f for f in (0, 0.6, 0.8, 1.25, 1.6)] if dwell else (2, 5, 12):
                dwells = (*self.dwells[:k], min(other, LONGEST) if other >= 1 else 0.0, *self.dwells[k + 1 :])
                way = Way(self.tip, self.shim, self.places, dwells)
                if way.fits():
                    yield way


def badness(truth: Truth) -> float:
    """What a head is out: its cam line over half the limit, the metal that is too much, and three times what is past straight."""
    _, cam, *_ = truth.casting.limits
    past = -truth.cam_bow * math.copysign(1, truth.start_cam) - 0.3 * cam
    return (
        max(cam_out(truth) - 0.5 * cam, 0.0)
        + 2 * max(cut(truth) - truth.casting.removal_left, 0.0)
        + 3 * max(past, 0.0)
    )


def after(truth: Truth, way: Way, aim: float) -> Truth:
    deed = way.deed(truth)
    if not deed.groups:
        return truth
    clamping = Foretold(truth, deed, aim)
    clamping.heat(deed.groups)
    return clamping.truth


def ways(truth: Truth, parts: tuple[float, ...]) -> Iterator[Way]:
    """Yield where to begin: every tip and shim, the middles or the places about them heated alike."""
    c = truth.casting
    bays = list(pairwise(c.webs))
    for tip in c.tips:
        places = tuple(
            place
            for place in sorted(a + part * (b - a) for a, b in bays for part in parts)
            if 0.145 <= place / c.length <= 0.855
            and all(abs(place - station) >= radius + tip for station, radius in c.keep_off)
            and min(abs(place - web) for web in c.webs) >= 4.75 + OFF_WEB * tip
        )
        in_middle = [min(abs(place - (a + b) / 2) for a, b in bays) < 1 for place in places]
        for shim in SHIMS:
            for middles in (True, False):
                for dwell in DWELLS:
                    way = Way(tip, shim, places, tuple(dwell * (m == middles) for m in in_middle))
                    if way.fits():
                        yield way


def best(truth: Truth, parts: tuple[float, ...], aim: float) -> Way:
    begun: dict[tuple[float, float, bool], tuple[float, Way]] = {}
    for way in ways(truth, parts):
        found, kind = badness(after(truth, way, aim)), (way.tip, way.shim, any(way.dwells))
        if kind not in begun or found < begun[kind][0]:
            begun[kind] = (found, way)
    return min((_descended(truth, *one, aim) for one in begun.values()), key=lambda one: one[0])[1]


def _descended(truth: Truth, bad: float, way: Way, aim: float) -> tuple[float, Way]:
    for _ in range(SWEEPS):
        before = bad
        for _ in way.places:
            found, nearest = min(
                ((badness(after(truth, w, aim)), w) for w in way.near()), key=lambda one: one[0]
            )
            if found >= bad - 1e-6:
                break
            bad, way = found, nearest
        if bad > before - 1e-4:
            break
    return bad, way


def known_head(number: int, parts: tuple[float, ...]) -> dict[str, float]:
    truth = draw(number)
    for aim in AIMS:
        if straight(truth):
            break
        deed = best(truth, parts, aim).deed(truth)
        if not deed.groups:
            break
        truth = carried_out(truth, deed).truth
    return {
        "number": number, "bow": truth.start_cam, "straight": straight(truth), "past": truth.past, "heats": truth.passes, "metal": cut(truth),
    }  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--heads", type=int, default=40)
    parser.add_argument("--seed", type=int, default=144, help="number of the first head")
    parser.add_argument("--places", choices=tuple(PARTS), default="middles")
    told = parser.parse_args()
    rows = [known_head(n, PARTS[told.places]) for n in range(told.seed, told.seed + told.heads)]
    shares = {key: round(value, 3) for key, value in counted(rows).items() if key != "metal"}
    print(json.dumps({"heads": len(rows), **shares, "by_bow": by_bow(rows, [])}))


if __name__ == "__main__":
    main()
