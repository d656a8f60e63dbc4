"""The guided session's pieces of work: each computes, enters what its own command would enter, and tells it as text."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from straighten.desk.bench import keep_result
from straighten.desk.checking import check_report
from straighten.desk.deciding import decision_report
from straighten.desk.finishing import against_closing, by_hand, finish_report
from straighten.desk.job import Job
from straighten.desk.logging import log_done
from straighten.desk.planning import plan_card
from straighten.desk.recording import record, record_card, record_survey
from straighten.desk.sanding import Asked as SandAsked
from straighten.desk.sanding import sand_report
from straighten.desk.staging import StageAsked, stage_done
from straighten.desk.tightening import record_rounds, tightening_report, with_its_load
from straighten.sheet.card import Card
from straighten.sheet.card_text import printed_text
from straighten.sheet.decision import decision_text
from straighten.sheet.logged import log_text, stage_text
from straighten.sheet.sanding import sanding_text
from straighten.sheet.tightening import tightening_text
from straighten.sheet.verdict import check_text, finish_text
from straighten.units import System

if TYPE_CHECKING:
    from straighten.book import Book
    from straighten.desk.bench_records import Work
    from straighten.desk.dossier import Dossier

TAKES = {
    "survey": "entering the readings",
    "check": "fitting the shape",
    "plan": "weighing the passes that could be made",
    "tighten": "playing the rounds through the draws",
    "read tightening": "playing the rounds through the draws",
    "stage": "carrying the draws through the stage",
    "pass": "learning from the pass",
    "decide": "weighing heat again, sand now, hand it on",
    "strokes": "planning the strokes",
    "stretch": "learning from the strokes",
    "list": "drawing up the final list",
    "close": "closing the head",
}


TAKEN_BACK = (
    "survey",
    "stage",
    "pass",
    "strokes",
    "stretch",
    "list",
    "close",
)  # deeds that an answer alone leads to


def perform(book: Book, dossier: Dossier, work: Work, at: tuple[datetime, System]) -> str:
    """Do a piece of work, enter it, and return it as text; done twice after a power cut, it is entered once.

    Raises:
        NoPlan: no set-up keeps the limits.
        BookError: the book cannot take it; nothing is recorded.
    """
    return _DEEDS[work.deed](book, dossier, work, at)


_At = tuple["datetime", "System"]
_TOLD = (
    "verdict",
    "reason",
    "decided_by",
    "direction",
    "findings",
    "go_on",
    "command",
)  # what the session keeps


def _survey(book: Book, dossier: Dossier, work: Work, at: _At) -> str:
    del at
    assert work.readings is not None  # noqa: S101 - the session asked for them
    entry = record_survey(book, dossier, work.readings)
    return f"Survey with {work.readings.count} readings kept as entry {entry.number}."


def _check(book: Book, dossier: Dossier, work: Work, at: _At) -> str:
    report = replace(check_report(Job(dossier)), system=at[1])
    plain = report.to_plain()
    told = {key: plain[key] for key in _TOLD}
    keep_result(book, dossier, work.key, told | {"forbidden": bool(report.judgement["forbidden"])})
    return check_text(report)


def _plan(book: Book, dossier: Dossier, work: Work, at: _At) -> str:
    now, system = at
    planned = plan_card(Job(dossier), now, because=work.because)
    record_card(book, dossier, planned)
    printed = planned.printed
    if isinstance(printed, Card):
        return printed_text(replace(printed, system=system))
    # Only where the head file was changed since the check: what it said then no longer holds.
    told = {"direction": "", "forbidden": bool(printed.judgement.get("forbidden")), **printed.to_plain()}
    told["command"] = str(printed.judgement.get("command", ""))
    keep_result(book, dossier, f"check/{len(dossier.passes)}", told)
    return printed_text(printed)


def _tighten(book: Book, dossier: Dossier, work: Work, at: _At) -> str:
    laid = None if work.setup is None else work.setup.clamp
    logged = replace(with_its_load(dossier, work.rounds), laid=laid)
    with book.together():
        if work.deed == "tighten":
            report = record_rounds(book, dossier, logged)
        else:
            report = tightening_report(dossier, logged)
        told = {"verdict": report.verdict, "words": report.words, "next_torque_Nm": report.next_torque}
        keep_result(book, dossier, work.key, told)
    return tightening_text(replace(report, system=at[1]))


def _pass(book: Book, dossier: Dossier, work: Work, at: _At) -> str:
    assert work.setup is not None  # noqa: S101 - the session led through it
    return log_text(replace(log_done(book, dossier, work.setup, work.readings), system=at[1]))


def _stage(book: Book, dossier: Dossier, work: Work, at: _At) -> str:
    system, _, typed = work.typed.partition(":")
    asked = StageAsked(
        gaps={"middle": typed} if typed else {},
        system="inch" if system == "inch" else "mm",
        heated=work.setup,
        skip=work.setup is None and not work.again,
        again=work.again,
    )
    return stage_text(replace(stage_done(book, dossier, asked), system=at[1]))


def _decide(book: Book, dossier: Dossier, work: Work, at: _At) -> str:
    del work
    report = decision_report(Job(dossier))
    record(book, dossier, "decision", report.to_plain())
    return decision_text(replace(report, system=at[1]))


_STROKES = ("state", "sentence", "runs", "next_strokes", "next_grit", "do", "cautions", "method")


def _strokes(book: Book, dossier: Dossier, work: Work, at: _At) -> str:
    report = sand_report(book, Job(dossier), SandAsked(because=work.because))
    plain = report.to_plain()
    keep_result(book, dossier, work.key, {key: plain[key] for key in _STROKES} | {"because": work.because})
    return sanding_text(replace(report, system=at[1]))


def _stretch(book: Book, dossier: Dossier, work: Work, at: _At) -> str:
    asked = SandAsked(typed=dict(work.answers or {}), because=work.because)
    return sanding_text(replace(sand_report(book, Job(dossier), asked), system=at[1]), short=True)


def _list(book: Book, dossier: Dossier, work: Work, at: _At) -> str:
    job, answers = Job(dossier), dict(work.answers or {})
    report = finish_report(book, job, answers)
    asked = by_hand(report if not answers else finish_report(book, job, {}))
    told = {
        "asked": [[line.key, line.title, line.reach] for line in asked],
        "answers": answers,
        "refused": against_closing(report, job.judgement),
    }
    keep_result(book, dossier, work.key, told)
    return finish_text(replace(report, system=at[1]), short=bool(answers))


def _close(book: Book, dossier: Dossier, work: Work, at: _At) -> str:
    answers = dict(work.answers or {})
    report = finish_report(book, Job(dossier), answers, close=True, because=work.because)
    return finish_text(replace(report, system=at[1]))


_DEEDS: dict[str, Callable[[Book, Dossier, Work, _At], str]] = {
    "survey": _survey,
    "check": _check,
    "plan": _plan,
    "tighten": _tighten,
    "read tightening": _tighten,
    "stage": _stage,
    "pass": _pass,
    "decide": _decide,
    "strokes": _strokes,
    "stretch": _stretch,
    "list": _list,
    "close": _close,
}
