"""The sanding plan as a record: figures with their ranges, sentences for the bench."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from straighten.units import System

Triple = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure of the consequences: `key` with its unit, value `before` or None, 10, 50, 90 % `after` or None, and the `sentence` for the reader."""

    key: str
    before: float | None
    after: Triple | None
    sentence: str

    def to_plain(self) -> dict[str, Any]:
        """Return the figure as JSON scalars."""
        low, middle, high = self.after or (None, None, None)
        return {
            "before": self.before,
            "low": low,
            "value": middle,
            "high": high,
            "sentence": self.sentence,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeRow:
    """What one remaining bow would cost: lengths [mm], degrees of cam and crank, compression ratio; None where not known."""

    bow_mm: float
    cam_bow_mm: float
    removal_mm: float
    left_mm: float
    cam_deg: float | None
    crank_deg: float | None
    ratio_most: float | None
    ratio_least: float | None
    allowed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SandReport:
    """The sanding job at one moment; lengths [m], each triple 10, 50, 90 %.

    `state` "go on", "flat enough" or "removal limit" with its `sentence`; `aim` hollow at which it ends; `do` the next run in words; `expect` what
    the next check should show; `stop_share` of the face that shines and `stop_fall` of the height [m], at which
    the run ends before its count; `grid` depths at which the map's places begin to shine; `entry` number in the book of the
    run just logged, or None; `bendable` whether straightening is an alternative at all.
    """

    name: str
    system: System
    state: str
    sentence: str
    verdict: str
    judgement: dict[str, Any]
    goal: str
    runs: int
    height: Triple
    depth: Triple
    removed: Triple
    left: Triple
    aim: float
    expected: Triple
    allowed: float
    fits: float
    shine: tuple[str, ...]
    grid: tuple[tuple[float, ...], ...]
    surface: tuple[str, ...]
    papers: tuple[str, ...]
    next_strokes: int
    next_sheets: int
    next_grit: str
    safe_strokes: float
    stop_share: float
    stop_fall: float
    to_target: Triple
    do: tuple[str, ...]
    expect: tuple[str, ...]
    learned: tuple[str, ...]
    method: tuple[str, ...]
    consequences: tuple[Figure, ...]
    warnings: tuple[str, ...]
    trade: tuple[TradeRow, ...]
    cautions: tuple[str, ...]
    assumed: tuple[str, ...]
    entry: int | None = None
    bendable: bool = True

    def to_plain(self) -> dict[str, Any]:
        """Return the report as JSON scalars with the unit in every key."""
        return {
            "schema": "straighten/sand/1",
            "name": self.name,
            "state": self.state,
            "sentence": self.sentence,
            "verdict": self.verdict,
            "judgement": self.judgement,
            "goal": self.goal,
            "runs": self.runs,
            "zone_height_mm": _range(self.height),
            "depth_mm": _range(self.depth),
            "removed_mm": _range(self.removed),
            "hollow_left_mm": _range(self.left),
            "hollow_aimed_at_mm": 1e3 * self.aim,
            "expected_flatness_mm": _range(self.expected),
            "removal_allowed_mm": 1e3 * self.allowed,
            "chance_depth_is_allowed": self.fits,
            "shines_first": list(self.shine),
            "shines_from_depth_mm": [[1e3 * value for value in row] for row in self.grid],
            "surface": list(self.surface),
            "papers": list(self.papers),
            "next_strokes": self.next_strokes,
            "next_sheets": self.next_sheets,
            "next_grit": self.next_grit,
            "safe_strokes": self.safe_strokes,
            "stop_at_shining_share": self.stop_share,
            "stop_at_fall_mm": 1e3 * self.stop_fall,
            "strokes_to_target": dict(zip(("low", "value", "high"), self.to_target, strict=True)),
            "do": list(self.do),
            "expect": list(self.expect),
            "learned": list(self.learned),
            "method": list(self.method),
            "consequences": {figure.key: figure.to_plain() for figure in self.consequences},
            "warnings": list(self.warnings),
            "trade": [_row(row) for row in self.trade],
            "cautions": list(self.cautions),
            "assumed": list(self.assumed),
            "entry": self.entry,
        }


def _range(triple: Triple) -> dict[str, float]:
    return {"low": 1e3 * triple[0], "value": 1e3 * triple[1], "high": 1e3 * triple[2]}


def _row(row: TradeRow) -> dict[str, Any]:
    return {key: getattr(row, key) for key in TradeRow.__slots__}
