"""The stop decision as a record and as text."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from straighten.sheet.layout import block, page, percent, wrap
from straighten.sheet.sanding_text import trade_table
from straighten.units import show, show_range

if TYPE_CHECKING:
    from straighten.decide import Foreseen
    from straighten.sheet.sanding import TradeRow
    from straighten.units import System


@dataclass(frozen=True, slots=True, kw_only=True)
class OptionLine:
    """One way to go: cost in the owner's money, bows left and metal [m], chance, passes, reason."""

    choice: str
    cost: Foreseen
    cam_left: Foreseen
    deck_left: Foreseen
    metal: Foreseen
    chance: float
    passes: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionReport:
    """The choice with its reason, what stops the heat or "", the options cheapest first, the prices used.

    `command` what to do next, `go_on` the command that goes past advice or ""; of a forbidden head no option is told.

    `cost_by_passes` expected cost with 0, 1, 2 ... more passes allowed; `trade` what each bow left over would cost in
    metal, timing and compression; `would_change` what would turn the choice, in words.
    """

    name: str
    system: System
    choice: str
    reason: str
    stopped_by: str
    command: str
    go_on: str
    judgement: dict[str, Any]
    options: tuple[OptionLine, ...] = ()
    cost_by_passes: tuple[float, ...] = ()
    trade: tuple[TradeRow, ...] = ()
    prices: tuple[str, ...] = ()
    would_change: tuple[str, ...] = ()

    def to_plain(self) -> dict[str, Any]:
        """Return the report as JSON scalars with the unit in every key."""
        return {
            "schema": "straighten/decide/1",
            "name": self.name,
            "choice": self.choice,
            "reason": self.reason,
            "stopped_by": self.stopped_by,
            "command": self.command,
            "go_on": self.go_on,
            "judgement": self.judgement,
            "options": [_plain(option) for option in self.options],
            "expected_cost_by_passes_allowed_money": list(self.cost_by_passes),
            "trade": [asdict(row) for row in self.trade],
            "prices": list(self.prices),
            "would_change": list(self.would_change),
        }


def _plain(option: OptionLine) -> dict[str, Any]:
    return {
        "choice": option.choice,
        "expected_cost_money": option.cost.mean,
        "cost_10_50_90_money": list(option.cost.tenths),
        **_millimetres("cam_left", option.cam_left),
        **_millimetres("deck_left", option.deck_left),
        **_millimetres("metal_to_remove", option.metal),
        "chance_in_limits": option.chance,
        "more_passes": option.passes,
        "reason": option.reason,
    }


def _millimetres(key: str, found: Foreseen) -> dict[str, Any]:
    return {f"{key}_mm": 1e3 * found.mean, f"{key}_10_50_90_mm": [1e3 * length for length in found.tenths]}


def decision_text(report: DecisionReport) -> str:
    """Return the decision as text: the choice and its reason first."""
    costs = ", ".join(f"{n}: {cost:.0f}" for n, cost in enumerate(report.cost_by_passes))
    return page(
        [
            f"HEAD {report.name}   {report.choice.upper()}\n" + wrap(report.reason),
            wrap(f"To go on all the same, with your reason: {report.go_on}") if report.go_on else "",
            block(
                "WAYS TO GO, cheapest first; ranges hold 8 times in 10",
                [_told(option, report.system) for option in report.options],
            ),
            block("EXPECTED COST with so many more passes allowed", [costs] if costs else []),
            block("WHAT WOULD CHANGE THE ANSWER", report.would_change),
            trade_table(report.trade),
            block("PRICES", report.prices),
        ]
    )


def _told(option: OptionLine, system: System) -> str:
    low, _, high = option.cost.tenths
    cost = f"{option.cost.mean:.0f}" + (f", range {low:.0f} to {high:.0f}" if high - low >= 1 else "")
    return (
        f"{option.choice.upper()}: {option.reason}. Left: cam line {_length(option.cam_left, system)}; deck "
        f"{_length(option.deck_left, system)}. Metal to remove {_length(option.metal, system)}. In limits "
        f"{percent(option.chance)}. Expected cost {cost}."
    )


def _length(found: Foreseen, system: System) -> str:
    low, _, high = found.tenths
    return f"{show(found.mean, system)}, range {show_range(low, high, system)}"
