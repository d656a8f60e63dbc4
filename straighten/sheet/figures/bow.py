"""Figure: the bow before, in the clamp and expected after, with bands and the readings as brackets."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from straighten.sheet.figures.drawing import (
    BLUE,
    INK,
    PALE,
    QUIET,
    RED,
    WIDTH,
    heights_axis,
    large,
    named_below,
    small,
    stations_axis,
    tagged,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from straighten.sheet.pictures import Band, BowLine, BowPicture


def draw_bow(figure: Figure, picture: BowPicture) -> None:
    """Draw one panel for each line."""
    figure.set_size_inches(WIDTH, 0.6 + 3.1 * len(picture.lines))
    panels = figure.subplots(len(picture.lines), 1, sharex=True, squeeze=False)[:, 0]
    for line, axes in zip(picture.lines, panels, strict=True):
        _panel(axes, line, picture)
        heights_axis(axes, picture.system, "over the head's ends")
        axes.set_title(line.title)
    _legend(figure, panels[0])
    stations_axis(panels[0], panels[-1], picture.system)


def _panel(axes: Axes, line: BowLine, picture: BowPicture) -> None:
    x, system = large(picture.stations, picture.system), picture.system
    limit = float(small(line.limit, system))
    axes.axhspan(-limit, limit, color=PALE, lw=0)
    axes.axhline(0, color=QUIET, lw=0.8)
    _band(axes, x, line.before, picture, {"facecolor": "none", "edgecolor": INK, "hatch": "////", "lw": 0})
    _band(axes, x, line.after, picture, {"facecolor": RED, "alpha": 0.25, "edgecolor": RED, "lw": 0.8})
    first, last = picture.words
    axes.plot(x, small(line.before.middle, system), color=INK, lw=2.2, label=first)
    if line.clamped is not None:
        axes.plot(x, small(line.clamped, system), color=BLUE, lw=2.2, ls=(0, (1, 1.5)), label="in the clamp")
    axes.plot(x, small(line.after.middle, system), color=RED, lw=2.2, ls=(0, (6, 3)), label=last)
    _readings(axes, line, picture)
    tagged(axes, float(x[0] + 0.015 * (x[-1] - x[0])), -limit, "limit", color=QUIET, va="center", size=10)
    axes.margins(y=0.2)
    axes.set_xlim(float(x[0]), float(x[-1]))


def _readings(axes: Axes, line: BowLine, picture: BowPicture) -> None:
    """Draw each reading as the bracket between the blade that goes and the one that does not."""
    for reading in line.readings:
        at = float(large(reading.station + reading.aside, picture.system))
        low, high = (float(v) for v in small((reading.low, reading.high), picture.system))
        half = (high - low) / 2
        axes.errorbar(at, low + half, yerr=half, color=INK, capsize=4, lw=1.3, capthick=1.3)


def _band(axes: Axes, x: Any, band: Band, picture: BowPicture, how: dict[str, Any]) -> None:
    axes.fill_between(x, small(band.low, picture.system), small(band.high, picture.system), **how)


def _legend(figure: Figure, axes: Axes) -> None:
    """Name the curves under the panels: beside them the words would meet wherever two curves run close."""
    named_below(figure, *axes.get_legend_handles_labels())
