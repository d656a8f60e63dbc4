"""The guided session as a state machine: the entries of a book in, the next question or piece of work out.

Nothing is remembered outside the book, nothing is printed and no clock is read, so a session that ends at any moment
goes on where it stood. Answers are entries of kind "bench"; a part that is complete becomes the entry that the
command of that part would have written, and the answers before it are done with. "back" takes answers back up to
that entry.
"""

from __future__ import annotations

from collections.abc import Generator, Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import islice
from typing import TYPE_CHECKING, Any

from straighten.desk import bench_words as words
from straighten.desk.bench_pass import through_pass
from straighten.desk.bench_records import (
    NAY,
    STARTED,
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
from straighten.desk.kept import tightening_of
from straighten.errors import BadInput
from straighten.plan.stages import READ_AGAIN
from straighten.readings import Readings, dialogue
from straighten.readings.asked import Asked, asked_of
from straighten.units import System

if TYPE_CHECKING:
    from straighten.book import Book, Entry
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


_ANCHORS = ("survey", "pass", "plan", "tighten", "stage", "decision", "sand", "finish", "strike")


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where the session stands: the next step, the units shown first, and whether "back" has somewhere to go."""

    step: Step
    system: System
    can_go_back: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fold:
    """The entries so far: facts, answers that still count, units."""

    facts: Facts
    answers: tuple[Answer, ...]
    system: System

    @property
    def heating(self) -> bool:
        """Whether the flame or the oven has been on: from here to its log the pass stays the one in hand."""
        return self.facts.stage is not None or any(
            a.key.startswith("heat/")
            and a.key.endswith(("/light", "/in"))
            and a.typed.strip().lower() in STARTED
            for a in self.answers
        )


def standing(entries: Iterable[Entry], dossier: Dossier) -> Standing:
    """Return where the session stands."""
    fold = _Fold(facts=Facts(), answers=(), system=dossier.head.system)
    for entry in entries:
        fold = _after(fold, entry)
    step = _replayed(session(fold.facts, dossier, fold.system), fold.answers)
    can = bool(fold.answers) or bool(fold.facts.rounds)
    return Standing(step=step, system=fold.system, can_go_back=can)


def keep_answer(book: Book, dossier: Dossier, place: tuple[str, System], typed: str) -> Entry:
    """Enter an answer before anything else is asked.

    Raises:
        BookError: another session or command has recorded something meanwhile; nothing is kept.
    """
    key, system = place
    record = {"step": key, "typed": typed, "system": system}
    return book.append(dossier.name, "bench", record, after=dossier.last)


def keep_result(book: Book, dossier: Dossier, key: str, told: dict[str, Any]) -> Entry:
    """Enter what was computed for the session and is no entry of its own, so that a resumed one need not compute it."""
    return book.append(dossier.name, "bench", {"step": key, "told": told})


def _replayed(script: Script, answers: tuple[Answer, ...]) -> Step:
    """Play the answers into the script; one that belongs to no question asked (the head file changed) is left out."""
    try:
        asked: Ask = next(script)
        for answer in answers:
            if answer.key == asked.key:
                asked = script.send(answer)
    except StopIteration as end:
        step: Step = end.value
        return step
    return asked


def _after(fold: _Fold, entry: Entry) -> _Fold:
    if entry.kind == "bench":
        return fold if entry.struck_by is not None else _after_bench(fold, entry)
    if entry.kind not in _ANCHORS or (fold.heating and not _counts_in_heat(fold, entry)):
        return fold
    if entry.struck_by is not None or entry.kind == "strike":
        return replace(fold, answers=())
    return replace(fold, facts=_now(fold.facts, entry), answers=())


def _counts_in_heat(fold: _Fold, entry: Entry) -> bool:
    """Return whether an entry counts once the flame was on; a survey ends stages as a pass."""
    return entry.kind in ("pass", "stage") or (entry.kind == "survey" and fold.facts.stage is not None)


def _after_bench(fold: _Fold, entry: Entry) -> _Fold:
    record = entry.record
    key = str(record.get("step", ""))
    if "told" in record:
        name = "check" if key.startswith("check/") else "verdict"
        return replace(fold, facts=replace(fold.facts, **{name: record["told"]}))
    typed = str(record.get("typed", ""))
    word = typed.strip().lower()
    if word == "units":
        return replace(fold, system="mm" if fold.system == "inch" else "inch")
    if word == "back":
        return _back(fold, key)
    system: System = "inch" if record.get("system") == "inch" else "mm"
    return replace(fold, answers=(*fold.answers, Answer(key=key, typed=typed, at=entry.at, system=system)))


def _back(fold: _Fold, key: str) -> _Fold:
    """Take back what was typed at the question in hand and at the one before; with none left, the last round."""
    kept = _without_last(fold.answers, key)
    if kept:
        return replace(fold, answers=_without_last(kept, kept[-1].key))
    if fold.facts.rounds and fold.facts.plan is not None:
        return replace(fold, answers=(), facts=replace(fold.facts, withdrawn=True))
    return replace(fold, answers=())


def _without_last(answers: tuple[Answer, ...], key: str) -> tuple[Answer, ...]:
    while answers and answers[-1].key == key:
        answers = answers[:-1]
    return answers


def _now(facts: Facts, entry: Entry) -> Facts:
    """Return where the head stands after an entry of a command."""
    record = entry.record
    match entry.kind:
        case "survey":
            facts = Facts(passes=facts.passes + (facts.stage is not None), measured=True)
        case "pass":
            facts = Facts(passes=facts.passes + 1, measured=record.get("readings") is not None)
        case "plan":
            fresh = replace(facts, rounds=None, verdict=None, withdrawn=False, stage=None, odd=0)
            facts = replace(fresh, plan=entry)
        case "tighten":
            log = tightening_of(entry, facts.passes)
            if log is not None and facts.plan is not None:
                facts = replace(facts, rounds=log.readings, verdict=None, withdrawn=False)
        case "stage":
            odd = facts.odd + 1 if record["do"] == READ_AGAIN else 0
            facts = replace(facts, stage={**record, "at": entry.at}, odd=odd)
        case "decision":
            facts = replace(facts, decision=entry)
        case "sand" | "finish":
            facts = replace(facts, closed=entry, plan=None)
    return facts
