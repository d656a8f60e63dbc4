"""The guided session after the heat: stretch by stretch over the paper, then the final list until the head is closed."""

from __future__ import annotations

import re
from collections.abc import Callable, Generator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from straighten.desk import bench_end_words as words
from straighten.desk.bench_records import (
    NAY,
    Answer,
    Ask,
    Facts,
    Script,
    Work,
    agreed,
    confirmed,
    done_or_skipped,
    read_as,
    reasoned,
)
from straighten.desk.bench_survey import measured
from straighten.desk.bench_words import left, reason
from straighten.errors import BadInput
from straighten.readings.records import DIAGONALS, LONG_LINES

if TYPE_CHECKING:
    from straighten.desk.dossier import Dossier

STROKES: Final = Work(deed="strokes", key="sand/plan")
LIST: Final = Work(deed="list", key="final/list", answers={})

_RUN: Final = re.compile(
    r"(?P<strokes>\d+)(?:\s*strokes)?(?:[\s,]+(?P<grit>P?\d+(?:\s*(?:CAMI|ANSI))?))?(?:[\s,]+(?P<sheets>\d+)\s*sheets?)?",
    re.IGNORECASE,
)
_LINES: Final = (*LONG_LINES, *DIAGONALS)
_SHARE: Final = re.compile(r"(\d+(?:[.,]\d*)?)\s*(?:%|per ?cent)?", re.IGNORECASE)
_BARE: Final = re.compile(r"[^a-z\"]*(?:(?:goes|stops)[^a-z\"]*)?", re.IGNORECASE)

Run = dict[str, Any]


def after_the_heat(facts: Facts, dossier: Dossier) -> Script:
    """Lead through the sanding and the final list; of a closed head tell how it was closed."""
    if facts.closed is not None:
        return words.closed(facts.closed, dossier.name)
    return (yield from (_sanding if facts.final is None else _final_list)(facts, dossier))


def _sanding(facts: Facts, dossier: Dossier) -> Script:
    """Lead through one stretch of strokes; where it is enough, to the wash and a full survey."""
    told = facts.sand or {}
    if told["state"] == "go on":
        if not told["runs"]:
            yield from agreed(words.cautions(told))
        run = yield from _stretch(told, dossier)
        if run is not None:
            return Work(deed="stretch", answers=run, because=str(told.get("because", "")))
    elif not told["runs"]:
        return left(str(told["sentence"]), f"straighten check {dossier.name}")
    if told["runs"]:
        yield from done_or_skipped(words.washed(told))
    return Work(deed="survey", readings=(yield from measured(dossier, facts.passes)))


def _stretch(told: dict[str, Any], dossier: Dossier) -> Generator[Ask, Answer, Run | None]:
    """Ask for the strokes and what was seen after them; None where the person measures instead."""
    number = int(told["runs"]) + 1
    run = yield from read_as(words.strokes(told, number), _strokes(told, dossier))
    if run is None:
        return None
    run |= yield from read_as(words.shine(number, run), _shine)
    run |= yield from read_as(words.gap(number), _gaps(dossier, run))
    heights = tuple(height.place for height in dossier.survey.heights)
    if heights:
        run |= yield from read_as(words.heights(number, heights), _heights(dossier, run, heights))
    return run


def _strokes(told: dict[str, Any], dossier: Dossier) -> Callable[[Answer], Run | None]:
    planned = {"strokes": told["next_strokes"], "grit": told["next_grit"]}

    def read(given: Answer) -> Run | None:
        word = given.typed.strip()
        if word.lower() == "measure":
            return None
        if confirmed(given):
            return dict(planned)
        found = _RUN.fullmatch(word)
        if found is None:
            raise BadInput(f"found {word[:40]!r}", fix="Like 200, or 200 P120 2 sheets.")
        run: Run = {**planned, "strokes": int(found["strokes"])}
        run |= {"grit": found["grit"]} if found["grit"] else {}
        run |= {"sheets": int(found["sheets"])} if found["sheets"] else {}
        return _possible(dossier, run)

    return read


def _possible(dossier: Dossier, run: Run, *, looked: bool = False) -> Run:
    """Return a run that `sand` would take; `looked` where what was seen after it is all told."""
    from straighten.desk.sanding_files import run_from_plain

    seen = run if looked else {"cleaned_percent": 0.0, **run}
    try:
        run_from_plain(seen, dossier.head, dossier.survey, "typed")
    except BadInput as fault:
        raise BadInput(fault.problem, fix=fault.fix) from None
    return run


def _shine(given: Answer) -> Run:
    word = given.typed.strip()
    if word.lower() == NAY:
        return {}
    found = _SHARE.fullmatch(word)
    share = -1.0 if found is None else float(found[1].replace(",", "."))
    if not 0 <= share <= 100:
        raise BadInput("a share from 0 to 100 % is due here", fix="Or: skip.")
    return {"cleaned_percent": share}


def _gaps(dossier: Dossier, run: Run) -> Callable[[Answer], Run]:
    """Return a reader of the largest gap, or of all five lines; the last look must tell something."""
    last = not dossier.survey.heights

    def read(given: Answer) -> Run:
        from straighten.readings.asked import Asked, several_in

        if given.typed.strip().lower() == NAY:
            _possible(dossier, run, looked=last)
            return {}
        typed = several_in(Asked(key="gap", kind="gap", prompt="", hint=""), given.typed)
        if not typed:
            raise BadInput("Enter says nothing here", fix="Type the largest gap, or skip.")
        if len(typed) not in (1, len(_LINES)):
            raise BadInput(
                f"{len(typed)} gaps were typed", fix="Type the largest, or those of all five lines."
            )
        gaps = [_with_unit(gap, given, {"mm": "mm", "inch": "thou"}) for gap in typed]
        seen: Run = {"gap": gaps[0]} if len(gaps) == 1 else {"gaps": _by_place(_LINES, gaps)}
        _possible(dossier, {**run, **seen})
        return seen

    return read


def _heights(dossier: Dossier, run: Run, places: tuple[str, ...]) -> Callable[[Answer], Run]:
    def read(given: Answer) -> Run:
        from straighten.desk.starting import parts

        if given.typed.strip().lower() == NAY:
            _possible(dossier, run, looked=True)
            return {}
        typed = parts(given.typed)
        if len(typed) != len(places):
            raise BadInput(f"{len(typed)} heights were typed, {len(places)} are due", fix="Or: skip.")
        values = [_with_unit(one, given, {"mm": "mm", "inch": "in"}) for one in typed]
        seen = {"heights": _by_place(places, values)}
        _possible(dossier, {**run, **seen}, looked=True)
        return seen

    return read


def _by_place(places: Sequence[str], values: Sequence[str]) -> dict[str, str]:
    """Return what was read under the names that a log of strokes has for the places."""
    return {place.replace(" ", "_"): value for place, value in zip(places, values, strict=True)}


def _with_unit(typed: str, given: Answer, unit: dict[str, str]) -> str:
    """Return a quantity as typed with its unit, so that it means the same whatever is shown first."""
    return f"{typed} {unit[given.system]}" if _BARE.fullmatch(typed) else typed


def _final_list(facts: Facts, dossier: Dossier) -> Script:
    """Ask what only the person sees, show the list with it, and close the head once that is said."""
    told = facts.final or {}
    seen: dict[str, bool | str] = {}
    for key, title, reach in told["asked"]:
        given = yield words.item(key, title, reach)
        word = given.typed.strip()
        if word.lower() == "done":
            break
        if word:
            seen[key] = _seen(word)
    if seen != told["answers"]:
        return replace(LIST, answers=seen)
    return (yield from _closing(facts, dossier, told))


def _seen(word: str) -> bool | str:
    lower = word.lower()
    if lower in ("y", "yes", "ok", "ja"):
        return True
    return False if lower in ("n", "no", "bad") else word[:200]


def _closing(facts: Facts, dossier: Dossier, told: dict[str, Any]) -> Script:
    ask, refused = words.close(str(told["refused"])), str(told["refused"])
    while True:
        given = yield ask
        word = given.typed.strip().lower()
        if word == "measure":
            return Work(deed="survey", readings=(yield from measured(dossier, facts.passes)))
        if word == "close":
            why = (yield from reasoned(reason("final/reason", ask.part, refused))) if refused else ""
            return Work(deed="close", answers=told["answers"], because=why)
        ask = replace(ask, echo=f"Nothing is closed yet: {ask.hint}.")
