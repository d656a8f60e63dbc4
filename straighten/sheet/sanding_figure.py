"""Straighten more or sand more, drawn: removal, cam timing and compression against the bow left over."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

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
    from collections.abc import Iterable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from straighten.sheet.sanding import SandReport, TradeRow


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


def _bows(rows: Iterable[TradeRow], report: SandReport) -> Any:
    return small([row.bow_mm * 1e-3 for row in rows], report.system)


def _removal(axes: Axes, report: SandReport) -> None:
    bows, system = _bows(report.trade, report), report.system
    removal = small([row.removal_mm * 1e-3 for row in report.trade], system)
    cam = small([abs(row.cam_bow_mm) * 1e-3 for row in report.trade], system)
    axes.plot(bows, removal, "o-", color=INK, label="to sand off")
    axes.plot(bows, cam, "s--", color=BLUE, label="cam line stays bowed")
    axes.axhline(float(small(report.allowed, system)), color=QUIET, linestyle=":", label="may come off")
    heights_axis(axes, system, "depth")
    axes.set_title("Straighten more or sand more")
    axes.legend(fontsize=9)


def _timing(axes: Axes, report: SandReport) -> None:
    axes.set_ylabel("cam falls back [deg]")
    rows = [row for row in report.trade if row.cam_deg is not None and row.crank_deg is not None]
    if not rows:
        _not_told(axes, "drive not given in the head file")
        return
    bows = _bows(rows, report)
    axes.plot(bows, [row.cam_deg or 0.0 for row in rows], "o-", color=INK, label="of the cam")
    axes.plot(bows, [row.crank_deg or 0.0 for row in rows], "s--", color=BLUE, label="of the crank")
    axes.legend(fontsize=9)


def _ratio(axes: Axes, report: SandReport) -> None:
    axes.set_ylabel("compression ratio")
    rows = [row for row in report.trade if row.ratio_most is not None and row.ratio_least is not None]
    if not rows:
        _not_told(axes, "bore, stroke or ratio not given in the head file")
        return
    bows = _bows(rows, report)
    axes.plot(
        bows, [row.ratio_most or 0.0 for row in rows], "o-", color=INK, label="cylinder that changes most"
    )
    axes.plot(
        bows,
        [row.ratio_least or 0.0 for row in rows],
        "s--",
        color=BLUE,
        label="cylinder that changes least",
    )
    axes.legend(fontsize=9)


def _not_told(axes: Axes, why: str) -> None:
    axes.text(0.5, 0.5, why, ha="center", transform=axes.transAxes)
