"""Straighten more or sand more, drawn: removal, cam timing and compression against the bow left over."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from straighten.sheet.figures.drawing import (
    BLUE,
    INK,
    QUIET,
    SMALL,
    WIDTH,
    heights_axis,
    second_axis,
    small,
)
from straighten.sheet.sanding import TradeRow
from straighten.units import System, show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    _Line = tuple[Sequence[float], str, str, str]  # values, marker and line, colour, name

LEGEND: Final = 10.5


@dataclass(frozen=True, slots=True, kw_only=True)
class TradePicture:
    """What each bow left over would cost, and how much may come off [m]."""

    rows: tuple[TradeRow, ...]
    allowed: float
    system: System

    @property
    def message(self) -> str:
        """What the picture says."""
        allowed = f"{show(self.allowed, self.system)} may come off"
        if not self.rows:
            return f"Straighten more or sand more: {allowed}."
        ends = (pick(self.rows, key=lambda row: row.bow) for pick in (min, max))
        ways = [
            f"with a bow of {show(row.bow, self.system)} left {show(row.removal, self.system)} are to be sanded off"
            for row in ends
        ]
        return f"Straighten more or sand more: {', '.join(ways)}; {allowed}."

    def draw(self, figure: Figure) -> None:
        """Draw removal, timing and compression over the bow left."""
        figure.set_size_inches(WIDTH + 1.2, 8.2)
        axes = figure.subplots(3, 1, sharex=True)
        _removal(axes[0], self)
        _timing(axes[1], self)
        _ratio(axes[2], self)
        axes[2].set_xlabel(f"deck bow left by straightening [{SMALL[self.system][0]}]")
        second_axis(axes[0], "top", SMALL, self.system)


def _lines(axes: Axes, rows: Sequence[TradeRow], picture: TradePicture, drawn: Iterable[_Line]) -> None:
    """Draw a line a figure over the bow left, broken where sanding begins: there it jumps, for the clean-up comes on top."""
    sanded = [row.removal > 0 for row in rows]
    parts = [[n for n, some in enumerate(sanded) if some == wanted] for wanted in (False, True)]
    bows = small([row.bow for row in rows], picture.system)
    for values, marker, color, label in drawn:
        named = label
        for part in filter(None, parts):
            axes.plot([bows[n] for n in part], [values[n] for n in part], marker, color=color, label=named)
            named = ""
    axes.legend(fontsize=LEGEND)


def _removal(axes: Axes, picture: TradePicture) -> None:
    system = picture.system
    bows, removal, cam = (
        small([abs(length) for length in lengths], system)
        for lengths in zip(*((r.bow, r.removal, r.cam_bow) for r in picture.rows), strict=True)
    )
    axes.plot(bows, cam, "s--", color=BLUE, label="cam line stays bowed")
    axes.axhline(float(small(picture.allowed, system)), color=QUIET, linestyle=":", label="may come off")
    _lines(axes, picture.rows, picture, [(removal, "o-", INK, "to sand off")])
    heights_axis(axes, system, "depth")
    axes.set_title("Straighten more or sand more")


def _timing(axes: Axes, picture: TradePicture) -> None:
    axes.set_ylabel("cam falls back [deg]")
    rows = [row for row in picture.rows if row.cam_deg is not None and row.crank_deg is not None]
    if not rows:
        _not_told(axes, "drive not given in the head file")
        return
    cam, crank = [row.cam_deg or 0.0 for row in rows], [row.crank_deg or 0.0 for row in rows]
    _lines(axes, rows, picture, ((cam, "o-", INK, "of the cam"), (crank, "s--", BLUE, "of the crank")))


def _ratio(axes: Axes, picture: TradePicture) -> None:
    axes.set_ylabel("compression ratio")
    rows = [row for row in picture.rows if row.ratio_most is not None and row.ratio_least is not None]
    if not rows:
        _not_told(axes, "bore, stroke or ratio not given in the head file")
        return
    most, least = [row.ratio_most or 0.0 for row in rows], [row.ratio_least or 0.0 for row in rows]
    drawn = (
        (most, "o-", INK, "cylinder that changes most"),
        (least, "s--", BLUE, "cylinder that changes least"),
    )
    _lines(axes, rows, picture, drawn)


def _not_told(axes: Axes, why: str) -> None:
    axes.text(0.5, 0.5, why, ha="center", transform=axes.transAxes)
