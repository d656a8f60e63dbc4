"""How a head stands, as records, text and page: go or no-go with all that led to it, the final list, the report of the job."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import chain
from typing import TYPE_CHECKING, Any, ClassVar
from xml.etree.ElementTree import Element

from straighten.errors import in_shell
from straighten.sheet import markup
from straighten.sheet.decision import WholeJobLine
from straighten.sheet.figures import Picture, inline_figure
from straighten.sheet.layout import block, page, past_advice, with_range, wrap
from straighten.sheet.markup import node, nodes, place
from straighten.sheet.plain import LEFT_OUT, MM, RAW, Answer, Range, called
from straighten.units import System

if TYPE_CHECKING:
    from straighten.closing import Item
    from straighten.shape import Shape

_VERDICTS = {
    "straighten": "GO: STRAIGHTEN",
    "sand only": "NO-GO FOR HEAT: SAND ONLY",
    "inside limits": "INSIDE ITS LIMITS: FINISH",
    "hand it on": "NO-GO: HAND IT ON",
    "measure again": "NOT YET: MEASURE AGAIN",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeLine:
    """One number of the shape: its key, words, middle and 80 % range [m]."""

    key: str = field(metadata=LEFT_OUT)
    words: str = field(metadata=LEFT_OUT)
    value: float = field(metadata=MM)
    low: float = field(metadata=MM)
    high: float = field(metadata=MM)

    def sentence(self, system: System) -> str:
        """Return the number with its range."""
        return f"{self.words}: {with_range(self.value, self.low, self.high, system)}"


def shape_lines(shape: Shape, words: Mapping[str, str]) -> tuple[ShapeLine, ...]:
    """Return the numbers of a shape that have words, by key."""
    numbers = ((key, told, shape.range(key)) for key, told in words.items())
    return tuple(
        ShapeLine(key=key, words=told, value=shape.value(key), low=low, high=high)
        for key, told, (low, high) in numbers
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckReport(Answer):
    """Verdict first, then all that led to it; `metal_left` that may still come off the deck [m].

    `understood` the readings said back; `as_seen` the bow of each line between the places read; `straightness` by the three definitions; `worth` what one more reading would
    bring, most valuable first; `whole_job` what it comes to if heat goes on; `command` what to do next, `go_on` the command that goes past advice or "". The parts of
    the shape are empty where none was measured, or where the head is forbidden.
    """

    schema: ClassVar[str] = "check/2"
    name: str
    system: System = field(metadata=LEFT_OUT)
    verdict: str
    reason: str
    decided_by: str
    findings: tuple[str, ...]
    command: str
    go_on: str
    metal_left: float = field(metadata=MM)
    judgement: dict[str, Any] = field(metadata=RAW)
    direction: str = ""
    pattern: str = "not known"
    shape: tuple[ShapeLine, ...] = field(default=(), metadata=called("shape", by="key"))
    straightness: tuple[str, ...] = ()
    limits: tuple[str, ...] = ()
    suspects: tuple[str, ...] = ()
    caveats: tuple[str, ...] = ()
    worth: tuple[str, ...] = field(default=(), metadata=called("worth_reading"))
    understood: tuple[str, ...] = ()
    as_seen: tuple[str, ...] = ()
    whole_job: WholeJobLine | None = None


def check_text(report: CheckReport) -> str:
    """Return the report as text: the verdict, the bows as the person read them, then the reason."""
    why = [
        wrap(report.reason),
        wrap(f"Decided by {report.decided_by}"),
        wrap(report.direction),
        wrap(report.whole_job.sentence(report.system)) if report.whole_job else "",
        past_advice(report.go_on),
    ]
    top = f"HEAD {report.name}   {_VERDICTS[report.verdict]}"
    seen, told = block("AS YOU READ IT", report.as_seen), "\n".join(line for line in why if line)
    return page(
        *((f"{top}\n{seen}", told) if seen else [f"{top}\n{told}"]),
        block("DOES NOT FIT", report.suspects),
        block("SHAPE", [line.sentence(report.system) for line in report.shape]),
        block("STRAIGHTNESS AND FLATNESS", report.straightness),
        block("LIMITS", report.limits),
        block("LOOKED AT", report.findings),
        block("KEEP IN MIND", report.caveats),
        block("WORTH READING TOO", report.worth),
        block("UNDERSTOOD", report.understood),
    )


# --- the final list -----------------------------------------------------------------------------------------------


_BOXES = {"holds": "[x]", "done": "[x]", "fails": "[!]", "skipped": "[-]", "open": "[ ]"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishReport(Answer):
    """The final state: shape, list, what was sanded and what that does, what was skipped and assumed; `entry` number in the book once closed."""

    schema: ClassVar[str] = "finish/1"
    name: str
    system: System = field(metadata=LEFT_OUT)
    passes: int
    shape: tuple[ShapeLine, ...] = field(metadata=called("shape", by="key"))
    lines: tuple[Item, ...]
    sanded: str
    consequences: tuple[str, ...]
    due: str = field(metadata=called("remeasure_due"))
    skipped: tuple[str, ...]
    assumed: tuple[str, ...]
    judgement: dict[str, Any] = field(metadata=RAW)
    entry: int | None = field(default=None, metadata=called("closed_as_entry"))

    @property
    def failed(self) -> tuple[str, ...]:
        """Titles of the lines that fail."""
        return tuple(line.title for line in self.lines if line.state == "fails")


def passes_told(number: int) -> str:
    """Return how many passes of heat there were, in words."""
    return f"{number} pass{'es' if number != 1 else ''} of heat"


def _next_of(report: FinishReport) -> str:
    """Return what is next before a head is closed: the judgement's step, or what fails on a head that is done."""
    if not report.failed or report.judgement["next"] != "finish":
        return f"Next: {report.judgement['command']}. {report.judgement['reason']}"
    again = f"straighten finish {in_shell(report.name)}"
    return f'Next: mend or read again what fails ({"; ".join(report.failed)}), then {again}; or {again} --close --because "...".'


def finish_text(report: FinishReport, *, short: bool = False) -> str:
    """Return the list as text, a box before every line; `short` the list alone."""
    open_ = sum(line.state in ("open", "skipped") for line in report.lines)
    state = "CLOSED" if report.entry is not None else "FINAL LIST"
    seen = f"{len(report.failed)} fail, {open_} not seen, of {len(report.lines)} lines"
    top = f"HEAD {report.name}   {state}\n" + wrap(f"{seen}; {passes_told(report.passes)}.")
    listed = "\n".join(["LIST   [x] good   [!] fails   [ ] not seen   [-] skipped", *map(_row, report.lines)])
    if short:
        return page(top, listed)
    return page(
        top,
        "" if report.entry is not None else wrap(_next_of(report)),
        listed,
        block("AGAIN AFTER A DAY", [report.due]),
        block("FINAL SHAPE", [line.sentence(report.system) for line in report.shape]),
        block("SANDED", [report.sanded]),
        block("WHAT THE CUT DOES", report.consequences),
        block("SKIPPED OR NOT SEEN", report.skipped),
        block("ASSUMED", report.assumed),
    )


def _row(line: Item) -> str:
    found = f" FOUND: {line.found}." if line.found else ""
    return wrap(f"{_BOXES[line.state]} {line.title}: {line.reach}.{found}", " ", "     ")


# --- the report, a page -----------------------------------------------------------------------------------------------


Facts = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under their titles, each with its name first; a number is a limit and a range a bow [m]."""

    titles: tuple[str, ...]
    rows: tuple[tuple[str | float | Range, ...], ...]
    wide: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A part of the report under its heading: facts, a table, a list, a picture; left out where all are empty."""

    title: str
    facts: Facts = ()
    table: Table | None = None
    lines: tuple[str, ...] = ()
    picture: Picture | None = None

    @property
    def empty(self) -> bool:
        """Whether there is nothing to tell."""
        return not (self.facts or self.lines or self.picture or (self.table and self.table.rows))


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """A job for the customer: the job in one line, each line's bow as it came and now, the verdict; then the sections.

    `whole` false where it is the one page for a customer.
    """

    name: str
    made_at: str
    system: System
    passes: int
    lead: str
    state: Table
    limits_from: str
    verdict: str
    reason: str
    sections: tuple[Section, ...]
    whole: bool = True


def report_page(report: Report) -> str:
    """Return the report as one HTML file, figures put in."""
    told = [section for section in report.sections if not section.empty]
    pictures = [section.picture for section in told if section.picture is not None]
    places = iter(range(len(pictures)))
    parts = [*_top(report), *_state(report), *(_section(section, report.system, places) for section in told)]
    drawings = [inline_figure(picture, f"figure{n}") for n, picture in enumerate(pictures)]
    body = node("body", node("main", *parts, class_="report" if report.whole else "report customer"))
    return markup.page(f"Straightening of {report.name}", body, drawings)


def _section(section: Section, system: System, places: Iterator[int]) -> Element:
    facts = ((node("dt", name), node("dd", text)) for name, text in section.facts)
    told, picture = section.table, section.picture
    return node(
        "section",
        node("h2", section.title),
        node("dl", *chain.from_iterable(facts)) if section.facts else None,
        _table(told, system) if told else None,
        node("ul", *nodes("li", dict.fromkeys(section.lines)), class_="small") if section.lines else None,
        node("figure", place(next(places)), node("figcaption", picture.message)) if picture else None,
    )


def _table(told: Table, system: System) -> Element:
    made = markup.table(told.titles, ([_cell(cell, system) for cell in row] for row in told.rows))
    return node("div", made, class_="wide") if told.wide else made


def _cell(cell: str | float | Range, system: System) -> Element | str:
    if isinstance(cell, Range):
        return markup.span(cell, system)
    return cell if isinstance(cell, str) else markup.size(cell, system)


def _top(report: Report) -> list[Element]:
    made = datetime.fromisoformat(report.made_at)
    title = node("h1", node("span", "Report", class_="pass-number"), class_="title")
    name, day = node("p", report.name, class_="head"), node("p", f"{made:%d %b %Y}", class_="made")
    return [node("header", title, name, day, class_="top"), node("p", report.lead, class_="lead")]


def _state(report: Report) -> list[Element]:
    told = "Bow of the middle over the ends; the true value lies in the range 8 times in 10. Limits from "
    return [
        _table(report.state, report.system),
        node("p", f"{told}{report.limits_from}.", class_="small"),
        node("p", node("b", f"{report.verdict.capitalize()}: "), report.reason),
    ]
