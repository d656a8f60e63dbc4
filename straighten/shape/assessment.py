"""Go or no-go, as a record: the verdict, the number that decided, and every finding on the way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from straighten.shape.limits import LimitCheck
    from straighten.sources import Cited

Verdict = Literal["straighten", "sand only", "inside limits", "hand it on", "measure again"]
Weight = Literal["hand it on", "measure again", "inside limits", "sand only", "doubt", "fine"]
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that was looked at.

    `kind` ("crack", "hardness level", ...); `weight` what it asks for ("fine": nothing, "doubt": keep in mind);
    `sentence`; `value` and `unit` of the number that counts, or None; `threshold` with its source, or None.
    """

    kind: str
    weight: Weight
    sentence: str
    value: float | None = None
    unit: str = ""
    threshold: Cited[Any] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """Whether and how a head is to be straightened.

    `verdict`; `reason` in one line; `decided` the finding that decided; `pattern` of deck and cam line together;
    `direction` the head is to be bent, with `direction_words`; `crown` how far the deck will stand crowned once the
    cam line is straight [m], 0 where it will not; `height_left` that may still be taken off the deck [m];
    `findings` in the order of looking; `limits` every limit judged.
    """

    verdict: Verdict
    reason: str
    decided: Finding
    pattern: Pattern
    direction: Direction
    direction_words: str
    crown: float
    height_left: float
    findings: tuple[Finding, ...]
    limits: tuple[LimitCheck, ...]
