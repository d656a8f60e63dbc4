"""What the shop's book has taught, as a record and as text."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from straighten.sheet.layout import block, page, wrap
from straighten.sheet.plain import MM, Answer, Triple, called


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorLine:
    """One factor: as published and as the shop has it now, 10, 50, 90 % each, from so many heads."""

    name: str
    words: str
    published: Triple
    shop: Triple
    heads: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupHistory(Answer):
    """One alloy family and heat source: heads, passes, passes per head, mean set foretold and measured [m], factors."""

    also: ClassVar[tuple[str, ...]] = ("passes_per_head",)
    family: str = field(metadata=called("alloy_family"))
    source: str = field(metadata=called("heat_source"))
    heads: int
    passes: int
    mean_foretold: float = field(metadata=MM)
    mean_measured: float = field(metadata=MM)
    factors: tuple[FactorLine, ...]

    @property
    def passes_per_head(self) -> float:
        """Passes per head."""
        return self.passes / self.heads


@dataclass(frozen=True, slots=True, kw_only=True)
class History(Answer):
    """The whole book; `points` (set foretold, set measured) [m] of every pass shown in the figure."""

    schema: ClassVar[str] = "history/1"
    groups: tuple[GroupHistory, ...]
    points: tuple[tuple[float, float], ...] = field(metadata=called("sets_mm"))


def history_text(history: History) -> str:
    """Return the history as text: what has been learned, group by group."""
    if not history.groups:
        return page([wrap("The book holds no measured pass yet: every plan stands on the published spread.")])
    return page([part for group in history.groups for part in _group(group)])


def _group(group: GroupHistory) -> list[str]:
    title = (
        f"{group.family.upper()}, {group.source.upper()}: {group.heads} heads, {group.passes} passes, "
        f"{group.passes_per_head:.1f} a head"
    )
    told = (
        f"Set per pass in the middle: foretold {1e3 * group.mean_foretold:.2f} mm, measured "
        f"{1e3 * group.mean_measured:.2f} mm on the average."
    )
    factors = [
        f"{f.words}: x {f.shop[1]:.2f}, next head likely {f.shop[0]:.2f} to {f.shop[2]:.2f} "
        f"(published {f.published[0]:.2f} to {f.published[2]:.2f}; {f.heads} heads)"
        for f in group.factors
    ]
    return [wrap(title), wrap(told), block("THE NEXT HEAD STARTS FROM", factors)]
