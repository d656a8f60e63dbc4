"""The pass card and what its page shows beside it, as records: everything the bench needs."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar

from straighten.sheet.plain import DEGREES, MM, RAW, SECONDS, TORQUE, Answer, Range
from straighten.units import System

if TYPE_CHECKING:
    from straighten.head.records import HeadBolt


@dataclass(frozen=True, slots=True, kw_only=True)
class StackLine:
    """The shim stack of one corner: blades thickest first [m], their sum [m], and a warning or ""."""

    corner: str
    blades: tuple[float, ...] = field(metadata=MM)
    height: float = field(metadata=MM)
    warning: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoltLine:
    """One bolt of the clamp: its place in the order, station [m], side, thread and grade."""

    order: int
    station: float = field(metadata=MM)
    side: str
    thread: str
    grade: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One round: torque of every bolt [N m], how often round, the gap expected after it [m], the blades to try [m]."""

    torque: float = field(metadata=TORQUE)
    gap: Range = field(metadata=MM)
    goes: float | None = field(metadata=MM)
    stops: float | None = field(metadata=MM)
    times_round: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotLine:
    """One heat spot in its order: station, flux radius [m], side, dwell [s], peak [degC]."""

    order: int
    station: float = field(metadata=MM)
    side: str
    dwell: float = field(metadata=SECONDS)
    peak: float = field(metadata=DEGREES)
    flux_radius: float | None = field(default=None, metadata=MM)  # None on an older card


@dataclass(frozen=True, slots=True, kw_only=True)
class SoakLine:
    """The soak: metal temperature [degC], hold [s], hardness after it [HB]."""

    temperature: float = field(metadata=DEGREES)
    hold: float = field(metadata={"unit": "h"})
    hardness: Range = field(metadata={"unit": "HB"})


@dataclass(frozen=True, slots=True, kw_only=True)
class LoweredLine:
    """A target lowered to the heat ceiling: `asked` and `used` [degC], and why in a sentence."""

    asked: float = field(metadata=DEGREES)
    used: float = field(metadata=DEGREES)
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOffLine:
    """A place never to heat: station and radius [m], side, reason."""

    station: float = field(metadata=MM)
    side: str
    radius: float = field(metadata=MM)
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RungIf:
    """IF the blade `goes` [m] goes (None: whatever else is found), then `do`: a stage's number, 0 stop, -1 read again."""

    goes: float | None = field(metadata=MM)
    do: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RungLine:
    """One stage of the ladder: `number`, numbers of its `places`, the `gap` to be read after it [m], blades to try [m], what follows."""

    number: int
    places: tuple[int, ...]
    gap: Range = field(metadata=MM)
    goes: float | None = field(metadata=MM)
    stops: float | None = field(metadata=MM)
    lines: tuple[RungIf, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """Another set-up that was weighed: what it is in words, its chances, its loss, and in words what it trades for what."""

    words: str
    inside: float
    overshoot: float
    loss: float
    trades: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProjectedPass:
    """After so many more passes, this one counted: deck and cam line [m], chance to be inside both limits.

    `done` the chance that no more heat is needed: cam line inside, deck inside or to be sanded; None on older cards.
    """

    passes: int
    deck_after: Range = field(metadata=MM)
    cam_after: Range = field(metadata=MM)
    inside: float
    done: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Card(Answer):
    """One pass card. Lengths [m], torques [N m], temperatures [degC], times [s], probabilities 0 to 1.

    `spot_rows` how far the heat spots lie from the middle line, None where there is none; `spot_pause` how long to wait
    from the end of one spot to the start of the next, None on cards of earlier versions and without a second spot.
    `before` what is done before the head is clamped; `advice` what speaks against the pass, and `because` the person's
    reason to go on; `ladder` the stages of the heat, `reserve` places beyond the plan that it may call for, `stage_wait` how
    long to wait before a blade is tried between stages; `caution_steps` the step in which each caution counts; `base_words` how far the base itself bends; `base` on which one, where several are owned; `flame` which tip, held how; `judgement` in its plain form;
    `reckoned_on` whether the cam line's bow is reckoned on beyond its outer towers.
    """

    schema: ClassVar[str] = "plan/1"
    digits: ClassVar[int | None] = 6
    name: str
    pass_number: int
    made_at: str
    system: System
    verdict: str
    reason: str
    decided_by: str
    direction: str
    reverse: bool
    bow_now: Range = field(metadata=MM)
    cam_now: Range = field(metadata=MM)
    stacks: tuple[StackLine, ...]
    shim_stations: tuple[float, float] = field(metadata=MM)
    bolts: tuple[BoltLine, ...]
    rounds: tuple[Round, ...]
    most_torque: float = field(metadata=TORQUE)
    most_torque_limit: str
    stop_rule: str
    clamp_limits: tuple[str, ...]
    gap: float = field(metadata=MM)
    over_bend: Range = field(metadata=MM)
    clamp_force: Range = field(metadata={"unit": "kN"})
    ceiling: float = field(metadata=DEGREES)
    wait: float = field(metadata={"unit": "min"})
    wait_reason: str
    ready_at: str
    unclamp_wait: float = field(metadata={"unit": "min"})
    unclamp_at: str
    deck_after: Range = field(metadata=MM)
    cam_after: Range = field(metadata=MM)
    deck_limit: float = field(metadata=MM)
    deck_limit_source: str
    cam_limit: float = field(metadata=MM)
    cam_limit_source: str
    chance_cam: float
    chance_deck: float
    chance_inside: float
    chance_overshoot: float
    kept_share: Range | None
    learned: str
    if_then: tuple[str, ...]
    cautions: tuple[str, ...]
    caution_steps: tuple[int, ...] = ()
    second_stacking: str = ""
    spots: tuple[SpotLine, ...] = ()
    soak: SoakLine | None = None
    alternatives: tuple[Alternative, ...] = ()
    notes: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    projected: tuple[ProjectedPass, ...] = ()
    whole_job: str = ""
    would_change: tuple[str, ...] = ()
    spot_rows: float | None = field(default=None, metadata=MM)
    spot_pause: float | None = field(default=None, metadata=SECONDS)
    keep_off: tuple[KeepOffLine, ...] = ()
    before: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()
    because: str = ""
    base_words: str = ""
    base: str = ""
    flame: str = ""
    judgement: dict[str, Any] = field(default_factory=dict, metadata=RAW)
    lowered: LoweredLine | None = None
    heat_cost: dict[str, Any] | None = None
    costs: tuple[str, ...] = ()
    measure_next: tuple[str, ...] = ()
    ladder: tuple[RungLine, ...] = ()
    reserve: tuple[SpotLine, ...] = ()
    stage_wait: float | None = field(default=None, metadata=SECONDS)
    reckoned_on: bool = False

    @property
    def shimmed(self) -> bool:
        """Whether anything is laid under a corner."""
        return any(stack.blades for stack in self.stacks)


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal(Answer):
    """No pass is planned: the verdict, its reason, what decided, what stands against it, and the command that goes past advice."""

    schema: ClassVar[str] = "plan/1"
    name: str
    verdict: str
    reason: str
    decided_by: str
    findings: tuple[str, ...]
    go_on: str = ""
    judgement: dict[str, Any] = field(default_factory=dict, metadata=RAW)


# --- beside the card on its page: where things sit on the head, boxes to fill


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedPlace:
    """A place that an earlier pass heated: station [m], side."""

    station: float
    side: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SketchData:
    """The head as it is drawn, lengths [m].

    `length`, `width`; `towers`, `webs` stations; `holes` of all bolts; `rows` distance of the spot rows from the
    middle line; `keep_off` places; `used` places.
    """

    length: float
    width: float
    towers: tuple[float, ...]
    webs: tuple[float, ...]
    holes: tuple[HeadBolt, ...]
    rows: float
    keep_off: tuple[KeepOffLine, ...] = ()
    used: tuple[UsedPlace, ...] = ()

    @property
    def zones(self) -> list[tuple[float, str, float]]:
        """Station [m], side and radius [m] of each place never to heat, one that is on both sides twice."""
        sides = {"both": ("inlet", "exhaust")}
        return [(z.station, s, z.radius) for z in self.keep_off for s in sides.get(z.side, (z.side,))]

    def apart(self, spots: Iterable[SpotLine]) -> float:
        """Return how near a spot comes to a used place of its row [m]; infinite where no row has both."""
        pairs = ((spot, place) for spot in spots for place in self.used if spot.side == place.side)
        return min((abs(spot.station - place.station) for spot, place in pairs), default=math.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """One box to fill: station [m] and the gap expected [m]."""

    station: float
    expected: Range


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxRow:
    """One line to measure: the part it lies on, its title there, how the straightedge is to sit, its boxes."""

    part: str
    title: str
    how: str
    boxes: tuple[Box, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PassSheet:
    """A pass page: the card and what is drawn around it."""

    card: Card
    sketch: SketchData
    rows: tuple[BoxRow, ...]
