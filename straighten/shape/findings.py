"""What was found, and what intake and hardness say of it: what can end the job before any bow is looked at."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Any, Literal

from straighten.head.records import Head
from straighten.readings.records import Hardness, Readings
from straighten.sources import Cited
from straighten.units import show

Weight = Literal["forbidden", "unknown", "advised against", "fine"]
Pattern = Literal[
    "whole-body bow",
    "reverse bow",
    "skimmed while bent",
    "local collapse",
    "opposite bows",
    "straight",
    "not known",
]
Direction = Literal["middle down", "ends down", "none"]

_SAME_HEIGHT = 20e-6  # m: what a micrometer and a hand may differ by
_SAME_PLACE = 30e-3  # hardness readings this near to each other are compared [m]
_MAGNESIUM_TEST = (
    "Test: file a hidden spot bright and put a drop of vinegar on it; magnesium fizzes at once (from memory). It is a "
    "third lighter than aluminium. In doubt treat it as magnesium."
)
_CRACK_TEST = (
    "Test: dye penetrant on chambers, ports, deck and cam towers, then pressure in hot water: a parts counter sells the "
    "dye, an engine shop tests pressure (common practice, no source)."
)
_HARDNESS_TEST = (
    "Test: three places on the deck with a portable Brinell or rebound tester; an engine shop or a heat treater has one "
    "(common practice, no source)."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that was looked at.

    `kind` ("crack", "hardness level", ...); `weight`: "forbidden" nothing passes it, "unknown" is asked for, "advised
    against" may be gone past with a reason, "fine" asks nothing; `holds` true where the work waits for the answer or
    the reason; `sentence`; `do` what to do about it, with a test that a garage has; `value` and `unit` of the number
    that counts, or None; `threshold` with its source, or None.
    """

    kind: str
    weight: Weight
    sentence: str
    holds: bool = False
    do: str = ""
    value: float | None = None
    unit: str = ""
    threshold: Cited[Any] | None = None

    @property
    def told(self) -> str:
        """The sentence with what to do about it."""
        return f"{self.sentence} {self.do}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """What one survey says of a head, before anything is known of heat.

    `findings` in bench order; `pattern` of deck and cam line together; `direction` the head is to be bent, with
    `direction_words`.
    """

    pattern: Pattern
    direction: Direction
    direction_words: str
    findings: tuple[Finding, ...]


def casting_findings(head: Head, told: Sequence[Readings]) -> Iterator[Finding]:
    """Yield what every survey together, oldest first, says of the casting, in bench order: intake, hardness, alloy."""
    yield from _magnesium(head, told)
    yield from _cracks(told)
    if any(survey.intake.welded == "yes" for survey in told):
        yield Finding(
            kind="weld",
            weight="advised against",
            sentence="Welded before: the metal beside the weld is soft and may move more than the rest.",
        )
    yield from _height(head, told)
    yield from _hardness(head, told)
    yield from _unknown(head)


def _magnesium(head: Head, told: Sequence[Readings]) -> Iterator[Finding]:
    answers = {survey.intake.magnesium for survey in told}
    if head.magnesium or "yes" in answers:
        yield Finding(
            kind="magnesium",
            weight="forbidden",
            holds=True,
            sentence="Magnesium: it burns, and so do its chips and dust. No flame, no oven, no sanding.",
            do="Hand it to a specialist. Keep dry sand or a class D extinguisher by it, never water.",
        )
    elif "no" not in answers:
        yield Finding(
            kind="magnesium unknown",
            weight="unknown",
            sentence="Nobody has said that the casting is not magnesium.",
            do=_MAGNESIUM_TEST,
        )


def _cracks(told: Sequence[Readings]) -> Iterator[Finding]:
    """Yield a crack until a repair and a passed leak test are told, or that nobody looked."""
    looked = [survey.intake.cracks for survey in told if survey.intake.cracks != "not checked"]
    ends = [answer for answer in looked if answer != "none found"]
    if ends and ends[-1] == "found":
        yield Finding(
            kind="crack",
            weight="forbidden",
            holds=True,
            sentence="A crack was found: no clamp, no heat, no sanding.",
            do="A specialist welds it or scraps the head. After the weld and a passed leak test record "
            'cracks = "repaired, leak test passed" in a survey.',
        )
    elif not looked:
        yield Finding(
            kind="crack check",
            weight="unknown",
            sentence="Not yet checked for cracks.",
            do=_CRACK_TEST,
        )


def _height(head: Head, told: Sequence[Readings]) -> Iterator[Finding]:
    """Yield that the head is thinner than its maker allows, by the last heights read, else by its file."""
    least = head.limits.least_height
    read = next(([h.value for h in survey.heights] for survey in reversed(told) if survey.heights), [])
    lowest = min(read, default=head.casting.height)
    if least is None or lowest >= least.value - _SAME_HEIGHT:
        return
    found, due = (show(height, head.system, big=True) for height in (lowest, least.value))
    yield Finding(
        kind="too thin",
        weight="advised against",
        holds=True,
        sentence=f"The head is {found} high, under the least height {due}: nothing may come off, and it is too thin as it is.",
        do="Measure the corners again with a micrometer; else another head.",
        value=lowest,
        unit="m",
        threshold=least,
    )


def _unknown(head: Head) -> Iterator[Finding]:
    """Yield what the head's file leaves open: its alloy, its stiffness."""
    if head.alloy.family == "unknown":
        yield Finding(
            kind="alloy unknown",
            weight="unknown",
            sentence="The alloy is not known: targets stay under the lowest melting point believed, and the first range is wide.",
            do="Look for cast letters on the head, or ask a maker's dealer or a foundry's laboratory; write it under [casting].",
        )
    if head.casting.mass is None and head.casting.plates is None:
        yield Finding(
            kind="stiffness unknown",
            weight="unknown",
            sentence="The head was neither weighed nor its walls measured: how hard to pull is known within wide bounds only.",
            do="Weigh it stripped (mass under [casting]), or weigh or jack the clamp's load and log it (load in a tightening file).",
        )


def _hardness(head: Head, told: Sequence[Readings]) -> Iterator[Finding]:
    """Yield level, change since the first survey that has hardness, side against side, of the last that has it."""
    read = [survey.hardness for survey in told if survey.hardness]
    found = read[-1] if read else ()
    if not found:
        yield Finding(
            kind="hardness unknown",
            weight="unknown",
            sentence="No hardness readings: without them nobody can tell what the heat costs.",
            do=_HARDNESS_TEST,
        )
        return
    yield from _level(head, found)
    yield from _change(head, found, read[0] if len(read) > 1 else ())
    yield from _sides(head, found)


def _level(head: Head, found: Sequence[Hardness]) -> Iterator[Finding]:
    limits = head.thresholds
    softest = min(found, key=lambda h: h.value)
    mean = fmean(h.value for h in found)
    if softest.value < limits.hardness_reject.value:
        yield Finding(
            kind="hardness level",
            weight="forbidden",
            holds=True,
            sentence=(
                f"{_place(softest)} has {softest.value:.0f} HB, below {limits.hardness_reject.value:.0f}: annealed, it "
                "will not hold its shape."
            ),
            do="Test it again on another tester; a heat treater can harden a sound casting anew, else buy another head.",
            value=softest.value,
            unit="HB",
            threshold=limits.hardness_reject,
        )
    elif mean < limits.hardness_doubt.value:
        yield Finding(
            kind="hardness low",
            weight="advised against",
            sentence=f"Mean hardness {mean:.0f} HB is low: few heads below {limits.hardness_doubt.value:.0f} straighten well.",
            value=mean,
            unit="HB",
            threshold=limits.hardness_doubt,
        )
    else:
        yield Finding(
            kind="hardness level",
            weight="fine",
            sentence=f"Hardness {mean:.0f} HB in the mean, softest {softest.value:.0f}.",
            value=mean,
            unit="HB",
            threshold=limits.hardness_doubt,
        )


def _place(reading: Hardness) -> str:
    side = f" on the {reading.side} side" if reading.side else ""
    return f"The {reading.place}{side}"


def _change(head: Head, found: Sequence[Hardness], first: Sequence[Hardness]) -> Iterator[Finding]:
    """Yield the largest loss since the first readings, place by place."""
    losses = [(before - now, place) for place, before, now in _pairs(first, found)]
    if not losses:
        return
    loss, place = max(losses)
    limit = head.thresholds.hardness_drop
    yield Finding(
        kind="hardness change",
        weight="advised against" if loss > limit.value else "fine",
        holds=loss > limit.value,
        sentence=(
            f"{place} lost {loss:.0f} HB since the first survey"
            + (f", more than {limit.value:.0f}: heat would soften it further." if loss > limit.value else ".")
        ),
        value=loss,
        unit="HB",
        threshold=limit,
    )


def _pairs(first: Sequence[Hardness], found: Sequence[Hardness]) -> Iterator[tuple[str, float, float]]:
    """Yield place, mean before and mean now for every place that was read both times."""
    places = {(h.place, h.side) for h in first} & {(h.place, h.side) for h in found}
    for place, side in sorted(places, key=str):
        now = [h for h in found if (h.place, h.side) == (place, side)]
        before = [h for h in first if (h.place, h.side) == (place, side)]
        near = [b for b in before if any(_near(b, n) for n in now)] or before
        yield _place(now[0]), fmean(h.value for h in near), fmean(h.value for h in now)


def _near(one: Hardness, other: Hardness) -> bool:
    if one.station is None or other.station is None:
        return True
    return abs(one.station - other.station) <= _SAME_PLACE


def _sides(head: Head, found: Sequence[Hardness]) -> Iterator[Finding]:
    means = {
        side: fmean(values)
        for side in ("exhaust", "inlet")
        if (values := [h.value for h in found if h.side == side and h.place == "deck"])
    }
    if len(means) < 2:
        return
    soft, sound = sorted(means, key=lambda side: means[side])
    gap = means[sound] - means[soft]
    limit = head.thresholds.hardness_drop
    lost = gap > limit.value and means[soft] < head.thresholds.hardness_doubt.value
    if gap <= limit.value:
        words = "alike."
    elif lost:
        words = f"the {soft} side has lost its temper: heat would soften it further."
    else:
        words = f"the {soft} side has begun to soften: keep the heat low and test after every pass."
    yield Finding(
        kind="hardness side to side",
        weight="fine" if gap <= limit.value else "advised against",
        holds=lost,
        sentence=f"Deck hardness {means[soft]:.0f} HB on the {soft} side, {means[sound]:.0f} on the {sound} side: {words}",
        value=gap,
        unit="HB",
        threshold=limit,
    )
