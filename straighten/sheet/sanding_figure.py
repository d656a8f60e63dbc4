"""Straighten more or sand more, drawn: removal, cam timing and compression against the bow left over."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.errors import BadInput

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes

    from straighten.sheet.sanding import SandReport


def write_trade_figure(report: SandReport, path: Path) -> None:
    """Write the figure as SVG.

    Args:
        report: its `trade` rows are drawn.
        path: of the file.

    Raises:
        BadInput: the file cannot be written.
    """
    try:
        path.write_text(trade_figure(report), encoding="utf-8")
    except OSError as fault:
        raise BadInput(f"cannot be written: {fault.strerror}", where=str(path)) from None


def trade_figure(report: SandReport) -> str:
    """Return the figure as SVG text, the same bytes for the same report."""
    import io

    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context({"svg.hashsalt": "straighten", "svg.fonttype": "none", "font.size": 9}):
        figure = Figure(figsize=(6.3, 6.3), layout="constrained")
        axes = figure.subplots(3, 1, sharex=True)
        _removal(axes[0], report)
        _timing(axes[1], report)
        _ratio(axes[2], report)
        axes[2].set_xlabel("deck bow left by straightening, mm")
        figure.suptitle(f"{report.name}: straighten more or sand more")
        text = io.StringIO()
        figure.savefig(text, format="svg", metadata={"Date": None})
    return text.getvalue()


def _removal(axes: Axes, report: SandReport) -> None:
    bows = [row.bow_mm for row in report.trade]
    axes.plot(bows, [row.removal_mm for row in report.trade], "o-", color="black", label="to sand off")
    axes.plot(
        bows, [abs(row.cam_bow_mm) for row in report.trade], "s--", color="0.5", label="cam line stays bowed"
    )
    axes.axhline(1e3 * report.allowed, color="black", linestyle=":", label="may come off")
    axes.set_ylabel("mm")
    axes.legend(frameon=False)


def _timing(axes: Axes, report: SandReport) -> None:
    axes.set_ylabel("cam falls back, degrees")
    rows = [row for row in report.trade if row.cam_deg is not None and row.crank_deg is not None]
    if not rows:
        _not_told(axes, "drive not given in the head file")
        return
    bows = [row.bow_mm for row in rows]
    axes.plot(bows, [row.cam_deg or 0.0 for row in rows], "o-", color="black", label="of the cam")
    axes.plot(bows, [row.crank_deg or 0.0 for row in rows], "s--", color="0.5", label="of the crank")
    axes.legend(frameon=False)


def _ratio(axes: Axes, report: SandReport) -> None:
    axes.set_ylabel("compression ratio")
    rows = [row for row in report.trade if row.ratio_most is not None and row.ratio_least is not None]
    if not rows:
        _not_told(axes, "bore, stroke or ratio not given in the head file")
        return
    bows = [row.bow_mm for row in rows]
    axes.plot(
        bows, [row.ratio_most or 0.0 for row in rows], "o-", color="black", label="cylinder that changes most"
    )
    axes.plot(
        bows,
        [row.ratio_least or 0.0 for row in rows],
        "s--",
        color="0.5",
        label="cylinder that changes least",
    )
    axes.legend(frameon=False)


def _not_told(axes: Axes, why: str) -> None:
    axes.text(0.5, 0.5, why, ha="center", transform=axes.transAxes)
