"""Straighten more or sand more, drawn: removal, cam timing and compression against the bow left over."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from straighten.sheet.figures.drawing import (
    BLUE,
    INK,
    QUIET,
    WIDTH,
    heights_axis,
    render,
    second_levels,
    small,
    units,
)
from straighten.units import show

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from straighten.sheet.sanding import SandReport, TradeRow

    _Line = tuple[Sequence[float], str, str, str]  # values, marker and line, colour, name

LEGEND: Final = 10.5


def trade_figure(report: SandReport, form: str) -> bytes:
    """Return the figure as file bytes, the same for the same report.

    Args:
        report: its `trade` rows are drawn.
        form: "svg", "png" or "pdf".
    """
    return render(lambda figure: _draw(figure, report), _message(report), form)


def _message(report: SandReport) -> str:
    """Return what the figure says."""
    allowed = f"{show(report.allowed, report.system)} may come off"
    if not report.trade:
        return f"Straighten more or sand more: {allowed}."
    low, high = (pick(report.trade, key=lambda row: row.bow_mm) for pick in (min, max))
    ways = [
        f"with a bow of {show(row.bow_mm * 1e-3, report.system)} left {show(row.removal_mm * 1e-3, report.system)} are to be sanded off"
        for row in (low, high)
    ]
    return f"Straighten more or sand more: {', '.join(ways)}; {allowed}."


def _draw(figure: Figure, report: SandReport) -> None:
    figure.set_size_inches(WIDTH + 1.2, 8.2)
    axes = figure.subplots(3, 1, sharex=True)
    _removal(axes[0], report)
    _timing(axes[1], report)
    _ratio(axes[2], report)
    axes[2].set_xlabel(f"deck bow left by straightening [{units(report.system)[0]}]")
    second_levels(axes[0], report.system)


def _lines(axes: Axes, rows: Sequence[TradeRow], report: SandReport, drawn: Iterable[_Line]) -> None:
    """Draw a line a figure over the bow left, broken where sanding begins: there it jumps, for the clean-up comes on top."""
    sanded = [row.removal_mm > 0 for row in rows]
    parts = [[n for n, some in enumerate(sanded) if some == wanted] for wanted in (False, True)]
    bows = small([row.bow_mm * 1e-3 for row in rows], report.system)
    for values, marker, color, label in drawn:
        named = label
        for part in filter(None, parts):
            axes.plot([bows[n] for n in part], [values[n] for n in part], marker, color=color, label=named)
            named = ""
    axes.legend(fontsize=LEGEND)


def _removal(axes: Axes, report: SandReport) -> None:
    system = report.system
    bows, removal, cam = (
        small([abs(length) * 1e-3 for length in lengths], system)
        for lengths in zip(*((r.bow_mm, r.removal_mm, r.cam_bow_mm) for r in report.trade), strict=True)
    )
    axes.plot(bows, cam, "s--", color=BLUE, label="cam line stays bowed")
    axes.axhline(float(small(report.allowed, system)), color=QUIET, linestyle=":", label="may come off")
    _lines(axes, report.trade, report, [(removal, "o-", INK, "to sand off")])
    heights_axis(axes, system, "depth")
    axes.set_title("Straighten more or sand more")


def _timing(axes: Axes, report: SandReport) -> None:
    axes.set_ylabel("cam falls back [deg]")
    rows = [row for row in report.trade if row.cam_deg is not None and row.crank_deg is not None]
    if not rows:
        _not_told(axes, "drive not given in the head file")
        return
    cam, crank = [row.cam_deg or 0.0 for row in rows], [row.crank_deg or 0.0 for row in rows]
    _lines(axes, rows, report, ((cam, "o-", INK, "of the cam"), (crank, "s--", BLUE, "of the crank")))


def _ratio(axes: Axes, report: SandReport) -> None:
    axes.set_ylabel("compression ratio")
    rows = [row for row in report.trade if row.ratio_most is not None and row.ratio_least is not None]
    if not rows:
        _not_told(axes, "bore, stroke or ratio not given in the head file")
        return
    most, least = [row.ratio_most or 0.0 for row in rows], [row.ratio_least or 0.0 for row in rows]
    drawn = (
        (most, "o-", INK, "cylinder that changes most"),
        (least, "s--", BLUE, "cylinder that changes least"),
    )
    _lines(axes, rows, report, drawn)


def _not_told(axes: Axes, why: str) -> None:
    axes.text(0.5, 0.5, why, ha="center", transform=axes.transAxes)
