"""Figure of a survey: the deck as a height map with its readings, the cam line with brackets, curve and band."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from straighten.head.records import Head
from straighten.readings.records import Readings
from straighten.shape.profiles import DeckMap, Mark, Profile, cam_profile, deck_surface
from straighten.shape.records import Shape
from straighten.sheet.figures.drawing import (
    BLUE,
    GROUND,
    INK,
    QUIET,
    RED,
    SMALL,
    heights_axis,
    large,
    limit_band,
    second_axis,
    small,
    stations_axis,
    tagged,
)
from straighten.units import show, show_range

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Apart for the colour-blind; the signed lines tell them in grey.
PROUD, LEVEL, HOLLOW = "#2d6aa6", "#f7f5f0", "#c25a1c"
WIDE = 7.6  # inches: the map carries a figure at every reading


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapePicture:
    """A survey with the shape believed from it: deck map and cam lines."""

    readings: Readings
    head: Head
    shape: Shape

    @property
    def message(self) -> str:
        """What the picture says."""
        bows = [
            f"{words} {show(self.shape.value(key), self.head.system)} (range {show_range(*self.shape.range(key), self.head.system)})"
            for words, key in (("Deck bow", "deck_bow"), ("cam line bow", "cam_bow"))
        ]
        left_out = len(self.shape.suspects)
        doubt = f"; {left_out} left out, marked x" if left_out else ""
        return (
            f"{'; '.join(bows)}, middle over the head's ends; {self.readings.count} readings{doubt}. The cam line is drawn over "
            "its end towers, which stand on the bow themselves: there it shows less than over the head's ends."
        )

    def draw(self, figure: Figure) -> None:
        """Draw the deck as a map, and below it every cam line."""
        names = ("single",) if self.head.cam_lines == 1 else ("exhaust", "inlet")
        figure.set_size_inches(WIDE, 4.0 + 3.2 * len(names))
        axes = figure.subplots(1 + len(names), 1, height_ratios=[1.15] + [1.0] * len(names))
        _deck(axes[0], deck_surface(self.readings, self.head, self.shape), self.head)
        for ax, name in zip(axes[1:], names, strict=True):
            _profile(ax, cam_profile(self.readings, self.head, self.shape, name), self.head)


def _deck(ax: Axes, surface: DeckMap, head: Head) -> None:
    """Draw the deck map on given axes: hollow dark orange with whole lines, proud blue with dashed ones."""
    from matplotlib.colors import LinearSegmentedColormap

    system = head.system
    own, _ = SMALL[system]
    height = small(surface.height, system)
    digits = "%.2f" if own == "mm" else "%.1f"
    reach = max(float(np.abs(height).max()), float(small(20e-6, system)))
    levels = np.linspace(-reach, reach, 17)
    station, across = large(surface.station, system), large(surface.across, system)
    inks = LinearSegmentedColormap.from_list("deck", [PROUD, LEVEL, HOLLOW])
    filled = ax.contourf(station, across, height, levels=levels, cmap=inks)
    ax.contour(station, across, height, levels=levels[::2], colors=QUIET, linewidths=0.7)
    for place, marks in _by_place(surface).items():
        _mark(ax, place, marks, head)
    bar = ax.figure.colorbar(filled, ax=ax, shrink=0.9, format=digits, pad=0.02, aspect=16)
    second_axis(bar.ax, "left", SMALL, system)
    bar.set_label(f"hollow +, whole lines\nproud -, dashed [{own}]")
    ax.set_aspect("equal")
    stations_axis(ax, ax, system)
    ax.set_ylabel(f"exhaust < across [{'mm' if system == 'mm' else 'in'}] > inlet", fontsize=9)
    ax.set_title("Deck over its minimum zone plane; gaps as read")


def _mark(ax: Axes, place: tuple[float, float], marks: list[Mark], head: Head) -> None:
    """Draw one place that was read with its gaps: a dot, or a cross where a reading was left out."""
    own, _ = SMALL[head.system]
    left_out = any(mark.left_out for mark in marks)
    x, y = large(place, head.system)
    ink, sign, size = (RED, "x", 6) if left_out else (INK, "o", 4)
    ax.plot(x, y, sign, color=ink, markersize=size)
    ax.annotate(
        "/".join(dict.fromkeys(_short(mark.text, own) for mark in marks)),
        (x, y), textcoords="offset points",
        xytext=(0, -5 if place[1] > 0 else 5), ha="center", va="top" if place[1] > 0 else "bottom",
        fontsize=9, color=ink, bbox=GROUND,
    )  # fmt: skip


def _by_place(surface: DeckMap) -> dict[tuple[float, float], list[Mark]]:
    """Return the readings by place: lines that cross there share one label."""
    places: dict[tuple[float, float], list[Mark]] = {}
    for mark in surface.marks:
        places.setdefault((round(mark.station, 3), round(mark.across, 3)), []).append(mark)
    return places


def _short(text: str, unit: str) -> str:
    """Return the figures of a gap in the person's unit only."""
    words = text.replace("nothing goes", "0").split(",")[0]
    kept = words.split(" goes")[0]
    if "(" not in kept:
        return kept
    first, second = kept.rstrip(")").split(" (")
    return (first if first.endswith(unit) else second).split()[0]


def _profile(ax: Axes, profile: Profile, head: Head) -> None:
    """Draw a cam line on given axes: band, curve, brackets as bars, towers."""
    system = head.system
    x = large(profile.station, system)
    limit = small(head.limits.cam_line.value, system)
    for tower in large(head.towers, system):
        ax.axvline(tower, color=QUIET, linewidth=0.5, alpha=0.5, zorder=0)
    limit_band(ax, limit)
    low, high = small(profile.low, system), small(profile.high, system)
    ax.fill_between(x, low, high, facecolor=BLUE, alpha=0.28, edgecolor=BLUE, lw=0.8, label="8 times in 10")
    ax.plot(x, small(profile.height, system), color=BLUE, lw=2, label="believed")
    for left_out, colour, label in ((False, INK, "as read"), (True, RED, "left out")):
        bars = [bar for bar in profile.bars if bar.left_out == left_out]
        if bars:
            at = large([bar.station for bar in bars], system)
            low, high = small([bar.low for bar in bars], system), small([bar.high for bar in bars], system)
            dots: Any = "dotted" if left_out else "solid"
            ax.vlines(at, low, high, colors=colour, lw=3.5, label=label, linestyles=dots)
    begin = x[0] + 0.02 * (x[-1] - x[0])
    tagged(ax, begin, -limit, "limit, either way", color=QUIET, va="center", size=9)
    stations_axis(ax, ax, system)
    heights_axis(ax, system, "height")
    ax.set_title(f"{profile.title} over the line through its end towers")
    ax.legend(fontsize=9, loc="best")
