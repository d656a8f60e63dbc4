"""Figure: set measured against set foretold, every pass in the book."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.sheet.figures.drawing import (
    BLUE,
    QUIET,
    WIDTH,
    heights_axis,
    render,
    second_levels,
    small,
    units,
)
from straighten.units import show

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from straighten.sheet.history import History
    from straighten.units import System


def history_figure(history: History, form: str, system: System = "mm") -> bytes:
    """Return the figure as file bytes.

    Args:
        history: its points.
        form: "svg", "png" or "pdf".
        system: unit of both axes.
    """

    def draw(figure: Figure) -> None:
        figure.set_size_inches(WIDTH, WIDTH)
        axes = figure.subplots()
        told, measured = (small([p[k] for p in history.points], system) for k in (0, 1))
        reach = 1.1 * max([*told, *measured, small(0.05e-3, system)])
        axes.plot([0, reach], [0, reach], color=QUIET, lw=1.2, ls="--")
        axes.plot(told, measured, ls="", marker="o", ms=6, mfc="none", color=BLUE, mew=1.6)
        axes.set_xlabel(f"set foretold [{units(system)[0]}]")
        heights_axis(axes, system, "set measured")
        second_levels(axes, system)
        axes.set_title("On the dashed line: as foretold")
        axes.set_xlim(0, reach)
        axes.set_ylim(min([0.0, *measured]), reach)

    return render(draw, history_message(history, system), form)


def history_message(history: History, system: System = "mm") -> str:
    """Return what the figure says."""
    count = len(history.points)
    if not count:
        return "Set measured against set foretold: no measured pass is in the book."
    told, measured = (sum(p[k] for p in history.points) / count for k in (0, 1))
    passes = "1 pass" if count == 1 else f"{count} passes"
    return (
        f"Set of the middle in {passes}: foretold {show(told, system)}, measured {show(measured, system)} on the average; "
        f"{sum(m < t for t, m in history.points)} took less than foretold."
    )
