"""What stands behind the plans, as records and as text: formulas and priors, and what the shop's book has taught."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar

from straighten.sheet.figures.drawing import BLUE, QUIET, SMALL, WIDTH, heights_axis, second_axis, small
from straighten.sheet.layout import block, page, wrap
from straighten.sheet.plain import LEFT_OUT, MM, Answer, Triple, called
from straighten.units import System, show

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One formula: title, the formula as derived, the formula with numbers in, and the result with its unit."""

    title: str
    formula: str
    numbers: str
    result: str
    code: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation(Answer):
    """Formulas with this head's numbers, the priors with their reasons, the table figures with their sources."""

    schema: ClassVar[str] = "explain/1"
    name: str
    steps: tuple[Step, ...]
    priors: tuple[str, ...]
    sources: tuple[str, ...]
    assumed: tuple[str, ...]


def explanation_text(found: Explanation) -> str:
    """Return the explanation as text."""
    return page(
        f"WHY   HEAD {found.name}",
        *map(_step, found.steps),
        block("BELIEVED BEFORE ANYTHING IS MEASURED", found.priors),
        block("TABLE FIGURES", found.sources),
        block("ASSUMED", found.assumed),
    )


def _step(step: Step) -> str:
    told = {"formula": step.formula, "numbers": step.numbers, "gives": step.result, "in use": step.code}
    lines = (wrap(f"{name + ':':<8} {text}", "   ", " " * 12) for name, text in told.items())
    return "\n".join([step.title, *lines])


# --- the shop's book ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorLine:
    """One factor: as published and as the shop has it now, 10, 50, 90 % each, from so many heads."""

    name: str
    words: str
    published: Triple
    shop: Triple
    heads: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupHistory(Answer):
    """One alloy family and heat source: heads, passes, passes per head, mean set foretold and measured [m], factors."""

    family: str = field(metadata=called("alloy_family"))
    source: str = field(metadata=called("heat_source"))
    heads: int
    passes: int
    mean_foretold: float = field(metadata=MM)
    mean_measured: float = field(metadata=MM)
    factors: tuple[FactorLine, ...]

    @property
    def per_head(self) -> float:
        """Passes per head."""
        return self.passes / self.heads

    def to_plain(self) -> dict[str, Any]:
        """Return the group as JSON scalars, with its passes per head."""
        return Answer.to_plain(self) | {"passes_per_head": self.per_head}


@dataclass(frozen=True, slots=True, kw_only=True)
class History(Answer):
    """The whole book; `points` (set foretold, set measured) [m] of every pass shown; its figure is drawn from them."""

    schema: ClassVar[str] = "history/1"
    groups: tuple[GroupHistory, ...]
    points: tuple[tuple[float, float], ...] = field(metadata=called("sets_mm"))
    system: System = field(default="mm", metadata=LEFT_OUT)

    @property
    def message(self) -> str:
        """What the figure says."""
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


def history_text(history: History) -> str:
    """Return the history as text: what has been learned, group by group."""
    if not history.groups:
        return page(wrap("The book holds no measured pass yet: every plan uses the published spread."))
    return page(*(part for group in history.groups for part in _group(group, history.system)))


def _group(group: GroupHistory, system: System) -> list[str]:
    title = (
        f"{group.family.upper()}, {group.source.upper()}: {group.heads} heads, {group.passes} passes, "
        f"{group.per_head:.1f} a head"
    )
    told = (
        f"Set per pass in the middle: foretold {show(group.mean_foretold, system)}, measured "
        f"{show(group.mean_measured, system)} on the average."
    )
    factors = [
        f"{f.words}: x {f.shop[1]:.2f}, next head likely {f.shop[0]:.2f} to {f.shop[2]:.2f} "
        f"(published {f.published[0]:.2f} to {f.published[2]:.2f}; {f.heads} heads)"
        for f in group.factors
    ]
    return [wrap(title), wrap(told), block("THE NEXT HEAD STARTS FROM", factors)]
