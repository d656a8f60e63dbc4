"""Figure: the bow predicted for each pass against what was measured after it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.sheet.figures.drawing import BLUE, INK, PALE, QUIET, WIDTH, heights_axis, small, tagged

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from straighten.sheet.card import Range
    from straighten.sheet.pictures import PassesPicture, PassLine


def draw_passes(figure: Figure, picture: PassesPicture) -> None:
    """Draw one panel for each line, passes from left to right."""
    figure.set_size_inches(WIDTH, 3.8)
    panels = figure.subplots(1, len(picture.lines), sharey=True, squeeze=False)[0]
    figure.suptitle("diamond: predicted before the pass, dot: measured after it", size=10, x=0.02, ha="left")
    for line, axes in zip(picture.lines, panels, strict=True):
        _panel(axes, line, picture)
        axes.set_title(line.title)
        axes.set_xlabel("after pass")
    for axes in panels:
        heights_axis(axes, picture.system, "bow of the middle")
    for axes in panels[1:]:
        axes.set_ylabel("")


def _panel(axes: Axes, line: PassLine, picture: PassesPicture) -> None:
    limit = float(small(line.limit, picture.system))
    axes.axhspan(-limit, limit, color=PALE, lw=0)
    axes.axhline(0, color=QUIET, lw=0.8)
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
