"""What was done goes into the book, and what it taught is told: round by round of a tightening, and the whole pass.

Rounds that cannot be, or that belong to no card, are refused with `BadInput`, a head that must not be clamped with
`NoPlan`; nothing is recorded then.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Annotated, Any

import numpy as np
from pydantic import Field

from straighten.belief.blades import TighteningLog, with_tightenings
from straighten.belief.learn import Belief, surprises
from straighten.belief.pooling import taught
from straighten.book import Book, Outcome
from straighten.clamp import ClampSetup, clamp_head
from straighten.clamp.tightening_log import Reading, Weighed, check_log, next_step, replay
from straighten.desk.dossier import Dossier, heat_source
from straighten.desk.job import Job, believed, foretold
from straighten.desk.kept import (
    all_done,
    card_in_hand,
    closed_stages,
    record,
    record_pass,
    tightening_to_plain,
)
from straighten.desk.setup_file import done_of, setup_file
from straighten.desk.words import AFTER_OVERLOAD, broken_limits, overloads
from straighten.errors import BadInput, NoPlan, OutsideModel, counted, located
from straighten.filecheck import Force, Gap, Table, Torque, checked, load_text, parse_toml, system_of
from straighten.head.records import Head
from straighten.heat import nominal
from straighten.plan.forecast import Forecast
from straighten.plan.records import PassSetup, setup_from_plain, setup_to_plain
from straighten.quantiles import tenths
from straighten.readings import Readings, from_plain, read_survey, to_plain
from straighten.readings.text import as_seen
from straighten.shape.modes import INDEX
from straighten.shape.suspects import examine
from straighten.sheet.learned import FactorChange, LineChange, LogReport
from straighten.sheet.plain import Triple
from straighten.sheet.setups import StepLine, TighteningReport


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """A tightening as far as it is logged.

    `rounds`, and the `load` where one was weighed after one of them; `laid` the clamp where it was laid otherwise than on the card.
    """

    rounds: tuple[Reading, ...] = ()
    load: Weighed | None = None
    laid: ClampSetup | None = None


class RoundTable(Table):
    """One round: torque of every bolt, blades in the middle."""

    torque: Torque
    goes: Gap = 0.0
    stops: Gap | None = None


class TighteningFile(Table):
    """A tightening log as a file."""

    units: str = "mm"
    load: Force | None = None
    load_doubt: Force | None = None
    rounds: Annotated[list[RoundTable], Field(max_length=100)]


def read_log(path: Path, dossier: Dossier) -> Logged:
    """Return the rounds of a tightening file and the load weighed after the last of them, if any."""
    where = str(path)
    data = parse_toml(load_text(path), where)
    file = checked(TighteningFile, data, where=where, system=system_of(data, where, dossier.head.system))
    rounds = tuple(Reading(torque=r.torque, goes=r.goes, does_not=r.stops) for r in file.rounds)
    if not rounds:
        raise BadInput(
            "no round in it", where=where, fix="One [[rounds]] table a round: torque, goes, stops."
        )
    with located(where):
        check_log(rounds, dossier.head.system)
    return Logged(rounds=rounds, load=_load_of(file, where))


def _load_of(file: TighteningFile, where: str) -> Weighed | None:
    if file.load is None:
        return None
    doubt = 0.1 * file.load if file.load_doubt is None else file.load_doubt
    if not (file.load > 0 and doubt > 0):
        raise BadInput("a load and its doubt are more than nothing", where=f"{where}: load")
    return Weighed(load=file.load, doubt=doubt, after=len(file.rounds))


def planned_setup(dossier: Dossier) -> PassSetup:
    """Return the set-up of the card in hand."""
    entry = card_in_hand(dossier, "tighten", "what is being tightened is not known")
    return setup_from_plain(entry.record["setup"])


def _set_up(dossier: Dossier, logged: Logged) -> PassSetup:
    card = planned_setup(dossier)
    return card if logged.laid is None else replace(card, clamp=logged.laid)


def tightening_report(dossier: Dossier, logged: Logged) -> TighteningReport:
    """Return what to do next in a tightening, and what the rounds so far have taught."""
    if forbidden := Job(dossier).forbidden_to_clamp:
        raise NoPlan(forbidden[0].told, where=dossier.name)
    setup = _set_up(dossier, logged)
    clamp, head = setup.clamp, dossier.head
    if clamp is None:
        raise BadInput("the last card has no clamp", where="tighten")
    rounds = logged.rounds
    before = believed(replace(dossier, tightenings=earlier(dossier)))
    log = TighteningLog(stage=len(dossier.passes), setup=clamp, readings=rounds, load=logged.load)
    after = with_tightenings(head, before, (log,))
    played = replay(head, before.history[-1], clamp, before.draws.response, rounds)
    step = next_step(head, clamp, played, rounds, before.draws.weights)
    product = before.draws.response.stiffness * before.draws.response.friction
    usual = float(before.draws.weights @ product)
    return TighteningReport(
        name=dossier.name,
        system=head.system,
        verdict=step.verdict,
        words=step.words,
        next_torque=step.torque,
        closing=step.closing,
        steps=tuple(
            StepLine(
                torque=r.torque,
                goes=r.goes,
                stops=r.does_not,
                believed=tenths(played.gap[:, k], after.draws.weights),
            )
            for k, r in enumerate(rounds)
        ),
        ratio=tenths(product / usual, after.draws.weights),
        stiffness=tenths(after.draws.response.stiffness, after.draws.weights),
        friction=tenths(after.draws.response.friction, after.draws.weights),
        parted=logged.load is not None,
        deck_before=_deck_after(dossier, before, setup),
        deck_after=_deck_after(dossier, after, setup),
    )


def record_rounds(book: Book, dossier: Dossier, logged: Logged) -> TighteningReport:
    """Enter the rounds so far and return what they say."""
    report = tightening_report(dossier, logged)
    plain = tightening_to_plain(_set_up(dossier, logged), logged.rounds, logged.load)
    record(book, dossier, "tighten", plain)
    return report


def _deck_after(dossier: Dossier, belief: Belief, setup: PassSetup) -> Triple:
    after = foretold(dossier, setup, belief)
    return tenths(after.column("deck_bow"), after.weights)


def earlier(dossier: Dossier) -> tuple[TighteningLog, ...]:
    """Return the tightening logs of the passes before the one in hand."""
    return dossier.after(len(dossier.passes)).tightenings


def logged_so_far(dossier: Dossier) -> Logged:
    """Return what is already logged for the card in hand, so that a log can be typed in piece by piece.

    A card with other shims, bolts or gap begins a log of its own: the rounds of the one before say nothing of this gap.
    """
    latest = dossier.tightenings[-1] if dossier.tightenings else None
    if dossier.stages:  # slackened for the gap: the rounds begin anew
        latest = dossier.retightened
    if latest is None or latest.stage != len(dossier.passes) or dossier.planned is None:
        return Logged()
    clamp = planned_setup(dossier).clamp
    if clamp is None or not same_clamp(clamp, latest.setup):
        return Logged()
    return Logged(rounds=latest.readings, load=latest.load)


def same_clamp(one: ClampSetup, other: ClampSetup) -> bool:
    """Return whether two clamps are the same but for the rounding of the book."""
    first, second = ((*setup.shims, setup.gap or 0.0, setup.tension or 0.0) for setup in (one, other))
    return (
        one.bolts == other.bolts
        and one.reverse == other.reverse
        and bool(np.allclose(first, second, atol=1e-6))
    )


def with_its_load(dossier: Dossier, rounds: tuple[Reading, ...]) -> Logged:
    """Return rounds of the card in hand with the load that the book knows of them; one round taken back takes its own."""
    known = logged_so_far(dossier)
    after = 0 if known.load is None else known.load.after
    same = [r.torque for r in rounds[:after]] == [r.torque for r in known.rounds[:after]]
    return Logged(rounds=rounds, load=known.load if same else None)


# --- the pass ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Learned:
    """Belief before and after the pass, with the forecast of the first."""

    before: Belief
    expected: Forecast
    after: Belief


def log_pass(
    book: Book, dossier: Dossier, survey: Path | None, done: Path | None, *, read_again: bool = False
) -> LogReport:
    """Record a pass and return what it taught.

    `survey` the readings after it, if any; `done` the set-up file of what was done, None for the last card's; `read_again`
    the person says that readings which look like those before the pass were taken after it.

    Raises:
        BadInput: a file makes no sense, there is no card to take the set-up from, or the readings look like those before
            the pass; nothing is recorded.
    """
    setup, taken = _what_was_done(dossier, done)
    readings = None if survey is None else read_survey(survey, dossier.head)
    if readings is not None and not read_again and (doubt := _not_after(dossier, readings)):
        raise BadInput(
            doubt,
            where=str(survey),
            fix="Give the survey after the pass; were these really read after it, add --read-again.",
        )
    return log_done(book, dossier, setup, readings, taken=taken)


def log_done(
    book: Book, dossier: Dossier, setup: PassSetup, readings: Readings | None, *, taken: tuple[str, ...] = ()
) -> LogReport:
    """Record a pass as it was done, with the readings after it or None, and return what it taught.

    What broke a limit is recorded as well, said plainly, and not learned from. `taken` says what was not told and stands
    as on the card.
    """
    setup = setup_from_plain(setup_to_plain(setup))  # as the book will tell it: it is learned from once
    readings = None if readings is None else from_plain(to_plain(readings))
    shaped = readings if readings is not None and readings.count else None
    broke = (*broken_limits(dossier.head, setup), *_pulled_too_hard(dossier, setup))
    learned = None if broke else _learned(dossier, setup, shaped)
    outcome = None if learned is None else _outcome(dossier, learned, shaped)
    entry = record_pass(book, dossier, setup, readings, outcome, broke)
    report = LogReport(
        name=dossier.name,
        system=dossier.head.system,
        pass_number=dossier.passes_done + 1,
        entry=entry.number,
        measured=(readings if broke else shaped) is not None,
        taken=taken,
        broke=broke,
        as_seen=() if shaped is None else as_seen(shaped, dossier.head.system),
    )
    return report if learned is None else _with_lessons(report, learned, _surprises(dossier, learned, shaped))


def _pulled_too_hard(dossier: Dossier, setup: PassSetup) -> tuple[str, ...]:
    """Return what a pull to a gap loaded past what it may bear, in the middle of what is believed; `broken_limits` holds a torque."""
    if not dossier.measured or setup.clamp is None or setup.clamp.tension is not None:
        return ()
    draws = believed(dossier).draws
    try:
        clamped = clamp_head(dossier.head, (draws.weights @ draws.states)[None], setup.clamp, nominal())
    except OutsideModel:
        return ()
    return tuple(f"The pull had {told} {AFTER_OVERLOAD}." for told in overloads(dossier.head, clamped, setup))


def _with_lessons(report: LogReport, learned: _Learned, surprising: tuple[str, ...]) -> LogReport:
    before, after = learned.before.factors, learned.after.factors
    return replace(
        report,
        lines=_lines(learned),
        factors={name: FactorChange(before=before[name], after=after[name]) for name in after},
        effective=learned.after.effective,
        flags=(*surprising, *learned.after.caveats),
    )


def _not_after(dossier: Dossier, readings: Readings) -> str:
    """Say why readings do not look as if taken after the pass, or nothing; a pass that did nothing would be learned from."""
    if dossier.reads_as_before(readings):
        return "every reading equals the survey before the pass"
    card = None if dossier.planned is None else dossier.planned.at[:10]
    if card is not None and _is_day(readings.date[:10]) and readings.date[:10] < card:
        return f"the survey is dated {readings.date[:10]}, before the card of {card}"
    return ""


def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _what_was_done(dossier: Dossier, done: Path | None) -> tuple[PassSetup, tuple[str, ...]]:
    """Return what was done, and in words what was left out and is taken as on the card."""
    if done is not None:
        card = None if dossier.planned is None else setup_from_plain(dossier.planned.record["setup"])
        return read_done(done, dossier.head, card)
    if dossier.stages:
        heated = sum(1 for log in dossier.stages if log.done.spots)
        return all_done(dossier.stages), (
            f"what was done was taken from the {counted(heated, 'stage')} logged",
        )
    entry = card_in_hand(
        dossier, "log", "what was done is not known", "; or give what was done with --done SETUP.toml."
    )
    return setup_from_plain(entry.record["setup"]), ("what was done was not told: as on the card",)


def read_done(path: Path, head: Head, planned: PassSetup | None) -> tuple[PassSetup, tuple[str, ...]]:
    """Return what a file tells was done, see `done_of`."""
    return done_told(parse_toml(load_text(path), str(path)), str(path), head, planned)


def done_told(
    data: dict[str, Any], where: str, head: Head, planned: PassSetup | None
) -> tuple[PassSetup, tuple[str, ...]]:
    """Return what the tables of a set-up file tell was done, see `done_of`."""
    file = setup_file(data, where=where, system=system_of(data, where, head.system), planned=planned)
    return done_of(file, head, where, planned)


def _learned(dossier: Dossier, setup: PassSetup, readings: Readings | None) -> _Learned:
    before = believed(replace(dossier, stages=()))
    expected = foretold(dossier, setup, before)
    then = closed_stages(dossier)
    after = believed(replace(then, surveys=(*then.surveys, readings), passes=(*then.passes, setup)))
    return _Learned(before=before, expected=expected, after=after)


def _surprises(dossier: Dossier, learned: _Learned, readings: Readings | None) -> tuple[str, ...]:
    """Return what the belief before the pass did not think possible, held against the readings alone."""
    if readings is None:
        return ()
    seen = examine(readings, dossier.head).posterior
    card = learned.expected
    return surprises(
        (card.before, card.after, card.weights), (seen.mean, seen.covariance), dossier.head.system
    )


def _lines(learned: _Learned) -> tuple[LineChange, ...]:
    before, after = learned.before.draws, learned.after.draws
    return tuple(
        LineChange(
            line=line,
            before=tenths(before.states[:, INDEX[name]], before.weights),
            expected=tenths(learned.expected.column(name), learned.expected.weights),
            now=tenths(after.states[:, INDEX[name]], after.weights),
        )
        for line, name in (("deck", "deck_bow"), ("cam line", "cam_bow"))
    )


def _outcome(dossier: Dossier, learned: _Learned, readings: Readings | None) -> dict[str, Any] | None:
    """Return what the pass taught in the form that is pooled over heads; factors as mean and sd of the logs."""
    if readings is None:
        return None
    deck = _lines(learned)[0]
    return Outcome(
        alloy_family=dossier.head.alloy.family,
        heat_source=heat_source(dossier.head),
        pass_number=dossier.passes_done + 1,
        predicted_set_mm=1e3 * (deck.before[1] - deck.expected[1]),
        measured_set_mm=1e3 * (deck.before[1] - deck.now[1]),
        factors=taught(learned.after.draws, learned.after.priors),
    ).to_plain()
