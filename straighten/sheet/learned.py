"""What was done, what it taught and what stands behind the plans, as records and as text: a stage, a pass, the book, formulas."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar

from straighten.errors import in_shell
from straighten.sheet.card import RungLine
from straighten.sheet.card_words import do_words, if_words, rung_words
from straighten.sheet.figures import BLUE, QUIET, SMALL, WIDTH, heights_axis, second_axis, small
from straighten.sheet.layout import blades_read, block, page, percent, wrap
from straighten.sheet.plain import LEFT_OUT, MM, RAW, Answer, Triple, called
from straighten.units import System, show, show_likely

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FACTOR_WORDS = {
    "stiffness": "the casting's stiffness",
    "friction": "thread friction",
    "shrinkage": "what a heat spot shrinks",
    "kept": "the share of the bend that stays",
    "softening": "how far hot metal follows the soaked yield curve",
    "cam_ratio": "cam line against deck",
    "skew": "lean towards the front",
    "scatter": "scatter from pass to pass",
    "growth": "how fast the effect grows with the flame",
}
_SHOWN = ("shrinkage", "kept", "stiffness", "cam_ratio")


@dataclass(frozen=True, slots=True, kw_only=True)
class LineChange:
    """One line before the pass, as expected after it, and now: 10, 50, 90 % each [m]."""

    line: str
    before: Triple = field(metadata=MM)
    expected: Triple = field(metadata=MM)
    now: Triple = field(metadata=MM)


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorChange:
    """A factor before and after the pass: 10, 50, 90 % each."""

    before: Triple
    after: Triple


@dataclass(frozen=True, slots=True, kw_only=True)
class LogReport(Answer):
    """A logged pass.

    `factors` by name; `effective` number of draws behind them; `taken` what was not told of the pass and stands as on
    the card; `flags` results that were not thought possible, and doubts, in words; `broke` limits that the pass broke:
    nothing is learned from it then; `as_seen` the bow of each line between the places read.
    """

    schema: ClassVar[str] = "log/1"
    name: str
    system: System = field(metadata=LEFT_OUT)
    pass_number: int
    entry: int
    measured: bool
    lines: tuple[LineChange, ...] = ()
    factors: dict[str, FactorChange] = field(default_factory=dict)
    effective: float = field(default=0.0, metadata=called("effective_draws"))
    taken: tuple[str, ...] = field(default=(), metadata=called("taken_as_on_the_card"))
    flags: tuple[str, ...] = ()
    broke: tuple[str, ...] = ()
    as_seen: tuple[str, ...] = ()

    def to_plain(self) -> dict[str, Any]:
        """Return the report as JSON scalars, with whether the pass taught anything."""
        return Answer.to_plain(self) | {"learned_from": self.measured and not self.broke}


def log_text(report: LogReport) -> str:
    """Return the report as text."""
    title = f"HEAD {report.name}   PASS {report.pass_number} logged as entry {report.entry}"
    if report.broke:
        told = "Nothing is learned from this pass. The next plan starts from the readings after it."
        return page(title, block("LIMITS BROKEN", report.broke), wrap(told))
    if not report.measured:
        nothing = "No readings after it: nothing to learn yet. Measure, then plan again."
        return page(title, wrap(nothing), block("NOT TOLD", report.taken))
    lines = [
        f"{line.line}: was {show(line.before[1], report.system)}, "
        f"expected {show_likely(*line.expected, report.system)}; now {show_likely(*line.now, report.system)}"
        for line in report.lines
    ]
    return page(
        title,
        block("NOT TOLD", report.taken),
        block("AS YOU READ IT", report.as_seen),
        block("BOW OF THE WHOLE HEAD", lines),
        block("LEARNED", [_factor(FACTOR_WORDS[name], report.factors[name]) for name in _SHOWN]),
        block("LOOK AGAIN", report.flags),
    )


def _factor(words: str, change: FactorChange) -> str:
    low, middle, high = change.after
    was = f"(was {change.before[0]:.2f} to {change.before[2]:.2f})"
    return f"{words}: x {middle:.2f} of the physics, likely {low:.2f} to {high:.2f} {was}"


# --- a stage -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadGap:
    """A gap as read: place, blade that goes and that does not [m], infinite where every blade went."""

    place: str
    goes: float = field(metadata=MM)
    stops: float = field(metadata=MM)

    def sentence(self, system: System) -> str:
        """Return the place with the two blades."""
        stops = None if math.isinf(self.stops) else self.stops
        return f"read, {self.place}: {blades_read(self.goes, stops, system)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class StageReport(Answer):
    """What a stage says.

    `number` of so many `stages`; `read` the gaps; `warm` how much the roof's warmth was taken to bow the head up then
    [m]; `expected` gap before it was read, `deck_before` the clamping, `deck_now`, `cam_now`: 10, 50, 90 % [m];
    `doubted` whether the gaps are too odd to weigh; `do` a stage's number, 0 stop, -1 read again; chance to go `past`
    straight in that and to be `inside` both limits after it; `ladder` of what is left.
    """

    schema: ClassVar[str] = "stage/1"
    name: str
    system: System = field(metadata=LEFT_OUT)
    number: int = field(metadata=called("stage"))
    stages: int
    skipped: bool
    read: tuple[ReadGap, ...]
    warm: float = field(metadata=called("warm_bow_mm"))
    expected: Triple = field(metadata=called("expected_gap_mm"))
    deck_before: Triple = field(metadata=MM)
    deck_now: Triple = field(metadata=MM)
    cam_now: Triple = field(metadata=MM)
    doubted: bool
    do: int
    past: float = field(metadata=called("chance_past"))
    inside: float = field(metadata=called("chance_inside"))
    ladder: tuple[RungLine, ...]
    caveats: tuple[str, ...] = ()
    judgement: dict[str, Any] = field(default_factory=dict, metadata=RAW)

    @property
    def words(self) -> str:
        """What to do next."""
        return do_words(self.do, self.number)

    def to_plain(self) -> dict[str, Any]:
        """Return the report as JSON scalars; of the ladder no blades, and its gaps as lists."""
        ladder = [_plain_rung(rung) for rung in self.ladder]
        return Answer.to_plain(self) | {"words": self.words, "ladder": ladder}


def _plain_rung(rung: RungLine) -> dict[str, Any]:
    lines = [
        {"goes_mm": None if line.goes is None else 1e3 * line.goes, "do": line.do} for line in rung.lines
    ]
    gap = [1e3 * v for v in rung.gap]
    return {"number": rung.number, "places": list(rung.places), "gap_mm": gap, "lines": lines}


def stage_text(report: StageReport) -> str:
    """Return the report as text: what to do first."""
    system = report.system
    after = "standing" if report.do <= 0 else f"after stage {report.do}"
    chances = f"{after}: inside both limits {percent(report.inside)}, past straight {percent(report.past)}"
    odd = "a gap so far from the expected one does not count: check shims, blades and what was heated"
    warm = f"the roof was still warm: {show(report.warm, system)} of the gap was taken for that"
    found = [
        f"gap expected: {show_likely(*report.expected, system)}",
        *(gap.sentence(system) for gap in report.read),
        odd if report.doubted else "",
        warm if report.warm > 0 else "",
        f"deck {show_likely(*report.deck_before, system)} before this clamping, {show_likely(*report.deck_now, system)} now; "
        f"cam line {show_likely(*report.cam_now, system)} now",
    ]
    rungs = [line for rung in report.ladder for line in _rung(rung, system)]
    done = "skipped" if report.skipped else "done"
    title = f"HEAD {report.name}   stage {report.number} of {report.stages} {done}. Next: {report.words}"
    return page(
        wrap(title),
        wrap(chances[:1].upper() + chances[1:] + "."),
        block("FOUND", found),
        "\n".join(["THE LADDER FROM HERE", *rungs]) if rungs else "",
        block("KEEP IN MIND", report.caveats),
        wrap(_after_stage(report)),
    )


def _after_stage(report: StageReport) -> str:
    """Return the command that follows where no further stage does, or nothing."""
    if report.do > 0:
        return ""
    name = in_shell(report.name)
    log = f"straighten log {name} survey.toml, once it is released cold and measured"
    again = f"straighten stage {name} --again --gap BLADES, with what it reads now; if it is as odd, "
    return f"Next: {again if report.do else ''}{log}"


def _rung(rung: RungLine, system: System) -> list[str]:
    return [
        wrap(rung_words(rung, system), " - ", "   "),
        *(wrap(line, "     ") for line in if_words(rung, system)),
    ]


# --- the shop's book ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorLine:
    """One factor: as published and as the shop has it now, 10, 50, 90 % each, from so many heads."""

    name: str
    words: str
    published: Triple
    shop: Triple
    heads: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupHistory(Answer):
    """One alloy family and heat source: heads, passes, passes per head, mean set foretold and measured [m], factors."""

    family: str = field(metadata=called("alloy_family"))
    source: str = field(metadata=called("heat_source"))
    heads: int
    passes: int
    mean_foretold: float = field(metadata=MM)
    mean_measured: float = field(metadata=MM)
    factors: tuple[FactorLine, ...]

    @property
    def per_head(self) -> float:
        """Passes per head."""
        return self.passes / self.heads

    def to_plain(self) -> dict[str, Any]:
        """Return the group as JSON scalars, with its passes per head."""
        return Answer.to_plain(self) | {"passes_per_head": self.per_head}


@dataclass(frozen=True, slots=True, kw_only=True)
class History(Answer):
    """The whole book; `points` (set foretold, set measured) [m] of every pass shown; its figure is drawn from them."""

    schema: ClassVar[str] = "history/1"
    groups: tuple[GroupHistory, ...]
    points: tuple[tuple[float, float], ...] = field(metadata=called("sets_mm"))
    system: System = field(default="mm", metadata=LEFT_OUT)

    @property
    def message(self) -> str:
        """What the figure says."""
        count = len(self.points)
        if not count:
            return "Set measured against set foretold: no measured pass is in the book."
        told, measured = (sum(p[k] for p in self.points) / count for k in (0, 1))
        passes = "1 pass" if count == 1 else f"{count} passes"
        return (
            f"Set of the middle in {passes}: foretold {show(told, self.system)}, measured {show(measured, self.system)} on "
            f"the average; {sum(m < t for t, m in self.points)} took less than foretold."
        )

    def draw(self, figure: Figure) -> None:
        """Draw every pass as a ring; on the dashed line it went as foretold."""
        figure.set_size_inches(WIDTH, WIDTH)
        axes, system = figure.subplots(), self.system
        told, measured = (small([p[k] for p in self.points], system) for k in (0, 1))
        reach = 1.1 * max([*told, *measured, small(0.05e-3, system)])
        axes.plot([0, reach], [0, reach], color=QUIET, lw=1.2, ls="--")
        axes.plot(told, measured, ls="", marker="o", ms=6, mfc="none", color=BLUE, mew=1.6)
        axes.set_xlabel(f"set foretold [{SMALL[system][0]}]")
        heights_axis(axes, system, "set measured")
        second_axis(axes, "top", SMALL, system)
        axes.set_title("On the dashed line: as foretold")
        axes.set_xlim(0, reach)
        axes.set_ylim(min([0.0, *measured]), reach)


def history_text(history: History) -> str:
    """Return the history as text: what has been learned, group by group."""
    if not history.groups:
        return page(wrap("The book holds no measured pass yet: every plan uses the published spread."))
    return page(*(part for group in history.groups for part in _group(group, history.system)))


def _group(group: GroupHistory, system: System) -> list[str]:
    title = (
        f"{group.family.upper()}, {group.source.upper()}: {group.heads} heads, {group.passes} passes, "
        f"{group.per_head:.1f} a head"
    )
    told = (
        f"Set per pass in the middle: foretold {show(group.mean_foretold, system)}, measured "
        f"{show(group.mean_measured, system)} on the average."
    )
    factors = [
        f"{f.words}: x {f.shop[1]:.2f}, next head likely {f.shop[0]:.2f} to {f.shop[2]:.2f} "
        f"(published {f.published[0]:.2f} to {f.published[2]:.2f}; {f.heads} heads)"
        for f in group.factors
    ]
    return [wrap(title), wrap(told), block("THE NEXT HEAD STARTS FROM", factors)]


# --- formulas ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One formula: title, the formula as derived, the formula with numbers in, and the result with its unit."""

    title: str
    formula: str
    numbers: str
    result: str
    code: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation(Answer):
    """Formulas with this head's numbers, the priors with their reasons, the table figures with their sources."""

    schema: ClassVar[str] = "explain/1"
    name: str
    steps: tuple[Step, ...]
    priors: tuple[str, ...]
    sources: tuple[str, ...]
    assumed: tuple[str, ...]


def explanation_text(found: Explanation) -> str:
    """Return the explanation as text."""
    return page(
        f"WHY   HEAD {found.name}",
        *map(_step, found.steps),
        block("BELIEVED BEFORE ANYTHING IS MEASURED", found.priors),
        block("TABLE FIGURES", found.sources),
        block("ASSUMED", found.assumed),
    )


def _step(step: Step) -> str:
    told = {"formula": step.formula, "numbers": step.numbers, "gives": step.result, "in use": step.code}
    lines = (wrap(f"{name + ':':<8} {text}", "   ", " " * 12) for name, text in told.items())
    return "\n".join([step.title, *lines])
