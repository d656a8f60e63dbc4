"""The JSON answers of the commands: the only module that knows their keys."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from tests.workshop.bench import Deed
from tests.workshop.castings import Casting
from tests.workshop.laws import Heat

Plain = dict[str, Any]
Range = tuple[float, float]
CORNERS = ("front exhaust", "front inlet", "rear exhaust", "rear inlet")


@dataclass(frozen=True)
class Card:
    """A pass as planned: what to do, and the 80 % ranges foretold.

    Of deck and cam bow `now` and `after` [mm]; `rounds` torque [Nm] and the gap in the middle [mm] after each;
    `stages` of the ladder, each with the heats that it names.
    """

    deed: Deed
    now: tuple[Range, Range]
    after: tuple[Range, Range]
    rounds: tuple[tuple[float, Range], ...] = ()
    stages: tuple[tuple[Heat, ...], ...] = ()


def planned(answer: Plain, casting: Casting) -> Card | None:
    """Return the card, or None where the answer plans no heat."""
    if not answer.get("spots") and not answer.get("strokes"):
        return None
    named = dict(
        _spot(s, answer, casting) for s in (*(answer.get("spots") or ()), *(answer.get("reserve") or ()))
    )
    stages = tuple(tuple(named[n] for n in rung["places"]) for rung in answer.get("ladder") or ())
    stacks = {stack["corner"]: float(stack["height_mm"]) for stack in answer["stacks"]}
    pulls = tuple(sorted({float(bolt["station_mm"]) for bolt in answer["bolts"]}))
    heats = sorted(
        [*(_spot(s, answer, casting) for s in answer.get("spots") or ()), *(_stroke(s, casting) for s in answer.get("strokes") or ())],
        key=lambda pair: pair[0],
    )  # fmt: skip
    deed = Deed(
        shims=tuple(stacks[c] for c in CORNERS), pulls=pulls, groups=tuple((heat,) for _, heat in heats),
        gap=float(answer["gap_mm"] or 0.0), torque=answer.get("most_torque_Nm"), reverse=bool(answer.get("reverse")),
    )  # fmt: skip
    return Card(
        deed=deed, now=(_range(answer["bow_now_mm"]), _range(answer["cam_now_mm"])),
        after=(_range(answer["deck_after_mm"]), _range(answer["cam_after_mm"])),
        stages=stages,
        rounds=tuple((float(r["torque_Nm"]), _range(r["gap_mm"])) for r in answer.get("rounds") or ()),
    )  # fmt: skip


def _spot(spot: Plain, card: Plain, casting: Casting) -> tuple[int, Heat]:
    side = 1 if spot["side"] == "inlet" else -1
    across = float(spot.get("across_mm") or card.get("spot_rows_mm") or casting.rows)
    radius = float(spot.get("flux_radius_mm") or _bite(card) or casting.fresh_torch)
    return int(spot["order"]), Heat(
        float(spot["station_mm"]), side * across, radius, float(spot["dwell_s"]), float(spot["peak_C"])
    )


def _bite(card: Plain) -> float | None:
    """The flux radius from the words that tell how far off the flame is held [mm]."""
    told = re.search(r"bites ([\d.]+) mm", str(card.get("flame") or ""))
    return float(told[1]) / 2 if told else None


def _stroke(stroke: Plain, casting: Casting) -> tuple[int, Heat]:
    side = 1 if stroke["side"] == "inlet" else -1
    radius = float(stroke.get("flux_radius_mm") or casting.fresh_torch)
    return int(stroke["order"]), Heat(
        float(stroke["station_mm"]), side * float(stroke["across_from_mm"]), radius, float(stroke["time_s"]), float(stroke["peak_C"]),
        side * float(stroke["across_to_mm"]),
    )  # fmt: skip


def _range(told: Plain) -> Range:
    return float(told["low"]), float(told["high"])


def whole_job(answer: Plain) -> Plain:
    """What the whole job comes to, as `measure` tells it at intake; empty where it does not."""
    return dict(answer.get("whole_job") or {})


def twist(answer: Plain) -> Range | None:
    """The 80 % range of the twist that `check` or `measure` tells [mm]."""
    told = (answer.get("shape") or {}).get("twist")
    return None if told is None else (float(told["low_mm"]), float(told["high_mm"]))


def staged_now(answer: Plain) -> tuple[Range, Range] | None:
    """The 80 % ranges of deck and cam bow after a stage."""
    if "deck_now_mm" not in answer:
        return None
    deck, cam = answer["deck_now_mm"], answer["cam_now_mm"]
    return (deck[0], deck[2]), (cam[0], cam[2])


def next_stage(answer: Plain) -> int:
    """The number of the stage to go on with, 0 to stop, -1 to read again."""
    return int(answer.get("do", 0))


def logged_now(answer: Plain) -> tuple[Range, Range] | None:
    """The 80 % ranges of deck and cam bow after a logged survey."""
    found = {line["line"]: line["now_mm"] for line in answer.get("lines") or ()}
    if {"deck", "cam line"} - found.keys():
        return None
    return (found["deck"][0], found["deck"][2]), (found["cam line"][0], found["cam line"][2])


def verdict(answer: Plain) -> str:
    """What `check`, `measure` or a refusing `plan` says is to be done."""
    return str(answer.get("verdict") or answer.get("error") or "")


def reason(answer: Plain) -> str:
    return str(answer.get("reason") or answer.get("problem") or "")
