"""Pictures of a survey: the deck as a height map with its readings, the cam line with brackets, curve and band.

Drawn with the figure object alone, no global state; the same input gives the same bytes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib import rc_context
from matplotlib.figure import Figure

from straighten.errors import BadInput
from straighten.shape.profiles import cam_profile, deck_surface

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes

    from straighten.head.records import Head
    from straighten.readings.records import Readings
    from straighten.shape.profiles import Mark, Profile, Surface
    from straighten.shape.records import Shape

FORMATS = ("svg", "png", "pdf")
_STYLE: Any = {"svg.hashsalt": "straighten", "svg.fonttype": "none", "font.size": 9}


def shape_figure(readings: Readings, head: Head, shape: Shape) -> Figure:
    """Return one figure: deck map above, each cam line below."""
    names = ("single",) if head.cam_lines == 1 else ("exhaust", "inlet")
    figure = Figure(figsize=(7.6, 3.4 + 2.6 * len(names)), layout="constrained")
    axes = figure.subplots(1 + len(names), 1, height_ratios=[1.25] + [1.0] * len(names))
    draw_deck(axes[0], deck_surface(readings, head, shape), head)
    for ax, name in zip(axes[1:], names, strict=True):
        draw_profile(ax, cam_profile(readings, head, shape, name), head)
    return figure


def deck_figure(readings: Readings, head: Head, shape: Shape) -> Figure:
    """Return the deck as a height map with the readings on it."""
    figure = Figure(figsize=(7.6, 3.6), layout="constrained")
    draw_deck(figure.subplots(), deck_surface(readings, head, shape), head)
    return figure


def cam_figure(readings: Readings, head: Head, shape: Shape, name: str = "single") -> Figure:
    """Return one cam line: brackets as bars, the believed curve and its 80 % band."""
    figure = Figure(figsize=(7.6, 3.0), layout="constrained")
    draw_profile(figure.subplots(), cam_profile(readings, head, shape, name), head)
    return figure


def save_figure(figure: Figure, path: Path) -> None:
    """Write a figure as SVG, PNG or PDF by the ending of its name.

    Raises:
        BadInput: another ending, or the file cannot be written.
    """
    kind = path.suffix.lower().lstrip(".")
    if kind not in FORMATS:
        raise BadInput(
            f"found {path.suffix or 'no ending'!r}", where=str(path), fix="Allowed: .svg, .png or .pdf."
        )
    metadata = {"svg": {"Date": None}, "pdf": {"CreationDate": None}}.get(kind)
    try:
        with rc_context(_STYLE):
            figure.savefig(path, format=kind, metadata=metadata, dpi=150)
    except OSError as fault:
        raise BadInput(f"cannot be written: {fault.strerror or fault}", where=str(path)) from None


def _unit(head: Head) -> tuple[float, str, float, str]:
    """Return factors and names for small heights and for stations in the person's units."""
    if head.system == "inch":
        return 1 / 25.4e-6, "thou", 1 / 25.4e-3, "in"
    return 1e3, "mm", 1e3, "mm"


def draw_deck(ax: Axes, surface: Surface, head: Head) -> None:
    """Draw the deck map on given axes; hollow is red, proud is blue."""
    small, small_unit, big, big_unit = _unit(head)
    height = surface.height * small
    digits = "%.2f" if small_unit == "mm" else "%.1f"
    reach = max(float(np.abs(height).max()), 0.02 * small / 1e3)
    levels = np.linspace(-reach, reach, 17)
    filled = ax.contourf(surface.station * big, surface.across * big, height, levels=levels, cmap="RdBu_r")
    lines = ax.contour(
        surface.station * big, surface.across * big, height, levels=levels[::2], colors="0.35", linewidths=0.5
    )
    ax.clabel(lines, fmt=digits, fontsize=6)
    for (station, across), marks in _by_place(surface).items():
        left_out = any(mark.left_out for mark in marks)
        colour = "crimson" if left_out else "black"
        ax.plot(station * big, across * big, "x" if left_out else "o", color=colour, markersize=4)
        ax.annotate(
            "/".join(dict.fromkeys(_short(mark.text, small_unit) for mark in marks)),
            (station * big, across * big),
            textcoords="offset points",
            xytext=(0, 4),
            ha="center",
            fontsize=6,
            color=colour,
        )
    bar = ax.figure.colorbar(filled, ax=ax, shrink=0.9, format=digits)
    bar.set_label(f"hollow + / proud - [{small_unit}]")
    ax.set_aspect("equal")
    ax.set_xlabel(f"station from the front [{big_unit}]")
    ax.set_ylabel(f"exhaust  <  across [{big_unit}]  >  inlet")
    ax.set_title("Deck over its minimum zone plane; gaps as read, x = left out")


def _by_place(surface: Surface) -> dict[tuple[float, float], list[Mark]]:
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


def draw_profile(ax: Axes, profile: Profile, head: Head) -> None:
    """Draw a cam line on given axes: band, curve, brackets as bars, towers."""
    small, small_unit, big, big_unit = _unit(head)
    x = profile.station * big
    ax.fill_between(
        x, profile.low * small, profile.high * small, color="tab:blue", alpha=0.25, label="80 % range"
    )
    ax.plot(x, profile.height * small, color="tab:blue", label="believed")
    for left_out, colour, label in ((False, "black", "as read"), (True, "crimson", "left out")):
        bars = [bar for bar in profile.bars if bar.left_out == left_out]
        if bars:
            ax.vlines(
                [bar.station * big for bar in bars],
                [bar.low * small for bar in bars],
                [bar.high * small for bar in bars],
                colors=colour,
                linewidth=3,
                label=label,
            )
    limit = head.limits.cam_line.value * small
    ax.axhspan(-limit, limit, color="tab:green", alpha=0.12, label="limit, either way")
    for tower in head.towers:
        ax.axvline(tower * big, color="0.8", linewidth=0.6, zorder=0)
    ax.axhline(0.0, color="0.3", linewidth=0.8)
    ax.set_xlabel(f"station from the front [{big_unit}]")
    ax.set_ylabel(f"height [{small_unit}]")
    ax.set_title(f"{profile.title} over the line through its end towers")
    ax.legend(fontsize=7, loc="best")
