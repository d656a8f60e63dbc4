"""The verification report: rows left by the `published` fixture, written as one page.

`python -m tests.report` runs the test modules that use the fixture and writes docs/verification/report.md.
"""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import dataclass, field
from itertools import groupby
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "verification" / "report.md"
LIMITS = ROOT / "docs" / "limits.md"
ELEMENTS = "test_try.py"
USE = re.compile(r"^\s+published\(", re.MULTILINE)
SAME = 1e-3  # of the tolerance: what another machine's arithmetic may change in a row

HEAD = """# Verification report

Written by `python -m tests.report`; do not edit. Every row is a figure from outside the program (a standard, a
handbook, a data set, a general solver, plain algebra), what the program gives for it, and the tolerance that the test
asserts. A tolerance is half a unit of the last printed digit where a value is printed, rounding where a closed form is
compared, and wider, with the reason in the test, where a simple model is held against a rich one.

Marks: **seen** = read in the source named; **from memory** = recalled from it, not read again; **derived** = worked out
from the formula named; **fitted** = a constant of the planner was set on this very figure, so the row guards it but
proves nothing; **common practice, no source** = what the trade does. "Used" is the difference over the tolerance:
100 % would be a test about to fail. Where a table is read from its source (grit sizes, for one) the difference is
zero and the row guards the copy.

What no row can show: how real castings answer to heat. No measured set of a cast head was found in public; the rows
against 3D finite elements check the planner's short formulas against a rich model of the same physics, not against
metal. See [limits](../limits.md).
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One check: `printed` and `ours` in `unit`, `tolerance` in the same."""

    module: str
    source: str
    mark: str
    quantity: str
    unit: str
    printed: float
    ours: float
    tolerance: float

    @property
    def used(self) -> float:
        """Share of the tolerance that the difference takes."""
        apart = abs(self.ours - self.printed)
        return 0.0 if apart == 0 else apart / self.tolerance if self.tolerance else float("inf")

    def cells(self) -> tuple[str, ...]:
        """The row as the page shows it."""
        decimals = _decimals(self.tolerance)
        apart = self.ours - self.printed
        return (
            self.quantity,
            f"{self.printed:.10g} {self.unit}".strip(),
            _figure(self.ours, decimals),
            _figure(apart, decimals) if abs(apart) >= 0.0005 * self.tolerance else "0",
            f"{self.tolerance:.2g}",
            f"{self.used:.0%}".replace("%", " %"),
            self.mark,
        )


@dataclass(slots=True)
class Rows:
    """The rows of one run, in the order of their modules."""

    kept: list[Row] = field(default_factory=list)

    def keep(self, row: Row) -> None:
        """Keep a row; the same check repeated counts once."""
        if (row.source, row.quantity) not in {(r.source, r.quantity) for r in self.kept}:
            self.kept.append(row)

    def missing(self) -> list[str]:
        """Modules that use the fixture but left no row in this run."""
        seen = {row.module for row in self.kept}
        return [path.name for path in using() if path.name not in seen]

    def sorted(self) -> list[Row]:
        """By module, then in the order kept, rows of one source together."""
        order = {name: n for n, name in enumerate(dict.fromkeys(r.source for r in self.kept))}
        return sorted(self.kept, key=lambda row: (row.module, order[row.source]))


def using() -> list[Path]:
    """Return the test modules that use the fixture."""
    return sorted(
        path for path in (ROOT / "tests").rglob("test_*.py") if USE.search(path.read_text(encoding="utf-8"))
    )


def _decimals(tolerance: float) -> int:
    """Return how many decimals show a hundredth of the tolerance; at most 12."""
    if tolerance <= 0:
        return 12
    return next((n for n in range(12) if 10.0**-n <= tolerance / 50), 12)


def _figure(value: float, decimals: int) -> str:
    if value != 0 and (abs(value) < 1e-6 or abs(value) >= 1e9):
        return f"{value:.6g}"
    return f"{value:.{decimals}f}"


def page(rows: Rows) -> str:
    """Return the report as Markdown."""
    parts, table = [HEAD], rows.sorted()
    parts.append(f"{len(table)} figures from {len({r.source for r in table})} sources.\n")
    parts += ["| source | figures | largest share of the tolerance |", "|---|---:|---:|"]
    grouped = [(key, list(group)) for key, group in groupby(table, key=lambda r: (r.module, r.source))]
    for (_, source), group in grouped:
        parts.append(
            f"| {_cell(source)} | {len(group)} | {max(r.used for r in group):.0%} |".replace("%", " %")
        )
    for (module, source), group in grouped:
        parts += [f"\n## {source}\n", f"Test: `{_place(module)}`\n"]
        parts += ["| quantity | printed | ours | difference | tolerance | used | mark |"]
        parts += ["|---|---:|---:|---:|---:|---:|---|"]
        parts += ["| " + " | ".join(_cell(c) for c in row.cells()) + " |" for row in group]
    return "\n".join(parts) + "\n"


def _cell(text: str) -> str:
    return text.replace("|", "/")


def _place(module: str) -> str:
    return next(str(p.relative_to(ROOT)) for p in (ROOT / "tests").rglob(module))


def table_of(text: str) -> dict[tuple[str, str], tuple[str, ...]]:
    """Return the rows of a written report by source and quantity."""
    found, source = {}, ""
    for line in text.splitlines():
        if line.startswith("## "):
            source = line[3:]
        cells = tuple(c.strip() for c in line.strip("|").split("|"))
        if source and line.startswith("| ") and len(cells) == 7 and cells[0] != "quantity":
            found[source, cells[0]] = cells
    return found


def stale(rows: Rows, text: str) -> list[str]:
    """Return what in a written report is no longer what this run found."""
    written, faults = table_of(text), []
    today = {(r.source, _cell(r.quantity)): r for r in rows.kept}
    faults += [f"not in the report: {key}" for key in today.keys() - written.keys()]
    faults += [f"no longer checked: {key}" for key in written.keys() - today.keys()]
    for key in today.keys() & written.keys():
        row, cells = today[key], written[key]
        fresh = tuple(_cell(c) for c in row.cells())
        off = abs(float(cells[2]) - row.ours)
        room = max(0.03 * row.tolerance, 0.6 * 10.0 ** -_decimals(row.tolerance), SAME * abs(row.tolerance))
        if (cells[1], cells[4], cells[6]) != (fresh[1], fresh[4], fresh[6]) or off > room:
            faults.append(f"{key}: written {cells}, today {fresh}")
    return faults


def elements_table(rows: Rows) -> str:
    """Return the agreement with 3D elements case by case, as it stands on the page of limits."""
    cases: dict[str, list[Row]] = {}
    for row in rows.kept:
        if row.module == ELEMENTS:
            name, told, _ = row.quantity.rpartition(": ")
            cases.setdefault(name if told else row.quantity, []).append(row)
    lines = ["| case | largest difference | allowed | mark |", "|---|---:|---:|---|"]
    for name, found in cases.items():
        worst = max(abs(r.ours / r.printed - 1) for r in found)
        allowed = max(abs(r.tolerance / r.printed) for r in found)
        lines.append(f"| {name} | {100 * worst:.0f} % | {100 * allowed:.0f} % | {found[0].mark} |")
    return "\n".join(lines)


def with_elements(text: str, rows: Rows) -> str:
    """Return the page of limits with today's table between its markers."""
    first, last = "<!-- elements -->\n", "<!-- /elements -->"
    before, _, rest = text.partition(first)
    return before + first + elements_table(rows) + "\n" + last + rest.partition(last)[2]


def write_report(rows: Rows) -> Path:
    """Write the page, and the table on the page of limits; return the page's path."""
    PAGE.parent.mkdir(parents=True, exist_ok=True)
    PAGE.write_text(page(rows), encoding="utf-8")
    LIMITS.write_text(with_elements(LIMITS.read_text(encoding="utf-8"), rows), encoding="utf-8")
    return PAGE.relative_to(ROOT)


def main() -> int:
    """Run the modules concerned and write the report."""
    words = [sys.executable, "-m", "pytest", "-q", "--write-report", *(str(p) for p in using())]
    return subprocess.run(words, cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    raise SystemExit(main())
