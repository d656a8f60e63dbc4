"""The sanding plan as plain text: what to do next stands first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.sheet.layout import block, page, wrap
from straighten.units import show, show_range

if TYPE_CHECKING:
    from collections.abc import Sequence

    from straighten.sheet.sanding import SandReport, TradeRow

_STATES = {
    "go on": "SAND ON",
    "flat enough": "STOP: FLAT ENOUGH",
    "removal limit": "STOP: REMOVAL LIMIT",
}


def sanding_text(report: SandReport) -> str:
    """Return the plan as text."""
    return page(
        [
            "\n".join(
                [f"HEAD {report.name}   {_STATES[report.state]}", wrap(report.sentence), wrap(report.verdict)]
            ),
            block("NEXT", report.do),
            block("IF YOU GO TO THE FULL COUNT YOU SHOULD SEE", report.expect),
            block("DEPTH", _depth(report)),
            "\n".join([block("WHERE IT SHINES FIRST", report.shine), _map(report)]),
            block("SURFACE", report.surface),
            block("PAPERS", report.papers),
            block("LEARNED", report.learned),
            block("HOW", report.method),
            block("WHAT THE CUT DOES", [*(f.sentence for f in report.consequences), *report.warnings]),
            trade_table(report.trade if report.bendable else ()),
            block("CAUTION", report.cautions),
            block("ASSUMED", report.assumed),
        ]
    )


def _depth(report: SandReport) -> list[str]:
    system = report.system
    lines = [
        f"{title}: {show(triple[1], system)}, range {show_range(triple[0], triple[2], system)}"
        for title, triple in (
            ("height from the highest place to the lowest (minimum zone)", report.height),
            (f"to take off the highest place in all, goal {report.goal}", report.depth),
            ("taken off the highest place so far", report.removed),
            ("hollow still left", report.left),
            ("flatness to expect at the end, the surface's own error in it", report.expected),
        )
        if triple is not report.removed or report.runs
    ]
    aim = (
        f"it ends where no gap is over {show(report.aim, system)}"
        if report.aim
        else "it ends where all shines"
    )
    return [*lines, f"may come off: {show(report.allowed, system)}; {aim}"]


def _map(report: SandReport) -> str:
    """Return the face as digits: 1 shines first, 9 last."""
    deepest = max(max(row) for row in report.grid) or 1.0
    rows = ["".join(f" {1 + min(int(9 * v / deepest), 8)}" for v in row) for row in report.grid]
    titles = ("inlet", "", "centre", "", "exhaust")
    body = [f"   {title:>8} {row}" for title, row in zip(titles, rows, strict=True)]
    return "\n".join(["            front          rear   (1 shines first, 9 last)", *body])


def trade_table(rows: Sequence[TradeRow]) -> str:
    """Return what each bow left over would cost, as a table; nothing without rows."""
    if not rows:
        return ""
    head = [
        "   deck bow  cam line  clean-up   height  cam    crank  compression",
        "   left mm   left mm   mm         left mm deg    deg    ratio",
    ]
    return "\n".join(
        [
            "STRAIGHTEN MORE OR SAND MORE: what each bow left over would cost, the whole",
            "face sanded clean; nothing is sanded where the bow left is inside its limit",
            *head,
            *map(_row, rows),
        ]
    )


def _row(row: TradeRow) -> str:
    cam = "-" if row.cam_deg is None else f"{row.cam_deg:.2f}"
    crank = "-" if row.crank_deg is None else f"{row.crank_deg:.2f}"
    ratio = "-" if row.ratio_most is None else f"{row.ratio_least:.2f} to {row.ratio_most:.2f}"
    mark = "" if row.allowed else "  TOO DEEP"
    bow, cam_bow = (round(left, 2) + 0.0 for left in (row.bow_mm, row.cam_bow_mm))  # no minus before a nought
    return (
        f"   {bow:<9.2f} {cam_bow:<9.2f} {row.removal_mm:<10.2f} {row.left_mm:<7.2f} {cam:<6} {crank:<6} "
        f"{ratio}{mark}"
    )
