"""The final list as a record and as text."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar

from straighten.sheet.check import ShapeLine
from straighten.sheet.layout import block, page, wrap
from straighten.sheet.plain import LEFT_OUT, RAW, Answer, called
from straighten.units import System

if TYPE_CHECKING:
    from straighten.closing.checklist import Item

_BOXES = {"holds": "[x]", "done": "[x]", "fails": "[!]", "skipped": "[-]", "open": "[ ]"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishReport(Answer):
    """The final state: shape, list, what was sanded and what that does, what was skipped and assumed; `entry` number in the book once closed."""

    schema: ClassVar[str] = "finish/1"
    name: str
    system: System = field(metadata=LEFT_OUT)
    passes: int
    shape: tuple[ShapeLine, ...] = field(metadata=called("shape", by="key"))
    lines: tuple[Item, ...]
    sanded: str
    consequences: tuple[str, ...]
    due: str = field(metadata=called("remeasure_due"))
    skipped: tuple[str, ...]
    assumed: tuple[str, ...]
    judgement: dict[str, Any] = field(metadata=RAW)
    entry: int | None = field(default=None, metadata=called("closed_as_entry"))


def finish_text(report: FinishReport, *, short: bool = False) -> str:
    """Return the list as text, a box before every line; `short` the list alone."""
    failed = sum(line.state == "fails" for line in report.lines)
    open_ = sum(line.state in ("open", "skipped") for line in report.lines)
    state = "CLOSED" if report.entry is not None else "FINAL LIST"
    top = [
        f"HEAD {report.name}   {state}",
        wrap(
            f"{failed} fail, {open_} not seen, of {len(report.lines)} lines; {report.passes} passes of heat."
        ),
    ]
    listed = "\n".join(["LIST   [x] good   [!] fails   [ ] not seen   [-] skipped", *map(_row, report.lines)])
    if short:
        return page(["\n".join(top), listed])
    return page(
        [
            "\n".join(top),
            wrap(f"Next: {report.judgement['command']}. {report.judgement['reason']}")
            if report.entry is None
            else "",
            listed,
            block("AGAIN AFTER A DAY", [report.due]),
            block("FINAL SHAPE", [line.sentence(report.system) for line in report.shape]),
            block("SANDED", [report.sanded]),
            block("WHAT THE CUT DOES", report.consequences),
            block("SKIPPED OR NOT SEEN", report.skipped),
            block("ASSUMED", report.assumed),
        ]
    )


def _row(line: Item) -> str:
    found = f" FOUND: {line.found}." if line.found else ""
    return wrap(f"{_BOXES[line.state]} {line.title}: {line.reach}.{found}", " ", "     ")
