"""Intake and hardness: what can end the job before any bow is looked at."""

from __future__ import annotations

from statistics import fmean
from typing import TYPE_CHECKING

from straighten.shape.assessment import Finding
from straighten.units import show

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from straighten.head.records import Head
    from straighten.readings.records import Hardness, Readings

_SAME_PLACE = 30e-3  # hardness readings this near to each other are compared [m]


def intake_findings(head: Head, readings: Readings) -> Iterator[Finding]:
    """Yield what the person saw and was told: cracks, magnesium, welds, what has been taken off before."""
    cracks = readings.intake.cracks
    if cracks == "found":
        yield Finding(
            kind="crack",
            weight="hand it on",
            sentence="A crack was found: no bending or heat; a specialist decides whether it can be welded.",
        )
    elif cracks == "not checked":
        yield Finding(
            kind="crack",
            weight="doubt",
            sentence="Not yet checked for cracks: dye penetrant on chambers, ports and deck before any heat.",
        )
    if head.magnesium or readings.intake.magnesium == "yes":
        yield Finding(
            kind="magnesium",
            weight="hand it on",
            sentence="Magnesium: it burns. No torch, no grinding dust; hand it to a specialist.",
        )
    if readings.intake.welded == "yes":
        yield Finding(
            kind="weld",
            weight="doubt",
            sentence="Welded before: the metal beside the weld is soft and may move more than the rest.",
        )


def height_left(head: Head, readings: Readings) -> float:
    """Return how much may still be taken off the deck [m]: by the largest removal and by the least height."""
    before = max(head.limits.removed_before, readings.intake.removed or 0.0)
    left = head.limits.largest_removal.value - before
    if head.limits.least_height is not None:
        lowest = min((h.value for h in readings.heights), default=head.casting.height)
        left = min(left, lowest - head.limits.least_height.value)
    return left


def height_finding(head: Head, readings: Readings) -> Finding:
    """Return whether any height is left to face the deck."""
    left = height_left(head, readings)
    limits = head.limits
    by_removal = limits.largest_removal.value - max(limits.removed_before, readings.intake.removed or 0.0)
    threshold = (
        limits.largest_removal if left >= by_removal or limits.least_height is None else limits.least_height
    )
    if left <= 0:
        return Finding(
            kind="height",
            weight="hand it on",
            sentence=f"No height left: {show(-left, head.system)} below what may remain, and no way is without a cut.",
            value=left,
            unit="m",
            threshold=threshold,
        )
    return Finding(
        kind="height",
        weight="fine",
        sentence=f"Height left for facing: {show(left, head.system)}.",
        value=left,
        unit="m",
        threshold=threshold,
    )


def hardness_findings(head: Head, readings: Readings, history: Sequence[Readings]) -> Iterator[Finding]:
    """Yield what the hardness readings say: level, change since intake, side against side."""
    found = readings.hardness
    if not found:
        yield Finding(
            kind="hardness level",
            weight="doubt",
            sentence="No hardness readings: test three places on the deck before the first heat, to judge the change.",
        )
        return
    yield from _level(head, found)
    yield from _change(head, found, history)
    yield from _sides(head, found)


def _level(head: Head, found: Sequence[Hardness]) -> Iterator[Finding]:
    limits = head.thresholds
    softest = min(found, key=lambda h: h.value)
    mean = fmean(h.value for h in found)
    if softest.value < limits.hardness_reject.value:
        yield Finding(
            kind="hardness level",
            weight="hand it on",
            sentence=(
                f"{_place(softest)} has {softest.value:.0f} HB, below {limits.hardness_reject.value:.0f}: annealed, it "
                "will not hold its shape. (Some sound castings start near there: if yours does, set "
                "hardness_reject in the head file.)"
            ),
            value=softest.value,
            unit="HB",
            threshold=limits.hardness_reject,
        )
    elif mean < limits.hardness_doubt.value:
        yield Finding(
            kind="hardness level",
            weight="doubt",
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


def _change(head: Head, found: Sequence[Hardness], history: Sequence[Readings]) -> Iterator[Finding]:
    """Yield the largest loss since the first survey that has readings, place by place."""
    first = next((r.hardness for r in history if r.hardness), ())
    losses = [(before - now, place) for place, before, now in _pairs(first, found)]
    if not losses:
        return
    loss, place = max(losses)
    limit = head.thresholds.hardness_drop
    yield Finding(
        kind="hardness change",
        weight="hand it on" if loss > limit.value else "fine",
        sentence=(
            f"{place} lost {loss:.0f} HB since the first survey"
            + (f", more than {limit.value:.0f}: no more heat." if loss > limit.value else ".")
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
    if gap <= limit.value:
        weight, words = "fine", "alike."
    elif means[soft] < head.thresholds.hardness_doubt.value:
        weight, words = "hand it on", f"the {soft} side has lost its temper: heat would soften it further."
    else:
        weight, words = (
            "doubt",
            f"the {soft} side has begun to soften: keep the heat low and test after every pass.",
        )
    yield Finding(
        kind="hardness side to side",
        weight="hand it on" if weight == "hand it on" else "doubt" if weight == "doubt" else "fine",
        sentence=f"Deck hardness {means[soft]:.0f} HB on the {soft} side, {means[sound]:.0f} on the {sound} side: {words}",
        value=gap,
        unit="HB",
        threshold=limit,
    )
