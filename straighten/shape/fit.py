"""The shape of a head from its readings, and what its reader should be told of how it was measured."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from straighten.head.records import Head
from straighten.quantiles import Floats
from straighten.readings.records import DIAGONALS, LONG_LINES, Line, Readings, cam_title, cams_of
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


@dataclass(frozen=True, slots=True, kw_only=True)
class LineShape:
    """One line of the believed shape: straightness by three definitions [m], stations along the line [m]."""

    title: str
    straightness: Straightness

    def sentence(self, system: System) -> str:
        """Say the three straightness values of the line."""
        three = (self.straightness.end_point, self.straightness.least_squares, self.straightness.minimum_zone)
        return f"{self.title}: {_by_definitions(three, system)}"


def _by_definitions(three: tuple[float, float, float], system: System) -> str:
    end, squares, zone = (show(value, system) for value in three)
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
        three = (self.deck.end_point, self.deck.least_squares, self.deck.minimum_zone)
        return (
            f"deck flatness: {_by_definitions(three, system)}",
            *(line.sentence(system) for line in self.lines),
        )

    def limit(self, name: str) -> LimitCheck:
        """Return one limit check by its name."""
        return next(check for check in self.limits if check.name == name)


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
        deck=_deck(mean, dips),
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
        deck=_deck(mean, dips),
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


def _deck(mean: Floats, dips: Sequence[Misfit]) -> Flatness:
    xi, eta, heights = deck_with_dips(mean, dips)
    return flatness(xi, eta, heights)
