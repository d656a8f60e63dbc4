"""The sanding plan as a record, as text with what to do first, and as a figure: straighten more or sand more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar, Final

from straighten.sheet.figures import BLUE, INK, QUIET, SMALL, WIDTH, heights_axis, second_axis, small
from straighten.sheet.layout import block, page, with_range, wrap
from straighten.sheet.plain import LEFT_OUT, RAW, Answer, Triple, called
from straighten.units import INCH, THOU, System, show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from straighten.sanding.consequences import TradeRow

LOW_VALUE_HIGH = ("low", "value", "high")


def _triple(key: str) -> Any:
    return called(key, names=LOW_VALUE_HIGH)


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect(Answer):
    """One figure of the consequences: `key` with its unit, the value before, 10, 50, 90 % after, and the sentence."""

    key: str
    before: float | None
    after: Triple | None
    sentence: str

    def to_plain(self) -> dict[str, Any]:
        """Return the figure without its key."""
        after = dict(zip(LOW_VALUE_HIGH, self.after or (None, None, None), strict=True))
        return {"before": self.before, **after, "sentence": self.sentence}


@dataclass(frozen=True, slots=True, kw_only=True)
class SandReport(Answer):
    """The sanding job at one moment; lengths [m], each triple 10, 50, 90 %.

    `state` "go on", "flat enough" or "removal limit" with its `sentence`; `aim` hollow at which it ends; `do` the next run in words; `expect` what
    the next check should show; `stop_share` of the face that shines and `stop_fall` of the height [m], at which
    the run ends before its count; `grid` depths at which the map's places begin to shine; `entry` number in the book of the
    run just logged, or None; `bendable` whether straightening is an alternative at all.
    """

    schema: ClassVar[str] = "sand/1"
    name: str
    system: System = field(metadata=LEFT_OUT)
    state: str
    sentence: str
    verdict: str
    judgement: dict[str, Any] = field(metadata=RAW)
    goal: str
    runs: int
    height: Triple = field(metadata=_triple("zone_height_mm"))
    depth: Triple = field(metadata=_triple("depth_mm"))
    removed: Triple = field(metadata=_triple("removed_mm"))
    left: Triple = field(metadata=_triple("hollow_left_mm"))
    aim: float = field(metadata=called("hollow_aimed_at_mm"))
    expected: Triple = field(metadata=_triple("expected_flatness_mm"))
    allowed: float = field(metadata=called("removal_allowed_mm"))
    fits: float = field(metadata=called("chance_depth_is_allowed"))
    shine: tuple[str, ...] = field(metadata=called("shines_first"))
    grid: tuple[tuple[float, ...], ...] = field(metadata=called("shines_from_depth_mm"))
    surface: tuple[str, ...]
    papers: tuple[str, ...]
    next_strokes: int
    next_sheets: int
    next_grit: str
    safe_strokes: float
    stop_share: float = field(metadata=called("stop_at_shining_share"))
    stop_fall: float = field(metadata=called("stop_at_fall_mm"))
    to_target: Triple = field(metadata=_triple("strokes_to_target"))
    do: tuple[str, ...]
    expect: tuple[str, ...]
    learned: tuple[str, ...]
    method: tuple[str, ...]
    consequences: tuple[Effect, ...] = field(metadata=called("consequences", by="key"))
    warnings: tuple[str, ...]
    trade: tuple[TradeRow, ...]
    cautions: tuple[str, ...]
    assumed: tuple[str, ...]
    entry: int | None = None
    bendable: bool = field(default=True, metadata=LEFT_OUT)

    @property
    def message(self) -> str:
        """What the figure says."""
        allowed = f"{show(self.allowed, self.system)} may come off"
        if not self.trade:
            return f"Straighten more or sand more: {allowed}."
        ends = (pick(self.trade, key=lambda row: row.bow) for pick in (min, max))
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
        drive = ("of the cam", "of the crank", "drive not given in the head file")
        _pair(axes[1], self, "cam falls back [deg]", ("cam_deg", "crank_deg"), drive)
        most, least = (f"cylinder that changes {how}" for how in ("most", "least"))
        ratio = (most, least, "bore, stroke or ratio not given in the head file")
        _pair(axes[2], self, "compression ratio", ("ratio_most", "ratio_least"), ratio)
        axes[2].set_xlabel(f"deck bow left by straightening [{SMALL[self.system][0]}]")
        second_axis(axes[0], "top", SMALL, self.system)


_STATES = {"go on": "SAND ON", "flat enough": "STOP: FLAT ENOUGH", "removal limit": "STOP: REMOVAL LIMIT"}


def sanding_text(report: SandReport, *, short: bool = False) -> str:
    """Return the plan as text; `short` what a stretch has changed, without what stays and without the next run."""
    state = "SAND" if report.state == "go on" and not report.runs else _STATES[report.state]
    top = [
        "\n".join([f"HEAD {report.name}   {state}", wrap(report.sentence), wrap(report.verdict)]),
        "" if short else block("NEXT", report.do),
        block("IF YOU GO TO THE FULL COUNT YOU SHOULD SEE", report.expect),
        block("DEPTH", _depth(report)),
    ]
    if short:
        return page(*top, block("LEARNED", report.learned))
    return page(
        *top,
        "\n".join([block("WHERE IT SHINES FIRST", report.shine), _map(report)]),
        block("SURFACE", report.surface),
        block("PAPERS", report.papers),
        block("LEARNED", report.learned),
        block("HOW", report.method),
        block("WHAT THE CUT DOES", [*(f.sentence for f in report.consequences), *report.warnings]),
        trade_table(report.trade if report.bendable else (), report.system),
        block("CAUTION", report.cautions),
        block("ASSUMED", report.assumed),
    )


def _depth(report: SandReport) -> list[str]:
    system = report.system
    lines = [
        f"{title}: {with_range(triple[1], triple[0], triple[2], system)}"
        for title, triple in (
            ("height from the highest place to the lowest (minimum zone)", report.height),
            (f"to take off the highest place in all, goal {report.goal}", report.depth),
            ("taken off the highest place so far", report.removed),
            ("hollow still left", report.left),
            ("flatness to expect at the end, the surface's own error in it", report.expected),
        )
        if triple is not report.removed or report.runs
    ]
    aim = f"no gap is over {show(report.aim, system)}" if report.aim else "all shines"
    return [*lines, f"may come off: {show(report.allowed, system)}; it ends where {aim}"]


def _map(report: SandReport) -> str:
    """Return the face as digits: 1 shines first, 9 last."""
    deepest = max(max(row) for row in report.grid) or 1.0
    rows = ["".join(f" {1 + min(int(9 * v / deepest), 8)}" for v in row) for row in report.grid]
    titles = ("inlet", "", "centre", "", "exhaust")
    body = [f"   {title:>8} {row}" for title, row in zip(titles, rows, strict=True)]
    return "\n".join(["            front          rear   (1 shines first, 9 last)", *body])


def trade_table(rows: Sequence[TradeRow], system: System) -> str:
    """Return what each bow left over would cost, as a table in the person's own unit; nothing without rows."""
    if not rows:
        return ""
    unit = "mm" if system == "mm" else "thou"
    head = [
        "STRAIGHTEN MORE OR SAND MORE: what each bow left over would cost, the deck",
        "sanded inside its limit; nothing is sanded where the bow left is inside it",
        "   deck bow  cam line  to sand    height  cam    crank  compression",
        f"   left {unit:<4} left {unit:<4} {unit:<10} left {'mm' if system == 'mm' else 'in':<2} deg    deg    ratio",
    ]
    return "\n".join([*head, *(_row(row, system) for row in rows)])


def _row(row: TradeRow, system: System) -> str:
    cam = "-" if row.cam_deg is None else f"{row.cam_deg:.2f}"
    crank = "-" if row.crank_deg is None else f"{row.crank_deg:.2f}"
    ratio = "-" if row.ratio_most is None else f"{row.ratio_least:.2f} to {row.ratio_most:.2f}"
    mark = "" if row.allowed else "  TOO DEEP"
    step, digits = (1e-3, 2) if system == "mm" else (THOU, 1)
    lengths = row.bow, row.cam_bow, row.removal
    bow, cam_bow, removal = (round(x / step, digits) + 0.0 for x in lengths)  # no -0
    height = f"{1e3 * row.left:.2f}" if system == "mm" else f"{row.left / INCH:.3f}"
    return f"   {bow:<9.{digits}f} {cam_bow:<9.{digits}f} {removal:<10.{digits}f} {height:<7} {cam:<6} {crank:<6} {ratio}{mark}"


LEGEND: Final = 10.5
WHOLE: Final[dict[str, Any]] = {"marker": "o", "ls": "-", "color": INK}
BROKEN: Final[dict[str, Any]] = {"marker": "s", "ls": "--", "color": BLUE}


def _line(
    axes: Axes, system: System, rows: Sequence[TradeRow], values: Sequence[float], look: dict[str, Any]
) -> None:
    """Draw a figure over the bow left, broken where sanding begins: there it jumps, for the finer papers come on top."""
    points = list(zip(small([row.bow for row in rows], system), values, strict=True))
    for wanted in (False, True):
        part = [point for point, row in zip(points, rows, strict=True) if (row.removal > 0) == wanted]
        if part:
            axes.plot(*zip(*part, strict=True), **look)
            look = look | {"label": ""}
    axes.legend(fontsize=LEGEND)


def _removal(axes: Axes, report: SandReport) -> None:
    system = report.system
    bows, removal, cam = (
        small([abs(length) for length in lengths], system)
        for lengths in zip(*((r.bow, r.removal, r.cam_bow) for r in report.trade), strict=True)
    )
    axes.plot(bows, cam, **BROKEN, label="cam line stays bowed")
    axes.axhline(float(small(report.allowed, system)), color=QUIET, linestyle=":", label="may come off")
    _line(axes, system, report.trade, removal, WHOLE | {"label": "to sand off"})
    heights_axis(axes, system, "depth")
    axes.set_title("Straighten more or sand more")


def _pair(
    axes: Axes, report: SandReport, what: str, keys: tuple[str, str], names: tuple[str, str, str]
) -> None:
    """Draw two figures of the rows over the bow left, or the last of the names: why they are not known."""
    axes.set_ylabel(what)
    *labels, why = names
    rows = [row for row in report.trade if None not in (getattr(row, key) for key in keys)]
    if not rows:
        axes.text(0.5, 0.5, why, ha="center", transform=axes.transAxes)
        return
    for key, label, look in zip(keys, labels, (WHOLE, BROKEN), strict=True):
        _line(axes, report.system, rows, [getattr(row, key) for row in rows], look | {"label": label})
