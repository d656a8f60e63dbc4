"""The stop decision as a record and as text."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from straighten.sheet.layout import block, page, percent, wrap
from straighten.sheet.sanding_text import trade_table
from straighten.units import show

if TYPE_CHECKING:
    from straighten.sheet.sanding import TradeRow
    from straighten.units import System


@dataclass(frozen=True, slots=True, kw_only=True)
class OptionLine:
    """One way to go: cost in the owner's money, bows left and metal [m], chance, passes, reason."""

    choice: str
    cost: float
    cam_left: float
    deck_left: float
    metal: float
    chance: float
    passes: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionReport:
    """The choice with its reason, the options best first, the rule that stops the heat, the prices used.

    `cost_by_passes` expected cost with 0, 1, 2 ... more passes allowed; `trade` what each bow left over would cost in
    metal, timing and compression; `would_change` what would turn the choice, in words.
    """

    name: str
    system: System
    choice: str
    reason: str
    stopped_by: str
    options: tuple[OptionLine, ...]
    cost_by_passes: tuple[float, ...]
    trade: tuple[TradeRow, ...]
    prices: tuple[str, ...]
    would_change: tuple[str, ...] = ()

    def to_plain(self) -> dict[str, Any]:
        """Return the report as JSON scalars with the unit in every key."""
        return {
            "schema": "straighten/decide/1",
            "name": self.name,
            "choice": self.choice,
            "reason": self.reason,
            "stopped_by": self.stopped_by,
            "options": [
                {
                    "choice": o.choice,
                    "expected_cost_money": o.cost,
                    "cam_left_mm": 1e3 * o.cam_left,
                    "deck_left_mm": 1e3 * o.deck_left,
                    "metal_to_remove_mm": 1e3 * o.metal,
                    "chance_in_limits": o.chance,
                    "more_passes": o.passes,
                    "reason": o.reason,
                }
                for o in self.options
            ],
            "expected_cost_by_passes_allowed_money": list(self.cost_by_passes),
            "trade": [asdict(row) for row in self.trade],
            "prices": list(self.prices),
            "would_change": list(self.would_change),
        }


def decision_text(report: DecisionReport) -> str:
    """Return the decision as text: the choice and its reason first."""
    options = [
        f"{o.choice.upper()}: {o.reason}. Left: cam line {show(o.cam_left, report.system)}, deck "
        f"{show(o.deck_left, report.system)}; metal to remove {show(o.metal, report.system)}; in limits "
        f"{percent(o.chance)}; expected cost {o.cost:.0f}."
        for o in report.options
    ]
    costs = ", ".join(f"{n}: {cost:.0f}" for n, cost in enumerate(report.cost_by_passes))
    return page(
        [
            f"HEAD {report.name}   {report.choice.upper()}\n" + wrap(report.reason),
            block("WAYS TO GO, cheapest first", options),
            block("EXPECTED COST with so many more passes allowed", [costs]),
            block("WHAT WOULD CHANGE THE ANSWER", report.would_change),
            trade_table(report.trade),
            block("PRICES", report.prices),
        ]
    )
