"""Figures of the face: a survey with its height map, readings and cam line; and the places to heat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from straighten.head.records import Head
from straighten.readings.records import Readings
from straighten.shape.fit import Shape
from straighten.shape.profiles import DeckMap, Mark, Profile, cam_profile, deck_surface
from straighten.sheet.card import SketchData, SpotLine, UsedPlace
from straighten.sheet.figures import (
    BLUE,
    GROUND,
    INK,
    PALE,
    QUIET,
    RED,
    SMALL,
    WIDTH,
    heights_axis,
    large,
    limit_band,
    second_axis,
    small,
    stations_axis,
    tagged,
)
from straighten.units import System, show, show_range

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
    places: dict[tuple[float, float], list[Mark]] = {}  # lines that cross at one share one label
    for mark in surface.marks:
        places.setdefault((round(mark.station, 3), round(mark.across, 3)), []).append(mark)
    for place, marks in places.items():
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


# --- places to heat ----------------------------------------------------------------------------------------------------


RING, SQUARE = 16.5, 10.0  # widths of the marks [pt]
AGAIN = 2e-3  # m: a spot so near a used place heats it again
DRAWN = 280.0  # length of the head on the paper [pt], a little less than it is
_FIGURE: dict[str, Any] = {"ha": "center", "va": "center", "weight": "bold", "size": 10.5}


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotPicture:
    """Where to heat: the head from above with spots in their order and places used before."""

    system: System
    sketch: SketchData
    spots: tuple[SpotLine, ...]

    @property
    def message(self) -> str:
        """What the picture says."""
        used = len(self.sketch.used)
        before = f", {used} places were heated before" if used else ""
        if not self.spots:
            marked = f"{used} places were heated, each marked with a crossed square."
            return marked if used else "No place was heated."
        ends = [spot.station for spot in self.spots]
        first, last = (show(end, self.system, big=True) for end in (min(ends), max(ends)))
        return f"{len(self.spots)} spots between {first} and {last} from the front end{before}."

    def draw(self, figure: Figure) -> None:
        """Draw the head from above, cam side up, inlet side at the top."""
        from matplotlib.patches import Circle, Rectangle

        sketch, system = self.sketch, self.system
        figure.set_size_inches(WIDTH, 3.5)
        axes = figure.subplots()
        length, width = float(large(sketch.length, system)), float(large(sketch.width, system))
        axes.add_patch(Rectangle((0, -width / 2), length, width, facecolor=PALE, edgecolor=INK, lw=1.4))
        for web in sketch.webs:
            x = float(large(web, system))
            axes.plot([x, x], [-width / 2, width / 2], color=QUIET, lw=2, alpha=0.5)
        for station, side, radius in sketch.zones:
            x, reach = large((station, radius), system)
            at = x, _row(side, self)
            axes.add_patch(Circle(at, reach, fill=False, edgecolor=INK, ls="--", hatch="\\\\\\"))
        _places(axes, self)
        axes.set_xlim(-0.02 * length, 1.02 * length)
        axes.set_ylim(-0.56 * width, 0.56 * width)
        axes.set_aspect("equal")
        axes.set_yticks([_row("exhaust", self), _row("inlet", self)], ["exhaust", "inlet"])
        axes.set_title("\n".join(_title(self)), size=9.5)
        axes.spines[["left", "right"]].set_visible(False)
        stations_axis(axes, axes, system)


def _title(picture: SpotPicture) -> tuple[str, ...]:
    """Return the title and under it what each mark means, two to a line."""
    marks = ["ring = heat"] if picture.spots else []
    marks += ["crossed square = heated before"] if picture.sketch.used else []
    marks += ["hatched = keep off"] if picture.sketch.keep_off else []
    return ("Heat spots, cam side up", *(", ".join(marks[n : n + 2]) for n in range(0, len(marks), 2)))


def _row(side: str, picture: SpotPicture) -> float:
    return float(large(picture.sketch.rows, picture.system)) * (1 if side == "inlet" else -1)


def _places(axes: Axes, picture: SpotPicture) -> None:
    ring, square = _mark_sizes(picture)
    for place in picture.sketch.used:
        at = float(large(place.station, picture.system)), _row(place.side, picture)
        again = any(_same(spot, place) for spot in picture.spots)
        size = ring + 9.0 if again else square  # around the ring, the arms of the cross in its corners
        axes.plot(*at, marker="s", ms=size, mfc="white", mec=QUIET, mew=1.2)
        axes.plot(*at, marker="x", ms=0.9 * size if again else 0.7 * size, mec=QUIET, mew=1.2)
    for spot in picture.spots:
        at = float(large(spot.station, picture.system)), _row(spot.side, picture)
        axes.plot(*at, marker="o", ms=ring, mfc="white", mec=RED, mew=2.2)
        aside = 0.0 if ring == RING else (ring / 2 + 8) * (1 if spot.side == "inlet" else -1)
        axes.annotate(str(spot.order), at, xytext=(0, aside), textcoords="offset points", **_FIGURE)


def _same(spot: SpotLine, place: UsedPlace) -> bool:
    """Return whether a spot heats a used place again, so that its ring lies in the square."""
    return spot.side == place.side and abs(spot.station - place.station) < AGAIN


def _mark_sizes(picture: SpotPicture) -> tuple[float, float]:
    """Return the widths of rings and squares [pt], smaller where the two would meet; small rings carry no number inside."""
    strokes_and_air = 4.4
    fresh = [spot for spot in picture.spots if not any(_same(spot, place) for place in picture.sketch.used)]
    room = DRAWN * picture.sketch.apart(fresh) / picture.sketch.length - strokes_and_air
    if room >= (RING + SQUARE) / 2:
        return RING, SQUARE
    return min(max(1.1 * room, 4.0), 11.0), min(max(0.9 * room, 3.0), SQUARE)
