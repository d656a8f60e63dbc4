"""What the shop's book has taught, as a record and as text."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from straighten.sheet.layout import block, page, wrap

Triple = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorLine:
    """One factor: as published and as the shop has it now, 10, 50, 90 % each, from so many heads."""

    name: str
    words: str
    published: Triple
    shop: Triple
    heads: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupHistory:
    """One alloy family and heat source: heads, passes, passes per head, mean set foretold and measured [m], factors."""

    family: str
    source: str
    heads: int
    passes: int
    mean_foretold: float
    mean_measured: float
    factors: tuple[FactorLine, ...]

    @property
    def per_head(self) -> float:
        """Passes per head."""
        return self.passes / self.heads


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """The whole book; `points` (set foretold, set measured) [m] of every pass shown in the figure."""

    groups: tuple[GroupHistory, ...]
    points: tuple[tuple[float, float], ...]

    def to_plain(self) -> dict[str, Any]:
        """Return the history as JSON scalars with the unit in every key."""
        return {
            "schema": "straighten/history/1",
            "groups": [
                {
                    "alloy_family": g.family,
                    "heat_source": g.source,
                    "heads": g.heads,
                    "passes": g.passes,
                    "passes_per_head": g.per_head,
                    "mean_foretold_mm": 1e3 * g.mean_foretold,
                    "mean_measured_mm": 1e3 * g.mean_measured,
                    "factors": [asdict(f) for f in g.factors],
                }
                for g in self.groups
            ],
            "sets_mm": [[1e3 * a, 1e3 * b] for a, b in self.points],
        }


def history_text(history: History) -> str:
    """Return the history as text: what has been learned, group by group."""
    if not history.groups:
        return page([wrap("The book holds no measured pass yet: every plan stands on the published spread.")])
    return page([part for group in history.groups for part in _group(group)])


def _group(group: GroupHistory) -> list[str]:
    title = (
        f"{group.family.upper()}, {group.source.upper()}: {group.heads} heads, {group.passes} passes, "
        f"{group.per_head:.1f} a head"
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
