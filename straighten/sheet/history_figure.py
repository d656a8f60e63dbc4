"""Figure: set measured against set foretold, every pass in the book."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.sheet.figures.drawing import BLUE, QUIET, WIDTH, render, small

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
        unit = "mm" if system == "mm" else "thou"
        axes.set_xlabel(f"set foretold [{unit}]")
        axes.set_ylabel(f"set measured [{unit}]")
        axes.set_title("On the dashed line: as foretold")
        axes.set_xlim(0, reach)
        axes.set_ylim(min([0.0, *measured]), reach)
        axes.spines[["top", "right"]].set_visible(False)

    return render(draw, f"Set measured against set foretold, {len(history.points)} passes", form)
