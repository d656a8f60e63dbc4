"""What the figures need, gathered from the dossier: bows along the head, tightening, history of the passes, stop decision."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from straighten.belief.tightened import TighteningLog
from straighten.clamp.clamped import between
from straighten.clamp.tightening import tightening_card
from straighten.desk.deciding import decision_report
from straighten.desk.job import Job, believed
from straighten.desk.kept import card_from_plain
from straighten.desk.pass_card import evenly, range_of
from straighten.desk.sheets import Found, dossier_before, forecast_of, sketch_data
from straighten.desk.tightening import Logged, earlier, planned_setup
from straighten.errors import BadInput
from straighten.quantiles import quantile
from straighten.shape.equations import line_block
from straighten.shape.modes import INDEX, track, track_of
from straighten.sheet.card import Refusal, Round
from straighten.sheet.decision import DecisionReport, StopPicture
from straighten.sheet.figures.bow import Band, BowLine, BowPicture, ReadBracket
from straighten.sheet.figures.passes import PassesPicture, PassLine, PassPoint
from straighten.sheet.figures.spots import SpotPicture
from straighten.sheet.plain import Range
from straighten.sheet.tightening import TighteningPicture

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.belief.learn import Belief
    from straighten.clamp import ClampSetup
    from straighten.desk.dossier import Dossier
    from straighten.head.records import Head
    from straighten.plan.forecast import Forecast
    from straighten.plan.records import PassSetup
    from straighten.readings import Readings
    from straighten.readings.records import Line, Part
    from straighten.sheet.figures.drawing import Picture

    Floats = NDArray[np.float64]

STATIONS = 41
TORQUES = 12  # points of the tightening curve
OVER = 1.5  # how far past the last round the curve runs
LINES: tuple[tuple[str, Part, str], ...] = (("Deck", "deck", "deck_bow"), ("Cam line", "cam", "cam_bow"))
ASIDE = 0.008  # of the length: how far apart brackets at one station are drawn


def picture_of(kind: str, dossier: Dossier, found: Found | None) -> Picture:
    """Return a picture by its name: bow, spots, tightening of a pass; passes, stop, bow of the whole job.

    Args:
        kind: its name.
        dossier: the head, as it stood before the pass that is shown.
        found: the pass to show, or None for the whole job.

    Raises:
        BadInput: there is no pass to show.
    """
    if kind == "passes":
        return passes_picture(dossier)
    if kind == "stop":
        return stop_picture(decision_report(Job(dossier)))
    if found is None and kind != "tightening":
        return job_picture(dossier) if kind == "bow" else used_picture(dossier)
    if found is None or found.setup is None or isinstance(found.page, Refusal):
        raise BadInput(
            "no pass is planned, so there is none to show", where="--show", fix="Use passes or stop."
        )
    if kind == "bow":
        return bow_picture(dossier, found.setup)
    card = found.page.card
    if kind == "spots":
        return SpotPicture(system=dossier.head.system, sketch=found.page.sketch, spots=card.spots)
    return tightening_picture(dossier, found.setup, card.rounds, card.most_torque)


# --- bow ---------------------------------------------------------------------------------------------------------


def bow_picture(dossier: Dossier, setup: PassSetup) -> BowPicture:
    """Return the bow of deck and cam line before, in the clamp and after."""
    return _bow(dossier, _moved(forecast_of(dossier, setup)), ("now", "expected after"))


def job_picture(dossier: Dossier) -> BowPicture:
    """Return the bow as the head came in and as it is now."""
    first, now = believed(as_it_came(dossier)).draws, believed(dossier).draws
    moved = _Moved(before=(first.states, first.weights), after=(now.states, now.weights), clamped=None)
    return _bow(dossier, moved, ("as it came", "now"))


def _bow(dossier: Dossier, moved: _Moved, words: tuple[str, str]) -> BowPicture:
    stations = np.linspace(0.0, dossier.head.casting.length, STATIONS)
    return BowPicture(
        system=dossier.head.system,
        stations=tuple(map(float, stations)),
        lines=tuple(_bow_line(dossier, moved, stations, line) for line in LINES),
        words=words,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Moved:
    """Weighted shapes before and after, and in the clamp: stations and deflection there, or None."""

    before: tuple[Floats, Floats]
    after: tuple[Floats, Floats]
    clamped: tuple[Floats, Floats] | None


def _moved(found: Forecast) -> _Moved:
    held = None if found.clamped is None else (found.clamped.station, found.clamped.deflection)
    return _Moved(before=(found.before, found.weights), after=(found.after, found.weights), clamped=held)


def _bow_line(dossier: Dossier, moved: _Moved, stations: Floats, line: tuple[str, Part, str]) -> BowLine:
    title, part, state = line
    head = dossier.head
    rows = _rows(head, part, stations)
    before, weights = moved.before
    after, after_weights = moved.after
    limit = head.limits.deck_overall if part == "deck" else head.limits.cam_line
    return BowLine(
        title=title,
        before=_band(before @ rows.T, weights),
        clamped=_held(moved, before @ rows.T, stations),
        after=_band(after @ rows.T, after_weights),
        readings=_brackets(
            head, dossier.survey, part, after_weights @ after if moved.clamped is None else weights @ before
        ),
        bow_before=range_of(before[:, INDEX[state]], weights),
        bow_after=range_of(after[:, INDEX[state]], after_weights),
        limit=limit.value,
    )


def _held(moved: _Moved, heights: Floats, stations: Floats) -> tuple[float, ...] | None:
    if moved.clamped is None:
        return None
    return _band(heights - between(*moved.clamped, stations), moved.before[1]).middle


def _rows(head: Head, part: Part, stations: Floats) -> Floats:
    """Return the rows of a line's heights: the mean of the deck's two edges, or of the cam lines."""
    share = stations / head.casting.length
    if part == "deck":
        edges = [track("deck", name, head).rows(share) for name in ("exhaust edge", "inlet edge")]
        return np.asarray((edges[0] + edges[1]) / 2)
    return track("cam", "single", head).rows(share)


def _band(heights: Floats, weights: Floats) -> Band:
    low, middle, high = (
        tuple(quantile(heights[:, n], weights, q) for n in range(heights.shape[1])) for q in (0.1, 0.5, 0.9)
    )
    return Band(low=low, middle=middle, high=high)


def _brackets(head: Head, survey: Readings, part: Part, mean: Floats) -> tuple[ReadBracket, ...]:
    """Return the readings as heights: where the edge rested is taken from the believed shape."""
    modes = ("bridged", "balanced", "rocked")
    lines = [x for x in survey.lines if x.part == part and x.across_at is None and x.mode in modes]
    found: list[ReadBracket] = []
    for number, line in enumerate(lines):
        aside = ASIDE * head.casting.length * (number - (len(lines) - 1) / 2)
        found += [replace(bracket, aside=aside) for bracket in _line_brackets(head, survey, line, mean)]
    return tuple(found)


def _line_brackets(head: Head, survey: Readings, line: Line, mean: Floats) -> list[ReadBracket]:
    run = track_of(line, head)
    found = []
    for block in line_block(line, head, survey.gauges):
        gaps = block.seats.gaps(mean[None, :])[0]
        for number, gap in zip(block.places, gaps, strict=True):
            bracket = line.brackets[number]
            if bracket.low is None or bracket.high is None or not np.isfinite(bracket.high):
                continue
            height = float((run.rows(np.array([bracket.station / run.length])) @ mean)[0])
            ends = sorted(
                height + run.towards * (bound - float(gap)) for bound in (bracket.low, bracket.high)
            )
            found.append(ReadBracket(station=bracket.station, low=ends[0], high=ends[1]))
    return found


# --- tightening --------------------------------------------------------------------------------------------------


def tightening_picture(
    dossier: Dossier, setup: PassSetup, rounds: tuple[Round, ...], most: float
) -> TighteningPicture:
    """Return the gap against torque, simulated finely on the same draws as the card's rounds.

    Raises:
        BadInput: the head lies free in this pass, or is not pulled to a gap.
    """
    clamp = setup.clamp
    if clamp is None or clamp.gap is None:
        raise BadInput("this pass has no gap to pull to", where="--show")
    free = _finely(dossier, clamp, rounds)
    return TighteningPicture(
        system=dossier.head.system,
        torques=tuple(torque for torque, _ in free),
        gap=Band(
            low=tuple(gap[0] for _, gap in free),
            middle=tuple(gap[1] for _, gap in free),
            high=tuple(gap[2] for _, gap in free),
        ),
        rounds=rounds,
        stop_at=clamp.gap,
        most=most,
    )


def logged_picture(dossier: Dossier, logged: Logged) -> TighteningPicture:
    """Return the gap against torque of the card in hand as it is believed with the rounds logged, and the rounds.

    Raises:
        BadInput: no card was printed since the last pass, or it pulls to no gap.
    """
    setup, planned = planned_setup(dossier), dossier.planned
    assert planned is not None  # noqa: S101 - `planned_setup` has looked
    if setup.clamp is None:
        raise BadInput("this pass has no gap to pull to", where="--figure")
    log = TighteningLog(
        stage=len(dossier.passes), setup=setup.clamp, readings=logged.rounds, load=logged.load
    )
    card = card_from_plain(planned.record["card"])
    known = replace(dossier, tightenings=(*earlier(dossier), log))
    picture = tightening_picture(known, setup, card.rounds, card.most_torque)
    return replace(picture, logged=tuple((r.torque, r.goes, r.does_not) for r in logged.rounds))


def _finely(
    dossier: Dossier, clamp: ClampSetup, rounds: tuple[Round, ...]
) -> list[tuple[float, tuple[float, float, float]]]:
    states, response = evenly(believed(dossier), clamp)
    last = max((r.torque for r in rounds), default=1.0)
    shares = np.linspace(0.08, OVER, TORQUES)
    made = tightening_card(dossier.head, states, clamp, response, rounds=tuple(map(float, shares)))
    return [(r.torque, r.gap) for r in made.rounds if r.torque <= OVER * last + 1]


# --- the job -----------------------------------------------------------------------------------------------------


def as_it_came(dossier: Dossier) -> Dossier:
    """Return the dossier before its first pass and its first sanding."""
    return dossier_before(dossier.stretches[0], 1)


def passes_picture(dossier: Dossier) -> PassesPicture:
    """Return predicted and measured bow over the passes, and after a sanding that was measured."""
    head = dossier.head
    stages = [
        (str(len(stretch.earlier) + number) if number else stretch.begun, _stage(stretch, number))
        for stretch in dossier.stretches
        for number in range(len(stretch.passes) + 1)
    ]
    limits = (head.limits.deck_overall.value, head.limits.cam_line.value)
    return PassesPicture(
        system=head.system,
        lines=tuple(
            PassLine(
                title=title,
                limit=limit,
                points=tuple(
                    PassPoint(number=n, name=name, predicted=stage[state][0], measured=stage[state][1])
                    for n, (name, stage) in enumerate(stages)
                ),
            )
            for (title, _, state), limit in zip(LINES, limits, strict=True)
        ),
    )


def _stage(stretch: Dossier, number: int) -> dict[str, tuple[Range | None, Range | None]]:
    """Return predicted and measured bow after a number of passes, each with what was known at that time."""
    then = stretch.after(number)
    belief: Belief | None = believed(then) if then.surveys[-1] is not None else None
    expected = None
    if number:
        before = dossier_before(stretch, len(stretch.earlier) + number)
        expected = forecast_of(before, stretch.passes[number - 1])
    return {
        state: (
            None if expected is None else range_of(expected.column(state), expected.weights),
            None if belief is None else range_of(belief.draws.states[:, INDEX[state]], belief.draws.weights),
        )
        for _, _, state in LINES
    }


def stop_picture(report: DecisionReport) -> StopPicture:
    """Return the stop decision as a picture."""
    return StopPicture(
        costs=report.cost_by_passes,
        options=tuple(
            (o.choice, o.cost.mean, o.cost.tenths[0], o.cost.tenths[2])
            for o in (line.option for line in report.options)
        ),
        choice=report.choice,
        stopped_by=report.stopped_by,
    )


def used_picture(dossier: Dossier) -> SpotPicture:
    """Return the map of all places heated so far."""
    return SpotPicture(system=dossier.head.system, sketch=sketch_data(dossier), spots=())
