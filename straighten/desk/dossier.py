"""A head as the book and its file know it: everything a plan needs, read back into the records of the rooms."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from straighten.desk.tightening_record import tightening_of
from straighten.errors import BadInput
from straighten.head import head_from_text, template_head
from straighten.heat.torch import power_bracket, power_from_trial
from straighten.plan.records import Done, PassSetup, setup_from_plain
from straighten.readings import Readings, from_plain, read_survey, survey_from_text, to_plain

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from straighten.belief.tightened import TighteningLog
    from straighten.book import Book, Entry
    from straighten.head.records import Head


NEWEST = 200  # heads whose passes narrow the next one's prior: the shop as it works now


@dataclass(frozen=True, slots=True, kw_only=True)
class Dossier:
    """One head with its history.

    `head` and the text of its file; `surveys` one more than `passes`, None where a pass was not measured after;
    `earlier` passes before the deck was last sanded and measured: their places stay used, but the shape they led to is
    gone; `unsanded` the dossier as it stood at the end of each such stretch;
    `tightenings` the last log of each stage; `others` what other heads of the shop taught; `inputs` numbers of the entries they came from; `planned` entry of the last card since the last pass, or None; `last` number of the
    head's last entry, or None where the book does not know it yet; `forked` the lines of entries in which it was carried
    on apart, none where that is settled.
    """

    name: str
    head: Head
    text: str
    surveys: tuple[Readings | None, ...]
    passes: tuple[PassSetup, ...]
    earlier: tuple[PassSetup, ...] = ()
    unsanded: tuple[Dossier, ...] = ()
    tightenings: tuple[TighteningLog, ...] = ()
    others: tuple[Mapping[str, tuple[float, float]], ...] = ()
    inputs: tuple[int, ...] = ()
    planned: Entry | None = None
    last: int | None = None
    forked: tuple[tuple[int, ...], ...] = ()

    @property
    def survey(self) -> Readings:
        """The last survey.

        Raises:
            BadInput: the head has not been measured.
        """
        found = next((survey for survey in reversed(self.surveys) if survey is not None), None)
        if found is None:
            raise BadInput(
                f"{self.name!r} has not been measured yet",
                where="book",
                fix=f"Record a survey first: straighten measure {self.name} survey.toml",
            )
        return found

    @property
    def measured_after_last_pass(self) -> bool:
        """Whether the last pass was measured."""
        return self.surveys[-1] is not None

    def reads_as_before(self, readings: Readings) -> bool:
        """Return whether every reading equals the last survey's: hardly ones taken after another pass."""
        before = next((survey for survey in reversed(self.surveys) if survey is not None), None)
        if before is None:
            return False
        then, now = to_plain(before), to_plain(readings)
        return all(then[part] == now[part] for part in ("lines", "plate", "hardness", "heights"))

    @property
    def done(self) -> Done:
        """All passes so far, before and after sanding."""
        return Done().and_then(*self.earlier, *self.passes)

    @property
    def passes_done(self) -> int:
        """Number of passes so far, before and after sanding."""
        return len(self.earlier) + len(self.passes)

    @property
    def stretches(self) -> tuple[Dossier, ...]:
        """The job from survey to survey after sanding, this dossier last; the passes of all are all passes done."""
        return (*(replace(s, head=self.head, others=self.others) for s in self.unsanded), self)

    def after(self, number: int) -> Dossier:
        """Return it as it stood with so many of its own `passes` done: what was read or tightened since is not known."""
        return replace(
            self,
            passes=self.passes[:number],
            surveys=self.surveys[: number + 1],
            tightenings=tuple(log for log in self.tightenings if log.stage < number),
        )


def bench_head(text: str, where: str) -> Head:
    """Return the head of a file with its torch's power worked out from the crayon trial, where there was one.

    Raises:
        BadInput: the file makes no sense, or a trial that tells no heat.
    """
    head = head_from_text(text, where)
    torch = head.torch
    if torch is None or torch.power is not None or torch.trial is None:
        return head
    power = power_from_trial(head.alloy, head.casting.roof, torch.radius, torch.trial)
    if torch.unmelted is not None:
        low, high = power_bracket(head.alloy, head.casting.roof, torch.radius, torch.trial, torch.unmelted)
        power = math.sqrt(low * high)
    return replace(head, torch=replace(torch, power=power))


def loose_dossier(text: str, where: str, survey: Path) -> Dossier:
    """Return the dossier of a head file and a survey file alone, with nothing in a book.

    Raises:
        BadInput: a file makes no sense.
    """
    head = bench_head(text, where)
    readings = read_survey(survey, head)
    return Dossier(
        name=head.name, head=as_hard_as_read(head, readings), text=text, surveys=(readings,), passes=()
    )


def default_dossier() -> Dossier:
    """Return the dossier of the invented pump head that comes with the program, measured once."""
    text = template_head()
    head = bench_head(text, "the program's own head file")
    survey = files("straighten.desk").joinpath("example_survey.toml").read_text(encoding="utf-8")
    readings = survey_from_text(survey, head, "the program's own survey")
    return Dossier(
        name=head.name, head=as_hard_as_read(head, readings), text=text, surveys=(readings,), passes=()
    )


def as_hard_as_read(head: Head, intake: Readings | None) -> Head:
    """Return the head with the hardness read at intake in place of the alloy table's range: heat takes off what is there."""
    values = [h.value for h in intake.hardness] if intake is not None else []
    if not values:
        return head
    return replace(head, alloy=replace(head.alloy, hardness=(min(values), max(values))))


def read_dossier(book: Book, name: str, text: str | None, where: str) -> Dossier:
    """Return a head's dossier from the book, its file's text first where there is one.

    Args:
        book: the shop's book.
        name: the head as typed or as its file names it.
        text: text of the head file, or None where only the book may know it.
        where: the head file's name, for messages.

    Raises:
        BadInput: neither the folder nor the book knows the head.
    """
    head = None if text is None else bench_head(text, where)
    title = name if head is None else head.name
    if not book.has_head(title):
        if head is None or text is None:
            raise BadInput(
                f"no head file {name}/head.toml or {name}.toml here, and the book knows no {name!r}",
                where="NAME",
                fix=f"Begin with: straighten new {name}",
            )
        return Dossier(name=title, head=head, text=text, surveys=(None,), passes=())
    entries = book.entries(title)
    if head is None or text is None:
        text = str(next(e for e in reversed(entries) if e.kind == "head").record["text"])
        head = bench_head(text, f"{title} in the book")
    return replace(
        _gathered(title, head, text, entries),
        others=_other_heads(book, head, title),
        forked=book.open_lines(title),
    )


def heat_source(head: Head) -> str:
    """Return by what a head is heated, in the word under which its passes are pooled."""
    return "torch" if head.torch is not None else "oven"


def _other_heads(book: Book, head: Head, name: str) -> tuple[Mapping[str, tuple[float, float]], ...]:
    """Return what the newest other heads of the same alloy family and heat source taught."""
    found = book.outcomes(family=head.alloy.family, source=heat_source(head), newest=NEWEST)
    return tuple(outcome.factors for outcome in found if outcome.head != name)


def _gathered(name: str, head: Head, text: str, entries: list[Entry]) -> Dossier:
    surveys: list[Readings | None] = [None]
    passes: list[PassSetup] = []
    earlier: list[PassSetup] = []
    unsanded: list[Dossier] = []
    sanded = False
    inputs: list[int] = []
    tightenings: dict[int, TighteningLog] = {}
    planned, intake = None, None
    for entry in entries:
        if entry.kind == "survey":
            if sanded:  # another deck now: what the passes did to it cannot be read off it any more
                unsanded.append(
                    Dossier(
                        name=name, head=head, text=text, surveys=tuple(surveys), passes=tuple(passes),
                        earlier=tuple(earlier), tightenings=tuple(tightenings.values()),
                    )
                )  # fmt: skip
                earlier, passes, surveys, tightenings = [*earlier, *passes], [], [None], {}
                planned = None
            surveys[-1], sanded = _survey(entry.record["readings"]), False
            intake = intake if intake is not None and intake.hardness else surveys[-1]
        elif entry.kind == "pass":
            passes.append(setup_from_plain(entry.record["done"]))
            after = entry.record.get("readings")
            surveys.append(None if after is None else _survey(after))
            planned = None  # made or given up: a second pass to it would be learned from twice
        elif entry.kind == "tighten" and (log := tightening_of(entry, len(passes))) is not None:
            tightenings[len(passes)] = log
        sanded = sanded or entry.kind == "sand"
        if entry.kind in ("survey", "pass", "head", "tighten"):
            inputs.append(entry.number)
        planned = entry if entry.kind == "plan" else planned
    return Dossier(
        name=name,
        head=as_hard_as_read(head, intake),
        text=text,
        surveys=tuple(surveys),
        passes=tuple(passes),
        earlier=tuple(earlier),
        unsanded=tuple(unsanded),
        tightenings=tuple(tightenings.values()),
        inputs=tuple(inputs),
        planned=planned,
        last=entries[-1].number if entries else None,
    )


def _survey(plain: dict[str, Any]) -> Readings:
    return from_plain(plain)
