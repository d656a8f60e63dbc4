"""The shape of a head from its readings: caveats on how it was measured, and what more readings would bring."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from straighten.head.records import Head
from straighten.quantiles import Floats
from straighten.readings.gaps import next_thicker, next_thinner
from straighten.readings.gauges import resolution
from straighten.readings.names import deck_stations
from straighten.readings.records import (
    DIAGONALS,
    LONG_LINES,
    Bracket,
    Line,
    Mode,
    Part,
    Readings,
    cam_title,
    cams_of,
)
from straighten.shape.equations import line_block
from straighten.shape.flatness import Flatness, Straightness, flatness, resting_gaps, straightness
from straighten.shape.limits import LimitCheck, check_limits, deck_with_dips, widest_open
from straighten.shape.modes import INDEX, Track, track, track_of
from straighten.shape.seats import Equations
from straighten.shape.suspects import Misfit, Suspect, examine
from straighten.shape.towers import Towers, towers_of
from straighten.sources import Cited
from straighten.units import System, show

TOLD_FROM = 10e-6  # an edge that rests elsewhere is told from this change of a gap on [m]
BELLY = Cited(
    0.06e-3,
    "m",
    "a centre line that bows this much more than both edges is a dished section or a slip",
    "assumed",
)
_SURE = 2.5  # standard deviations
RANGE_80 = 1.2816  # half-width of the central 80 % of a normal distribution, in standard deviations


@dataclass(frozen=True, slots=True, kw_only=True)
class LineShape:
    """One line of the believed shape: straightness by three definitions [m], stations along the line [m]."""

    title: str
    straightness: Straightness

    def sentence(self, system: System) -> str:
        """Say the three straightness values of the line."""
        return f"{self.title}: {_by_definitions(self.straightness, system)}"


def _by_definitions(of: Straightness | Flatness, system: System) -> str:
    end, squares, zone = (show(v, system) for v in (of.end_point, of.least_squares, of.minimum_zone))
    return f"end-point {end}, least squares {squares}, minimum zone {zone}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """The shape of a head as the survey knows it.

    `mean` `(11,)` and `covariance` `(11, 11)` in the order of `STATE` [m, m2]; `evidence` log-probability of the
    readings; `deck` flatness and `lines` straightness of the mean shape [m]; `limits` every limit judged;
    `towers` what those of every cam line stand off it; `deck_read` the widest gap that the blades leave open on the deck [m], inf where a line was not read;
    `suspects`, `misfits` readings that were left out, with why; `deck_readings`, `cam_readings` how many count;
    `caveats` sentences for the reader.
    """

    mean: Floats
    covariance: Floats
    evidence: float
    deck: Flatness
    lines: tuple[LineShape, ...]
    limits: tuple[LimitCheck, ...]
    towers: tuple[Towers, ...]
    deck_read: float = math.inf
    suspects: tuple[Suspect, ...] = ()
    misfits: tuple[Misfit, ...] = ()
    deck_readings: int = 0
    cam_readings: int = 0
    caveats: tuple[str, ...] = ()

    def value(self, name: str) -> float:
        """Return the mean of one of `STATE` [m]."""
        return float(self.mean[INDEX[name]])

    def sd(self, name: str) -> float:
        """Return the standard deviation of one of `STATE` [m]."""
        return float(np.sqrt(self.covariance[INDEX[name], INDEX[name]]))

    def range(self, name: str, share: float = 0.8) -> tuple[float, float]:
        """Return the central interval [m] that holds one of `STATE` with the probability `share`."""
        reach = NormalDist().inv_cdf(0.5 + share / 2) * self.sd(name)
        return self.value(name) - reach, self.value(name) + reach

    def straightness_sentences(self, system: System) -> tuple[str, ...]:
        """Say flatness of the deck and straightness of every line by all three definitions (ISO 12781, ISO 12780)."""
        return (
            f"deck flatness: {_by_definitions(self.deck, system)}",
            *(line.sentence(system) for line in self.lines),
        )


def survey_caveats(readings: Readings, head: Head, mean: Floats, covariance: Floats) -> tuple[str, ...]:
    """Return the sentences that go with a shape."""
    return (
        *_gauge_caveats(readings, head),
        *_seat_caveats(readings, head, mean),
        *_section_caveats(readings, mean, covariance),
    )


def _section_caveats(readings: Readings, mean: Floats, covariance: Floats) -> Iterator[str]:
    """Yield a word on a centre line that bows otherwise than both edges."""
    place = INDEX["deck_belly"]
    belly, sd = float(mean[place]), float(np.sqrt(covariance[place, place]))
    if abs(belly) > max(BELLY.value, _SURE * sd):
        more = "more" if belly > 0 else "less"
        yield (
            f"The centre line is hollow by {show(abs(belly), readings.system)} {more} than both edges: the deck between "
            "the edges has sunk or swollen, or a line was misread. Read across the deck to tell."
        )


def _gauge_caveats(readings: Readings, head: Head) -> Iterator[str]:
    gauges, system = readings.gauges, readings.system
    if gauges.edge_error is not None:
        known = f", known to {show(gauges.edge_uncertainty, system)}" if gauges.edge_uncertainty else ""
        proud = "proud" if gauges.edge_error >= 0 else "hollow"
        yield (
            f"The straightedge's own error is taken off: its middle {show(abs(gauges.edge_error), system)} "
            f"{proud}{known}."
        )
        if gauges.edge_length is not None and gauges.edge_length < 0.97 * head.casting.length:
            yield "The straightedge is shorter than the head: its readings are taken as if it reached both ends."
    if gauges.plate_error is not None:
        known = f", known to {show(gauges.plate_uncertainty, system)}" if gauges.plate_uncertainty else ""
        yield f"The plate's own error is taken off: {show(abs(gauges.plate_error), system)} in its middle{known}."


def _seat_caveats(readings: Readings, head: Head, mean: Floats) -> Iterator[str]:
    if any(line.mode == "rocked" for line in readings.lines):
        yield (
            "A rocked gap is taken with the edge lying on the middle: the end gapes by twice the bow. Pressed down "
            "hard on a round bow the edge lies nearer its end and the gap grows, up to four times the bow: "
            "balance the edge if you can."
        )
    bars = [line for line in readings.lines if line.mode == "bar" and not all(b.blank for b in line.brackets)]
    if bars and not any(line.part == "cam" and line.mode != "bar" for line in readings.lines):
        yield "A bar through the bores tells how much the cam line is bent, not which way."
    for line in readings.lines:
        shift = _rest_shift(line, head, mean)
        if shift > TOLD_FROM:
            yield (
                f"{line.title}: the straightedge does not rest on the very ends of this shape; its gaps are up to "
                f"{show(shift, readings.system)} larger than taken here."
            )


def _rest_shift(line: Line, head: Head, mean: Floats) -> float:
    """Return how much a bridged edge that finds its own rests would change the gaps [m]."""
    if line.mode != "bridged":
        return 0.0
    run = track_of(line, head)
    height = -run.towards * (run.rows(run.supports) @ mean)
    gaps = resting_gaps(run.supports, height)
    share = (run.supports - run.first) / (run.last - run.first)
    ends = (1 - share) * height[0] + share * height[-1] - height
    return float(np.max(np.abs(gaps - ends))) if ends[ends.size // 2] > 0 else 0.0


def fit_shape(readings: Readings, head: Head) -> Shape:
    """Return the shape of a head from all its readings at once.

    Prior and exact bracket probabilities give mean and covariance of the eleven numbers; readings that do not fit
    are named and left out; flatness and straightness are those of the mean shape with its local dips put back.

    Source: Bayes' rule with interval-censored normal readings -- derived; combination of gauge errors by JCGM 100
    (GUM).
    Valid: Bows up to a few millimetres that eleven smooth modes describe; places off the smooth shape count as
    dips.
    """
    seen = examine(readings, head)
    mean, covariance = seen.posterior.mean, seen.posterior.covariance
    dips = [m for m in seen.misfits if m.part == "deck"]
    deck, cam = _counts(seen.equations)
    read = widest_open(readings)
    towers = towers_of(head, seen)
    return Shape(
        mean=mean,
        covariance=covariance,
        evidence=seen.posterior.evidence,
        deck=flatness(*deck_with_dips(mean, dips)),
        lines=_lines(head, mean, towers),
        limits=check_limits(head, mean, covariance, dips, read, towers),
        towers=towers,
        deck_read=read,
        suspects=seen.suspects,
        misfits=seen.misfits,
        deck_readings=deck,
        cam_readings=cam,
        caveats=survey_caveats(readings, head, mean, covariance),
    )


def shape_as_believed(
    fitted: Shape, head: Head, mean: Floats, covariance: Floats, towers: tuple[Towers, ...]
) -> Shape:
    """Return a survey's shape with the numbers that passes and earlier surveys taught in place of its own.

    Its dips, suspects and counts stay; `mean` `(11,)` [m], `covariance` `(11, 11)` [m2].
    """
    dips = [m for m in fitted.misfits if m.part == "deck"]
    return replace(
        fitted,
        mean=mean,
        covariance=covariance,
        deck=flatness(*deck_with_dips(mean, dips)),
        lines=_lines(head, mean, towers),
        towers=towers,
        limits=check_limits(head, mean, covariance, dips, fitted.deck_read, towers),
    )


def _counts(equations: Equations) -> tuple[int, int]:
    """Return how many readings of the deck and of the cam line say anything about the shape."""
    deck = cam = 0
    blocks = [np.abs(b.seats.rows).max(axis=0) for b in equations.blocks]
    for rows in [*blocks, *(s.rows for s in equations.swept)]:
        told = int(np.count_nonzero(np.abs(rows[:, :7]).max(axis=1) > 1e-6))
        deck += told
        cam += int(np.count_nonzero(np.abs(rows[:, 7:]).max(axis=1) > 1e-6))
    return deck, cam


def _lines(head: Head, mean: Floats, towers: Sequence[Towers]) -> tuple[LineShape, ...]:
    """Return the straightness of every line; towers stand where they were read."""
    deck = [track("deck", name, head) for name in (*LONG_LINES, *DIAGONALS)]
    cam = [
        (track("cam", name, head), off.off(mean[None])[0])
        for name, off in zip(cams_of(head), towers, strict=True)
    ]
    return tuple(_line(run, mean, off) for run, off in [*((run, 0.0) for run in deck), *cam])


def _line(run: Track, mean: Floats, off: Floats | float) -> LineShape:
    title = f"deck, {run.name}" if run.part == "deck" else cam_title(run.name)
    heights = run.rows(run.supports) @ mean + off
    return LineShape(title=title, straightness=straightness(run.supports * run.length, heights))


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """What a reading or line not taken would bring.

    `title` of the line; `station` of a blank [m] or None for a whole line; `of` "deck_bow" or "cam_bow"; `before`,
    `after` its standard deviation [m].
    """

    title: str
    station: float | None
    of: str
    before: float
    after: float

    @property
    def gain(self) -> float:
        """How much smaller the standard deviation would be, as a share of what it is."""
        return 1 - self.after / self.before if self.before else 0.0

    def sentence(self, head: Head) -> str:
        """Say what the reading would bring, in half-widths of the 80 % range."""
        what = "deck bow" if self.of == "deck_bow" else "cam bow"
        where = (
            self.title
            if self.station is None
            else f"{self.title} at {show(self.station, head.system, big=True)}"
        )
        verb = "Reading" if self.station is None else "Filling in"
        before, after = (show(RANGE_80 * sd, head.system) for sd in (self.before, self.after))
        return f"{verb} {where} would narrow the {what} from +/- {before} to +/- {after}."


def worth_of_more(readings: Readings, head: Head, shape: Shape) -> tuple[Worth, ...]:
    r"""Return what every blank and every line not read would bring, the most valuable first.

    With covariance C of the state, rows A of the readings that might be taken and their covariance V (blade, unevenness,
    rests, and the step of the blades as d / sqrt 12), the covariance afterwards is

    .. math:: C' = C - C A^T (A C A^T + V)^{-1} A C

    whatever the readings turn out to be.

    Source: linear Gaussian update -- derived; step uncertainty JCGM 100:2008 (GUM), F.2.2.1 -- seen in public pages.
    Valid: Shapes near the mean: an edge is taken to sit on the line as it would on the mean shape.
    """
    found = [
        _worth(line, station, head, (readings, shape)) for line, station in _options(readings, head, shape)
    ]
    return tuple(sorted((w for w in found if w is not None), key=lambda w: -w.gain))


def _options(readings: Readings, head: Head, shape: Shape) -> Iterator[tuple[Line, float | None]]:
    for line in readings.lines:
        if line.mode in ("bridged", "balanced", "rocked"):
            for bracket in line.brackets:
                if bracket.blank:
                    yield replace(line, brackets=(bracket,)), bracket.station
    read = {(line.part, line.name) for line in readings.lines if not all(b.blank for b in line.brackets)}
    wanted: list[tuple[Part, str]] = [("deck", name) for name in (*LONG_LINES, *DIAGONALS)]
    wanted += [("cam", name) for name in cams_of(head)]
    for part, name in wanted:
        if (part, name) not in read:
            yield _new_line(part, name, head, shape), None


def _new_line(part: Part, name: str, head: Head, shape: Shape) -> Line:
    """Return a line as it would be read: bridged where it is hollow, balanced where it rocks."""
    run = track(part, name, head)
    middle = np.array([run.first, (run.first + run.last) / 2, run.last])
    heights = run.towards * (run.rows(middle) @ shape.mean)
    mode: Mode = "bridged" if heights[1] >= (heights[0] + heights[2]) / 2 else "balanced"
    stations = head.towers if part == "cam" else deck_stations(head)
    if name in DIAGONALS:
        stations = (head.casting.length / 2,) if mode == "bridged" else (stations[0], stations[-1])
    return Line(part=part, name=name, mode=mode, brackets=tuple(Bracket(station=s) for s in stations))


def _worth(line: Line, station: float | None, head: Head, survey: tuple[Readings, Shape]) -> Worth | None:
    readings, shape = survey
    filled = replace(line, brackets=tuple(replace(b, low=0.0, high=math.inf) for b in line.brackets))
    blocks = line_block(filled, head, readings.gauges)
    if not blocks:
        return None
    block = blocks[0]
    way = block.seats.pick(shape.mean)
    rows, rests = block.seats.rows[way], block.seats.rests[way]
    gaps = np.maximum(rows @ shape.mean + block.seats.offset[way], 0.0)
    steps = np.array([_step(float(gap), head) for gap in gaps])
    noise = np.diag(block.noise**2 + resolution(1.0) ** 2 * steps**2) + rests @ rests.T
    noise += np.outer(block.edge, block.edge)
    joint = rows @ shape.covariance
    after = shape.covariance - joint.T @ np.linalg.solve(joint @ rows.T + noise, joint)
    of = "deck_bow" if line.part == "deck" else "cam_bow"
    place = INDEX[of]
    return Worth(
        title=line.title,
        station=station,
        of=of,
        before=shape.sd(of),
        after=math.sqrt(max(after[place, place], 0.0)),
    )


def _step(gap: float, head: Head) -> float:
    """Return the step of the blades around a gap [m]."""
    blades = tuple(sorted(head.gauge_blades))
    thicker = next_thicker(gap, blades)
    if math.isinf(thicker):
        return gap
    return thicker - next_thinner(thicker, blades)
