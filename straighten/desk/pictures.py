"""What the figures need, gathered from the dossier: bows along the head, tightening, history of the passes, stop decision.

A picture of what there is not, no pass, no card or no gap to pull to, is refused with `BadInput`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from straighten.belief.blades import TighteningLog
from straighten.belief.learn import Belief
from straighten.clamp import Clamped
from straighten.clamp.clamped import between
from straighten.clamp.tightening import tightening_card
from straighten.desk.deciding import decision_report
from straighten.desk.dossier import Dossier
from straighten.desk.job import Job, believed, foretold
from straighten.desk.kept import card_from_plain
from straighten.desk.logging import Logged, earlier, planned_setup
from straighten.desk.pass_card import evenly, range_of
from straighten.desk.planning import GAP_MODES, Found, dossier_before, sketch_data
from straighten.errors import BadInput
from straighten.head.records import Head
from straighten.plan.records import PassSetup
from straighten.quantiles import Floats, tenths
from straighten.readings import Readings
from straighten.readings.records import Line, Part
from straighten.shape.equations import line_block
from straighten.shape.modes import INDEX, track, track_of
from straighten.sheet.card import Refusal, Round
from straighten.sheet.decision import StopPicture
from straighten.sheet.figures import Picture
from straighten.sheet.figures.bows import Band, BowLine, BowPicture, PassesPicture, PassLine, PassPoint
from straighten.sheet.figures.shape import SpotPicture
from straighten.sheet.plain import Range
from straighten.sheet.setups import TighteningPicture

_BeforeAfter = tuple[tuple[Floats, Floats], tuple[Floats, Floats]]  # states and weights of both
STATIONS = 41
TORQUES = 12  # points of the tightening curve
OVER = 1.5  # how far past the last round the curve runs
_BEGUN = {"came": "before", "sanded": "sanded", "read anew": "read anew"}  # where a stretch of the job begins
ASIDE = 0.008  # of the length: how far apart brackets at one station are drawn


def lines_of(head: Head) -> tuple[tuple[str, Part, str, float], ...]:
    """Return title, part, bow by its name in the shape, and limit [m] of deck and cam line."""
    deck, cam = head.limits.deck_overall.value, head.limits.cam_line.value
    return ("Deck", "deck", "deck_bow", deck), ("Cam line", "cam", "cam_bow", cam)


def picture_of(kind: str, dossier: Dossier, found: Found | None) -> Picture:
    """Return a picture by its name: bow, spots, tightening of a pass; passes, stop, bow of the whole job.

    The `dossier` as it stood before the pass that is shown; `found` that pass, None for the whole job.
    """
    if kind == "passes":
        return passes_picture(dossier)
    if kind == "stop":
        return StopPicture.of(decision_report(Job(dossier)).to_plain())
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
    seen = foretold(dossier, setup)
    states = ((seen.before, seen.weights), (seen.after, seen.weights))
    return _bow(dossier, states, ("now", "expected after"), seen.clamped)


def job_picture(dossier: Dossier) -> BowPicture:
    """Return the bow as the head came in and as it is now."""
    first, now = (believed(one).draws for one in (as_it_came(dossier), dossier))
    states = ((first.states, first.weights), (now.states, now.weights))
    return _bow(dossier, states, ("as it came", "now"), None)


def _bow(dossier: Dossier, states: _BeforeAfter, words: tuple[str, str], held: Clamped | None) -> BowPicture:
    stations = np.linspace(0.0, dossier.head.casting.length, STATIONS)
    return BowPicture(
        system=dossier.head.system,
        stations=tuple(map(float, stations)),
        lines=tuple(_bow_line(dossier, states, stations, line, held) for line in lines_of(dossier.head)),
        words=words,
    )


def _bow_line(
    dossier: Dossier,
    states: _BeforeAfter,
    stations: Floats,
    line: tuple[str, Part, str, float],
    held: Clamped | None,
) -> BowLine:
    """Return one line; its readings are drawn on the shape they were taken from: before a pass, or now."""
    title, part, state, limit = line
    head = dossier.head
    rows = _rows(head, part, stations)
    (before, weights), (after, after_weights) = states
    clamped = None
    if held is not None:
        lifted = before @ rows.T - between(held.station, held.deflection, stations)
        clamped = _band(lifted, weights).middle
    read = after_weights @ after if held is None else weights @ before
    return BowLine(
        title=title,
        before=_band(before @ rows.T, weights),
        clamped=clamped,
        after=_band(after @ rows.T, after_weights),
        readings=_brackets(head, dossier.survey, part, read),
        bow_before=range_of(before[:, INDEX[state]], weights),
        bow_after=range_of(after[:, INDEX[state]], after_weights),
        limit=limit,
    )


def _rows(head: Head, part: Part, stations: Floats) -> Floats:
    """Return the rows of a line's heights: the mean of the deck's two edges, or of the cam lines."""
    share = stations / head.casting.length
    if part == "deck":
        edges = [track("deck", name, head).rows(share) for name in ("exhaust edge", "inlet edge")]
        return np.asarray((edges[0] + edges[1]) / 2)
    return track("cam", "single", head).rows(share)


def _band(heights: Floats, weights: Floats) -> Band:
    return Band(*zip(*(tenths(column, weights) for column in heights.T), strict=True))


def _brackets(
    head: Head, survey: Readings, part: Part, mean: Floats
) -> tuple[tuple[float, float, float], ...]:
    """Return the readings as heights: where the edge rested is taken from the believed shape."""
    lines = [x for x in survey.lines if x.part == part and x.across_at is None and x.mode in GAP_MODES]
    asides = (ASIDE * head.casting.length * (number - (len(lines) - 1) / 2) for number in range(len(lines)))
    return tuple(
        (station + aside, low, high)
        for line, aside in zip(lines, asides, strict=True)
        for station, low, high in _line_brackets(head, survey, line, mean)
    )


def _line_brackets(
    head: Head, survey: Readings, line: Line, mean: Floats
) -> Iterator[tuple[float, float, float]]:
    run = track_of(line, head)
    for block in line_block(line, head, survey.gauges):
        gaps = block.seats.gaps(mean[None, :])[0]
        for number, gap in zip(block.places, gaps, strict=True):
            bracket = line.brackets[number]
            if bracket.low is None or bracket.high is None or not np.isfinite(bracket.high):
                continue
            height = float((run.rows(np.array([bracket.station / run.length])) @ mean)[0])
            low, high = sorted(
                height + run.towards * (bound - float(gap)) for bound in (bracket.low, bracket.high)
            )
            yield bracket.station, low, high


# --- tightening --------------------------------------------------------------------------------------------------


def tightening_picture(
    dossier: Dossier, setup: PassSetup, rounds: tuple[Round, ...], most: float
) -> TighteningPicture:
    """Return the gap against torque, simulated finely on the same draws as the card's rounds."""
    clamp = setup.clamp
    if clamp is None or clamp.gap is None:
        raise BadInput("this pass has no gap to pull to", where="--show")
    states, response = evenly(believed(dossier), clamp)
    shares = tuple(map(float, np.linspace(0.08, OVER, TORQUES)))
    made = tightening_card(dossier.head, states, clamp, response, rounds=shares)
    most_drawn = OVER * max((r.torque for r in rounds), default=1.0) + 1
    drawn = [r for r in made.rounds if r.torque <= most_drawn]
    return TighteningPicture(
        system=dossier.head.system,
        torques=tuple(r.torque for r in drawn),
        gap=Band(*zip(*(r.gap for r in drawn), strict=True)),
        rounds=rounds,
        stop_at=clamp.gap,
        most=most,
    )


def logged_picture(dossier: Dossier, logged: Logged) -> TighteningPicture:
    """Return the gap against torque of the card in hand as it is believed with the rounds logged, and the rounds."""
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


# --- the job -----------------------------------------------------------------------------------------------------


def as_it_came(dossier: Dossier) -> Dossier:
    """Return the dossier before its first pass and its first sanding."""
    return dossier_before(dossier.stretches[0], 1)


def passes_picture(dossier: Dossier) -> PassesPicture:
    """Return predicted and measured bow over the passes, and after a sanding that was measured."""
    head = dossier.head
    stages = [
        (str(len(stretch.earlier) + number) if number else _BEGUN[stretch.begun], _stage(stretch, number))
        for stretch in dossier.stretches
        for number in range(len(stretch.passes) + 1)
    ]
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
            for title, _, state, limit in lines_of(head)
        ),
    )


def _stage(stretch: Dossier, number: int) -> dict[str, tuple[Range | None, Range | None]]:
    """Return predicted and measured bow after a number of passes, each with what was known at that time."""
    then = stretch.after(number)
    belief: Belief | None = believed(then) if then.surveys[-1] is not None else None
    expected = None
    if number:
        before = dossier_before(stretch, len(stretch.earlier) + number)
        expected = foretold(before, stretch.passes[number - 1])
    return {
        state: (
            None if expected is None else range_of(expected.column(state), expected.weights),
            None if belief is None else range_of(belief.draws.states[:, INDEX[state]], belief.draws.weights),
        )
        for _, _, state, _ in lines_of(stretch.head)
    }


def used_picture(dossier: Dossier) -> SpotPicture:
    """Return the map of all places heated so far."""
    return SpotPicture(system=dossier.head.system, sketch=sketch_data(dossier), spots=())
