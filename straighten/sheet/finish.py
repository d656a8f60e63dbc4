"""The final list as a record and as text."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from straighten.sheet.layout import block, page, wrap
from straighten.units import show, show_range

if TYPE_CHECKING:
    from straighten.units import System

_BOXES = {"holds": "[x]", "done": "[x]", "fails": "[!]", "skipped": "[-]", "open": "[ ]"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishLine:
    """One line of the list: `key`, `title`, value to `reach`, `state`, what was `found`."""

    key: str
    title: str
    reach: str
    state: str
    found: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeEnd:
    """One number of the final shape with its 80 % range [m]."""

    key: str
    words: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishReport:
    """The final state: shape, list, what was sanded and what that does, what was skipped and assumed; `entry` number in the book once closed."""

    name: str
    system: System
    passes: int
    shape: tuple[ShapeEnd, ...]
    lines: tuple[FinishLine, ...]
    sanded: str
    consequences: tuple[str, ...]
    due: str
    skipped: tuple[str, ...]
    assumed: tuple[str, ...]
    judgement: dict[str, Any]
    entry: int | None = None

    def closed(self, entry: int) -> FinishReport:
        """Return the report as it stands in the book."""
        return replace(self, entry=entry)

    def to_plain(self) -> dict[str, Any]:
        """Return the report as JSON scalars with the unit in every key."""
        return {
            "schema": "straighten/finish/1",
            "name": self.name,
            "passes": self.passes,
            "shape": {
                end.key: {"value_mm": 1e3 * end.value, "low_mm": 1e3 * end.low, "high_mm": 1e3 * end.high}
                for end in self.shape
            },
            "lines": [
                {
                    "key": line.key,
                    "title": line.title,
                    "reach": line.reach,
                    "state": line.state,
                    "found": line.found,
                }
                for line in self.lines
            ],
            "sanded": self.sanded,
            "consequences": list(self.consequences),
            "remeasure_due": self.due,
            "skipped": list(self.skipped),
            "assumed": list(self.assumed),
            "judgement": self.judgement,
            "closed_as_entry": self.entry,
        }


def finish_text(report: FinishReport) -> str:
    """Return the list as text, a box before every line."""
    failed = sum(line.state == "fails" for line in report.lines)
    open_ = sum(line.state in ("open", "skipped") for line in report.lines)
    state = "CLOSED" if report.entry is not None else "FINAL LIST"
    top = [
        f"HEAD {report.name}   {state}",
        wrap(
            f"{failed} fail, {open_} not seen, of {len(report.lines)} lines; {report.passes} passes of heat."
        ),
    ]
    rows = [_row(line) for line in report.lines]
    shape = [
        f"{end.words}: {show(end.value, report.system)}, range {show_range(end.low, end.high, report.system)}"
        for end in report.shape
    ]
    return page(
        [
            "\n".join(top),
            wrap(f"Next: {report.judgement['command']}. {report.judgement['reason']}")
            if report.entry is None
            else "",
            "\n".join(["LIST   [x] good   [!] fails   [ ] not seen   [-] skipped", *rows]),
            block("AGAIN AFTER A DAY", [report.due]),
            block("FINAL SHAPE", shape),
            block("SANDED", [report.sanded]),
            block("WHAT THE CUT DOES", report.consequences),
            block("SKIPPED OR NOT SEEN", report.skipped),
            block("ASSUMED", report.assumed),
        ]
    )


def _row(line: FinishLine) -> str:
    found = f" FOUND: {line.found}." if line.found else ""
    return wrap(f"{_BOXES[line.state]} {line.title}: {line.reach}.{found}", " ", "     ")
