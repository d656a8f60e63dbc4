"""The stop decision as a record and as text."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar

from straighten.sheet.layout import block, page, past_advice, percent, with_range, wrap
from straighten.sheet.plain import LEFT_OUT, RAW, Answer, called
from straighten.sheet.sanding import TradeRow, trade_table
from straighten.units import System

if TYPE_CHECKING:
    from straighten.decide import Foreseen, Option


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
        return (
            f"{option.choice.upper()}: {self.reason}. Left: cam line {_length(option.cam_left, system)}; deck "
            f"{_length(option.deck_left, system)}. Metal to remove {_length(option.metal, system)}. In limits "
            f"{percent(option.chance)}. Expected cost {cost}."
        )


def _millimetres(key: str, found: Foreseen) -> dict[str, Any]:
    return {f"{key}_mm": 1e3 * found.mean, f"{key}_10_50_90_mm": [1e3 * length for length in found.tenths]}


def _length(found: Foreseen, system: System) -> str:
    low, _, high = found.tenths
    return with_range(found.mean, low, high, system)


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionReport(Answer):
    """The choice with its reason, what stops the heat or "", the options cheapest first, the prices used.

    `command` what to do next, `go_on` the command that goes past advice or ""; of a forbidden head no option is told.
    `cost_by_passes` expected cost with 0, 1, 2 ... more passes allowed; `trade` what each bow left over would cost in
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
    cost_by_passes: tuple[float, ...] = field(
        default=(), metadata=called("expected_cost_by_passes_allowed_money")
    )
    trade: tuple[TradeRow, ...] = ()
    prices: tuple[str, ...] = ()
    would_change: tuple[str, ...] = ()


def decision_text(report: DecisionReport) -> str:
    """Return the decision as text: the choice and its reason first."""
    costs = ", ".join(f"{n}: {cost:.0f}" for n, cost in enumerate(report.cost_by_passes))
    return page(
        [
            f"HEAD {report.name}   {report.choice.upper()}\n" + wrap(report.reason),
            past_advice(report.go_on),
            block(
                "WAYS TO GO, cheapest first; ranges hold 8 times in 10",
                [option.sentence(report.system) for option in report.options],
            ),
            block("EXPECTED COST with so many more passes allowed", [costs] if costs else []),
            block("WHAT WOULD CHANGE THE ANSWER", report.would_change),
            trade_table(report.trade),
            block("PRICES", report.prices),
        ]
    )
