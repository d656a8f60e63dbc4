"""The guided session after the heat: stretch by stretch over the paper, then the final list until the head is closed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from straighten.desk.bench_survey import measured
from straighten.desk.bench_words import (
    IN_FULL,
    LIST,
    NAY,
    STROKES,
    TYPE_YES,
    WORDS,
    Answer,
    Ask,
    Asking,
    Facts,
    Script,
    Work,
    as_typed,
    ask,
    done_or_skipped,
    how_closed,
    left,
    read_as,
    reason,
    reasoned,
)
from straighten.desk.dossier import Dossier
from straighten.desk.sanding_files import run_from_plain, surface_from_text
from straighten.desk.starting import parts
from straighten.desk.typed import gap_of
from straighten.errors import BadInput, in_shell
from straighten.readings.asked import Asked, several_in
from straighten.readings.records import DIAGONALS, LONG_LINES

_RUN: Final = re.compile(
    r"(?P<strokes>\d+)(?:\s*strokes)?(?:[\s,]+(?P<grit>P?\d+(?:\s*(?:CAMI|ANSI))?))?(?:[\s,]+(?P<sheets>\d+)\s*sheets?)?",
    re.IGNORECASE,
)
_GRADED: Final = re.compile(
    r"surface[\s:=]+(?P<grade>(?:DIN\s*876|ISO\s*8512(?:-2)?)\s*[-/, ]?\s*(?:grade)?\s*[0-3])[\s,]+(?P<size>[^\\\n]+)",
    re.IGNORECASE,
)
_LINES: Final = (*LONG_LINES, *DIAGONALS)
_SHARE: Final = re.compile(r"(\d+(?:[.,]\d*)?)\s*(?:%|per ?cent)?", re.IGNORECASE)
_BARE: Final = re.compile(r"[^a-z\"]*(?:(?:goes|stops)[^a-z\"]*)?", re.IGNORECASE)

Run = dict[str, Any]  # a stretch with the keys of a log of strokes


def after_the_heat(facts: Facts, dossier: Dossier) -> Script:
    """Lead through the sanding and the final list; of a closed head tell how it was closed."""
    if facts.closed is not None:
        return how_closed(facts.closed, dossier.name)
    return (yield from (_sanding if facts.final is None else _final_list)(facts, dossier))


def _sanding(facts: Facts, dossier: Dossier) -> Script:
    """Lead through one stretch of strokes; where it is enough, to the wash and a full survey."""
    told = facts.sand or {}
    if told["state"] == "go on":
        if not told["runs"]:
            like = WORDS.like[dossier.head.system]
            ready = ask("sand cautions", *told["cautions"], method=" ".join(map(str, told["method"])), **like)
            surface = yield from _ready(ready, dossier)
            if surface != told.get("surface_text", ""):
                return replace(STROKES, typed=surface, because=str(told.get("because", "")))
        run = yield from _stretch(told, dossier)
        if run is not None:
            because, surface = str(told.get("because", "")), str(told.get("surface_text", ""))
            return Work(deed="stretch", answers=run, because=because, typed=surface)
    elif not told["runs"]:
        return left(str(told["sentence"]), f"straighten check {in_shell(dossier.name)}")
    if told["runs"]:
        yield from done_or_skipped(ask("washed", str(told["sentence"]), str(told["method"][-1])))
    return Work(deed="survey", readings=(yield from measured(dossier, facts.passes)))


def _ready(question: Ask, dossier: Dossier) -> Asking[str]:
    """Ask until the cautions are agreed to; return the file of the surface told last before that, "" for none."""

    def read(given: Answer) -> str:
        if given.word.startswith("surface"):
            return _surface(dossier, given)
        if given.word in IN_FULL:
            return ""
        raise BadInput(TYPE_YES)

    surface = ""
    while said := (yield from read_as(question, read)):
        surface = said
        question = replace(question, echo="Type yes, and the strokes are planned for that surface.")
    return surface


def _surface(dossier: Dossier, given: Answer) -> str:
    """Return the file of a surface told by its grade, length and width."""
    found = _GRADED.fullmatch(given.typed.strip())
    size = parts(found["size"].replace(" x ", " ")) if found else []
    if found is None or len(size) != 2:
        raise BadInput(
            f"found {given.typed.strip()[:40]!r}",
            fix=f"Like surface DIN 876/1 {WORDS.like[given.system]['plate']}.",
        )
    length, width = (_with_unit(one, given).replace('"', " in") for one in size)
    text = f'name = "surface"\ngrade = "{found["grade"]}"\nlength = "{length}"\nwidth = "{width}"\n'
    with as_typed():
        surface_from_text(text, dossier.head, "typed")
    return text


def _stretch(told: Run, dossier: Dossier) -> Asking[Run | None]:
    """Ask for the strokes and what was seen after them; None where the person measures instead."""
    number = int(told["runs"]) + 1
    measure = "no more strokes" if number > 1 else "read the head again first"
    planned = {"strokes": told["next_strokes"], "grit": told["next_grit"]}
    strokes = ask("strokes", *told["do"], n=number, measure=measure, **planned)
    looked = _Looked(dossier=dossier, run=planned)
    run = yield from read_as(strokes, looked.strokes)
    if run is None:
        return None
    echo = f"{run['strokes']} strokes with {run['grit']}"
    run |= yield from read_as(replace(ask("shine", n=number), echo=echo), _shine)
    looked = replace(looked, run=run)
    run |= yield from read_as(ask("sand gap", n=number, **WORDS.like[dossier.head.system]), looked.gaps)
    if looked.places:
        heights = ask("heights", n=number, places=", ".join(looked.places))
        run |= yield from read_as(heights, replace(looked, run=run).heights)
    return run


@dataclass(frozen=True, slots=True, kw_only=True)
class _Looked:
    """Reads what was done and seen at a stretch; `run` holds what is known of it so far."""

    dossier: Dossier
    run: Run

    @property
    def places(self) -> tuple[str, ...]:
        """Where heights were measured before the sanding."""
        return tuple(height.place for height in self.dossier.survey.heights)

    def strokes(self, given: Answer) -> Run | None:
        """Return the strokes done, those planned for Enter; None where the head is measured instead."""
        if given.word == "measure":
            return None
        if given.confirms:
            return dict(self.run)
        found = _RUN.fullmatch(given.typed.strip())
        if found is None:
            raise BadInput(f"found {given.typed.strip()[:40]!r}", fix="Like 200, or 200 P120 2 sheets.")
        told: Run = {"strokes": int(found["strokes"])}
        told |= {"grit": found["grit"]} if found["grit"] else {}
        told |= {"sheets": int(found["sheets"])} if found["sheets"] else {}
        self._refuse_impossible(told)
        return self.run | told

    def gaps(self, given: Answer) -> Run:
        """Return the largest gap, or those of all five lines; the last look must tell something."""
        if given.word == NAY:
            self._refuse_impossible({}, last=not self.places)
            return {}
        typed = several_in(Asked(key="gap", kind="gap", prompt="", hint=""), given.typed)
        if not typed:
            raise BadInput("Enter says nothing here", fix="Type the largest gap, or skip.")
        if len(typed) not in (1, len(_LINES)):
            fix = "Type the largest, or those of all five lines."
            raise BadInput(f"{len(typed)} gaps were typed", fix=fix)
        for gap in typed:
            gap_of(self.dossier.head, replace(given, typed=gap))
        gaps = [_with_unit(gap, given, "thou") for gap in typed]
        seen: Run = {"gap": gaps[0]} if len(gaps) == 1 else {"gaps": _by_place(_LINES, gaps)}
        self._refuse_impossible(seen)
        return seen

    def heights(self, given: Answer) -> Run:
        """Return the heights measured after the stretch; all looks together must tell something."""
        seen: Run = {}
        if given.word != NAY:
            typed = parts(given.typed)
            if len(typed) != len(self.places):
                raise BadInput(
                    f"{len(typed)} heights were typed, {len(self.places)} are due", fix="Or: skip."
                )
            values = [_with_unit(one, given) for one in typed]
            seen = {"heights": _by_place(self.places, values)}
        self._refuse_impossible(seen, last=True)
        return seen

    def _refuse_impossible(self, seen: Run, *, last: bool = False) -> None:
        """Refuse what `sand` would not take; after the `last` look also a stretch of which nothing was seen."""
        looked: Run = {} if last else {"cleaned_percent": 0.0}
        with as_typed():
            run_from_plain(looked | self.run | seen, self.dossier.head, self.dossier.survey, "typed")


def _shine(given: Answer) -> Run:
    """Return the share of the face that shines."""
    if given.word == NAY:
        return {}
    found = _SHARE.fullmatch(given.word)
    share = -1.0 if found is None else float(found[1].replace(",", "."))
    if not 0 <= share <= 100:
        raise BadInput("a share from 0 to 100 % is due here", fix="Or: skip.")
    return {"cleaned_percent": share}


def _by_place(places: Sequence[str], values: Sequence[str]) -> dict[str, str]:
    """Return what was read under the names that a log of strokes has for the places."""
    return {place.replace(" ", "_"): value for place, value in zip(places, values, strict=True)}


def _with_unit(typed: str, given: Answer, inch: str = "in") -> str:
    """Return a quantity as typed with its unit, so that it means the same whatever is shown first."""
    return f"{typed} {'mm' if given.system == 'mm' else inch}" if _BARE.fullmatch(typed) else typed


def _final_list(facts: Facts, dossier: Dossier) -> Script:
    """Ask what only the person sees, show the list with it, and close the head once that is said."""
    told = facts.final or {}
    seen: dict[str, bool | str] = {}
    for key, title, reach in told["asked"]:
        given = yield ask("list line", key=key, title=f"{title[:1].upper()}{title[1:]}", reach=reach)
        if given.word == "done":
            break
        if given.word:
            seen[key] = _seen(given)
    if seen != told["answers"]:
        return replace(LIST, answers=seen)
    return (yield from _closing(facts, dossier, told))


def _seen(given: Answer) -> bool | str:
    if given.word in ("y", "yes", "ok", "ja"):
        return True
    return False if given.word in ("n", "no", "bad") else given.typed.strip()[:200]


def _closing(facts: Facts, dossier: Dossier, told: Run) -> Script:
    """Close the head, with a reason where something speaks against it, or measure it again."""
    refused = str(told["refused"])
    how = "close = close it all the same, asks why" if refused else "close = close it"
    question = ask("close", *([refused] if refused else []), how=how)
    while True:
        given = yield question
        if given.word == "measure":
            return Work(deed="survey", readings=(yield from measured(dossier, facts.passes)))
        if given.word == "close":
            why = (yield from reasoned(reason("final/reason", question.part, refused))) if refused else ""
            return Work(deed="close", answers=told["answers"], because=why)
        question = replace(question, echo=f"Nothing is closed yet: {question.hint}.")
