"""After a pass: what was done and measured goes into the book, and what it taught is told."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from straighten.belief.learn import Belief
from straighten.belief.pooling import taught
from straighten.belief.surprise import surprises
from straighten.book import Book, Outcome
from straighten.desk.dossier import Dossier, heat_source
from straighten.desk.job import believed, foretold
from straighten.desk.kept import all_done, card_in_hand, closed_stages, record_pass
from straighten.desk.setup_file import done_of, setup_file
from straighten.desk.words import broken_limits, pulled_too_hard
from straighten.errors import BadInput, counted
from straighten.filecheck import load_text, parse_toml, system_of
from straighten.head.records import Head
from straighten.plan.forecast import Forecast
from straighten.plan.records import PassSetup, setup_from_plain, setup_to_plain
from straighten.quantiles import tenths
from straighten.readings import Readings, from_plain, read_survey, to_plain
from straighten.readings.text import as_seen
from straighten.shape.modes import INDEX
from straighten.shape.suspects import examine
from straighten.sheet.logged import FactorChange, LineChange, LogReport


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

    Args:
        book: the shop's book.
        dossier: the head before the entry.
        survey: readings after the pass, or None.
        done: set-up file of what was done, or None for the last card's.
        read_again: the person says that readings which look like those before the pass were taken after it.

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
    if not dossier.measured:
        return ()
    draws = believed(dossier).draws
    return pulled_too_hard(dossier.head, (draws.weights @ draws.states)[None], setup)


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
