"""The whole job as a record: what a customer is shown, from intake to the state the head is in now."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from straighten.sheet.figures.drawing import Picture
    from straighten.sheet.plain import Range
    from straighten.units import System

Facts = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineState:
    """One line as it came and now, its limit with the source, and the chance that it is inside [m]; `judged` in words."""

    title: str
    came: Range
    now: Range
    limit: float
    limit_source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PassRow:
    """One pass: when logged, planned and done in words, bows expected and measured (None where not) [m]."""

    number: int
    at: str
    planned: str
    done: str
    deck_expected: Range
    cam_expected: Range
    deck_measured: Range | None
    cam_measured: Range | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HardnessRow:
    """Hardness [HB] of one survey by side, "-" where it was not read."""

    when: str
    exhaust: str
    middle: str
    inlet: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LaterWork:
    """What came after the heat: sanding, the final list; its entry's facts as they stand in the book."""

    title: str
    facts: Facts


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedPicture:
    """A picture and the heading it stands under."""

    name: str
    picture: Picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """A job for the customer, in the order it is read."""

    name: str
    made_at: str
    system: System
    verdict: str
    reason: str
    lines: tuple[LineState, ...]
    head: Facts
    intake: Facts
    limits_now: tuple[str, ...]
    passes: tuple[PassRow, ...]
    hardness: tuple[HardnessRow, ...]
    decision: Facts
    later: tuple[LaterWork, ...]
    assumed: tuple[str, ...]
    caveats: tuple[str, ...]
    sources: tuple[str, ...]
    pictures: tuple[NamedPicture, ...]
