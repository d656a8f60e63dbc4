"""Rules of the hand: people with the same head, tools, freedom and luck, and no program.

Each reads deck and cam line with the same errors, chooses shims, tip and dwell, heats the bays on both sides, goes over
used places with a stronger flame, and scales the next pass by what the last one took. All know that twice the time
or half as wide again a flame is about twice the work. They stop when no blade as thick as the limit goes in the
cam line and the deck is in its limit or can be sanded to it, when the cam line reads straight or past, or after five
clampings.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations_with_replacement

from tests.workshop.bench import Deed, carried_out
from tests.workshop.castings import BLADES, Casting, Truth
from tests.workshop.ended import Job, cam_out, cut, deck_out, straight
from tests.workshop.laws import Heat
from tests.workshop.reading import Survey, read

MOST_PASSES, PEAK = 5, 500.0
SHORTEST, LONGEST = 2.0, 15.0  # s over one place
STACKS = sorted({round(sum(s), 2) for n in range(4) for s in combinations_with_replacement(BLADES, n)})


@dataclass(frozen=True)
class Rule:
    """Shims as a share of the cam line's bow (or `fixed` a pass), share of the bow aimed at first and later, strokes or spots.

    `gain` is what the hand has seen a unit of work take, over many heads [mm]: gains and shares are those, of a
    few tried, that bring the most of heads 5000 to 5099 of this workshop straight.
    """

    name: str
    gain: float
    shims: float = 0.5
    fixed: tuple[float, ...] = ()
    first: float = 0.9
    later: float = 0.9
    strokes: bool = False


RULES = (
    Rule("half the bow", 0.055, first=0.8),
    Rule("the bow", 0.080, shims=1.0, first=0.45, later=0.7),
    Rule("mild first", 0.055, shims=0.5, first=0.45, later=0.8),
    Rule("growing", 0.055, fixed=(0.10, 0.20, 0.30), first=0.3, later=0.5),
    Rule("strokes", 0.080, shims=0.3, first=0.45, later=0.65, strokes=True),
)


def unit(tip: float, dwell: float) -> float:
    """Work of one place as a hand counts it: one for a tip of 12 mm and 5 s."""
    return (tip / 12) ** 2 * (dwell / 5) ** 0.9


def by_hand(truth: Truth, rule: Rule) -> Job:
    """Return how a head ends under a rule."""
    casting, begun = truth.casting, truth.start_cam
    held, gain, before, added = (
        0.0,
        rule.gain,
        0.0,
        1.0,
    )  # units a place has had, mm a unit, bow and units of the last pass
    ended = "most passes"
    while truth.passes < MOST_PASSES:
        survey = read(truth)
        bow = survey.cam_bow
        if reads_done(casting, survey) or bow <= 0.1 * casting.limits[1]:
            ended = "done"
            break
        places = stations(casting, rule)
        if truth.passes:
            gain = min(max((before - bow) / added, 0.15 * gain), 6 * gain)
        share = rule.first if truth.passes == 0 else rule.later
        wanted = held + share * bow / (gain * len(places))
        tip, dwell = flame(casting, wanted)
        added = max(unit(tip, dwell) - held, 0.02) * len(places)
        held, before = max(held, unit(tip, dwell)), bow
        truth = carried_out(truth, deed(casting, rule, (bow, truth.passes), (tip, dwell))).truth
    return Job(
        number=truth.number, by=rule.name, bow=begun, heats=truth.passes, straight=straight(truth), past=truth.past, metal=cut(truth),
        cam_out=cam_out(truth), deck_out=deck_out(truth), cam_bow=truth.cam_bow, ended=ended,
    )  # fmt: skip


def reads_done(casting: Casting, survey: Survey) -> bool:
    deck, cam, _, _ = casting.limits
    if any(line.most >= cam for line in survey.part("cam")):
        return False
    return max(line.most for line in survey.part("deck")) < deck + casting.removal_left


def stations(casting: Casting, rule: Rule) -> list[float]:
    """Middles of the bays within the middle two thirds, keep-offs left out; the strokes take the two or three nearest the middle."""
    length = casting.length
    middles = [(a + b) / 2 for a, b in zip(casting.webs, casting.webs[1:], strict=False)]
    found = [
        m
        for m in middles
        if 0.15 < m / length < 0.85 and all(abs(m - s) > r + 4 for s, r in casting.keep_off)
    ]
    if rule.strokes:
        found = sorted(sorted(found, key=lambda m: abs(m - length / 2))[:2])
    return found


def flame(casting: Casting, wanted: float) -> tuple[float, float]:
    """The smallest tip that does the work within ten seconds, else the largest for as long as it takes, up to 15 s."""
    for tip in casting.tips:
        dwell = 5 * (max(wanted, 1e-3) / (tip / 12) ** 2) ** (1 / 0.9)
        if dwell <= 10 or tip == casting.tips[-1]:
            return tip, min(max(dwell, SHORTEST), LONGEST)
    raise AssertionError


def deed(casting: Casting, rule: Rule, now: tuple[float, int], torch: tuple[float, float]) -> Deed:
    """Shims, nuts and heats of the next pass; `now` bow read and passes done, `torch` tip and dwell."""
    (bow, done), (tip, dwell) = now, torch
    wish = rule.fixed[min(done, len(rule.fixed) - 1)] if rule.fixed else rule.shims * bow
    shim = min(STACKS, key=lambda s: abs(s - wish))
    inner = sorted(casting.bolts, key=lambda b: abs(b - casting.length / 2))[
        : 3 if len(casting.bolts) > 4 else 2
    ]
    half = casting.width / 2
    groups = []
    for station in stations(casting, rule):
        for side in (-1, 1):
            heat = (
                Heat(
                    station,
                    side * 0.19 * half,
                    tip,
                    2.4 * dwell * (0.53 * half / 40),
                    PEAK,
                    side * 0.72 * half,
                )
                if rule.strokes
                else Heat(station, side * casting.rows, tip, dwell, PEAK)
            )
            groups.append((heat,))
    return Deed(shims=(shim,) * 4, pulls=tuple(sorted(inner)), groups=tuple(groups))
