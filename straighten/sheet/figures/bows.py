"""Figures of the bow: along the head before, in the clamp and after; and over the passes, predicted against measured."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from straighten.sheet.figures import (
    BLUE,
    INK,
    QUIET,
    RED,
    WIDTH,
    heights_axis,
    large,
    limit_band,
    named_below,
    small,
    stations_axis,
    tagged,
)
from straighten.sheet.plain import Range
from straighten.units import System, show, show_likely

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Heights = tuple[float, ...]


class Band(NamedTuple):
    """A curve with its band: 10, 50 and 90 % at each station [m]."""

    low: Heights
    middle: Heights
    high: Heights


@dataclass(frozen=True, slots=True, kw_only=True)
class BowLine:
    """One line of the head before, in the clamp (None where it is free) and after; bow of the middle and limit [m].

    `readings` as heights over the line through the ends: the station each is drawn at and its bounds [m].
    """

    title: str
    before: Band
    clamped: Heights | None
    after: Band
    readings: tuple[tuple[float, float, float], ...]
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
            f"{line.title} bow in the middle {first} {show_likely(*line.bow_before, self.system)}, "
            f"{last} {show_likely(*line.bow_after, self.system)}, "
            f"limit {show(line.limit, self.system)}"
            for line in self.lines
        ]
        return "; ".join(parts) + ". Heights and bows over the head's two ends."

    def draw(self, figure: Figure) -> None:
        """Draw one panel for each line; the curves are named below, where no word meets a curve."""
        figure.set_size_inches(WIDTH, 0.6 + 3.1 * len(self.lines))
        panels = figure.subplots(len(self.lines), 1, sharex=True, squeeze=False)[:, 0]
        for line, axes in zip(self.lines, panels, strict=True):
            _bow_panel(axes, line, self)
            heights_axis(axes, self.system, "over the head's ends")
            axes.set_title(line.title)
        handles, names = panels[0].get_legend_handles_labels()
        named_below(figure, [*handles, *_samples()], [*names, "8 times in 10", "as read"])
        stations_axis(panels[0], panels[-1], self.system)


def _samples() -> tuple[tuple[Artist, Artist], Artist]:
    """Return the samples of both ranges side by side, and of the bracket between the blade that goes and the one that does not."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    hatched = Patch(facecolor="none", edgecolor=INK, hatch="////", lw=0)
    shaded = Patch(facecolor=RED, alpha=0.25, edgecolor=RED, lw=0.8)
    return (hatched, shaded), Line2D([], [], color=INK, marker="|", ms=11, mew=1.3, ls="none")


def _bow_panel(axes: Axes, line: BowLine, picture: BowPicture) -> None:
    system = picture.system
    x, limit = large(picture.stations, system), small(line.limit, system)
    before, after = (small(band, system) for band in (line.before, line.after))
    limit_band(axes, limit)
    axes.fill_between(x, before[0], before[2], facecolor="none", edgecolor=INK, hatch="////", lw=0)
    axes.fill_between(x, after[0], after[2], facecolor=RED, alpha=0.25, edgecolor=RED, lw=0.8)
    first, last = picture.words
    axes.plot(x, before[1], color=INK, lw=2.2, label=first)
    if line.clamped is not None:
        axes.plot(x, small(line.clamped, system), color=BLUE, lw=2.2, ls=(0, (1, 1.5)), label="in the clamp")
    axes.plot(x, after[1], color=RED, lw=2.2, ls=(0, (6, 3)), label=last)
    # the bracket between the blade that goes and the one that does not
    for station, *bounds in line.readings:
        low, high = small(bounds, system)
        half = (high - low) / 2
        at = large(station, system)
        axes.errorbar(at, low + half, yerr=half, color=INK, capsize=4, lw=1.3, capthick=1.3)
    tagged(axes, x[0] + 0.015 * (x[-1] - x[0]), -limit, "limit", color=QUIET, va="center", size=10)
    axes.margins(y=0.2)
    axes.set_xlim(x[0], x[-1])


# --- over the passes ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class PassPoint:
    """A line's bow at a place in the job, 0 as it came in: predicted and measured [m], None where it was not.

    `name` of the place: "before" the first pass, the pass after which it stood so, or "sanded".
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
        figure.set_size_inches(WIDTH, 4.0)
        panels = figure.subplots(1, len(self.lines), sharey=True, squeeze=False)[0]
        marks = "diamond: predicted before the pass, dot: measured after it"
        figure.suptitle(f"{marks}\nbars: 8 times in 10 it lies between", size=10, x=0.02, ha="left")
        for line, axes in zip(self.lines, panels, strict=True):
            _passes_panel(axes, line, self)
            axes.set_title(line.title)
            axes.set_xlabel("after pass")
            heights_axis(axes, self.system, "bow of the middle")
        for axes in panels[1:]:
            axes.set_ylabel("")


def _passes_panel(axes: Axes, line: PassLine, picture: PassesPicture) -> None:
    limit = small(line.limit, picture.system)
    limit_band(axes, limit)
    for point in line.points:
        if point.predicted is not None:
            _bar(axes, point.number - 0.14, point.predicted, picture, BLUE, "D")
        if point.measured is not None:
            _bar(axes, point.number + 0.14, point.measured, picture, INK, "o")
    numbers = [point.number for point in line.points]
    size = 11.5 if len(numbers) < 4 else 8.5
    axes.set_xticks(numbers, [point.name for point in line.points], size=size)
    axes.set_xlim(-0.6, max(numbers) + 0.6)
    tagged(axes, -0.52, limit, "limit", color=QUIET, va="center", size=10)


def _bar(axes: Axes, x: float, found: Range, picture: PassesPicture, colour: str, marker: str) -> None:
    low, middle, high = small(found, picture.system)
    hollow = "white" if marker == "D" else colour
    axes.errorbar(x, middle, yerr=[[middle - low], [high - middle]], color=colour, marker=marker, mfc=hollow, ms=8, mew=1.8,
                  lw=2, capsize=5, capthick=2, ls="none" if marker == "o" else (0, (3, 2)))  # fmt: skip
