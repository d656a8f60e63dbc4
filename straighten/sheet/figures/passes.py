"""Figure: the bow predicted for each pass against what was measured after it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from straighten.sheet.figures.drawing import BLUE, INK, QUIET, WIDTH, heights_axis, limit_band, small, tagged
from straighten.sheet.plain import Range
from straighten.units import System, show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class PassPoint:
    """A line's bow at a place in the job, 0 as it came in: predicted and measured [m], None where it was not.

    `name` of the place: "came", the pass after which it stood so, or "sanded".
    """

    number: int
    name: str
    predicted: Range | None
    measured: Range | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PassLine:
    """One line over the passes, with its limit [m]."""

    title: str
    points: tuple[PassPoint, ...]
    limit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PassesPicture:
    """Predicted against measured bow over the passes."""

    system: System
    lines: tuple[PassLine, ...]

    @property
    def message(self) -> str:
        """What the picture says."""
        return " ".join(self._line(line) for line in self.lines)

    def _line(self, line: PassLine) -> str:
        both = [(p.predicted, p.measured) for p in line.points if p.predicted and p.measured]
        inside = sum(p.low <= m.middle <= p.high for p, m in both)
        met = f", inside the predicted range after {inside} of {len(both)} passes" if both else ""
        measured = [p.measured for p in line.points if p.measured]
        way = (
            f"{show(measured[0].middle, self.system)} to {show(measured[-1].middle, self.system)}"
            if measured
            else "not measured"
        )
        return f"{line.title}: {way}{met}; limit {show(line.limit, self.system)}."

    def draw(self, figure: Figure) -> None:
        """Draw one panel for each line, passes from left to right."""
        figure.set_size_inches(WIDTH, 3.8)
        panels = figure.subplots(1, len(self.lines), sharey=True, squeeze=False)[0]
        figure.suptitle(
            "diamond: predicted before the pass, dot: measured after it", size=10, x=0.02, ha="left"
        )
        for line, axes in zip(self.lines, panels, strict=True):
            _panel(axes, line, self)
            axes.set_title(line.title)
            axes.set_xlabel("after pass")
        for axes in panels:
            heights_axis(axes, self.system, "bow of the middle")
        for axes in panels[1:]:
            axes.set_ylabel("")


def _panel(axes: Axes, line: PassLine, picture: PassesPicture) -> None:
    limit = float(small(line.limit, picture.system))
    limit_band(axes, limit)
    for point in line.points:
        if point.predicted is not None:
            _bar(axes, point.number - 0.14, point.predicted, picture, BLUE, "D")
        if point.measured is not None:
            _bar(axes, point.number + 0.14, point.measured, picture, INK, "o")
    axes.set_xticks(
        [p.number for p in line.points],
        [point.name for point in line.points],
        size=11.5 if len(line.points) < 4 else 8.5,
    )
    axes.set_xlim(-0.6, max(p.number for p in line.points) + 0.6)
    tagged(axes, -0.52, limit, "limit", color=QUIET, va="center", size=10)


def _bar(axes: Axes, x: float, found: Range, picture: PassesPicture, colour: str, marker: str) -> None:
    low, middle, high = (float(v) for v in small((found.low, found.middle, found.high), picture.system))
    hollow = "white" if marker == "D" else colour
    axes.errorbar(x, middle, yerr=[[middle - low], [high - middle]], color=colour, marker=marker, mfc=hollow, ms=8, mew=1.8,
                  lw=2, capsize=5, capthick=2, ls="none" if marker == "o" else (0, (3, 2)))  # fmt: skip
