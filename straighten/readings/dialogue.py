"""Walk a person through a survey in bench order: the next question, and what was understood of the answer.

A pure state machine: `question` names what is to be asked, `answer` takes what was typed and says what it was taken
for, `finish` gives the readings. All of a part may be typed at once: a line's gaps behind how the edge sits, the intake, hardness, heights. "back" goes back one question, "done" leaves the rest blank, an empty answer is a
blank. Nothing is printed and nothing is asked here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from straighten.errors import BadInput, located
from straighten.head.records import Head
from straighten.readings.asked import Asked, Understood, asked_of, several_in, understand
from straighten.readings.records import DIAGONALS, Readings
from straighten.units import System

_FIRST = ("hardness/exhaust", "heights/front_exhaust")  # left blank, the others of their part are blank too
# Known of the survey before: leaving out the first leaves out the second again.
BOTH_LEFT_OUT = "both diagonals"
_DIAGONALS = tuple(f"deck:{name}" for name in DIAGONALS)
_YES = ("y", "yes", "ja", "ok")


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What to ask: `prompt` in one line, `hint` what may be typed, `number` of its part and how many parts there are.

    A line with all its places is one part, so the count does not grow with what is answered.
    """

    prompt: str
    hint: str
    number: int
    known: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialogue:
    """Where the walk stands: the head, the answers so far, a reading proposed but not yet agreed to.

    `known` the units and the keys that an earlier survey has answered: they are not asked again; `BOTH_LEFT_OUT` among
    them where it read neither diagonal.
    """

    head: Head
    known: tuple[System, frozenset[str]] | None = None
    given: tuple[Understood, ...] = ()
    proposed: str = ""
    ended: bool = False

    @property
    def system(self) -> System:
        """Unit system that was chosen; the survey's before, or the head's own, until then."""
        usual = self.head.system if self.known is None else self.known[0]
        chosen = next((g.value for g in self.given if g.key == "units"), usual)
        return "inch" if chosen == "inch" else "mm"


def question(dialogue: Dialogue) -> Question | None:
    """Return the next question; None when everything has been asked."""
    asked = due(dialogue)
    if asked is None:
        return None
    parts = list(dict.fromkeys(_part(one) for one in _all(dialogue)))
    number = parts.index(_part(asked)) + 1
    return Question(prompt=asked.prompt, hint=asked.hint, number=number, known=len(parts))


def answer(dialogue: Dialogue, typed: str) -> tuple[Dialogue, str]:
    """Return the walk after an answer, and what was understood or why it was not; "yes" takes a proposal."""
    asked = due(dialogue)
    word = typed.strip().lower()
    if word == "back":
        return _back(dialogue)
    if asked is None or word == "done":
        return replace(dialogue, ended=True, proposed=""), "The rest is left blank."
    if dialogue.proposed and word in _YES:
        typed = dialogue.proposed
    try:
        found = understand(asked, typed, dialogue.head, dialogue.system)
    except BadInput as fault:
        several = several_in(asked, typed)
        if len(several) > 1:
            return _at_once(dialogue, asked, several)
        return _challenged(dialogue, asked, typed, fault)
    if found.value == "" and asked.key in _FIRST:
        return _rest_blank(replace(dialogue, proposed=""), asked), "none read"
    walk = replace(dialogue, given=(*dialogue.given, found), proposed="")
    both = asked.key == f"{_DIAGONALS[0]}/mode" and len(_all(walk)) < len(_all(dialogue))
    return walk, "both diagonals left out, as in the survey before" if both else found.echo


def finish(dialogue: Dialogue) -> Readings:
    """Return the readings of a walk, through the same checks as a file.

    Raises:
        BadInput: the readings together make no sense, or all was left blank.
    """
    from straighten.filecheck import checked
    from straighten.readings.file import SurveyFile
    from straighten.readings.survey import readings_of

    file = checked(SurveyFile, _tables(dialogue), where="typed in", system=dialogue.system)
    with located("typed in"):
        return readings_of(file, dialogue.head, dialogue.system, "typed in")


def _part(asked: Asked) -> str:
    """Return what a question belongs to: its line, the intake, hardness, heights, or itself."""
    return asked.key.rpartition("/")[0] or asked.key


def _at_once(dialogue: Dialogue, asked: Asked, typed: tuple[str, ...]) -> tuple[Dialogue, str]:
    """Return the walk after several answers to one line; all of them count, or none."""
    walk, told = dialogue, []
    ends = typed[-1].lower() == "done"
    for number, one in enumerate(typed[:-1] if ends else typed, start=1):
        now = due(walk)
        if now is None or _part(now) != _part(asked):
            due_here = f"{number - 1} are due here. Type the line again."
            return dialogue, f"{len(typed)} answers were typed, {due_here}"
        try:
            found = understand(now, one, walk.head, walk.system)
        except BadInput as fault:
            return dialogue, f"answer {number}, {one!r}: {fault.problem}. {fault.fix} Type the line again."
        walk = replace(walk, given=(*walk.given, found), proposed="")
        told.append(found.echo)
    now = due(walk)
    if asked.kind in ("hardness", "height") and now is not None and _part(now) == _part(asked):
        walk, told = _rest_blank(walk, now), [*told, "the others blank"]
    return replace(walk, ended=ends), "; ".join([*told, "the rest is left blank"] if ends else told)


def _rest_blank(walk: Dialogue, asked: Asked) -> Dialogue:
    """Return the walk with a question and those after it in its part left blank."""
    part = [one.key for one in _all(walk) if _part(one) == _part(asked)]
    keys = part[part.index(asked.key) :]
    blanks = tuple(Understood(key=key, value="", echo="blank") for key in keys)
    return replace(walk, given=(*walk.given, *blanks))


def _all(dialogue: Dialogue) -> list[Asked]:
    told = {g.key: g.value for g in dialogue.given}
    known = frozenset() if dialogue.known is None else dialogue.known[1]
    if BOTH_LEFT_OUT in known and told.get(f"{_DIAGONALS[0]}/mode") == "skip":
        known = known | {f"{_DIAGONALS[1]}/mode"}
    return [one for one in asked_of(dialogue.head, told, dialogue.system) if one.key not in known]


def due(dialogue: Dialogue) -> Asked | None:
    """Return the next question with its key and kind; None when everything has been asked."""
    if dialogue.ended:
        return None
    every = _all(dialogue)
    return every[len(dialogue.given)] if len(dialogue.given) < len(every) else None


def _back(dialogue: Dialogue) -> tuple[Dialogue, str]:
    if not dialogue.given:
        return replace(dialogue, proposed=""), "This is the first question."
    kept = replace(dialogue, given=dialogue.given[:-1], proposed="", ended=False)
    return kept, "Back one: answer it again."


def _challenged(dialogue: Dialogue, asked: Asked, typed: str, fault: BadInput) -> tuple[Dialogue, str]:
    likely = asked.likely(typed, dialogue.head, dialogue.system)
    fix = f"Did you mean {likely}? (yes, or type it again)" if likely else fault.fix
    return replace(dialogue, proposed=likely), f"{fault.problem}. {fix}".strip()


def _tables(dialogue: Dialogue) -> dict[str, Any]:
    """Return the tables of a survey file from the answers."""
    tables: dict[str, Any] = {"units": dialogue.system, "intake": {}, "heights": {}}
    tables |= {"deck": [], "cam": [], "hardness": []}
    lines: dict[str, dict[str, Any]] = {}
    for given in dialogue.given:
        place, _, key = given.key.partition("/")
        blank = given.value == "" and not key.startswith("at ")
        if blank or given.key == "units":
            continue
        if place in ("intake", "heights"):
            tables[place][key] = given.value
        elif place == "hardness":
            tables["hardness"].append({"place": "deck", "side": key, "value": given.value})
        else:
            _into_line(lines, place, key, given.value)
    for title, line in lines.items():
        part, _, name = title.partition(":")
        if "mode" in line:
            tables[part].append({"line": name, **line})
    return tables


def _into_line(lines: dict[str, dict[str, Any]], title: str, key: str, value: object) -> None:
    line = lines.setdefault(title, {"readings": []})
    if key.startswith("at "):
        line["readings"].append({"station": f"{float(key[3:]) * 1e3:.3f} mm", "gap": value})
    elif value != "skip":
        line[key] = value
