"""The whole job as a record and as one HTML page: what the head was, what was done, what it is now."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from xml.etree.ElementTree import Element

from straighten.sheet import sizes
from straighten.sheet.figures.drawing import Picture, inline_figure
from straighten.sheet.markup import node, nodes, page, place
from straighten.sheet.plain import Range
from straighten.units import System, show

Facts = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineState:
    """One line as it came and now, its limit with the source, and the chance that it is inside [m]; `judged` in words."""

    title: str
    came: Range
    now: Range
    limit: float
    limit_source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PassRow:
    """One pass: when logged, planned and done in words, bows expected and measured (None where not) [m]."""

    number: int
    at: str
    planned: str
    done: str
    deck_expected: Range
    cam_expected: Range
    deck_measured: Range | None
    cam_measured: Range | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HardnessRow:
    """Hardness [HB] of one survey by side, "-" where it was not read."""

    when: str
    exhaust: str
    middle: str
    inlet: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LaterWork:
    """What came after the heat: sanding, the final list; its entry's facts as they stand in the book."""

    title: str
    facts: Facts


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedPicture:
    """A picture and the heading it stands under."""

    name: str
    picture: Picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """A job for the customer, in the order it is read."""

    name: str
    made_at: str
    system: System
    verdict: str
    reason: str
    lines: tuple[LineState, ...]
    head: Facts
    intake: Facts
    limits_now: tuple[str, ...]
    passes: tuple[PassRow, ...]
    hardness: tuple[HardnessRow, ...]
    decision: Facts
    later: tuple[LaterWork, ...]
    assumed: tuple[str, ...]
    caveats: tuple[str, ...]
    sources: tuple[str, ...]
    pictures: tuple[NamedPicture, ...]


def report_page(report: Report) -> str:
    """Return the report as one HTML file, figures put in."""
    parts = [
        *_top(report), *_state(report), *_section("Intake", [_facts(report.intake)]),
        *_passes(report), *_figures(report.pictures), *_hardness(report),
        *_section("Limits now", [_list(report.limits_now)] if report.limits_now else []),
        *_section("What comes next", [_facts(report.decision)] if report.decision else []),
        *(part for work in report.later for part in _section(work.title, [_facts(work.facts)])),
        *_section("The head", [_facts(report.head)]),
        *_section("Assumed, not measured", [_list(report.assumed)] if report.assumed else []),
        *_section("Keep in mind", [_list(report.caveats)] if report.caveats else []),
        *_section("Where figures come from", [_list(report.sources)] if report.sources else []),
    ]  # fmt: skip
    body = node("body", node("main", *parts, class_="report"))
    drawings = [inline_figure(p.picture, f"figure{n}") for n, p in enumerate(report.pictures)]
    return page(f"Straightening of {report.name}", body, drawings)


def _section(title: str, parts: Iterable[Element]) -> list[Element]:
    """Return a section with its heading, or nothing where it is empty."""
    filled = list(parts)
    return [node("section", node("h2", title), *filled)] if filled else []


def _facts(facts: Facts) -> Element:
    return node(
        "dl", *(node(tag, text) for key, value in facts for tag, text in (("dt", key), ("dd", value)))
    )


def _list(lines: Iterable[str]) -> Element:
    return node("ul", *nodes("li", dict.fromkeys(lines)), class_="small")


def _top(report: Report) -> list[Element]:
    made = datetime.fromisoformat(report.made_at)
    return [
        node(
            "header",
            node("h1", node("span", "Report", class_="pass-number"), class_="title"),
            node("p", report.name, class_="head"),
            node("p", f"{made:%d %b %Y}", class_="made"),
            class_="top",
        ),
        node("p", _lead(report), class_="lead"),
    ]


def _lead(report: Report) -> str:
    """Return the job in one line: passes, and each line's bow as it came and now."""
    if not report.passes:
        return "Measured, no pass done yet."
    count = "1 pass" if len(report.passes) == 1 else f"{len(report.passes)} passes"
    ways = [
        f"{line.title.lower()} {show(line.came.middle, report.system)} to {show(line.now.middle, report.system)}"
        for line in report.lines
    ]
    return f"{count}: {', '.join(ways)}."


def _state(report: Report) -> list[Element]:
    head = node("tr", *nodes("th", ("", "as it came", "now", "limit"), scope="col"))
    rows = [_state_row(line, report.system) for line in report.lines]
    sources = "; ".join(f"{line.title.lower()}: {line.limit_source}" for line in report.lines)
    return [
        node("div", node("table", node("thead", head), node("tbody", *rows)), class_="wide"),
        node("p", "Bow of the middle over the ends; the true value lies in the range 8 times in 10. Limits from ", sources, ".",
             class_="small"),
        node("p", node("b", f"{report.verdict.capitalize()}: "), report.reason),
    ]  # fmt: skip


def _state_row(line: LineState, system: System) -> Element:
    cells = (sizes.span(line.came, system), sizes.span(line.now, system), sizes.size(line.limit, system))
    return node("tr", node("th", line.title, scope="row"), *nodes("td", cells))


def _passes(report: Report) -> list[Element]:
    if not report.passes:
        return []
    rows = [row for entry in report.passes for row in _pass_rows(entry, report.system)]
    head = node("tr", *nodes("th", ("pass", "line", "expected", "measured"), scope="col"))
    plans = [fact for entry in report.passes for fact in _pass_facts(entry)]
    table = node("div", node("table", node("thead", head), node("tbody", *rows)), class_="wide")
    return _section("Passes, planned against measured", [_facts(tuple(plans)), table])


def _pass_facts(entry: PassRow) -> list[tuple[str, str]]:
    same = entry.planned in ("", entry.done)
    done = entry.done if same else f"planned: {entry.planned}; done: {entry.done}"
    return [(f"Pass {entry.number}, {entry.at}", done)]


def _pass_rows(entry: PassRow, system: System) -> list[Element]:
    lines = (
        ("deck", entry.deck_expected, entry.deck_measured),
        ("cam line", entry.cam_expected, entry.cam_measured),
    )
    return [
        node("tr", node("th", str(entry.number), scope="row"), node("td", name), node("td", sizes.span(expected, system)),
             node("td", _measured(measured, system)))
        for name, expected, measured in lines
    ]  # fmt: skip


def _measured(found: Range | None, system: System) -> Element | str:
    return "not measured" if found is None else sizes.span(found, system)


def _figures(pictures: Iterable[NamedPicture]) -> list[Element]:
    return [
        node(
            "section",
            node("h2", named.name),
            node("figure", place(n), node("figcaption", named.picture.message)),
        )
        for n, named in enumerate(pictures)
    ]


def _hardness(report: Report) -> list[Element]:
    if not report.hardness:
        return []
    head = node("tr", *nodes("th", ("survey", "exhaust side", "middle", "inlet side"), scope="col"))
    rows = [
        node("tr", node("th", row.when, scope="row"), *nodes("td", (row.exhaust, row.middle, row.inlet)))
        for row in report.hardness
    ]
    return _section("Hardness [HB]", [node("table", node("thead", head), node("tbody", *rows))])
