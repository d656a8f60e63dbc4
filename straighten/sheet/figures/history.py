"""Figure: set measured against set foretold, every pass in the book."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from straighten.sheet.figures.drawing import BLUE, QUIET, SMALL, WIDTH, heights_axis, second_axis, small
from straighten.units import System, show

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryPicture:
    """Set foretold and set measured of every pass [m]."""

    points: tuple[tuple[float, float], ...]
    system: System = "mm"

    @property
    def message(self) -> str:
        """What the picture says."""
        count = len(self.points)
        if not count:
            return "Set measured against set foretold: no measured pass is in the book."
        told, measured = (sum(p[k] for p in self.points) / count for k in (0, 1))
        passes = "1 pass" if count == 1 else f"{count} passes"
        return (
            f"Set of the middle in {passes}: foretold {show(told, self.system)}, measured {show(measured, self.system)} on "
            f"the average; {sum(m < t for t, m in self.points)} took less than foretold."
        )

    def draw(self, figure: Figure) -> None:
        """Draw every pass as a ring; on the dashed line it went as foretold."""
        figure.set_size_inches(WIDTH, WIDTH)
        axes, system = figure.subplots(), self.system
        told, measured = (small([p[k] for p in self.points], system) for k in (0, 1))
        reach = 1.1 * max([*told, *measured, small(0.05e-3, system)])
        axes.plot([0, reach], [0, reach], color=QUIET, lw=1.2, ls="--")
        axes.plot(told, measured, ls="", marker="o", ms=6, mfc="none", color=BLUE, mew=1.6)
        axes.set_xlabel(f"set foretold [{SMALL[system][0]}]")
        heights_axis(axes, system, "set measured")
        second_axis(axes, "top", SMALL, system)
        axes.set_title("On the dashed line: as foretold")
        axes.set_xlim(0, reach)
        axes.set_ylim(min([0.0, *measured]), reach)
