"""The whole job as a record and as one HTML page: what the head was, what was done, what it is now."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import chain
from xml.etree.ElementTree import Element

from straighten.sheet import markup
from straighten.sheet.figures import Picture, inline_figure
from straighten.sheet.markup import node, nodes, page, place, table
from straighten.sheet.plain import Range
from straighten.units import System

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
    return page(f"Straightening of {report.name}", body, drawings)


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
    made = table(told.titles, ([_cell(cell, system) for cell in row] for row in told.rows))
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
