"""Figure: the bow before, in the clamp and expected after, with bands and the readings as brackets."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from straighten.sheet.figures.drawing import (
    BLUE,
    INK,
    PALE,
    QUIET,
    RED,
    heights_axis,
    large,
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
    figure.set_size_inches(6.6, 0.6 + 3.1 * len(picture.lines))
    panels = figure.subplots(len(picture.lines), 1, sharex=True, squeeze=False)[:, 0]
    for line, axes in zip(picture.lines, panels, strict=True):
        _panel(axes, line, picture)
        heights_axis(axes, picture.system, "height over the ends")
        axes.set_title(f"{line.title}: as it stands, in the clamp, after")
    stations_axis(panels[-1], picture.system)


def _panel(axes: Axes, line: BowLine, picture: BowPicture) -> None:
    x, system = large(picture.stations, picture.system), picture.system
    limit = float(small(line.limit, system))
    axes.axhspan(-limit, limit, color=PALE, lw=0)
    axes.axhline(0, color=QUIET, lw=0.8)
    _band(axes, x, line.before, picture, {"facecolor": "none", "edgecolor": INK, "hatch": "////", "lw": 0})
    _band(axes, x, line.after, picture, {"facecolor": RED, "alpha": 0.25, "edgecolor": RED, "lw": 0.8})
    axes.plot(x, small(line.before.middle, system), color=INK, lw=2.2)
    axes.plot(x, small(line.after.middle, system), color=RED, lw=2.2, ls=(0, (6, 3)))
    if line.clamped is not None:
        axes.plot(x, small(line.clamped, system), color=BLUE, lw=2.2, ls=(0, (1, 1.5)))
    for reading in line.readings:
        at, low, high = (
            float(large(reading.station, system)),
            *(float(v) for v in small((reading.low, reading.high), system)),
        )
        middle, half = (low + high) / 2, (high - low) / 2
        axes.errorbar(at, middle, yerr=half, color=INK, capsize=4, lw=1.3, capthick=1.3)
    _words(axes, x, line, picture)
    axes.set_xlim(float(x[0]), float(x[-1]))


def _band(axes: Axes, x: Any, band: Band, picture: BowPicture, how: dict[str, Any]) -> None:
    axes.fill_between(x, small(band.low, picture.system), small(band.high, picture.system), **how)


def _words(axes: Axes, x: Any, line: BowLine, picture: BowPicture) -> None:
    """Write each curve's name on it, at places where the three stand apart."""
    curves = [("now", line.before.middle, INK, 0.5), ("expected after", line.after.middle, RED, 0.5)]
    if line.clamped is not None:
        curves.append(("in the clamp", line.clamped, BLUE, 0.5))
    for name, heights, colour, share in curves:
        n = round(share * (x.size - 1))
        tagged(
            axes,
            float(x[n]),
            float(small(heights[n], picture.system)),
            name,
            color=colour,
            ha="center",
            va="center",
            weight="bold",
        )
    limit = float(small(line.limit, picture.system))
    tagged(axes, float(x[0] + 0.015 * (x[-1] - x[0])), -limit, "limit", color=QUIET, va="center", size=10)
