"""The guided session's way through a job, part by part: measure, check, plan, tighten, heat, cool, measure, decide."""

from __future__ import annotations

from collections.abc import Generator, Mapping
from dataclasses import replace
from itertools import islice
from typing import TYPE_CHECKING, Any

from straighten.desk import bench_words as words
from straighten.desk.bench_pass import through_pass
from straighten.desk.bench_records import (
    NAY,
    Answer,
    Ask,
    Facts,
    Script,
    Step,
    Work,
    agreed,
    confirmed,
    reasoned,
)
from straighten.errors import BadInput
from straighten.readings import Readings, dialogue
from straighten.readings.asked import Asked, asked_of
from straighten.units import System

if TYPE_CHECKING:
    from straighten.desk.dossier import Dossier
    from straighten.head.records import Head
    from straighten.readings.dialogue import Dialogue


def session(facts: Facts, dossier: Dossier, system: System) -> Script:
    """Ask for what is missing from where the head stands; end in the next piece of work or the last question."""
    if facts.plan is not None:
        from straighten.desk.job import Job

        if forbidden := Job(dossier).forbidden_to_clamp:
            return words.left(forbidden[0].told, f"straighten check {dossier.name}", key="never")
        return (yield from _in_pass(facts, dossier, system))
    if facts.closed is not None:
        return words.left("sanding has begun", f"straighten sand {dossier.name}")
    if not facts.measured:
        readings = yield from measured(dossier.head, facts.passes)
        return Work(deed="survey", readings=readings)
    return (yield from _between_passes(facts, dossier))


def _in_pass(facts: Facts, dossier: Dossier, system: System) -> Script:
    setup = yield from through_pass(facts, dossier, system)
    if isinstance(setup, Work):
        return setup
    readings = yield from measured(dossier.head, facts.passes + 1)
    if dossier.reads_as_before(readings):
        yield from agreed(words.all_as_before(facts.passes + 1))
    return Work(deed="pass", setup=setup, readings=readings)


def _between_passes(facts: Facts, dossier: Dossier) -> Script:
    if facts.passes and facts.decision is None:
        return Work(deed="decide")
    if facts.decision is not None:
        leaving = yield from _decided(facts, dossier)
        if leaving is not None:
            return leaving
    if facts.check is None:
        return Work(deed="check", key=f"check/{facts.passes}")
    return (yield from _checked(facts, dossier))


def measured(head: Head, stage: int) -> Generator[Ask, Answer, Readings]:
    """Walk through the stations and return the readings once the person keeps them."""
    walk, echo = dialogue.begin(head), ""
    while True:
        while (asked := _asked(walk)) is not None:
            given = yield words.station(walk, asked, (stage, echo))
            walk, echo = dialogue.answer(walk, "" if given.typed.strip().lower() == NAY else given.typed)
        readings, fault = _finished(walk)
        given = yield words.survey_end(readings, fault, (stage, echo))
        if readings is not None and confirmed(given):
            return readings
        echo = "Enter keeps them; back goes to the last question."


def _asked(walk: Dialogue) -> Asked | None:
    if dialogue.question(walk) is None:
        return None
    given = {one.key: one.value for one in walk.given}
    return next(islice(asked_of(walk.head, given, walk.system), len(walk.given), None))


def _finished(walk: Dialogue) -> tuple[Readings | None, str]:
    try:
        readings = dialogue.finish(walk)
    except BadInput as fault:
        return None, str(fault)
    return (readings, "") if readings.tells_something else (None, "Nothing was read.")


def _checked(facts: Facts, dossier: Dossier) -> Script:
    """Go on to the plan where the verdict allows it, else only with a reason; a crack or magnesium ends it."""
    assert facts.check is not None  # noqa: S101 - the caller has looked
    if facts.check.get("forbidden"):
        return words.left(
            str(facts.check["reason"]),
            "nothing; it is not clamped, heated or sanded",
            key=f"check/{facts.passes}/never",
        )
    go = facts.check["verdict"] == "straighten"
    past = _past(facts.check, "on")
    ask = words.check(facts.check, facts.passes, go=go, going_on=past is not None)
    left = words.left(
        "left at the check", str(facts.check.get("command", f"straighten check {dossier.name}"))
    )
    step = yield from _go_on(ask, left, (facts, dossier), go=go, past=past)
    return Work(deed="plan") if step is None else step


def _decided(facts: Facts, dossier: Dossier) -> Generator[Ask, Answer, Step | None]:
    """Go on to the next pass where the decision says so, else only past advice and with a reason."""
    assert facts.decision is not None  # noqa: S101 - the caller has looked
    record = facts.decision.record
    again, past = record["choice"] == "heat again", _past(record, "heat")
    ask = words.decision(record, facts.passes, again=again, going_on=past is not None)
    left = words.left(str(record["choice"]), str(record.get("command", f"straighten decide {dossier.name}")))
    return (yield from _go_on(ask, left, (facts, dossier), go=again, past=past))


def _past(told: Mapping[str, Any], word: str) -> tuple[str, str] | None:
    """Return the word that goes past the advice, with the advice, where a reason opens the way to a plan."""
    opens = str(told.get("go_on", "")).startswith("straighten plan")
    return (word, str(told["reason"])) if opens else None


def _go_on(
    ask: Ask, left: Ask, where: tuple[Facts, Dossier], *, go: bool, past: tuple[str, str] | None
) -> Generator[Ask, Answer, Step | None]:
    """Ask until the person goes on (None), leaves, measures again, or goes past the advice with a reason."""
    facts, dossier = where
    while True:
        given = yield ask
        word = given.typed.strip().lower()
        if word == "measure":
            return Work(deed="survey", readings=(yield from measured(dossier.head, facts.passes)))
        if go and confirmed(given):
            return None
        if not go and not word:
            return left
        if past and word == past[0]:
            key = ask.key.rpartition("/")[0]
            why = yield from reasoned(words.reason(f"{key}/reason", ask.part, past[1]))
            return Work(deed="plan", because=why)
        ask = replace(ask, echo=f"{given.typed.strip()[:40]!r} is not among: {ask.hint}")
