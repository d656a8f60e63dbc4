"""The end of a job in a few sentences for the customer: what was sanded, what that did, how the final list came out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from straighten.errors import counted
from straighten.sheet.layout import with_range
from straighten.sheet.report import Facts, Section
from straighten.units import INCH, System, own_first, show

if TYPE_CHECKING:
    from straighten.book import Entry

    Record = dict[str, Any]

_ENDED = {
    "go on": "not finished",
    "flat enough": "flat enough, the hollow left is inside its limit",
    "removal limit": "stopped at the most that may come off",
}
_MM = 1e-3


def later_work(entries: Sequence[Entry], system: System) -> tuple[Section, ...]:
    """Return what came after the heat, in the order it was done: each sanding, then the last final list."""
    sandings = _sandings(entries)
    title = "Sanding" if len(sandings) == 1 else "Sanding {}"
    works = [
        Section(title=title.format(n), facts=_sanded(runs, system))
        for n, runs in enumerate(sandings, start=1)
    ]
    lists = [entry for entry in entries if entry.kind == "finish"]
    return (*works, *(Section(title="Final list", facts=_listed(entry)) for entry in lists[-1:]))


def closing(entries: Sequence[Entry]) -> Entry | None:
    """Return the final list that closed the job, or None where none did or something was measured or done since."""
    told = [e for e in entries if e.kind in ("survey", "pass", "sand", "finish")]
    return told[-1] if told and told[-1].kind == "finish" else None


def sanded_since(entries: Sequence[Entry]) -> bool:
    """Return whether the head was sanded after it was last measured."""
    told = [e for e in entries if e.kind in ("survey", "sand") or e.record.get("readings") is not None]
    return bool(told) and told[-1].kind == "sand"


def _sandings(entries: Iterable[Entry]) -> list[list[Record]]:
    """Return the runs of each sanding; a survey ends one."""
    found: list[list[Record]] = []
    fresh = True
    for entry in entries:
        if entry.kind == "sand":
            found += [[]] if fresh else []
            found[-1].append(entry.record)
            fresh = False
        fresh = fresh or entry.kind == "survey" or entry.record.get("readings") is not None
    return found


def _sanded(runs: list[Record], system: System) -> Facts:
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
    after = [last["run"].get("heights_mm", {}).get(key) for key in _corners(figures)]
    read = [value for value in after if value is not None]
    if not before:
        return ""
    then = f"{_ends(read, system)} as read after the last run" if read else "not read after the last run"
    return f"{_ends(before, system)} at the corners before, {then}."


def _corners(figures: Iterable[str]) -> list[str]:
    return [key.removeprefix("height_").removesuffix("_mm") for key in figures if key.startswith("height_")]


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
