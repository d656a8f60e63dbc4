"""The pass card as a record: everything the bench needs, nothing that is computed later."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from straighten.units import System


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """10, 50 and 90 % of what is expected [m]."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """The shim stack of one corner: blades thickest first [m], their sum [m], and a warning or ""."""

    corner: str
    blades: tuple[float, ...]
    height: float
    warning: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoltLine:
    """One bolt of the clamp: its place in the order, station [m], side, thread and grade."""

    order: int
    station: float
    side: str
    thread: str
    grade: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One round: torque of every bolt [N m], how often round, the gap expected after it [m], the blades to try [m]."""

    torque: float
    gap: Range
    goes: float | None
    stops: float | None
    times_round: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotLine:
    """One heat spot in its order: station, flux radius [m], side, dwell [s], peak [degC]."""

    order: int
    station: float
    side: str
    dwell: float
    peak: float
    flux_radius: float | None = None  # a card of before it was told


@dataclass(frozen=True, slots=True, kw_only=True)
class SoakLine:
    """The soak: metal temperature [degC], hold [s], hardness after it [HB]."""

    temperature: float
    hold: float
    hardness: Range


@dataclass(frozen=True, slots=True, kw_only=True)
class LoweredLine:
    """A target lowered to the heat ceiling: `asked` and `used` [degC], and why in a sentence."""

    asked: float
    used: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOffLine:
    """A place never to heat: station and radius [m], side, reason."""

    station: float
    side: str
    radius: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RungIf:
    """IF the blade `goes` [m] goes (None: whatever else is found), then `do`: a stage's number, 0 stop, -1 read again."""

    goes: float | None
    do: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RungLine:
    """One stage of the ladder: `number`, numbers of its `places`, the `gap` to be read after it [m], blades to try [m], what follows."""

    number: int
    places: tuple[int, ...]
    gap: Range
    goes: float | None
    stops: float | None
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
    """After so many more passes, this one counted: deck and cam line [m], chance to be inside both limits."""

    passes: int
    deck_after: Range
    cam_after: Range
    inside: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One pass card. Lengths [m], torques [N m], temperatures [degC], times [s], probabilities 0 to 1.

    `spot_rows` how far the heat spots lie from the middle line, None where there is none; `spot_pause` how long to wait
    from the end of one spot to the start of the next, None on cards of earlier versions and without a second spot.
    `before` what is done before the head is clamped; `advice` what speaks against the pass, and `because` the person's
    reason to go on; `ladder` the stages of the heat, `reserve` places beyond the plan that it may call for, `stage_wait` how
    long to wait before a blade is tried between stages; `base_words` how far the base itself bends; `flame` which tip, held how; `judgement` in its plain form.
    """

    name: str
    pass_number: int
    made_at: str
    system: System
    verdict: str
    reason: str
    decided_by: str
    direction: str
    reverse: bool
    bow_now: Range
    cam_now: Range
    stacks: tuple[Stack, ...]
    second_stacking: str
    shim_stations: tuple[float, float]
    bolts: tuple[BoltLine, ...]
    rounds: tuple[Round, ...]
    most_torque: float
    stop_rule: str
    clamp_limits: tuple[str, ...]
    gap: float
    over_bend: Range
    clamp_force: Range
    spots: tuple[SpotLine, ...]
    soak: SoakLine | None
    ceiling: float
    wait: float
    wait_reason: str
    ready_at: str
    unclamp_wait: float
    unclamp_at: str
    deck_after: Range
    cam_after: Range
    deck_limit: float
    deck_limit_source: str
    cam_limit: float
    cam_limit_source: str
    chance_cam: float
    chance_deck: float
    chance_inside: float
    chance_overshoot: float
    kept_share: Range | None
    learned: str
    if_then: tuple[str, ...]
    alternatives: tuple[Alternative, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    assumed: tuple[str, ...]
    projected: tuple[ProjectedPass, ...] = ()
    would_change: tuple[str, ...] = ()
    spot_rows: float | None = None
    spot_pause: float | None = None
    keep_off: tuple[KeepOffLine, ...] = ()
    before: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()
    because: str = ""
    base_words: str = ""
    flame: str = ""
    judgement: dict[str, Any] = field(default_factory=dict)
    lowered: LoweredLine | None = None
    most_torque_limit: str = ""
    heat_cost: dict[str, Any] | None = None
    costs: tuple[str, ...] = ()
    measure_next: tuple[str, ...] = ()
    ladder: tuple[RungLine, ...] = ()
    reserve: tuple[SpotLine, ...] = ()
    stage_wait: float | None = None

    def to_plain(self) -> dict[str, Any]:
        """Return the card as JSON scalars with the unit in every key."""
        plain = asdict(self)
        judgement = plain.pop("judgement")
        return {"schema": "straighten/plan/1", **_unit_keys(plain), "judgement": judgement}


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """No pass is planned: the verdict, its reason, what decided, what stands against it, and the command that goes past advice."""

    name: str
    verdict: str
    reason: str
    decided_by: str
    findings: tuple[str, ...]
    go_on: str = ""
    judgement: dict[str, Any] = field(default_factory=dict)

    def to_plain(self) -> dict[str, Any]:
        """Return the refusal as JSON scalars."""
        return {
            "schema": "straighten/plan/1",
            "name": self.name,
            "verdict": self.verdict,
            "reason": self.reason,
            "decided_by": self.decided_by,
            "findings": list(self.findings),
            "go_on": self.go_on,
            "judgement": self.judgement,
        }


# Unit of every numeric key of the card and its parts: the suffix and the factor from SI.
_UNITS: dict[str, tuple[str, float]] = {
    **dict.fromkeys(
        (
            "bow_now", "cam_now", "height", "gap", "over_bend", "deck_after", "cam_after", "deck_limit", "cam_limit",
            "goes", "stops", "station", "blades", "shim_stations", "expected",
            "spot_rows", "radius", "flux_radius",
        ),
        ("mm", 1e3),
    ),
    "clamp_force": ("kN", 1e-3),
    "torque": ("Nm", 1.0),
    "most_torque": ("Nm", 1.0),
    "peak": ("C", 1.0),
    "ceiling": ("C", 1.0),
    "asked": ("C", 1.0),
    "used": ("C", 1.0),
    "temperature": ("C", 1.0),
    "dwell": ("s", 1.0),
    "spot_pause": ("s", 1.0),
    "stage_wait": ("s", 1.0),
    "wait": ("min", 1 / 60),
    "unclamp_wait": ("min", 1 / 60),
    "hold": ("h", 1 / 3600),
    "hardness": ("HB", 1.0),
}  # fmt: skip


def _unit_keys(plain: dict[str, Any]) -> dict[str, Any]:
    keyed: dict[str, Any] = {}
    for key, value in plain.items():
        unit, factor = _UNITS.get(key, ("", 1.0))
        keyed[f"{key}_{unit}" if unit else key] = _scaled(value, factor)
    return keyed


def _scaled(value: Any, factor: float) -> Any:
    if isinstance(value, dict):
        if set(value) == {"low", "middle", "high"}:
            return {key: _scaled(inner, factor) for key, inner in value.items()}
        return _unit_keys(value)
    if isinstance(value, list | tuple):
        return [_scaled(inner, factor) for inner in value]
    if isinstance(value, float):
        return float(f"{value * factor:.6g}")
    return value
