"""The guided session as a state machine: the entries of a head's book in, the next question or piece of work out.

Nothing is remembered outside the book, nothing is printed and no clock is read, so a session that ends at any moment
goes on where it stood. Answers are entries of kind "bench"; a part that is complete becomes the entry that the
command of that part would have written, and the answers before it are done with. "back" takes answers back up to
that entry.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from straighten.desk.bench_records import NAY, Answer, Ask, Facts, Script, Step
from straighten.desk.bench_steps import session
from straighten.desk.kept import tightening_of
from straighten.plan.stages import READ_AGAIN
from straighten.units import System

if TYPE_CHECKING:
    from straighten.book import Book, Entry
    from straighten.desk.dossier import Dossier

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
            a.key.startswith("heat/") and a.key.endswith(("/light", "/in")) and a.typed.strip().lower() != NAY
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
    return replace(fold, facts=_FACTS[entry.kind](fold.facts, entry), answers=())


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


def _surveyed(facts: Facts, entry: Entry) -> Facts:
    del entry
    return Facts(passes=facts.passes + (facts.stage is not None), measured=True)


def _staged(facts: Facts, entry: Entry) -> Facts:
    odd = facts.odd + 1 if entry.record["do"] == READ_AGAIN else 0
    return replace(facts, stage={**entry.record, "at": entry.at}, odd=odd)


def _passed(facts: Facts, entry: Entry) -> Facts:
    return Facts(passes=facts.passes + 1, measured=entry.record.get("readings") is not None)


def _planned(facts: Facts, entry: Entry) -> Facts:
    return replace(facts, plan=entry, rounds=None, verdict=None, withdrawn=False, stage=None, odd=0)


def _tightened(facts: Facts, entry: Entry) -> Facts:
    log = tightening_of(entry, facts.passes)
    if log is None or facts.plan is None:
        return facts
    return replace(facts, rounds=log.readings, verdict=None, withdrawn=False)


def _decided(facts: Facts, entry: Entry) -> Facts:
    return replace(facts, decision=entry)


def _closed(facts: Facts, entry: Entry) -> Facts:
    return replace(facts, closed=entry, plan=None)


_FACTS: dict[str, Callable[[Facts, Entry], Facts]] = {
    "survey": _surveyed,
    "pass": _passed,
    "plan": _planned,
    "tighten": _tightened,
    "stage": _staged,
    "decision": _decided,
    "sand": _closed,
    "finish": _closed,
}
