"""The report of a job, gathered from the book: intake, every pass planned against measured, hardness, the state now, what stands behind it."""

from __future__ import annotations

from datetime import datetime
from statistics import fmean
from typing import TYPE_CHECKING, Any

from straighten.desk import words
from straighten.desk.checking import check_report
from straighten.desk.deciding import decision_report
from straighten.desk.pass_card import range_of
from straighten.desk.pictures import job_picture, passes_picture, used_picture
from straighten.desk.planning import believed
from straighten.desk.sheets import dossier_before
from straighten.plan.records import setup_from_plain
from straighten.shape.modes import INDEX
from straighten.sheet.pictures import StopPicture
from straighten.sheet.report import HardnessRow, LaterWork, LineState, NamedPicture, PassRow, Report
from straighten.units import show

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from straighten.book import Entry
    from straighten.desk.dossier import Dossier
    from straighten.readings import Readings
    from straighten.sheet.card import Range
    from straighten.sheet.pictures import PassesPicture
    from straighten.sheet.report import Facts

_LATER = {"sand": "Sanding", "finish": "Final list"}


def job_report(entries: Sequence[Entry], dossier: Dossier, now: datetime) -> Report:
    """Return the report of a head's job so far.

    Args:
        entries: of the head in the book, in order; none where no book knows it.
        dossier: the head with its history.
        now: the bench clock.

    Raises:
        BadInput: the head has not been measured.
    """
    check = check_report(dossier, dossier.survey)
    passes = passes_picture(dossier)
    stop, decision = _decision(dossier, entries)
    head = dossier.head
    return Report(
        name=dossier.name,
        made_at=now.isoformat(timespec="minutes"),
        system=head.system,
        verdict=check.verdict,
        reason=check.reason,
        lines=_lines(dossier),
        head=_head(dossier),
        intake=_intake(dossier, entries),
        limits_now=check.limits,
        passes=_passes(dossier, entries, passes, now),
        hardness=_hardness(dossier),
        decision=decision,
        later=tuple(
            LaterWork(title=_LATER[e.kind], facts=flat(e.record)) for e in entries if e.kind in _LATER
        ),
        assumed=(*head.assumed, *words.assumed_section(head)),
        caveats=check.caveats,
        sources=_sources(dossier),
        pictures=_pictures(dossier, passes, stop),
    )


def _pictures(dossier: Dossier, passes: PassesPicture, stop: StopPicture) -> tuple[NamedPicture, ...]:
    found = [NamedPicture(name="Bow along the head", picture=job_picture(dossier))]
    if dossier.passes:
        found.append(NamedPicture(name="Pass by pass", picture=passes))
    if dossier.done.spots:
        found.append(NamedPicture(name="Places heated", picture=used_picture(dossier)))
    return (*found, NamedPicture(name="Ways to go on", picture=stop))


def _lines(dossier: Dossier) -> tuple[LineState, ...]:
    limits = dossier.head.limits
    first, now = believed(dossier_before(dossier, 1)).draws, believed(dossier).draws
    return tuple(
        LineState(
            title=title,
            came=range_of(first.states[:, INDEX[state]], first.weights),
            now=range_of(now.states[:, INDEX[state]], now.weights),
            limit=limit.value,
            limit_source=words.source(limit),
        )
        for title, state, limit in (
            ("Deck", "deck_bow", limits.deck_overall),
            ("Cam line", "cam_bow", limits.cam_line),
        )
    )


def _head(dossier: Dossier) -> Facts:
    head = dossier.head
    casting, system = head.casting, head.system
    sizes = " x ".join(show(v, system, big=True) for v in (casting.length, casting.width, casting.height))
    torch = "oven" if head.torch is None else f"torch, spots of {head.torch.dwell:.0f} s"
    return (
        ("Length, width, height", sizes),
        ("Alloy", head.alloy.name),
        ("Mass", "from its plates" if casting.mass is None else f"{casting.mass:.1f} kg"),
        ("Cam towers", str(len(head.towers))),
        ("Heat", torch),
    )


def _intake(dossier: Dossier, entries: Sequence[Entry]) -> Facts:
    first = next(s for s in dossier.surveys if s is not None)
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
) -> tuple[PassRow, ...]:
    logged = [e for e in entries if e.kind == "pass"]
    deck, cam = picture.lines
    return tuple(
        PassRow(
            number=n,
            at=f"{datetime.fromisoformat(entry.at).astimezone(now.tzinfo):%d %b %Y, %H:%M}",
            planned=_planned(dossier, entries, n),
            done=words.setup(dossier.head, done),
            deck_expected=_known(deck.points[n].predicted),
            cam_expected=_known(cam.points[n].predicted),
            deck_measured=deck.points[n].measured,
            cam_measured=cam.points[n].measured,
        )
        for n, (entry, done) in enumerate(zip(logged, dossier.passes, strict=True), start=1)
    )


def _known(found: Range | None) -> Range:
    assert found is not None  # noqa: S101 - every pass after intake has a forecast
    return found


def _planned(dossier: Dossier, entries: Sequence[Entry], number: int) -> str:
    """Return the last card of a pass in words, "" where none was made."""
    cards = [e for e in entries if e.kind == "plan" and e.record["card"].get("pass_number") == number]
    return words.setup(dossier.head, setup_from_plain(cards[-1].record["setup"])) if cards else ""


def _hardness(dossier: Dossier) -> tuple[HardnessRow, ...]:
    rows = []
    for number, survey in enumerate(dossier.surveys):
        if survey is not None and survey.hardness:
            when = "intake" if number == 0 else f"after pass {number}"
            rows.append(
                HardnessRow(
                    when=when,
                    exhaust=_mean(survey, "exhaust"),
                    middle=_mean(survey, None),
                    inlet=_mean(survey, "inlet"),
                )
            )
    return tuple(rows)


def _mean(survey: Readings, side: str | None) -> str:
    values = [h.value for h in survey.hardness if h.side == side]
    return f"{fmean(values):.0f} ({', '.join(f'{v:g}' for v in values)})" if values else "-"


def _decision(dossier: Dossier, entries: Sequence[Entry]) -> tuple[StopPicture, Facts]:
    """Return the last decision if nothing was measured after it, else what would be decided now."""
    made = [e for e in entries if e.kind == "decision"]
    if made and made[-1].number > max(dossier.inputs, default=0):
        plain, when = made[-1].record, f"decided {made[-1].at[:10]}"
    else:
        plain, when = decision_report(dossier).to_plain(), "as it would be decided now"
    picture = StopPicture(
        costs=tuple(plain["expected_cost_by_passes_allowed_money"]),
        options=tuple(_cost_of(option) for option in plain["options"]),
        choice=plain["choice"],
        stopped_by=plain["stopped_by"],
    )
    return picture, (
        (f"{plain['choice'].capitalize()}, {when}", plain["reason"]),
        ("Prices", "; ".join(plain["prices"])),
    )


def _cost_of(option: Mapping[str, Any]) -> tuple[str, float, float, float]:
    """Return name, expected cost and its range; books of earlier versions hold no range."""
    cost = float(option["expected_cost_money"])
    low, _, high = option.get("cost_10_50_90_money", (cost, cost, cost))
    return str(option["choice"]), cost, float(low), float(high)


def _sources(dossier: Dossier) -> tuple[str, ...]:
    head = dossier.head
    limits = head.limits
    named = (
        ("deck, overall", limits.deck_overall), ("deck, per length", limits.deck_local), ("cam line", limits.cam_line),
        ("cam tower to tower", limits.tower_step), ("most off the deck", limits.largest_removal),
    )  # fmt: skip
    return (
        *(f"{name}: {show(limit.value, head.system)}, {words.source(limit)}" for name, limit in named),
        *head.alloy.sources,
    )


def flat(record: dict[str, Any], before: str = "") -> Facts:
    """Return a record of the book as lines of key and value, units staying in the keys."""
    facts: list[tuple[str, str]] = []
    for key, value in record.items():
        title = f"{before}{key}".replace("_", " ")
        if isinstance(value, dict):
            facts += flat(value, f"{title}, ")
        elif isinstance(value, list):
            facts.append((title, "; ".join(map(_plain, value))))
        elif value is not None and key != "schema":
            facts.append((title, _plain(value)))
    return tuple(facts)


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.6g}" if isinstance(value, float) else str(value)
