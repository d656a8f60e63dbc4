"""The report of a job, gathered from the book: intake, every pass planned against measured, hardness, the state now, what stands behind it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from statistics import fmean

from straighten.book import Entry
from straighten.clamp import section_of
from straighten.desk import words
from straighten.desk.deciding import check_report, decision_report
from straighten.desk.dossier import Dossier
from straighten.desk.finishing import later_work, outcome
from straighten.desk.job import Job, believed
from straighten.desk.kept import closing, sandings
from straighten.desk.pass_card import range_of
from straighten.desk.pictures import as_it_came, job_picture, lines_of, passes_picture, used_picture
from straighten.plan.records import Draws, PassSetup, setup_from_plain
from straighten.readings import Readings
from straighten.shape.modes import INDEX
from straighten.sheet.decision import StopPicture
from straighten.sheet.figures.bows import PassesPicture
from straighten.sheet.layout import with_range
from straighten.sheet.plain import Range
from straighten.sheet.verdict import CheckReport, Facts, Report, Section, Table
from straighten.units import show

SANDED_SINCE = (
    "the head was sanded since it was last measured: bows and limits here are those of before the sanding"
)
MANY = 3  # caveats that say the same of so many readings are told as one


def job_report(entries: Sequence[Entry], dossier: Dossier, now: datetime, *, whole: bool = True) -> Report:
    """Return the report of a head's job so far: the `whole` of it for the shop, or the one page of it for a customer.

    `entries` of the head in the book, in order; none where no book knows it.

    Raises:
        BadInput: the head has not been measured.
    """
    job = Job(dossier)
    check, head, end = check_report(job), dossier.head, closing(entries)
    now_and_then = _lines(job)
    return Report(
        name=dossier.name,
        made_at=now.isoformat(timespec="minutes"),
        system=head.system,
        passes=dossier.passes_done,
        lead=_lead(dossier, now_and_then),
        state=Table(titles=("", "as it came", "now", "limit"), rows=now_and_then),
        limits_from=f"deck: {head.limits.deck_overall.told}; cam line: {head.limits.cam_line.told}",
        verdict=check.verdict if end is None else "finished",
        reason=check.reason if end is None else outcome(end),
        sections=_sections(job, entries, check, now) if whole else _for_customer(job, entries),
        whole=whole,
    )


def _for_customer(job: Job, entries: Sequence[Entry]) -> tuple[Section, ...]:
    """Return what a customer is told: how it came, how it stands, what was done since; no settings, no prices, no sources."""
    dossier = job.dossier
    return (
        Section(title="Intake", facts=_intake(dossier, entries)),
        Section(title="Bow along the head", picture=job_picture(dossier)),
        Section(title="Hardness [HB]", table=_hardness(dossier)),
        Section(title="Limits now", lines=tuple(_judged(job))),
        *later_work(entries, job.head.system),
    )


def _judged(job: Job) -> Iterator[str]:
    """Return each limit with what was found and whether it holds, without where it comes from."""
    system = job.head.system
    for check in job.shape.limits:
        found = with_range(check.value, check.low, check.high, system)
        yield f"{check.name}: {found}; limit {show(check.limit.value, system)}: {'holds' if check.holds else 'fails'}"


def _sections(job: Job, entries: Sequence[Entry], check: CheckReport, now: datetime) -> tuple[Section, ...]:
    dossier, head, passes = job.dossier, job.head, passes_picture(job.dossier)
    stop, decision = _decision(job, entries) if closing(entries) is None else (None, ())
    return (
        Section(title="Intake", facts=_intake(dossier, entries)),
        *_passes(dossier, entries, passes, now),
        Section(title="Bow along the head", picture=job_picture(dossier)),
        Section(title="Pass by pass", picture=passes if dossier.passes_done else None),
        Section(title="Places heated", picture=used_picture(dossier) if dossier.done.spots else None),
        Section(title="Ways to go on", picture=stop),
        Section(title="Hardness [HB]", table=_hardness(dossier)),
        Section(title="Limits now", lines=check.limits),
        Section(title="What comes next", facts=decision),
        *later_work(entries, head.system),
        Section(title="The head", facts=_head(dossier)),
        Section(title="Assumed, not measured", lines=(*head.assumed, *section_of(head).assumed)),
        Section(title="Keep in mind", lines=_grouped(check.caveats)),
        Section(title="Where figures come from", lines=_sources(dossier)),
    )


def _lines(job: Job) -> tuple[tuple[str, Range, Range, float], ...]:
    """Return of each line its bow as it came and now, and its limit [m]."""
    first, now = believed(as_it_came(job.dossier)).draws, job.belief.draws
    return tuple(
        (title, _bow(first, state), _bow(now, state), limit) for title, _, state, limit in lines_of(job.head)
    )


def _bow(draws: Draws, state: str) -> Range:
    return range_of(draws.states[:, INDEX[state]], draws.weights)


def _lead(dossier: Dossier, lines: tuple[tuple[str, Range, Range, float], ...]) -> str:
    """Return the job in one line: passes, and each line's bow as it came and now."""
    count, system = dossier.passes_done, dossier.head.system
    if not count:
        return "Measured, no pass done yet."
    ways = (
        f"{title.lower()} {show(came.middle, system)} to {show(now.middle, system)}"
        for title, came, now, _ in lines
    )
    return f"{count} pass{'es' if count > 1 else ''}: {', '.join(ways)}."


def _head(dossier: Dossier) -> Facts:
    head = dossier.head
    casting, system = head.casting, head.system
    sizes = " x ".join(show(v, system, big=True) for v in (casting.length, casting.width, casting.height))
    torch = "oven" if head.torch is None else f"torch, spots of {head.torch.dwell:.0f} s"
    unweighed = "not weighed" if casting.plates is None else "from its plates"
    return (
        ("Length, width, height", sizes),
        ("Alloy", head.alloy.name),
        ("Mass", unweighed if casting.mass is None else f"{casting.mass:.1f} kg"),
        ("Cam towers", str(len(head.towers))),
        ("Heat", torch),
    )


def _intake(dossier: Dossier, entries: Sequence[Entry]) -> Facts:
    first = next(s for stretch in dossier.stretches for s in stretch.surveys if s is not None)
    at = next((e.at for e in entries if e.kind in ("survey", "pass")), "")
    intake = first.intake
    facts = [
        ("Measured", first.date or at[:10]),
        ("By", first.who),
        ("Readings", str(first.count)),
        ("Cracks", intake.cracks),
        ("Magnesium", intake.magnesium),
        ("Faced before", intake.skimmed),
        (
            "Metal taken off before",
            "" if intake.removed is None else show(intake.removed, dossier.head.system),
        ),
        ("Welded", intake.welded),
        ("History", intake.history),
    ]
    return tuple((key, value) for key, value in facts if value)


def _passes(
    dossier: Dossier, entries: Sequence[Entry], picture: PassesPicture, now: datetime
) -> tuple[Section, ...]:
    """Return every pass as planned and done, and its bows expected and measured; nothing before the first."""
    if not dossier.passes_done:
        return ()
    logged = [e for e in entries if e.kind == "pass"]
    facts = tuple(
        (f"Pass {n}, {_local(entry, now)}", _planned_and_done(dossier, entries, n, done))
        for n, (entry, done) in enumerate(
            zip(logged, (*dossier.earlier, *dossier.passes), strict=True), start=1
        )
    )
    deck, cam = (tuple(p for p in line.points if p.predicted is not None) for line in picture.lines)
    rows = tuple(
        (str(n), name, point.predicted or "", point.measured or "not measured")
        for n, pair in enumerate(zip(deck, cam, strict=True), start=1)
        for name, point in zip(("deck", "cam line"), pair, strict=True)
    )
    table = Table(titles=("pass", "line", "expected", "measured"), rows=rows)
    return (Section(title="Passes, planned against measured", facts=facts, table=table),)


def _local(entry: Entry, now: datetime) -> str:
    return f"{datetime.fromisoformat(entry.at).astimezone(now.tzinfo):%d %b %Y, %H:%M}"


def _planned_and_done(dossier: Dossier, entries: Sequence[Entry], number: int, setup: PassSetup) -> str:
    cards = [e for e in entries if e.kind == "plan" and e.record["card"].get("pass_number") == number]
    planned, done = (
        words.setup(dossier.head, one)
        for one in (setup_from_plain(cards[-1].record["setup"]) if cards else setup, setup)
    )
    return done if planned == done else f"planned: {planned}; done: {done}"


def _hardness(dossier: Dossier) -> Table:
    rows = tuple(
        (_when(stretch, number), *(_mean(survey, side) for side in ("exhaust", None, "inlet")))
        for stretch in dossier.stretches
        for number, survey in enumerate(stretch.surveys)
        if survey is not None and survey.hardness
    )
    return Table(titles=("survey", "exhaust side", "middle", "inlet side"), rows=rows, wide=False)


def _when(stretch: Dossier, number: int) -> str:
    if number or stretch.begun == "read anew":
        return f"after pass {len(stretch.earlier) + number}"
    return "after sanding" if stretch.begun == "sanded" else "intake"


def _grouped(caveats: Sequence[str]) -> tuple[str, ...]:
    """Return the caveats, those that say the same of many readings as one."""
    found: dict[str, list[str]] = {}
    for text in caveats:
        found.setdefault(text.partition(" goes, but ")[2] or text, []).append(text)
    return tuple(
        line
        for doubt, alike in found.items()
        for line in (
            alike if len(alike) < MANY else [f"{len(alike)} readings, each a gap that goes: {doubt}"]
        )
    )


def _mean(survey: Readings, side: str | None) -> str:
    values = [h.value for h in survey.hardness if h.side == side]
    return f"{fmean(values):.0f} ({', '.join(f'{v:g}' for v in values)})" if values else "-"


def _decision(job: Job, entries: Sequence[Entry]) -> tuple[StopPicture | None, Facts]:
    """Return the last decision if nothing was measured after it, else what would be decided now; none on a face sanded since."""
    if sandings(entries)[-1]:
        return None, (("Measure", SANDED_SINCE),)
    made = [e for e in entries if e.kind == "decision"]
    order = [e.number for e in entries]
    if made and order.index(made[-1].number) > max((order.index(n) for n in job.dossier.inputs), default=-1):
        plain, when = made[-1].record, f"decided {made[-1].at[:10]}"
    else:
        plain, when = decision_report(job).to_plain(), "as it would be decided now"
    if not plain["options"]:
        return None, ((f"{plain['choice'].capitalize()}, {when}", plain["reason"]),)
    return StopPicture.of(plain), (
        (f"{plain['choice'].capitalize()}, {when}", plain["reason"]),
        ("Prices", "; ".join(plain["prices"])),
    )


def _sources(dossier: Dossier) -> tuple[str, ...]:
    head = dossier.head
    limits = head.limits
    named = (
        ("deck, overall", limits.deck_overall), ("deck, per length", limits.deck_local), ("cam line", limits.cam_line),
        ("cam tower to tower", limits.tower_step), ("most off the deck", limits.largest_removal),
    )  # fmt: skip
    return (
        *(f"{name}: {show(limit.value, head.system)}, {limit.told}" for name, limit in named),
        *head.alloy.sources,
    )
