"""From the last survey and the runs logged since to the next run of strokes; a run goes into the book and teaches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from statistics import fmean
from typing import Any

import numpy as np

from straighten.book import Book, Entry
from straighten.desk import sanding_words as say
from straighten.desk.dossier import Dossier
from straighten.desk.job import Job
from straighten.desk.judgement import Judgement
from straighten.desk.kept import record, reread, sandings
from straighten.desk.sanding_files import (
    LoggedRun,
    check_from_plain,
    run_from_file,
    run_from_plain,
    surface_from_text,
)
from straighten.errors import NoPlan, in_shell
from straighten.filecheck import load_text
from straighten.head.records import Head
from straighten.quantiles import Floats, weighted_quantiles
from straighten.sanding.consequences import Consequences, consequences, trade
from straighten.sanding.face import Goal
from straighten.sanding.lap import Surface
from straighten.sanding.learning import outlook_after, sheets_for
from straighten.sanding.plan import SandingPlan, Wanted, sanding_plan
from straighten.sanding.rate import Check, hollow_left
from straighten.sheet.sanding import SandReport
from straighten.units import turned

METHOD = (
    "Head stripped bare: valves, plugs, studs out; water and oil holes plugged against grit (wax, rubber, tape).",
    "Draw a grid of 20 mm squares on the face with a felt pen; draw it anew at every check. It wears evenly on a flat face.",
    "Wet: water with a drop of soap, wipe the paper every ten strokes.",
    (
        "The head's own weight only, hands low at both ends. Long straight strokes; one stroke is there and back, a quarter of a "
        "metre each way. Never more than a quarter of the head over the edge."
    ),
    "Turn the head end for end every 20 strokes, and turn the paper with each sheet.",
    "No circles: a free circular rub of two faces makes a sphere, not a plane.",
    "Full sheets without overlap, thin even glue, no bulging edges. Every finer paper: wash head and surface first.",
    (
        "Then: hot wash, a brush through every drilling and gallery, blow out, wash again, oil; a white rag must come out white. "
        "Grit left in a drilling ruins bearings and rings. Plugs are fitted new."
    ),
)
CAUTIONS = (
    (
        "Aluminium dust: dry dust can explode in the air. Sand wet, wipe up, no ordinary vacuum cleaner, no sparks beside it, "
        "mask and glasses where anything dries."
    ),
    "Wet aluminium sludge gives off hydrogen: keep it wet in an open tin, never in a closed bin.",
    "Magnesium must not be sanded like this: its dust burns, water makes it worse.",
    "Old gasket remains may hold asbestos: never sand them; wet, scrape by hand, mask, bag; local rules decide.",
    "A head is heavy and the edge of glass is sharp: a second pair of hands, gloves, glass bedded on a flat bench.",
    "Some makers and builders allow no abrasives on a sealing face: follow them; a licensed shop can face it.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What was asked for.

    `goal` or None for the one in use; the files, that of the `surface` also as its text; strokes as `typed`, with the
    keys of a log file; `because` the reason to go past advice.
    """

    goal: Goal | None = None
    surface: Path | None = None
    surface_text: str = ""
    log: Path | None = None
    typed: dict[str, Any] = field(default_factory=dict)
    because: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Before:
    """What the book knows of the sanding: `checks` since the last survey, the last goal and surface text."""

    checks: tuple[Check, ...]
    goal: Goal
    surface_text: str | None
    caveats: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sanded:
    """The sanding job with what it was computed from."""

    plan: SandingPlan
    job: Job
    before: _Before
    surface_text: str | None
    results: Consequences


def sand_report(book: Book, job: Job, asked: Asked) -> SandReport:
    """Return the sanding plan; a log asked for is recorded first.

    Raises:
        BadInput: not measured, or a file makes no sense; nothing is recorded.
        NoPlan: the judgement is against it, and no reason was given to go past its advice.
    """
    dossier = job.dossier
    if job.forbidden:
        raise NoPlan(job.judgement.reason, where=dossier.name)
    run = _run(dossier, asked)
    before = _known_before(book, dossier)
    if run is not None:
        before = replace(before, checks=(*before.checks, run.check), caveats=run.caveats)
    done = _sanded(job, asked, before)
    report = _report(done)
    if run is None:
        return report
    entry = _record(book, run, done, report, because=asked.because)
    now = Job(reread(book, dossier)).judgement
    return replace(report, entry=entry.number, verdict=_verdict(now), judgement=now.to_plain())


def _verdict(judgement: Judgement) -> str:
    return f"{judgement.choice.capitalize()}: {judgement.reason}"


def _run(dossier: Dossier, asked: Asked) -> LoggedRun | None:
    if asked.log is not None:
        return run_from_file(asked.log, dossier.head, dossier.survey)
    if asked.typed:
        return run_from_plain(asked.typed, dossier.head, dossier.survey, "options")
    return None


def _known_before(book: Book, dossier: Dossier) -> _Before:
    """Return what the book holds of sanding this head; a survey ends what was sanded before it."""
    told = sandings([] if dossier.last is None else book.entries(dossier.name))
    last: dict[str, Any] = next((runs[-1] for runs in reversed(told) if runs), {})
    return _Before(
        checks=tuple(check_from_plain(run["run"]) for run in told[-1]),
        goal=last.get("goal", "limit"),
        surface_text=last.get("surface_text"),
    )


def _sanded(job: Job, asked: Asked, before: _Before) -> _Sanded:
    """Return the sanding job after all that was logged."""
    head, readings, checks = job.head, job.dossier.survey, before.checks
    goal = asked.goal or before.goal
    if job.judgement.forbidden:
        raise NoPlan(job.judgement.reason, where=head.name)
    if not checks and not asked.because:  # strokes already done are always taken
        _refuse_against_advice(job, goal)
    text, surface = _surface(asked, before, head)
    wanted = Wanted(
        goal=goal,
        surface=surface,
        hardness=fmean(h.value for h in readings.hardness) if readings.hardness else None,
        grit=checks[-1].grit if checks else None,
    )
    plan = sanding_plan(head, job.shape, wanted, checks)
    heights = {h.place: h.value for h in readings.heights}
    results = consequences(head, plan.face, _cut(plan, logged=bool(checks)), heights)
    return _Sanded(plan=plan, job=job, before=before, surface_text=text, results=results)


def _refuse_against_advice(job: Job, goal: Goal) -> None:
    """Refuse to plan strokes where the judgement says that something else comes first; cleaning up a face is allowed."""
    judgement, name = job.judgement, job.dossier.name
    if judgement.next_step == "sand" or (judgement.next_step == "finish" and goal == "clean-up"):
        return
    if judgement.next_step == "finish":
        fix = f"Next: {judgement.command}. To clean the whole face all the same: --goal clean-up."
        raise NoPlan(judgement.reason, where=name, fix=fix)
    fix = f'Next: {judgement.command}. To sand all the same, with your reason: straighten sand {in_shell(name)} --because "..."'
    raise NoPlan(f"{judgement.choice}: {judgement.reason}", where=name, fix=fix)


def _cut(plan: SandingPlan, *, logged: bool) -> Floats:
    """Return the depth off the highest place once the job is done, as many draws as the face has [m].

    Before the first check what the goal asks for; after it what is off already, and while it goes on no less than the
    goal asks for. The finer papers take their part at the end.
    """
    wanted, sanding = plan.face.depth_for(plan.goal, plan.target.left), plan.sanding
    if logged:
        shares = (np.arange(wanted.size) + 0.5) / wanted.size
        off = weighted_quantiles(sanding.depth, sanding.weights, shares)[np.argsort(np.argsort(wanted))]
        wanted = np.maximum(wanted, off) if sanding.state == "go on" else off
    return np.where(wanted > 0, wanted + plan.allowance, 0.0)


def _surface(asked: Asked, before: _Before, head: Head) -> tuple[str | None, Surface | None]:
    """Return the file of the surface sanded on and what it says; None where nobody told one."""
    if asked.surface is not None:
        text: str | None = load_text(asked.surface)
    else:
        text = asked.surface_text or before.surface_text
    where = "surface in the book" if asked.surface is None else str(asked.surface)
    return text, None if text is None else surface_from_text(text, head, where)


def _report(done: _Sanded) -> SandReport:
    head, job, plan, sanding = done.job.head, done.job, done.plan, done.plan.sanding
    dossier, checks = job.dossier, done.before.checks
    grit = checks[-1].grit if checks else plan.grits[0]
    outlook = outlook_after(plan.ground, sanding, sanding.next_strokes, grit)

    def own(lines: Sequence[str]) -> tuple[str, ...]:
        return tuple(turned(line, head.system) for line in lines)

    return SandReport(
        name=dossier.name,
        system=head.system,
        state=sanding.state,
        sentence=say.state_sentence(head, plan, checks),
        verdict=_verdict(job.judgement),
        judgement=job.judgement.to_plain(),
        goal=plan.goal,
        runs=len(checks),
        height=plan.height,
        depth=plan.depth,
        removed=sanding.quantiles(sanding.depth),
        left=sanding.quantiles(hollow_left(sanding.factors, sanding.depth)),
        aim=plan.target.left,
        expected=plan.expected,
        allowed=plan.allowed,
        fits=plan.fits,
        shine=own(say.shine(head, plan, job.shape)),
        grid=tuple(tuple(float(v) for v in row) for row in plan.shine.grid),
        surface=own(say.surface(head, plan)),
        papers=own(say.papers(plan)),
        next_strokes=sanding.next_strokes,
        next_sheets=sheets_for(sanding.next_strokes) if sanding.next_strokes else 0,
        next_grit=grit.name,
        safe_strokes=sanding.safe_strokes,
        stop_share=sanding.stop.share,
        stop_fall=min(sanding.stop.fall, max(plan.allowed - plan.allowance, 0.0)),
        to_target=sanding.quantiles(sanding.strokes),
        do=say.next_run(head, plan, outlook, grit, first=say.heights_due(dossier.survey, checks)),
        expect=say.expected(head, plan, outlook),
        learned=say.learned(plan, len(checks), head.system),
        method=own(METHOD),
        consequences=say.figures(head, done.results),
        warnings=own(done.results.warnings),
        trade=trade(head, job.shape.mean, plan.allowed),
        bendable=job.judgement.next_step == "heat",
        cautions=CAUTIONS,
        assumed=own((*done.before.caveats, *say.assumed(head, plan), *done.results.assumed)),
    )


def _record(book: Book, run: LoggedRun, done: _Sanded, report: SandReport, *, because: str) -> Entry:
    sanding = done.plan.sanding
    low, middle, high = sanding.quantiles(sanding.depth)
    kept = {
        "run": run.plain,
        "goal": done.plan.goal,
        "surface_text": done.surface_text,
        "removed_mm": {"low": 1e3 * low, "value": 1e3 * middle, "high": 1e3 * high},
        "removed_99_percent_mm": 1e3 * sanding.quantile(sanding.depth, 0.99),
        "state": sanding.state,
        "report": report.to_plain(),
        **({"because": because} if because else {}),
    }
    return record(book, done.job.dossier, "sand", kept)
