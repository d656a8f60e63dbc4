"""The stop decision as a record, as text, and as a figure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar

from straighten.errors import closed, counted
from straighten.sheet.figures import BLUE, INK, PALE, QUIET, WIDTH
from straighten.sheet.layout import block, page, past_advice, percent, with_range, wrap
from straighten.sheet.plain import LEFT_OUT, RAW, Answer, called
from straighten.sheet.sanding import trade_table
from straighten.units import System, show_range

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from straighten.decide import Foreseen, Option, WholeJob
    from straighten.sanding.consequences import TradeRow


@dataclass(frozen=True, slots=True, kw_only=True)
class OptionLine(Answer):
    """One way to go, and the reason for it in words."""

    option: Option
    reason: str

    def to_plain(self) -> dict[str, Any]:
        """Return the way with its figures, the mean and the 10, 50 and 90 % of each."""
        option = self.option
        return {
            "choice": option.choice,
            "expected_cost_money": option.cost.mean,
            "cost_10_50_90_money": list(option.cost.tenths),
            **_millimetres("cam_left", option.cam_left),
            **_millimetres("deck_left", option.deck_left),
            **_millimetres("metal_to_remove", option.metal),
            "chance_in_limits": option.chance,
            "more_passes": option.passes,
            "reason": self.reason,
        }

    def sentence(self, system: System) -> str:
        """Return what the way costs, leaves and promises."""
        option = self.option
        low, _, high = option.cost.tenths
        cost = f"{option.cost.mean:.0f}" + (f", range {low:.0f} to {high:.0f}" if high - low >= 1 else "")
        if high - low >= 1 and option.cost.mean > high:
            cost += ", now and then far more"
        deck = "inside its limit" if option.choice == "sand now" else _length(option.deck_left, system)
        left = f" Left: cam line {_length(option.cam_left, system)}; deck {deck}."
        return (
            f"{option.choice.upper()}: {self.reason}.{'' if option.choice == 'hand it on' else left} Metal to remove "
            f"{_length(option.metal, system)}. In limits {percent(option.chance)}. Expected cost {cost}."
        )


def _millimetres(key: str, found: Foreseen) -> dict[str, Any]:
    return {f"{key}_mm": 1e3 * found.mean, f"{key}_10_50_90_mm": [1e3 * length for length in found.tenths]}


def _length(found: Foreseen, system: System) -> str:
    """Return the mean with its range; the middle where a few large values pull the mean out of the range."""
    low, middle, high = found.tenths
    return with_range(found.mean if low <= found.mean <= high else middle, low, high, system)


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeJobLine(Answer):
    """What the whole job comes to if heat goes on, and its cost at 10, 50 and 90 %."""

    whole: WholeJob
    cost: tuple[float, float, float]

    def to_plain(self) -> dict[str, Any]:
        """Return chances, clampings, bow left, metal and cost."""
        whole = self.whole
        return {
            "chance_straight": whole.chance,
            "chance_past": whole.past,
            "clampings_10_50_90": list(whole.clampings),
            "cam_left_10_50_90_mm": [1e3 * length for length in whole.cam],
            "metal_to_sand_10_50_90_mm": [1e3 * length for length in whole.metal],
            "cost_10_50_90_money": list(self.cost),
        }

    def sentence(self, system: System) -> str:
        """Return it in one sentence."""
        whole, (least, _, most) = self.whole, self.cost
        fewest, _, many = whole.clampings
        count = f"{fewest} to {many} clampings" if many > fewest else counted(many, "clamping")
        metal = show_range(whole.metal[0], whole.metal[2], system) if whole.metal[2] > 0 else "nothing"
        return (
            f"Whole job: {count}, then {percent(whole.chance)} straight; {percent(whole.past)} past straight, cam line bow left "
            f"{show_range(whole.cam[0], whole.cam[2], system)}, {metal} to sand off; by cost alone {least:.0f} to {most:.0f}."
        )


_BY_PASSES = "expected_cost_by_passes_allowed_money"


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionReport(Answer):
    """The choice with its reason, what stops the heat or "", the options cheapest first, the prices used.

    `command` what to do next, `go_on` the command that goes past advice or ""; of a forbidden head no option is told.
    `whole_job` if heat goes on, None where no pass may be planned; `cost_by_passes` expected cost with 0, 1, 2 ... more passes allowed; `trade` what each bow left over would cost in
    metal, timing and compression; `would_change` what would turn the choice, in words.
    """

    schema: ClassVar[str] = "decide/1"
    name: str
    system: System = field(metadata=LEFT_OUT)
    choice: str
    reason: str
    stopped_by: str
    command: str
    go_on: str
    judgement: dict[str, Any] = field(metadata=RAW)
    options: tuple[OptionLine, ...] = ()
    whole_job: WholeJobLine | None = None
    cost_by_passes: tuple[float, ...] = field(default=(), metadata=called(_BY_PASSES))
    trade: tuple[TradeRow, ...] = ()
    prices: tuple[str, ...] = ()
    would_change: tuple[str, ...] = ()


def decision_text(report: DecisionReport) -> str:
    """Return the decision as text: the choice and its reason first."""
    costs = ", ".join(f"{n}: {cost:.0f}" for n, cost in enumerate(report.cost_by_passes))
    ways = [option.sentence(report.system) for option in report.options]
    by_passes = [costs] if len(report.cost_by_passes) > 1 else []
    return page(
        f"HEAD {report.name}   {report.choice.upper()}\n" + wrap(report.reason),
        past_advice(report.go_on),
        wrap(report.whole_job.sentence(report.system)) if report.whole_job else "",
        block("WAYS TO GO, cheapest first; ranges hold 8 times in 10", ways),
        block("EXPECTED COST with so many more passes allowed", by_passes),
        block("WHAT WOULD CHANGE THE ANSWER", report.would_change),
        trade_table(report.trade, report.system),
        block("PRICES", report.prices),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class StopPicture:
    """The stop decision: expected cost [money] with 0, 1, 2, ... more passes allowed, the ways to go, the choice.

    `options` name, expected cost, and the cost under which it stays 1 time and 9 times in 10.
    """

    costs: tuple[float, ...]
    options: tuple[tuple[str, float, float, float], ...]
    choice: str
    stopped_by: str

    @classmethod
    def of(cls, plain: Mapping[str, Any]) -> StopPicture:
        """Return the picture of a decision in its plain form."""
        costs = tuple(plain[_BY_PASSES])
        options = tuple(map(_cost_of, plain["options"]))
        return cls(costs=costs, options=options, choice=plain["choice"], stopped_by=plain["stopped_by"])

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
        for axes in figure.axes:
            axes.spines[["top", "right"]].set_visible(False)


def _cost_of(option: Mapping[str, Any]) -> tuple[str, float, float, float]:
    """Return name, expected cost and its range; books of earlier versions hold no range."""
    cost = float(option["expected_cost_money"])
    low, _, high = option.get("cost_10_50_90_money", (cost, cost, cost))
    return str(option["choice"]), cost, float(low), float(high)


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


def _ways(axes: Axes, picture: StopPicture) -> None:
    options = picture.options[::-1]
    for place, (name, cost, low, high) in enumerate(options):
        chosen = name == picture.choice
        edge, width, hatch = (INK, 2.6, "") if chosen else (QUIET, 1, "//")
        axes.barh(place, cost, height=0.58, facecolor=PALE, edgecolor=edge, lw=width, hatch=hatch)
        axes.plot([low, high], [place, place], color=BLUE, lw=2.2, marker="|", ms=14, mew=2.2)
        at = max(cost, high), place
        axes.annotate(f"{cost:.0f}", at, xytext=(7, 0), textcoords="offset points", va="center")
    names = [f"{name}\n(chosen)" if name == picture.choice else name for name, *_ in options]
    axes.set_yticks(range(len(options)), names)
    axes.set_xlim(0, 1.18 * max(max(cost, high) for _, cost, _, high in options))
    axes.set_xlabel("expected cost, line: 8 times in 10 [your money]")
    axes.set_title("Ways to go")
