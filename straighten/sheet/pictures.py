"""What the figures show, as plain records in SI, and what each says in one sentence; nothing here draws."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from straighten.errors import closed
from straighten.units import show, show_likely, show_torque

if TYPE_CHECKING:
    from straighten.sheet.bench import SketchData
    from straighten.sheet.card import Range, Round, SpotLine
    from straighten.units import System

Heights = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A curve with its band: 10, 50 and 90 % at each station [m]."""

    low: Heights
    middle: Heights
    high: Heights


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBracket:
    """A reading as height over the line through the ends: station, lower and upper bound [m]; drawn `aside` of it where lines share a station."""

    station: float
    low: float
    high: float
    aside: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BowLine:
    """One line of the head before, in the clamp (None where it lies free) and expected after; bow of the middle before and after [m]."""

    title: str
    before: Band
    clamped: Heights | None
    after: Band
    readings: tuple[ReadBracket, ...]
    bow_before: Range
    bow_after: Range
    limit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BowPicture:
    """The bow along the head: stations [m], the lines, deck first, and what first and last state are called."""

    system: System
    stations: Heights
    lines: tuple[BowLine, ...]
    words: tuple[str, str] = ("now", "expected after")

    @property
    def message(self) -> str:
        """What the picture says."""
        first, last = self.words
        parts = [
            f"{line.title} bow in the middle {first} {_said(line.bow_before, self.system)}, "
            f"{last} {_said(line.bow_after, self.system)}, "
            f"limit {show(line.limit, self.system)}"
            for line in self.lines
        ]
        return "; ".join(parts) + ". Heights and bows over the head's two ends."


def _said(found: Range, system: System) -> str:
    return show_likely(found.low, found.middle, found.high, system)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotPicture:
    """Where to heat: the head from above with spots in their order and places used before."""

    system: System
    sketch: SketchData
    spots: tuple[SpotLine, ...]

    @property
    def message(self) -> str:
        """What the picture says."""
        used = len(self.sketch.used)
        before = f", {used} places were heated before and are left alone" if used else ""
        if not self.spots:
            return (
                f"{used} places were heated, each marked with a crossed square."
                if used
                else "No place was heated."
            )
        ends = [spot.station for spot in self.spots]
        stretch = (
            f"between {show(min(ends), self.system, big=True)} and {show(max(ends), self.system, big=True)}"
        )
        return f"{len(self.spots)} fresh spots {stretch} from the front end{before}."


@dataclass(frozen=True, slots=True, kw_only=True)
class PassPoint:
    """A line's bow at a place in the job, 0 = as it came in: what was predicted (or None), what the readings then said (or None) [m].

    `name` of the place: "came", the pass after which it stood so, or "sanded".
    """

    number: int
    name: str
    predicted: Range | None
    measured: Range | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PassLine:
    """One line over the passes, with its limit [m]."""

    title: str
    points: tuple[PassPoint, ...]
    limit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PassesPicture:
    """Predicted against measured bow over the passes."""

    system: System
    lines: tuple[PassLine, ...]

    @property
    def message(self) -> str:
        """What the picture says."""
        return " ".join(self._line(line) for line in self.lines)

    def _line(self, line: PassLine) -> str:
        both = [(p.predicted, p.measured) for p in line.points if p.predicted and p.measured]
        inside = sum(p.low <= m.middle <= p.high for p, m in both)
        met = f", inside the predicted range after {inside} of {len(both)} passes" if both else ""
        measured = [p.measured for p in line.points if p.measured]
        way = (
            f"{show(measured[0].middle, self.system)} to {show(measured[-1].middle, self.system)}"
            if measured
            else "not measured"
        )
        return f"{line.title}: {way}{met}; limit {show(line.limit, self.system)}."


@dataclass(frozen=True, slots=True, kw_only=True)
class StopPicture:
    """The stop decision: expected cost [money] with 0, 1, 2, ... more passes allowed, the ways to go, the choice.

    `options` name, expected cost, and the cost under which it stays 1 time and 9 times in 10.
    """

    costs: tuple[float, ...]
    options: tuple[tuple[str, float, float, float], ...]
    choice: str
    stopped_by: str

    @property
    def message(self) -> str:
        """What the picture says."""
        ways = ", ".join(
            f"{name} {cost:.0f} ({low:.0f} to {high:.0f})" for name, cost, low, high in self.options
        )
        rule = closed(f" A rule stops the heat: {self.stopped_by}") if self.stopped_by else ""
        saved = self.costs[0] - min(self.costs)
        gain = f" Allowing more passes saves up to {saved:.0f}." if len(self.costs) > 1 else ""
        return f"{self.choice.capitalize()} is cheapest. Expected cost: {ways}.{gain}{rule}"


@dataclass(frozen=True, slots=True, kw_only=True)
class TighteningPicture:
    """Gap in the middle [m] against the torque of every bolt [N m], with the rounds, the gap to stop at and the most torque allowed.

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
        reached = [
            t for t, gap in zip(self.torques, self.gap.middle, strict=True) if gap <= self.stop_at + 1e-6
        ]
        start = show(self.gap.middle[0], self.system)
        goal = "closed" if self.stop_at <= 0 else f"down to {show(self.stop_at, self.system)}"
        when = (
            f"is {goal} at about {show_torque(reached[0], self.system)}"
            if reached
            else f"is not {goal} in this range"
        )
        limit = f"no bolt over {show_torque(self.most, self.system)}"
        return f"The gap of {start} in the middle {when}; {limit}.{self._read()}"

    def _read(self) -> str:
        """Return the last round logged, or nothing."""
        if not self.logged:
            return ""
        torque, goes, stops = self.logged[-1]
        words = f"{show(goes, self.system)} goes" if goes else "no blade goes"
        open_end = "" if stops is None else f", {show(stops, self.system)} does not"
        rounds = "round is" if len(self.logged) == 1 else "rounds are"
        return (
            f" {len(self.logged)} {rounds} logged; at {show_torque(torque, self.system)} {words}{open_end}."
        )


Picture = BowPicture | SpotPicture | PassesPicture | StopPicture | TighteningPicture
