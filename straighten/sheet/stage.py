"""A stage done and read, as a record and as text."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, ClassVar

from straighten.sheet.card import RungLine
from straighten.sheet.card_text import do_words, if_words, rung_words
from straighten.sheet.layout import block, page, percent, wrap
from straighten.sheet.plain import LEFT_OUT, MM, RAW, Answer, Triple, called
from straighten.units import System, show, show_likely


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadGap:
    """A gap as read: place, blade that goes and that does not [m], infinite where every blade went."""

    place: str
    goes: float = field(metadata=MM)
    stops: float = field(metadata=MM)

    def sentence(self, system: System) -> str:
        """Return the place with the two blades."""
        goes = "no blade goes" if self.goes <= 0 else f"{show(self.goes, system)} goes"
        stops = "" if math.isinf(self.stops) else f", {show(self.stops, system)} does not"
        return f"read, {self.place}: {goes}{stops}"


@dataclass(frozen=True, slots=True, kw_only=True)
class StageReport(Answer):
    """What a stage says.

    `number` of so many `stages`; `read` the gaps; `warm` how much the roof's warmth
    was taken to bow the head up then [m]; `expected` gap before it was read, `deck_before` the clamping, `deck_now`,
    `cam_now`: 10, 50, 90 % [m]; `do` a stage's number, 0 stop, -1 read again; chance to go `past` straight in that
    and to be `inside` both limits after it; `ladder` of what is left.
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
    return {
        "number": rung.number,
        "places": list(rung.places),
        "gap_mm": [1e3 * v for v in rung.gap],
        "lines": [
            {"goes_mm": None if line.goes is None else 1e3 * line.goes, "do": line.do} for line in rung.lines
        ],
    }


def stage_text(report: StageReport) -> str:
    """Return the report as text: what to do first."""
    system = report.system
    after = "standing" if report.do <= 0 else f"after stage {report.do}"
    chances = f"{after}: inside both limits {percent(report.inside)}, past straight {percent(report.past)}"
    found = [f"gap expected: {show_likely(*report.expected, system)}"]
    found += [gap.sentence(system) for gap in report.read]
    if report.warm > 0:
        found.append(f"the roof was still warm: {show(report.warm, system)} of the gap was taken for that")
    found.append(
        f"deck {show_likely(*report.deck_before, system)} before this clamping, {show_likely(*report.deck_now, system)} now; "
        f"cam line {show_likely(*report.cam_now, system)} now"
    )
    rungs = [line for rung in report.ladder for line in _rung(rung, system)]
    done = "skipped" if report.skipped else "done"
    return page(
        [
            wrap(
                f"HEAD {report.name}   stage {report.number} of {report.stages} {done}. Next: {report.words}"
            ),
            wrap(chances[:1].upper() + chances[1:] + "."),
            block("FOUND", found),
            "\n".join(["THE LADDER FROM HERE", *rungs]) if rungs else "",
            block("KEEP IN MIND", report.caveats),
        ]
    )


def _rung(rung: RungLine, system: System) -> list[str]:
    return [
        wrap(rung_words(rung, system), " - ", "   "),
        *(wrap(line, "     ") for line in if_words(rung, system)),
    ]
