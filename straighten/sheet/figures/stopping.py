"""Figure: the stop decision, expected cost against how many more passes are allowed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from straighten.errors import closed
from straighten.sheet.figures.drawing import BLUE, INK, PALE, QUIET, WIDTH

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class StopPicture:
    """The stop decision: expected cost [money] with 0, 1, 2, ... more passes allowed, the ways to go, the choice.

    `options` name, expected cost, and the cost under which it stays 1 time and 9 times in 10.
    """

    costs: tuple[float, ...]
    options: tuple[tuple[str, float, float, float], ...]
    choice: str
    stopped_by: str

    @property
    def message(self) -> str:
        """What the picture says."""
        ways = ", ".join(
            f"{name} {cost:.0f} ({low:.0f} to {high:.0f})" for name, cost, low, high in self.options
        )
        rule = closed(f" A rule stops the heat: {self.stopped_by}") if self.stopped_by else ""
        saved = self.costs[0] - min(self.costs)
        gain = f" Allowing more passes saves up to {saved:.0f}." if len(self.costs) > 1 else ""
        return f"{self.choice.capitalize()} is cheapest. Expected cost: {ways}.{gain}{rule}"

    def draw(self, figure: Figure) -> None:
        """Draw the cost over the passes allowed on top, the ways to go below."""
        if len(self.costs) > 1:
            figure.set_size_inches(WIDTH, 5.0)
            curve, ways = figure.subplots(2, 1)
            _curve(curve, self)
        else:
            figure.set_size_inches(WIDTH, 2.4)
            ways = figure.subplots()
        _ways(ways, self)


def _curve(axes: Axes, picture: StopPicture) -> None:
    numbers = list(range(len(picture.costs)))
    axes.plot(numbers, picture.costs, color=BLUE, lw=2.2, marker="o", ms=8)
    for number, cost in zip(numbers, picture.costs, strict=True):
        axes.annotate(f"{cost:.0f}", (number, cost), xytext=(0, 9), textcoords="offset points", ha="center")
    axes.set_xticks(numbers)
    axes.set_xlim(-0.5, numbers[-1] + 0.5)
    axes.set_ylim(0, 1.2 * max(picture.costs))
    axes.set_xlabel("more passes allowed")
    axes.set_ylabel("expected cost\n[your money]")
    axes.set_title("With more passes")
    axes.spines[["top", "right"]].set_visible(False)


def _ways(axes: Axes, picture: StopPicture) -> None:
    options = picture.options[::-1]
    for place, (name, cost, low, high) in enumerate(options):
        chosen = name == picture.choice
        axes.barh(
            place,
            cost,
            height=0.58,
            facecolor=PALE,
            edgecolor=INK if chosen else QUIET,
            lw=2.6 if chosen else 1,
            hatch="" if chosen else "//",
        )
        axes.plot([low, high], [place, place], color=BLUE, lw=2.2, marker="|", ms=14, mew=2.2)
        axes.annotate(
            f"{cost:.0f}", (max(cost, high), place), xytext=(7, 0), textcoords="offset points", va="center"
        )
    names = [f"{name}\n(chosen)" if name == picture.choice else name for name, *_ in options]
    axes.set_yticks(range(len(options)), names)
    axes.set_xlim(0, 1.18 * max(max(cost, high) for _, cost, _, high in options))
    axes.set_xlabel("expected cost, line: 8 times in 10 [your money]")
    axes.set_title("Ways to go")
    axes.spines[["top", "right"]].set_visible(False)
