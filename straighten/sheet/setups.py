"""A set-up, as records and as text: what it would do, how its tightening goes; the gap against the torque as a figure."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar

from straighten.sheet.card import Round
from straighten.sheet.figures import (
    BLUE,
    INK,
    QUIET,
    RED,
    TORQUES,
    WIDTH,
    heights_axis,
    named_below,
    second_axis,
    small,
)
from straighten.sheet.figures.bows import Band
from straighten.sheet.layout import blades_read, block, page, show_force, show_torques, wrap
from straighten.sheet.plain import LEFT_OUT, MM, TORQUE, Answer, Triple, called
from straighten.units import System, show, show_likely, show_range, show_temperature, show_torque, turned

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Pair = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotTrial:
    """One heat spot or stroke (`kind`): station [m], side, surface peak [degC], absorbed power [W], kink [rad], fall of the middle [m]."""

    station: float = field(metadata=MM)
    side: str
    peak: float = field(metadata=called("surface_peak_C"))
    power: float = field(metadata=called("absorbed_power_W"))
    kink: float = field(metadata=called("kink_urad"))
    fall: float = field(metadata=called("set_mm"))
    kind: str = "spot"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundTrial(Answer):
    """One round of the set-up, by the nominal model; bows of the four lines before and after [m].

    `bend` imposed at mid-length, `middle_height` of the deck over the shims' tops and `gap` left [m], `force` of all
    bolts [N], None where the head lies free; `spots_set`, `kept_set` the two shares of the deck's fall [m];
    `movement` that the clamp holds, bolts and base included, as a bow of the whole deck [m], `kept_share` of it, both
    None where it holds next to nothing; `after_range` 10 and 90 % of deck and cam bow after [m]; `hardness` lowest and highest
    after [HB]; `heat_cost`, `costs` what the heat costs, plain and in words; `caveats` where the model is at its limits.
    """

    number: int = field(metadata=called("round"))
    before: dict[str, float] = field(metadata=called("bow_before_mm"))
    after: dict[str, float] = field(metadata=called("bow_after_mm"))
    bend: float | None = field(metadata=called("bend_imposed_mm"))
    middle_height: float | None = field(metadata=called("clamped_middle_height_mm"))
    gap: float | None = field(metadata=called("gap_left_mm"))
    over_bend: float | None = field(metadata=MM)
    force: float | None = field(metadata=called("clamp_force_N"))
    spots: tuple[SpotTrial, ...]
    spots_set: float = field(metadata=MM)
    kept_set: float = field(metadata=MM)
    kept_share: float | None = field(metadata=called("kept_share_of_bend"))
    movement: float | None = field(metadata=called("movement_held_mm"))
    deck_after_range: Pair = field(metadata=MM)
    cam_after_range: Pair = field(metadata=MM)
    hardness: Pair = field(metadata=called("hardness_after_HB"))
    heat_cost: dict[str, Any] | None = None
    costs: tuple[str, ...] = field(default=(), metadata=LEFT_OUT)
    caveats: tuple[str, ...] = ()

    def to_plain(self) -> dict[str, Any]:
        """Return the round as JSON scalars, with how far each line moved."""
        moved = {line: 1e3 * (after - self.before[line]) for line, after in self.after.items()}
        return Answer.to_plain(self) | {"change_of_bow_mm": moved}


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionTrial:
    """The section a trial was computed for: bending stiffness [N m2], shear stiffness [N], neutral axis [m]."""

    bending_stiffness: float = field(metadata=called("EI_N_m2"))
    shear_stiffness: float = field(metadata=called("kGA_N"))
    neutral_axis: float = field(metadata=MM)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialReport(Answer):
    """All rounds of a trial, with the section it was computed for; `dangers` those of the caveats that forbid it."""

    schema: ClassVar[str] = "try/1"
    head: str
    system: System = field(metadata=LEFT_OUT)
    section: SectionTrial
    rounds: tuple[RoundTrial, ...]
    dangers: tuple[str, ...]
    caveats: tuple[str, ...]


def trial_text(report: TrialReport) -> str:
    """Return the trial as text."""
    title = f"TRY   {report.head}: what this set-up would do by the nominal model; nothing is recorded"
    rounds = (block(f"ROUND {r.number}", _lines(report, r)) for r in report.rounds)
    told = {*report.dangers, *(line for r in report.rounds for line in r.caveats)}
    rest = [line for line in report.caveats if line not in told]
    return page(wrap(title), block("DO NOT DO IT SO", report.dangers), *rounds, block("KEEP IN MIND", rest))


def _share(r: RoundTrial) -> str:
    if r.kept_share is None or r.movement is None:
        return " (no bend to keep a share of)"
    held = f"{1e3 * abs(r.movement):.3f} mm that clamp, bolts and base hold"
    return f" ({100 * r.kept_share:.1f} % of the {held})"


def _lines(report: TrialReport, r: RoundTrial) -> list[str]:
    system = report.system
    clamp = ""
    if r.bend is not None and r.force is not None and r.over_bend is not None:
        clamp = (
            f"clamp: bend imposed {show(r.bend, system)}, held past straight by {show(r.over_bend, system)}, "
            f"force {show_force(r.force, system=system)} in all"
        )
    spots = (
        f"{s.kind} at {show(s.station, system, big=True)} {s.side}: {show_temperature(s.peak, system)}, "
        f"{s.power:.0f} W absorbed, takes {1e3 * s.fall:.3f} mm in the middle, its own shrinkage and its kept bend together"
        for s in r.spots
    )
    lines = [
        clamp,
        *(line for line in r.caveats if line not in report.dangers),
        *spots,
        f"set: spots {1e3 * r.spots_set:.3f} mm, kept of the bend {1e3 * r.kept_set:.3f} mm{_share(r)}",
        "" if r.spots else f"hardness after: {r.hardness[0]:.0f} to {r.hardness[1]:.0f} HB",
        *(f"{x}: {1e3 * r.before[x]:.3f} mm before, {1e3 * r.after[x]:.3f} mm after" for x in r.after),
        f"deck after, 8 times in 10: {show_range(*r.deck_after_range, system)}",
        *r.costs,
    ]
    return [turned(line, system) for line in lines]


# --- its tightening -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLine:
    """One logged round: torque [N m], blades [m], gap that the model now gives it: 10, 50, 90 % [m]."""

    torque: float = field(metadata=TORQUE)
    goes: float = field(metadata=MM)
    stops: float | None = field(metadata=MM)
    believed: Triple = field(metadata=called("believed_gap_mm"))


@dataclass(frozen=True, slots=True, kw_only=True)
class TighteningReport(Answer):
    """Verdict, next torque [N m] or None, closing torque [N m], the rounds so far, what was learned.

    `ratio` stiffness times friction over what was believed before the log; `stiffness`, `friction`: 10, 50, 90 %;
    `parted` true where a weighed load tells the two apart; `deck_before`, `deck_after` bow expected after the pass
    as planned, before and with the log [m].
    """

    schema: ClassVar[str] = "tighten/1"
    name: str
    system: System = field(metadata=LEFT_OUT)
    verdict: str
    words: str
    next_torque: float | None = field(metadata=TORQUE)
    closing: Triple = field(metadata=called("closing_torque_Nm"))
    steps: tuple[StepLine, ...]
    ratio: Triple = field(metadata=called("stiffness_times_friction"))
    stiffness: Triple
    friction: Triple
    parted: bool = field(metadata=called("stiffness_and_friction_parted"))
    deck_before: Triple = field(metadata=called("deck_after_before_log_mm"))
    deck_after: Triple = field(metadata=called("deck_after_with_log_mm"))


def tightening_text(report: TighteningReport) -> str:
    """Return the report as text: what to do first."""
    low, middle, high = report.closing
    steps = [
        f"{show_torque(s.torque, report.system)}: {blades_read(s.goes, s.stops, report.system)}; "
        f"believed {show_likely(*s.believed, report.system)}"
        for s in report.steps
    ]
    parting = (
        "the weighed load tells stiffness and friction apart"
        if report.parted
        else "torque and gap alone tell only their product; a jacked or weighed load would part them"
    )
    ratio, stiffness, friction = report.ratio, report.stiffness, report.friction
    learned = [
        f"stiffness times friction x {ratio[1]:.2f} of what was believed "
        f"(likely {ratio[0]:.2f} to {ratio[2]:.2f}); {parting}",
        f"stiffness x {stiffness[1]:.2f} ({stiffness[0]:.2f} to {stiffness[2]:.2f}), "
        f"friction {friction[1]:.3f} ({friction[0]:.3f} to {friction[2]:.3f})",
        f"deck after the pass: {show_likely(*report.deck_before, report.system)} before this log; "
        f"{show_likely(*report.deck_after, report.system)} with it",
    ]
    closes = f"{show_torque(middle, report.system)}, likely {show_torques(low, high, report.system)}"
    return page(
        f"HEAD {report.name}   {report.verdict.upper()}\n" + wrap(report.words),
        block("GAP CLOSES AT", [closes]),
        block("LOGGED", steps),
        block("LEARNED", learned),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TighteningPicture:
    """Gap in the middle [m] against the torque of every bolt [N m]; the rounds, the gap to stop at, the most torque.

    `logged` what was read so far: torque [N m], blade that goes, blade that does not or None [m].
    """

    system: System
    torques: tuple[float, ...]
    gap: Band
    rounds: tuple[Round, ...]
    stop_at: float
    most: float
    logged: tuple[tuple[float, float, float | None], ...] = ()

    @property
    def message(self) -> str:
        """What the picture says."""
        curve = zip(self.torques, self.gap.middle, strict=True)
        reached = [torque for torque, gap in curve if gap <= self.stop_at + 1e-6]
        start = show(self.gap.middle[0], self.system)
        goal = "closed" if self.stop_at <= 0 else f"down to {show(self.stop_at, self.system)}"
        when = f"is not {goal} in this range"
        if reached:
            when = f"is {goal} at about {show_torque(reached[0], self.system)}"
        limit = f"no bolt over {show_torque(self.most, self.system)}"
        return f"The gap of {start} in the middle {when}; {limit}.{self._read()}"

    def _read(self) -> str:
        """Return the last round logged, or nothing."""
        if not self.logged:
            return ""
        torque, goes, stops = self.logged[-1]
        words = blades_read(goes, stops, self.system)
        rounds = "round is" if len(self.logged) == 1 else "rounds are"
        return f" {len(self.logged)} {rounds} logged; at {show_torque(torque, self.system)} {words}."

    def draw(self, figure: Figure) -> None:
        """Draw the curve, its band, the rounds with their blades, and where to stop."""
        system = self.system
        figure.set_size_inches(WIDTH, 4.0)
        axes = figure.subplots()
        torque = [t / TORQUES[system][1] for t in self.torques]
        low, middle, high = small(self.gap, system)
        shade: dict[str, Any] = {"facecolor": BLUE, "alpha": 0.22, "edgecolor": BLUE, "lw": 0.8}
        axes.fill_between(torque, low, high, **shade, label="8 times in 10")
        axes.plot(torque, middle, color=BLUE, lw=2.2)
        _rounds(axes, self)
        blades = [blade for _, *both in self.logged for blade in both if blade is not None]
        # a reading above all that was believed is drawn too
        top = max(high.max(), *small([0.0, *blades], system))
        _logged(axes, self, top)
        stop = small(self.stop_at, system)
        axes.axhline(stop, color=RED, lw=1.8, ls=(0, (6, 3)))
        axes.annotate(
            "stop here", (0, stop), xytext=(6, 5), textcoords="offset points", ha="left", color=RED, weight="bold"
        )  # fmt: skip
        axes.set_xlim(0, torque[-1])
        axes.set_ylim(min(-0.02 * high.max(), stop), 1.08 * top)
        axes.set_title("Gap in the middle against torque")
        named_below(figure, *_named_once(axes))
        heights_axis(axes, system, "gap")
        axes.set_xlabel(f"torque of every bolt [{TORQUES[system][0]}]")
        second_axis(axes, "top", TORQUES, system)


def _rounds(axes: Axes, picture: TighteningPicture) -> None:
    """Mark each round: the blade that goes as an upward, the one that does not as a downward triangle."""
    for number, turn in enumerate(picture.rounds, start=1):
        x = turn.torque / TORQUES[picture.system][1]
        axes.axvline(x, color=QUIET, lw=0.8, ls=":")
        axes.annotate(f"round {number}", (x, 1.0), xycoords=("data", "axes fraction"), xytext=(-3, -4), textcoords="offset points",
                      rotation=90, ha="right", va="top", size=9.5, color=QUIET)  # fmt: skip
        ways = (turn.goes, "^", INK, "goes"), (turn.stops, "v", "white", "does not go")
        for blade, marker, fill, name in ways:
            if blade is not None:
                y = small(blade, picture.system)
                axes.plot(x, y, marker=marker, ms=9, mfc=fill, mec=INK, mew=1.6, ls="none", label=name)


def _named_once(axes: Axes) -> tuple[list[Any], list[str]]:
    """Return marks and their names, each name once."""
    handles, names = axes.get_legend_handles_labels()
    once = dict(zip(names[::-1], handles[::-1], strict=True))
    return list(once.values())[::-1], list(once)[::-1]


def _logged(axes: Axes, picture: TighteningPicture, top: float) -> None:
    """Draw each round logged as the bracket between its two blades; open at the top where every blade went."""
    for torque, goes, stops in picture.logged:
        x = torque / TORQUES[picture.system][1]
        low = small(goes, picture.system)
        high = top if stops is None else small(stops, picture.system)
        axes.errorbar(
            x, (low + high) / 2, yerr=(high - low) / 2, color=INK, lw=2.6, capsize=6, capthick=2.6, ls="none",
            label="read",
        )  # fmt: skip
