"""The end of the job: the final list with its answers, the entry that closes the head, and both told to the customer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from straighten.book import Book, Entry
from straighten.closing import Item, LaterLook, checklist
from straighten.desk.job import Job
from straighten.desk.judgement import Judgement
from straighten.desk.kept import record, sandings
from straighten.errors import BadInput, NoPlan, counted, in_shell
from straighten.filecheck import Table, checked, load_text, parse_toml
from straighten.head.records import Head
from straighten.readings import from_plain
from straighten.shape import fit_shape
from straighten.sheet.layout import with_range
from straighten.sheet.verdict import Facts, FinishReport, Section, shape_lines
from straighten.units import INCH, System, own_first, show

Record = dict[str, Any]

Answer = bool | Annotated[str, Field(min_length=1, max_length=200)]


class FinishFile(Table):
    """Answers: true = done and good, false = done and bad, a text = what was found, "skipped: why" = left out."""

    who: Annotated[str, Field(max_length=200)] = ""
    note: Annotated[str, Field(max_length=2000)] = ""
    cracks: Answer | None = None
    cam_free: Answer | None = None
    guides_seats: Answer | None = None
    pressure_test: Answer | None = None
    washed: Answer | None = None
    block: Answer | None = None
    valve_to_piston: Answer | None = None
    timing: Answer | None = None
    bolts: Answer | None = None
    cause: Answer | None = None
    surface_finish: Answer | None = None
    after_24_hours: Answer | None = None


def answers_of(path: Path) -> dict[str, bool | str]:
    """Return the answers that a file gives, those left out missing.

    Raises:
        BadInput: the file makes no sense.
    """
    where = str(path)
    file = checked(FinishFile, parse_toml(load_text(path), where), where=where, system="mm")
    return {key: value for key, value in file.model_dump().items() if value is not None and value != ""}


DAY = 24.0  # hours
NEARLY_A_DAY = 20.0  # the evening before counts
_DEEDS = ("pass", "sand")
_ORDER = (
    "height", "deck", "over", "wedge", "compression", "cut", "cam", "belt", "valve_1", "valve_2", "gasket",
)  # fmt: skip
_SHAPE_WORDS = {
    "deck_bow": "deck bow",
    "cam_bow": "cam line bow",
    "twist": "twist, half",
    "deck_side": "inlet edge less exhaust edge, half",
}


def finish_report(
    book: Book, job: Job, told: Mapping[str, bool | str], *, close: bool = False, because: str = ""
) -> FinishReport:
    """Return the final list; to `close` the head, record it.

    `told` what only the person can see, by the keys of `FinishFile`; `because` the person's reason to close although a line
    fails or the judgement says something else is next.

    Raises:
        BadInput: not measured, a line fails, or nothing happened since it was closed.
    """
    dossier = job.dossier
    entries = [] if dossier.last is None else book.entries(dossier.name)
    report = _report(job, entries, told)
    if not close:
        return report
    _refuse(report, entries, job.judgement, because=because)
    final = {"final": report.to_plain(), "who": told.get("who", ""), "note": told.get("note", "")}
    entry = record(book, dossier, "finish", final | ({"because": because} if because else {}))
    return replace(report, entry=entry.number)


def _refuse(report: FinishReport, entries: list[Entry], judgement: Judgement, *, because: str) -> None:
    if entries and entries[-1].kind == "finish":
        raise BadInput(
            "closed already, and nothing happened since", where=report.name, fix="Measure again to open it."
        )
    if judgement.forbidden:
        raise NoPlan(f"not closed as finished: {judgement.reason}", where=report.name)
    against = against_closing(report, judgement)
    if against and not because:
        fix = f'Close it all the same, with your reason: straighten finish {in_shell(report.name)} --close --because "..."'
        raise BadInput(f"not closed, {against}", where=report.name, fix=fix)


def against_closing(report: FinishReport, judgement: Judgement) -> str:
    """Return what speaks against closing the head, "" where nothing does; a reason goes past it."""
    if report.failed:
        return f"these fail: {'; '.join(report.failed)}"
    if judgement.next_step not in ("finish", "measure"):
        return f"{judgement.choice} is next: {judgement.reason}"
    return ""


def by_hand(report: FinishReport) -> tuple[Item, ...]:
    """Return the lines that only the person can answer, so far not answered by what was measured."""
    return tuple(
        line for line in report.lines if line.key in FinishFile.model_fields and line.state == "open"
    )


def _report(job: Job, entries: list[Entry], told: Mapping[str, bool | str]) -> FinishReport:
    dossier, head, shape = job.dossier, job.head, job.shape
    now = dossier.found_now
    if dossier.sanding:  # its heights are from before the sanding
        now = replace(now, heights=())
    items = checklist(head, (dossier.told[0], now), shape, told, _later(entries, head))
    runs = [run for sanding in sandings(entries) for run in sanding]
    last: dict[str, Any] = {"consequences": {}, "warnings": (), "assumed": ()}
    if runs and runs[-1]["state"] != "go on":  # a cut that was not made does nothing
        last = runs[-1]["report"]
    return FinishReport(
        name=dossier.name,
        system=head.system,
        passes=sum(e.kind == "pass" for e in entries),  # a later survey starts the dossier's count anew
        judgement=job.judgement.to_plain(),
        shape=shape_lines(shape, _SHAPE_WORDS),
        lines=items,
        sanded=_sanded(runs),
        consequences=_consequences(last),
        due=_due(entries),
        skipped=_skipped(items),
        assumed=tuple(dict.fromkeys((*head.assumed, *shape.caveats, *last["assumed"]))),
    )


def _sanded(runs: list[dict[str, Any]]) -> str:
    if not runs:
        return ""
    removed, strokes = runs[-1]["removed_mm"], sum(r["run"]["strokes"] for r in runs)
    return (
        f"{strokes:.0f} strokes in {counted(len(runs), 'run')}; {removed['value']:.2f} mm off the highest places, range "
        f"{removed['low']:.2f} to {removed['high']:.2f}; ended: {runs[-1]['state']}"
    )


def _consequences(found: dict[str, Any]) -> tuple[str, ...]:
    """Return what the cut does, in the order of the page: the book keeps keys in the order of the alphabet."""

    def rank(key: str) -> int:
        return next((n for n, start in enumerate(_ORDER) if key.startswith(start)), len(_ORDER))

    figures = sorted(found["consequences"].items(), key=lambda item: rank(item[0]))
    sentences = [figure["sentence"] for _, figure in figures]
    return tuple(s for s in (*sentences, *found["warnings"]) if s)


def _skipped(items: tuple[Item, ...]) -> tuple[str, ...]:
    words = {"skipped": "", "open": "not answered"}
    return tuple(
        f"{item.title}: {item.found or words[item.state]}"
        for item in items
        if item.state in ("skipped", "open")
    )


def _later(entries: list[Entry], head: Head) -> LaterLook | None:
    """Return how far the head moved between the first and the last survey since the last heat or sanding, if a day lies between."""
    since = max((n for n, e in enumerate(entries) if e.kind in _DEEDS), default=-1)
    looks = [e for e in entries[since + 1 :] if e.kind == "survey"]
    first = entries[since] if since >= 0 and entries[since].record.get("readings") is not None else None
    looks = [first, *looks] if first is not None else looks
    if len(looks) < 2:
        return None
    hours = (_time(looks[-1]) - _time(looks[0])).total_seconds() / 3600
    if hours < NEARLY_A_DAY:
        return None
    before, after = (fit_shape(from_plain(e.record["readings"]), head) for e in (looks[0], looks[-1]))
    return LaterLook(
        deck=after.value("deck_bow") - before.value("deck_bow"),
        cam=after.value("cam_bow") - before.value("cam_bow"),
        hours=hours,
    )


def _due(entries: list[Entry]) -> str:
    deeds = [e for e in entries if e.kind in _DEEDS]
    if not deeds:
        return ""
    due = _time(deeds[-1]) + timedelta(hours=DAY)
    return f"24 hours after the last heat or sanding: {due:%Y-%m-%d %H:%M} UTC"


def _time(entry: Entry) -> datetime:
    return datetime.fromisoformat(entry.at)


# --- told to the customer, from the entries of the book ----------------------------------------------------------------


_ENDED = {
    "go on": "not finished",
    "flat enough": "flat enough, the hollow left is inside its limit",
    "removal limit": "stopped at the most that may come off",
}
_MM = 1e-3


def later_work(entries: Sequence[Entry], system: System) -> tuple[Section, ...]:
    """Return what came after the heat, in the order it was done: each sanding, then the last final list."""
    sanded = [runs for runs in sandings(entries) if runs]
    title = "Sanding" if len(sanded) == 1 else "Sanding {}"
    works = [
        Section(title=title.format(n), facts=_sanding_facts(runs, system))
        for n, runs in enumerate(sanded, start=1)
    ]
    lists = [entry for entry in entries if entry.kind == "finish"]
    return (*works, *(Section(title="Final list", facts=_listed(entry)) for entry in lists[-1:]))


def _sanding_facts(runs: list[Record], system: System) -> Facts:
    last = runs[-1]
    strokes, count = sum(run["run"]["strokes"] for run in runs), len(runs)
    papers = " and ".join(dict.fromkeys(run["run"]["grit"] for run in runs))
    ended = _ENDED.get(last["state"], last["state"])
    middle, low, high = (_MM * last["removed_mm"][key] for key in ("value", "low", "high"))
    facts = (
        ("Done", f"{strokes} strokes on {papers} in {counted(count, 'run')}; {ended}."),
        ("Came off", f"{with_range(middle, low, high, system)} at the highest places of the deck."),
        ("Height", _height(last, system)),
        ("Compression", _compression(last["report"]["consequences"])),
        ("Timing", _timing(last["report"]["consequences"], system)),
    )
    return tuple((key, text) for key, text in facts if text)


def _height(last: Record, system: System) -> str:
    """Return the overall heights before, and as they were read after the last run."""
    figures = last["report"]["consequences"]
    before = [
        f["before"] for key, f in figures.items() if key.startswith("height_") and f["before"] is not None
    ]
    now = last["run"].get("heights_mm", {})
    corners = [
        key.removeprefix("height_").removesuffix("_mm") for key in figures if key.startswith("height_")
    ]
    read = [now[corner] for corner in corners if now.get(corner) is not None]
    if not before:
        return ""
    then = f"{_ends(read, system)} as read after the last run" if read else "not read after the last run"
    return f"{_ends(before, system)} at the corners before, {then}."


def _ends(values: list[float], system: System) -> str:
    """Return smallest and largest height in both systems, as a micrometer reads them."""
    low, high = min(values), max(values)
    mm, inch = f"{low:.2f} to {high:.2f} mm", f"{_MM * low / INCH:.3f} to {_MM * high / INCH:.3f} in"
    return own_first(mm, inch, system)


def _compression(figures: Record) -> str:
    """Return the ratio before and after over all cylinders."""
    ratios = [
        f for key, f in figures.items() if key.startswith("compression_ratio") and f["value"] is not None
    ]
    if not ratios:
        return ""
    before = [f["before"] for f in ratios if f["before"] is not None]
    low, high = min(f["value"] for f in ratios), max(f["value"] for f in ratios)
    was = f"{max(before):.2f} before, " if before else ""
    now = (
        f"{low:.2f}"
        if f"{low:.2f}" == f"{high:.2f}"
        else f"{low:.2f} to {high:.2f} from cylinder to cylinder"
    )
    return f"{was}{now} after."


def _timing(figures: Record, system: System) -> str:
    cam, crank = (figures.get(f"cam_retard_{which}_deg") for which in ("cam", "crank"))
    if not cam or not crank or cam["value"] is None:
        return ""
    belt = figures.get("belt_slack_mm") or figures.get("chain_slack_mm")
    slack = (
        "" if not belt or belt["value"] is None else f"; drive slacker by {show(_MM * belt['value'], system)}"
    )
    return f"Cam later by {cam['value']:.2f} degrees of the cam, {crank['value']:.2f} of the crank{slack}."


def _listed(entry: Entry) -> Facts:
    """Return how the final list came out: how many lines hold, and which do not or were not seen."""
    final, record = entry.record["final"], entry.record
    lines = final["lines"]
    by = f" by {record['who']}" if record.get("who") else ""
    facts = (
        ("Closed", f"{entry.at[:10]}{by}: {outcome(entry)}"),
        ("Fails", "; ".join(f"{x['title']}: {x['found']}" for x in lines if x["state"] == "fails")),
        ("Skipped or not seen", "; ".join(text.replace(": skipped:", ":") for text in final["skipped"])),
        ("Measure again", final["remeasure_due"]),
        ("Note", record.get("note", "")),
    )
    return tuple((key, text) for key, text in facts if text)


def outcome(entry: Entry) -> str:
    """Return how a final list came out in one sentence."""
    states = [line["state"] for line in entry.record["final"]["lines"]]
    failed, good = states.count("fails"), sum(state in ("holds", "done") for state in states)
    return (
        f"{good} of {len(states)} lines hold or are done, {failed or 'none'} fail{'' if failed > 1 else 's'}."
    )
