"""What a survey says in bench order: what forbids, what is unknown, what is advised against, how the head is bent."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.shape.assessment import Assessment
from straighten.shape.bends import (
    DIRECTION_WORDS,
    SKIMMED_WORDS,
    direction_of,
    knowledge_findings,
    pattern_of,
    size_finding,
    twist_finding,
)
from straighten.shape.findings import casting_findings

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straighten.head.records import Head
    from straighten.readings.records import Readings
    from straighten.shape.records import Shape


def assess(
    head: Head,
    readings: Readings,
    shape: Shape,
    history: Sequence[Readings] = (),
    later: Sequence[Readings] = (),
) -> Assessment:
    """Return what the survey in hand says, with what earlier surveys told of the casting.

    A crack or magnesium told once counts until a later survey takes it back; hardness is compared with the first.

    Args:
        head: its limits and thresholds.
        readings: the survey in hand.
        shape: what is believed of the shape.
        history: earlier surveys of the head, oldest first.
        later: surveys since that answer a question alone: a crack, magnesium, hardness.

    Source:
        Order and thresholds: the head's own, each with its source.
    """
    told = (*history, readings, *later)
    pattern = pattern_of(head, shape)
    direction = direction_of(pattern, shape)
    return Assessment(
        pattern=pattern,
        direction=direction,
        direction_words=(SKIMMED_WORDS if pattern == "skimmed while bent" else DIRECTION_WORDS)[direction],
        findings=(
            *casting_findings(head, told),
            *knowledge_findings(head, readings, shape),
            *twist_finding(head, shape),
            *size_finding(head, shape),
        ),
        limits=shape.limits,
    )
