"""A stage done and read, as a record and as text."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from straighten.sheet.ladder import do_words, if_words, rung_words
from straighten.sheet.layout import block, page, percent, wrap
from straighten.units import show, show_likely

if TYPE_CHECKING:
    from straighten.sheet.card import RungLine
    from straighten.units import System

Triple = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class StageReport:
    """What a stage says.

    `number` of so many `stages`; `read` place, blade that goes and that does not [m]; `warm` how much the roof's warmth
    was taken to bow the head up then [m]; `expected` gap before it was read, `deck_before` the clamping, `deck_now`,
    `cam_now`: 10, 50, 90 % [m]; `do` a stage's number, 0 stop, -1 read again; chance to go `past` straight in that
    and to be `inside` both limits after it; `ladder` of what is left.
    """

    name: str
    system: System
    number: int
    stages: int
    skipped: bool
    read: tuple[tuple[str, float, float], ...]
    warm: float
    expected: Triple
    deck_before: Triple
    deck_now: Triple
    cam_now: Triple
    do: int
    past: float
    inside: float
    ladder: tuple[RungLine, ...]
    caveats: tuple[str, ...] = ()
    judgement: dict[str, Any] = field(default_factory=dict)

    @property
    def words(self) -> str:
        """What to do next."""
        return do_words(self.do, self.number)

    def to_plain(self) -> dict[str, Any]:
        """Return the report as JSON scalars with the unit in every key."""
        return {
            "schema": "straighten/stage/1",
            "name": self.name,
            "stage": self.number,
            "stages": self.stages,
            "skipped": self.skipped,
            "read": [
                {"place": p, "goes_mm": 1e3 * low, "stops_mm": None if math.isinf(high) else 1e3 * high}
                for p, low, high in self.read
            ],
            "warm_bow_mm": 1e3 * self.warm,
            "expected_gap_mm": [1e3 * v for v in self.expected],
            "deck_before_mm": [1e3 * v for v in self.deck_before],
            "deck_now_mm": [1e3 * v for v in self.deck_now],
            "cam_now_mm": [1e3 * v for v in self.cam_now],
            "do": self.do,
            "words": self.words,
            "chance_past": self.past,
            "chance_inside": self.inside,
            "ladder": [
                {
                    "number": rung.number,
                    "places": list(rung.places),
                    "gap_mm": [1e3 * v for v in (rung.gap.low, rung.gap.middle, rung.gap.high)],
                    "lines": [
                        {"goes_mm": None if line.goes is None else 1e3 * line.goes, "do": line.do}
                        for line in rung.lines
                    ],
                }
                for rung in self.ladder
            ],
            "caveats": list(self.caveats),
            "judgement": self.judgement,
        }


def stage_text(report: StageReport) -> str:
    """Return the report as text: what to do first."""
    system = report.system
    after = "standing" if report.do <= 0 else f"after stage {report.do}"
    chances = f"{after}: inside both limits {percent(report.inside)}, past straight {percent(report.past)}"
    found = [f"gap expected: {show_likely(*report.expected, system)}"]
    found += [f"read, {place}: {_bracket(low, high, system)}" for place, low, high in report.read]
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


def _bracket(low: float, high: float, system: System) -> str:
    goes = "no blade goes" if low <= 0 else f"{show(low, system)} goes"
    return goes if math.isinf(high) else f"{goes}, {show(high, system)} does not"
