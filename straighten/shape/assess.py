"""Go or no-go first: the findings in bench order, and the first one that decides."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.shape.assessment import Assessment, Finding, Pattern, Verdict
from straighten.shape.bends import (
    DIRECTION_WORDS,
    SKIMMED_WORDS,
    crown_of,
    direction_of,
    knowledge_findings,
    pattern_of,
    size_finding,
    twist_finding,
)
from straighten.shape.findings import hardness_findings, height_finding, height_left, intake_findings
from straighten.units import show

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from straighten.head.records import Head
    from straighten.readings.records import Readings
    from straighten.shape.records import Shape

_ORDER: tuple[Verdict, ...] = ("hand it on", "measure again", "inside limits", "sand only")


def assess(head: Head, readings: Readings, shape: Shape, history: Sequence[Readings] = ()) -> Assessment:
    """Return whether to straighten a head, only face it, measure again or hand it on, and the number that decided.

    What ends the job outright (crack, magnesium, hardness, height) comes first, then what is not known well enough,
    then the size and kind of the bend. Within one rank the first finding in bench order decides.

    Args:
        head: its limits and thresholds.
        readings: the survey in hand.
        shape: what it says.
        history: earlier surveys of the head, oldest first, for the change of hardness.

    Source:
        Order and thresholds: the head's own, each with its source.
    """
    first = (
        *intake_findings(head, readings),
        *hardness_findings(head, readings, history),
        height_finding(head, readings),
    )
    known = tuple(knowledge_findings(head, readings, shape))
    pattern = pattern_of(head, shape)
    bent = tuple(_bend_findings(head, readings, shape, pattern)) if not _ends(known) else ()
    decided, verdict = _decide(first, known, bent)
    direction = direction_of(pattern, shape)
    return Assessment(
        verdict=verdict,
        reason=decided.sentence,
        decided=decided,
        pattern=pattern,
        direction=direction,
        direction_words=(SKIMMED_WORDS if pattern == "skimmed while bent" else DIRECTION_WORDS)[direction],
        crown=crown_of(shape) if direction != "none" else 0.0,
        height_left=height_left(head, readings),
        findings=(*first, *known, *bent),
        limits=shape.limits,
    )


def _ends(findings: Sequence[Finding]) -> bool:
    return any(f.weight in _ORDER for f in findings)


def _decide(*groups: Sequence[Finding]) -> tuple[Finding, Verdict]:
    """Return the finding that decides and the verdict: the first group that ends the way, its gravest finding."""
    for group in groups:
        for weight in _ORDER:
            for finding in group:
                if finding.weight == weight:
                    return finding, weight
    last = groups[-1]
    return last[-1], "straighten"


def _bend_findings(head: Head, readings: Readings, shape: Shape, pattern: Pattern) -> Iterator[Finding]:
    """Yield what the bend itself says; the last finding is the reason to straighten where nothing else decides."""
    yield twist_finding(head, shape)
    size = size_finding(head, shape)
    if size.kind == "bow small":
        yield from _small(head, readings, shape, size)
        return
    yield size
    if pattern == "local collapse":
        yield _collapse(head, readings, shape)
        return
    yield from _height_for(head, readings, shape, pattern)
    yield _worth(head, shape, pattern)


def _cut_allowed(need: float, head: Head, readings: Readings) -> bool:
    return need <= height_left(head, readings)


def _small(head: Head, readings: Readings, shape: Shape, size: Finding) -> Iterator[Finding]:
    """Yield facing as the way, where the height allows it and the cam line is no worse than it may be."""
    if _holds(shape):
        yield _inside(shape, size)
        return
    need = shape.limit("deck overall").value
    if not _cut_allowed(need, head, readings):
        yield Finding(
            kind="height for facing",
            weight="hand it on",
            sentence=(
                f"Too straight to bend, and facing would take {show(need, head.system)} where only "
                f"{show(height_left(head, readings), head.system)} is left."
            ),
            value=need,
            unit="m",
            threshold=head.limits.largest_removal,
        )
    cam = abs(shape.value("cam_bow"))
    if cam > head.limits.cam_line.value:
        yield Finding(
            kind="cam line stays bent",
            weight="doubt",
            sentence=(
                f"Facing leaves the cam line bowed by {show(cam, head.system)}, over its limit of "
                f"{show(head.limits.cam_line.value, head.system)}: the bare cam must turn by finger, else line boring."
            ),
            value=cam,
            unit="m",
            threshold=head.limits.cam_line,
        )
    yield size


def _holds(shape: Shape) -> bool:
    """Whether deck and cam line as a whole hold their limits, and no other limit is surely broken."""
    whole = all(shape.limit(name).holds for name in ("deck overall", "cam line overall"))
    return whole and all(check.holds or check.low <= check.limit.value for check in shape.limits)


def _inside(shape: Shape, size: Finding) -> Finding:
    """Return that nothing is left to bend or to sand; the least sure limit is named with its chance."""
    least = min(shape.limits, key=lambda check: check.chance)
    finer = "" if least.holds else "; read it with finer blades before the head is closed"
    return Finding(
        kind="inside limits",
        weight="inside limits",
        sentence=(
            "Deck and cam line hold their limits: nothing to straighten and nothing to sand (least sure: "
            f"{least.name}, {100 * least.chance:.0f} % inside{finer})."
        ),
        value=size.value,
        unit="m",
        threshold=size.threshold,
    )


def _collapse(head: Head, readings: Readings, shape: Shape) -> Finding:
    need = shape.limit("deck overall").value
    text = (
        f"Deck bowed by {show(abs(shape.value('deck_bow')), head.system)} under a straight cam line: local collapse, or "
        "cams bored since. Bending would spoil the cam line"
    )
    allowed = _cut_allowed(need, head, readings)
    left = show(height_left(head, readings), head.system)
    return Finding(
        kind="local collapse",
        weight="sand only" if allowed else "hand it on",
        sentence=f"{text}; face it, {show(need, head.system)} of {left} left."
        if allowed
        else f"{text}; facing takes {show(need, head.system)} and only {left} is left.",
        value=need,
        unit="m",
        threshold=head.limits.largest_removal,
    )


def _height_for(head: Head, readings: Readings, shape: Shape, pattern: Pattern) -> Iterator[Finding]:
    """Yield how far the deck will crown once the cam line is straight, and whether the height allows that cut."""
    crown, left = crown_of(shape), height_left(head, readings)
    last_cut = head.thresholds.stop_bending.value
    if crown <= last_cut and pattern != "skimmed while bent":
        if left < last_cut:
            yield Finding(
                kind="height for facing",
                weight="hand it on",
                sentence=(
                    f"Straightening ends with a last cut of about {show(last_cut, head.system)}; only "
                    f"{show(left, head.system)} is left."
                ),
                value=left,
                unit="m",
                threshold=head.limits.largest_removal,
            )
        return
    why = "Skimmed while bent" if pattern == "skimmed while bent" else "The deck is flatter than the cam line"
    text = (
        f"{why}: with the cam line straight the deck will stand crowned by about {show(crown, head.system)}"
    )
    if crown > left:
        yield Finding(
            kind="crown after straightening",
            weight="hand it on",
            sentence=f"{text} and only {show(left, head.system)} may come off: line boring is the better road.",
            value=crown,
            unit="m",
            threshold=head.limits.largest_removal,
        )
    else:
        yield Finding(
            kind="crown after straightening",
            weight="doubt",
            sentence=f"{text}: a second cut, of {show(left, head.system)} left.",
            value=crown,
            unit="m",
            threshold=head.limits.largest_removal,
        )


def _worth(head: Head, shape: Shape, pattern: Pattern) -> Finding:
    deck, cam = shape.value("deck_bow"), shape.value("cam_bow")
    which = {"reverse bow": "Reverse bow", "skimmed while bent": "Skimmed while bent"}.get(
        pattern, "Whole-body bow"
    )
    failed = [check.name for check in shape.limits if not check.holds]
    over = f"; over the limit: {', '.join(failed)}" if failed else ""
    return Finding(
        kind="bend",
        weight="fine",
        sentence=(
            f"{which}: deck {'hollow' if deck > 0 else 'crowned'} {show(abs(deck), head.system)}, cam line "
            f"{'high' if cam > 0 else 'low'} {show(abs(cam), head.system)}{over}."
        ),
        value=max(abs(deck), abs(cam)),
        unit="m",
        threshold=head.thresholds.straighten_from,
    )
