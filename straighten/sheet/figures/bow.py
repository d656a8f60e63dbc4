"""Figure: the bow before, in the clamp and expected after, with bands and the readings as brackets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from straighten.sheet.figures.drawing import (
    BLUE,
    INK,
    QUIET,
    RED,
    WIDTH,
    heights_axis,
    large,
    likely,
    limit_band,
    named_below,
    small,
    stations_axis,
    tagged,
)
from straighten.sheet.plain import Range
from straighten.units import System, show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Heights = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A curve with its band: 10, 50 and 90 % at each station [m]."""

    low: Heights
    middle: Heights
    high: Heights


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBracket:
    """A reading as height over the line through the ends: station and bounds [m], drawn `aside` by so much."""

    station: float
    low: float
    high: float
    aside: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BowLine:
    """One line of the head before, in the clamp (None where it is free) and after; bow of the middle and limit [m]."""

    title: str
    before: Band
    clamped: Heights | None
    after: Band
    readings: tuple[ReadBracket, ...]
    bow_before: Range
    bow_after: Range
    limit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BowPicture:
    """The bow along the head: stations [m], the lines, deck first, and what first and last state are called."""

    system: System
    stations: Heights
    lines: tuple[BowLine, ...]
    words: tuple[str, str] = ("now", "expected after")

    @property
    def message(self) -> str:
        """What the picture says."""
        first, last = self.words
        parts = [
            f"{line.title} bow in the middle {first} {likely(line.bow_before, self.system)}, "
            f"{last} {likely(line.bow_after, self.system)}, "
            f"limit {show(line.limit, self.system)}"
            for line in self.lines
        ]
        return "; ".join(parts) + ". Heights and bows over the head's two ends."

    def draw(self, figure: Figure) -> None:
        """Draw one panel for each line."""
        figure.set_size_inches(WIDTH, 0.6 + 3.1 * len(self.lines))
        panels = figure.subplots(len(self.lines), 1, sharex=True, squeeze=False)[:, 0]
        for line, axes in zip(self.lines, panels, strict=True):
            _panel(axes, line, self)
            heights_axis(axes, self.system, "over the head's ends")
            axes.set_title(line.title)
        _legend(figure, panels[0])
        stations_axis(panels[0], panels[-1], self.system)


def _panel(axes: Axes, line: BowLine, picture: BowPicture) -> None:
    x, system = large(picture.stations, picture.system), picture.system
    limit = float(small(line.limit, system))
    limit_band(axes, limit)
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
