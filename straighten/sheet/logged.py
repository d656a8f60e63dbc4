"""What was done and what it taught, as records and as text: a stage that was read, a pass that was logged."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, ClassVar

from straighten.errors import in_shell
from straighten.sheet.card import RungLine
from straighten.sheet.card_words import do_words, if_words, rung_words
from straighten.sheet.layout import blades_read, block, page, percent, wrap
from straighten.sheet.plain import LEFT_OUT, MM, RAW, Answer, Triple, called
from straighten.units import System, show, show_likely

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
    found = [f"gap expected: {show_likely(*report.expected, system)}"]
    found += [gap.sentence(system) for gap in report.read]
    if report.doubted:
        found.append(
            "a gap so far from the expected one does not count: check shims, blades and what was heated"
        )
    if report.warm > 0:
        found.append(f"the roof was still warm: {show(report.warm, system)} of the gap was taken for that")
    found.append(
        f"deck {show_likely(*report.deck_before, system)} before this clamping, {show_likely(*report.deck_now, system)} now; "
        f"cam line {show_likely(*report.cam_now, system)} now"
    )
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
